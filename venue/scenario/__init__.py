"""What is: the scenario file, read, checked and turned into plain numbers in one unit."""
