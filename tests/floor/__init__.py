"""The floor against queueing theory, exact chains and its own books."""
