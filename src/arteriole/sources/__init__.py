"""The sources room."""
