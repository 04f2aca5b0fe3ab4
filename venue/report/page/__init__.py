"""The report as one page: a file to open, print and pass on, with everything in it."""
