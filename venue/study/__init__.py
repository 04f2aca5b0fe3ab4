"""How a venue is studied: replications, intervals, comparisons, and a choice with how sure it is."""
