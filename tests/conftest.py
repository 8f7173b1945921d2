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


#: Skips that are allowed even where everything is installed: they say what they wait for.
ALLOWED_SKIPS = ("only where everything is installed", "axe-core is not at hand",
                 "the R4 validator is not at hand")  # fmt: skip


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """Turn a skip into a failure where everything is installed (ARTERIOLE_NO_SKIP)."""
    report = yield
    if report.skipped and os.environ.get("ARTERIOLE_NO_SKIP") and not hasattr(report, "wasxfail"):
        why = str(call.excinfo.value) if call.excinfo else ""
        if not any(word in why for word in ALLOWED_SKIPS):
            report.outcome = "failed"
            report.longrepr = f"skipped where a skip is a failure: {why}"
    return report
