"""The floor: machines, lines, visits and the accounts that must balance, one SimPy run at a time."""
