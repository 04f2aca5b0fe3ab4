"""Studies: statistics, retention, recommendations, and numbers that do not depend on who computes them."""
