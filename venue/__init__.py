"""venue: what catch-up strength does to credits per hour, retention and fairness in coin-op venues."""

__version__ = "0.1.0"
