"""How a contest is won: catch-up rules turned into exact chances. Nothing in this folder is sampled."""
