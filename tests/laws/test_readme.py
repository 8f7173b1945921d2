"""The README's Python runs and prints what it says."""

import doctest
from pathlib import Path


def test_the_python_in_the_readme_is_true():
    failed, tried = doctest.testfile(
        str(Path(__file__).parents[2] / "README.md"), module_relative=False
    )

    assert tried >= 7
    assert failed == 0
