"""The cohort room."""
