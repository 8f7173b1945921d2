"""Law of skips: in continuous integration everything is installed, so a skip is a failure."""

import os
import shutil
from pathlib import Path

import pytest

strict = pytest.mark.skipif(
    not os.environ.get("ARTERIOLE_NO_SKIP"), reason="only where everything is installed"
)


@strict
def test_the_services_that_tests_need_are_there():
    assert shutil.which("chromium")
    assert shutil.which("pdftoppm")
    assert sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))


@strict
def test_the_dicom_referees_are_there():
    assert all(shutil.which(name) for name in ("dcmdump", "dcmconv", "dsrdump", "dcm2pdf"))
