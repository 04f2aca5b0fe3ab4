"""What people see: tables for the terminal, charts, and the folder of results."""
