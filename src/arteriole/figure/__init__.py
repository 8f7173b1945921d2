"""The figure room."""
