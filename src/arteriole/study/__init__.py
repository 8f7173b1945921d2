"""The only conductor: measure, then decide."""
