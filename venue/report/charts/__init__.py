"""Charts: one function for each fact, drawn alike for a folder of results and for the page."""
