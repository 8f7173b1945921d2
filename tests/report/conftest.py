"""The hand-made studies, see ``tests/studies.py``."""

from studies import full, poor, recording, signals

__all__ = ["full", "poor", "recording", "signals"]
