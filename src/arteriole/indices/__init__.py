"""One file = one index."""
