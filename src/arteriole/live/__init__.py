"""The live room."""
