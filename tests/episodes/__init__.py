"""Tests of the room of transit curves."""
