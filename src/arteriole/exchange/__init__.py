"""The exchange room."""
