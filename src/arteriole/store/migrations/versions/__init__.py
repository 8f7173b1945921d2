"""One file = one step of the tables."""
