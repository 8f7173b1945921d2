"""The document tree as plain text, for mail and for terminals without colour."""

import textwrap

from arteriole.report.tree import Block, Bullets, Facts, Lines, Paragraph, Picture, Report, Table
from arteriole.report.words import clean

COLUMNS = 92


def render(report: Report) -> str:
    """Return the whole document; pictures are given by their words."""
    rows = [clean(report.title), "=" * min(len(report.title), COLUMNS)]
    if report.banner:
        rows.append(report.banner)
    rows += [*_wrapped(report.caution), ""]
    if report.who:
        rows += [*_block(Facts(rows=report.who)), ""]
    for section in report.sections:
        heading = clean(section.heading)
        rows += [heading, "-" * min(len(heading), COLUMNS)]
        for block in section.blocks:
            rows += _block(block)
        rows.append("")
    rows += [clean(report.identity), report.banner or "", *_wrapped(report.caution)]
    return "\n".join(r.replace("\u200b", "").rstrip() for r in rows) + "\n"


def _wrapped(words: str, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(
        clean(words), COLUMNS, initial_indent=first, subsequent_indent=rest or " " * len(first)
    )


def _block(block: Block) -> list[str]:
    match block:
        case Paragraph(words=words):
            return _wrapped(words)
        case Facts(rows=rows):
            return [line for k, v in rows for line in _wrapped(v, f"{clean(k)}: ", "    ")]
        case Bullets(rows=bullets):
            return [line for words in bullets for line in _wrapped(words, "- ")]
        case Table(caption=caption, head=head, rows=cells):
            out = [f"{caption}:"]
            for row in cells:
                pairs = [f"{h} {v}" for h, v in zip(head[1:], row[1:], strict=True) if v != "—"]
                out += _wrapped(f"{row[0]}: {' | '.join(pairs)}", "  ", "      ")
            return out
        case Picture(alt=alt, caption=caption):
            return [*_wrapped(f"[Picture: {alt}]"), *_wrapped(caption)]
        case Lines(labels=labels):
            return [f"{name}: ______________________" for name in labels]
