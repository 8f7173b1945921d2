"""The web room."""
