"""Law of the check values: each stands in docs/check-values.md, and the test it names exists."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "check-values.md").read_text("utf-8")


def test_every_check_value_has_its_row():
    rows = re.findall(r"^\| ([ABC]\d+) \|", PAGE, flags=re.MULTILINE)

    assert rows == [
        f"{'A' if k <= 11 else 'B' if k <= 17 else 'C'}{k}" for k in range(1, 27)
    ]  # fmt: skip


def test_every_test_it_names_exists():
    named = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", PAGE)
    missing = [
        f"{path}::{name}"
        for path, name in named
        if f"def {name}(" not in (ROOT / path).read_text("utf-8")
    ]

    assert len(named) >= 20
    assert missing == []
