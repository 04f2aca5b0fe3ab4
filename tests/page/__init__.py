"""The page of results, as text and in a browser."""
