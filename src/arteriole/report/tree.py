"""The neutral document tree: every report is built once and rendered as HTML, PDF or text."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """Running words. ``weight``: lead (the statement), normal, small (workings), warning."""

    words: str
    weight: str = "normal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Pairs of a label and what was recorded, set in columns."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table; ``widths`` are shares of the line; ``dense``: workings, set smaller."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    dense: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Bullets:
    """A list of short remarks."""

    rows: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing and the words that stand for it."""

    svg: str
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Places to write by hand: a label over an empty line."""

    labels: tuple[str, ...]


Block = Paragraph | Facts | Table | Bullets | Picture | Lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A heading with its blocks; ``page`` 1 is the letter itself, 2 the evidence."""

    key: str
    heading: str
    blocks: tuple[Block, ...]
    page: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A whole document. ``banner`` stands on top and at the foot of every page."""

    title: str
    banner: str
    caution: str
    sections: tuple[Section, ...]
    identity: str
    language: str = "en"
    logo_svg: str | None = None
