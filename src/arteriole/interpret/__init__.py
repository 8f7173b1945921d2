"""Results and findings become statements, each with its cited line."""
