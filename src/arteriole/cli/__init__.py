"""One file = one verb; argument parsing and exit codes only."""
