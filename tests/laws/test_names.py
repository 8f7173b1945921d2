"""Laws of naming: a file, function or class says what it is about."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "src" / "arteriole").rglob("*.py"))
BANNED = {
    "manager", "helper", "helpers", "util", "utils", "misc", "common", "base", "tool", "tools",
    "data", "info", "process", "handle", "lib",
}  # fmt: skip


def words(name: str) -> set[str]:
    split = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", name)
    return {w.lower() for w in split.split("_") if w}


def test_no_file_function_or_class_has_an_empty_name():
    found = []
    for path in SOURCES:
        found += [f"{path.name}"] if words(path.stem) & BANNED else []
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.AsyncFunctionDef):
                hit = words(node.name) & BANNED
                found += [f"{path.relative_to(ROOT)}: {node.name}"] if hit else []

    assert found == []


def test_no_module_is_longer_than_400_lines():
    long = {
        str(p.relative_to(ROOT)): n
        for p in SOURCES
        if (n := len(p.read_text("utf-8").splitlines())) > 400
    }

    assert long == {}


def test_the_law_sees_a_planted_violation():
    assert words("SignalHelper") & BANNED
    assert words("load_data") & BANNED
    assert not words("database") & BANNED
