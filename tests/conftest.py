"""Shared open data beside the repository; tests that need it skip when it is missing."""

import os
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def shared() -> Path:
    found = Path(os.environ.get("ARTERIOLE_SHARED", Path(__file__).parents[2] / "shared"))
    if not found.is_dir():
        pytest.skip(f"open data folder {found} is missing; set ARTERIOLE_SHARED")
    return found
