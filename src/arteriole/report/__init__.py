"""The report room."""
