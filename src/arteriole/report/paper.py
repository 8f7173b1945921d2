"""The document tree as a PDF: archival (PDF/A-2a), accessible (PDF/UA-1), fonts inside."""

import json
from functools import cache
from importlib.resources import files
from typing import Any

from arteriole.errors import OptionError
from arteriole.figure import standalone
from arteriole.report.tree import (
    Block,
    Bullets,
    Facts,
    Lines,
    Paragraph,
    Picture,
    Report,
    Table,
)
from arteriole.report.words import clean, for_fonts

PAPERS = {"a4": "a4", "letter": "us-letter"}
#: A facts list with a cell longer than this is set in one column.
WIDE_CELL = 260


def render(report: Report, paper: str = "a4") -> bytes:
    """Return the PDF's bytes; the same tree gives the same bytes.

    Raises
    ------
    OptionError
        A paper that is neither ``a4`` nor ``letter``.
    """
    if paper not in PAPERS:
        raise OptionError(
            f"Paper {paper!r} was asked for; allowed: {', '.join(PAPERS)}. Choose one of them."
        )
    import typst

    content: bytes = typst.compile(
        _source(),
        format="pdf",
        pdf_standards=["a-2a", "ua-1"],
        ignore_system_fonts=True,
        sys_inputs={"document": json.dumps(_plain(report, paper), ensure_ascii=False)},
    )
    return content


@cache
def _source() -> bytes:
    return files("arteriole.report").joinpath("letter.typ").read_bytes()


def _said(words: str) -> str:
    return for_fonts(clean(words))


def _plain(report: Report, paper: str) -> dict[str, Any]:
    return {
        "title": _said(report.title),
        "banner": _said(report.banner),
        "caution": report.caution,
        "identity": _said(report.identity),
        "language": report.language,
        "paper": PAPERS[paper],
        "logo": report.logo_svg or "",
        "sections": [
            {"heading": _said(s.heading), "page": s.page, "blocks": [_block(b) for b in s.blocks]}
            for s in report.sections
        ],
    }


def _block(block: Block) -> dict[str, Any]:
    match block:
        case Paragraph(words=words, weight=weight):
            return {"kind": "paragraph", "words": _said(words), "weight": weight}
        case Facts(rows=rows):
            wide = any(len(v) > WIDE_CELL for _, v in rows)
            pairs = [[_said(k), _said(v)] for k, v in rows]
            return {"kind": "facts", "rows": pairs, "wide": wide}
        case Bullets(rows=bullets):
            return {"kind": "bullets", "rows": [_said(r) for r in bullets]}
        case Table(caption=caption, head=head, rows=cells, widths=widths, dense=dense):
            return {
                "kind": "table",
                "caption": _said(caption),
                "head": list(head),
                "widths": list(widths),
                "dense": dense,
                "rows": [[_said(c) for c in r] for r in cells],
            }
        case Picture(svg=svg, alt=alt):
            return {"kind": "picture", "svg": for_fonts(standalone(svg)), "alt": _said(alt)}
        case Lines(labels=labels):
            return {"kind": "lines", "labels": list(labels)}
