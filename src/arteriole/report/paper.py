"""The document tree as a PDF: archival (PDF/A-2a), accessible (PDF/UA-1), fonts inside.

Every section goes to the writer in several forms, each shorter than the one before; the writer
measures and takes the first that leaves page one and page two whole.
"""

import json
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from arteriole.errors import OptionError
from arteriole.figure import standalone
from arteriole.report.tree import (
    KEEP,
    KEEP_FINDING,
    KEEP_TYPED,
    Block,
    Bullets,
    Facts,
    Lines,
    Paragraph,
    Picture,
    Report,
    Section,
    Table,
)
from arteriole.report.words import clean, for_fonts, for_narrow, short

PAPERS = {"a4": "a4", "letter": "us-letter"}
#: Longest text of one cell in each form, the roomiest first; the whole text is in the result
#: document. Our choice, decision 0084.
LONGEST = (KEEP, KEEP_FINDING, 120, 70, 70, KEEP_TYPED)
#: A cell longer than this gets a whole line below the columns of a facts list.
WIDE_CELL = 60
#: From this form on facts are running words, not columns.
RUNNING = 3


def render(report: Report, paper: str = "a4") -> bytes:
    """Return the PDF's bytes; the same tree gives the same bytes.

    Raises
    ------
    OptionError
        A paper that is neither ``a4`` nor ``letter``, or a logo that is no whole picture.
    """
    if paper not in PAPERS:
        raise OptionError(
            f"Paper {paper!r} was asked for; allowed: {', '.join(PAPERS)}. Choose one of them."
        )
    import typst

    try:
        content: bytes = typst.compile(
            _source(),
            format="pdf",
            pdf_standards=["a-2a", "ua-1"],
            ignore_system_fonts=True,
            sys_inputs={"document": json.dumps(_plain(report, paper), ensure_ascii=False)},
        )
    except typst.TypstError as fault:
        if not report.logo_svg:
            raise
        raise OptionError(
            f"The template's logo cannot be drawn ({str(fault)[:80]}); a whole SVG picture is "
            "needed. Open it in a drawing program and save it again."
        ) from None
    return content


@cache
def _source() -> bytes:
    return files("arteriole.report").joinpath("letter.typ").read_bytes()


@lru_cache(maxsize=4096)  # the forms of a section repeat most of their words
def _said(words: str, longest: int = LONGEST[0], *, narrow: bool = False) -> str:
    said = clean(words, longest)
    return for_fonts(for_narrow(said) if narrow else said)


def _plain(report: Report, paper: str) -> dict[str, Any]:
    printed = [s for s in report.sections if s.paper]
    pictures = [b for s in printed for b in s.blocks if isinstance(b, Picture)]
    return {
        "title": _said(report.title, LONGEST[1]),
        "banner": _said(report.banner),
        "caution": report.caution,
        "identity": _said(report.identity, LONGEST[2]),
        "language": report.language,
        "paper": PAPERS[paper],
        "large": report.large,
        "logo": report.logo_svg or "",
        "who": [[_said(k), _said(short(v, LONGEST[-1]), narrow=True)] for k, v in report.who],
        "pictures": [for_fonts(standalone(p.paper or p.svg)) for p in pictures],
        "forms": [[_section(s, form, pictures) for s in printed] for form in range(len(LONGEST))],
    }


def _section(section: Section, form: int, pictures: list[Picture]) -> dict[str, Any]:
    return {
        "heading": _said(section.heading, LONGEST[1]),
        "page": section.page,
        "half": section.half,
        "blocks": [_block(b, form, pictures) for b in section.blocks],
    }


def _block(block: Block, form: int, pictures: list[Picture]) -> dict[str, Any]:
    longest = LONGEST[form]
    if isinstance(block, Table | Bullets) and form and block.shorter:
        block = block.shorter[min(form, len(block.shorter)) - 1]
    match block:
        case Paragraph(words=words, weight=weight):
            return {"kind": "paragraph", "words": _said(words), "weight": weight}
        case Facts(rows=rows, columns=columns, typed=typed):
            cuts = {k: longest if k in typed else KEEP for k, _ in rows}
            wide = [[_said(k), _said(v, cuts[k])] for k, v in rows if len(v) > WIDE_CELL]
            pairs = [[_said(k), _said(v, cuts[k], narrow=True)]
                     for k, v in rows if len(v) <= WIDE_CELL]  # fmt: skip
            return {
                "kind": "facts",
                "rows": pairs,
                "wide": wide,
                "running": form >= RUNNING,
                "columns": columns,
            }
        case Bullets(rows=bullets):
            return {
                "kind": "bullets",
                "rows": [_said(r, max(longest, KEEP_FINDING)) for r in bullets],
            }
        case Table(caption=caption, head=head, rows=cells, widths=widths, keep=keep):
            cut = max(longest, keep)
            return {
                "kind": "table",
                "caption": _said(caption),
                "head": [_said(h) for h in head],
                "widths": list(widths),
                "running": block.running,
                "rows": [[_said(c, cut, narrow=True) for c in r] for r in cells],
            }
        case Picture(alt=alt, caption=caption, half=half):
            return {
                "kind": "picture",
                "number": pictures.index(block),
                "alt": _said(alt),
                "caption": _said(caption),
                "half": half,
            }
        case Lines(labels=labels):
            return {"kind": "lines", "labels": [_said(x) for x in labels]}
