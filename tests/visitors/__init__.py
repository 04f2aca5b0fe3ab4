"""What people are and how they choose, against published values."""
