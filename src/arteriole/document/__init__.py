"""The document room."""
