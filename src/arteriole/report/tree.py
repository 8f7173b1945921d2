"""The neutral document tree: every report is built once and rendered as HTML, PDF or text."""

from dataclasses import dataclass

#: Characters of a cell that are printed on every sheet; our choice, decision 0081.
KEEP = 600
#: The same for words that a person typed; the whole is in the result document, decision 0084.
KEEP_TYPED = 40
#: The same for what a finding says and asks for.
KEEP_FINDING = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """Running words. ``weight``: lead (the statement), normal, small (workings), warning."""

    words: str
    weight: str = "normal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Pairs of a label and what was recorded, set in ``columns`` on paper.

    ``typed`` names the rows that hold a person's own words, which a full sheet cuts.
    """

    rows: tuple[tuple[str, str], ...]
    columns: int = 2
    typed: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table; ``widths`` are shares of the line.

    ``dense``: workings, set smaller. ``running``: on paper its rows are running words in that many
    columns, not a grid. ``shorter``: the same in
    shorter forms for a page that is full, each of which says what it leaves out. ``keep``:
    characters of a cell that even a full sheet shows; few where a person typed the words.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    dense: bool = False
    running: int = 0
    shorter: tuple["Table", ...] = ()
    keep: int = KEEP


@dataclass(frozen=True, slots=True, kw_only=True)
class Bullets:
    """A list of short remarks; ``shorter`` as for a table."""

    rows: tuple[str, ...]
    shorter: tuple["Bullets", ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing and the words that stand for it; ``paper`` is the same drawn for a narrow sheet.

    On paper pictures that are ``half`` stand beside each other, each over its ``caption``.
    """

    svg: str
    alt: str
    paper: str = ""
    caption: str = ""
    half: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Places to write by hand: a label over an empty line."""

    labels: tuple[str, ...]


Block = Paragraph | Facts | Table | Bullets | Picture | Lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A heading with its blocks; ``page`` 1 is the letter itself, 2 the evidence.

    On paper neighbours that are ``half`` share two columns. ``paper`` False: on screens only.
    """

    key: str
    heading: str
    blocks: tuple[Block, ...]
    page: int = 1
    half: bool = False
    paper: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A whole document. ``banner`` stands on top and at the foot of every page.

    ``who`` stands above all sections: whose study it is. ``large``: set in large type on paper, for
    a person who reads it once.
    """

    title: str
    banner: str
    caution: str
    sections: tuple[Section, ...]
    identity: str
    who: tuple[tuple[str, str], ...] = ()
    language: str = "en"
    logo_svg: str | None = None
    large: bool = False
