"""Laws of the documents: what is built is written down, and what is cited exists."""

import re
from pathlib import Path

import pytest

from arteriole import CAUTION
from arteriole.document import generated_schema, shipped_schema

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "src" / "arteriole").rglob("*.py"))
CITED = re.compile(r"\[([A-Z][A-Za-z]+(?:19|20)\d\d[a-z]?|JCGM\d+)\]")


def bib_keys() -> set[str]:
    text = (ROOT / "docs" / "references.bib").read_text("utf-8")
    return set(re.findall(r"^@\w+\{([^,]+),", text, flags=re.MULTILINE))


def test_every_cited_key_is_in_the_bibliography():
    cited = {
        key: str(path.relative_to(ROOT))
        for path in [*SOURCES, *sorted((ROOT / "docs").rglob("*.md"))]
        for key in CITED.findall(path.read_text("utf-8"))
    }

    assert {k: v for k, v in cited.items() if k not in bib_keys()} == {}


def test_rooms_on_the_page_are_the_rooms_in_the_tree_and_in_the_contract():
    tree = {p.name for p in (ROOT / "src" / "arteriole").iterdir() if (p / "__init__.py").exists()}
    page = (ROOT / "docs" / "architecture.md").read_text("utf-8")
    on_page = set(re.findall(r"^### `(\w+)/`", page, flags=re.MULTILINE))
    contract = (ROOT / "pyproject.toml").read_text("utf-8").split("[[tool.importlinter")[1]
    layers = contract.split("layers = [")[1].split("]")[0]
    in_contract = set(re.findall(r"\w+", layers)) - {"errors"}

    assert on_page == tree == in_contract


def test_every_room_on_the_page_has_an_invariant():
    page = (ROOT / "docs" / "architecture.md").read_text("utf-8")
    rooms = re.split(r"^### ", page, flags=re.MULTILINE)[1:]

    assert [r.splitlines()[0] for r in rooms if "**Invariant:**" not in r] == []


def test_the_shipped_schema_is_the_one_of_the_models():
    assert shipped_schema() == generated_schema()


@pytest.mark.parametrize("name", ["README.md", "docs/architecture.md"])
def test_the_caution_stands_where_a_reader_begins(name: str):
    text = " ".join((ROOT / name).read_text("utf-8").replace(">", " ").split())

    assert CAUTION in text


def test_every_decision_that_code_names_has_its_record():
    records = {p.name[:4] for p in (ROOT / "docs" / "decisions").glob("*.md")}
    named = {
        number: str(path.relative_to(ROOT))
        for path in SOURCES
        for number in re.findall(r"(?:decisions?|;) (00\d\d)\b", path.read_text("utf-8"))
    }

    assert {k: v for k, v in named.items() if k not in records} == {}


def test_every_decision_record_has_its_sections():
    wanted = ["Status", "Context", "Decision", "Consequences", "Evidence", "change our mind"]
    short = {
        p.name: missing
        for p in sorted((ROOT / "docs" / "decisions").glob("*.md"))
        if (missing := [w for w in wanted if w.lower() not in p.read_text("utf-8").lower()])
    }

    assert short == {}


def test_no_tracked_file_names_a_package_registry():
    # Spelt apart so that this file does not name one either.
    hosts = ["pypi" + ".org", "python" + "hosted", "npm" + "js.org", "registry." + "npm"]
    suffixes = {".py", ".md", ".toml", ".js", ".css", ".html", ".bib", ".json", ""}
    folders = ["src", "docs", "tests", "benchmarks", "design", "changes", ".ci"]
    files = [p for f in folders for p in (ROOT / f).rglob("*") if p.is_file()]
    files += [ROOT / "README.md", ROOT / "pyproject.toml"]
    found = [
        str(p.relative_to(ROOT))
        for p in files
        if p.suffix in suffixes
        and "__pycache__" not in p.parts
        and any(h in p.read_text("utf-8", errors="ignore") for h in hosts)
    ]

    assert found == []
