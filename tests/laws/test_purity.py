"""Laws of purity: the core asks neither clock, disk nor chance; imports cannot show this."""

import ast
from pathlib import Path

ROOT = Path(__file__).parents[2] / "src" / "arteriole"
CORE = [
    "recording", "signal", "simulate", "thermo", "episodes", "quality", "indices", "interpret",
    "study", "live",
]  # fmt: skip
CALLS = {"open", "input", "print", "exec", "eval", "__import__"}
METHODS = {"now", "today", "utcnow", "loadtxt", "genfromtxt", "fromfile", "tofile", "read_text",
           "write_text", "read_bytes", "write_bytes", "getenv"}  # fmt: skip
NUMPY_DISK = {"load", "save", "savez", "memmap"}


def side_doors(source: str) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        match node.func:
            case ast.Name(id=name) if name in CALLS:
                found.append(name)
            case ast.Attribute(attr=name) if name in METHODS:
                found.append(name)
            case ast.Attribute(value=ast.Name(id="np"), attr=name) if name in NUMPY_DISK:
                found.append(f"np.{name}")
            case ast.Attribute(attr="default_rng") | ast.Name(id="default_rng") if (
                not node.args and not node.keywords
            ):
                found.append("default_rng() without a seed")
    return found


def test_the_core_has_no_side_door():
    found = {
        str(path.relative_to(ROOT)): doors
        for room in CORE
        for path in sorted((ROOT / room).rglob("*.py"))
        if (doors := side_doors(path.read_text("utf-8")))
    }

    assert found == {}


def test_the_law_sees_planted_violations():
    planted = "open('x')\nnp.load('x')\nnp.random.default_rng()\ndatetime.now()\n"

    assert len(side_doors(planted)) == 4
    assert side_doors("np.random.default_rng(7)") == []
