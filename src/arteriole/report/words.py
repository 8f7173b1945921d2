"""How numbers, times and free text are written; the numbers themselves are never changed."""

import re
import unicodedata
from collections.abc import Iterable, Sequence

from arteriole.indices.about import line_as_printed, printed
from arteriole.indices.index import Cutoff, Index

NOT_RECORDED = "not recorded"
#: Free text is printed up to here; our choice, decision 0081.
LONGEST_TEXT = 600
#: One word without a break, longer than a hash, is broken; decision 0081.
LONGEST_WORD = 64
#: The same for a narrow cell on paper, where half of it is the longest piece.
NARROW_WORD = 26
#: Directional controls that let one field reorder the text around it, [UAX9] section 2.
_DIRECTIONS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
#: Ranges that the fonts within the PDF writer cover; measured, decision 0081.
_COVERED = ((0x20, 0x7E), (0xA0, 0x4FF), (0x1E00, 0x1EFF), (0x2010, 0x2027), (0x202F, 0x205E),
            (0x2070, 0x209C), (0x20A0, 0x20BF), (0x2100, 0x2151), (0x2190, 0x22FF),
            (0x25A0, 0x25FF))  # fmt: skip
_NOT_PLAIN = re.compile(r"[^\x20-\x7e]")
_BROKEN = frozenset(range(0x378, 0x37A)) | {0x380, 0x381, 0x382, 0x383, 0x38B, 0x38D, 0x3A2}


def clean(words: str, longest: int = LONGEST_TEXT) -> str:
    """Return text without control characters, of bounded length, with breakable words."""
    flat = unicodedata.normalize("NFC", words)
    kept = "".join(
        " " if c in "\n\r\t\u2028\u2029" else c
        for c in flat
        if c in "\n\r\t\u2028\u2029"
        or (c not in _DIRECTIONS and unicodedata.category(c) not in {"Cc", "Cs", "Cn", "Co"})
    )
    if len(kept) > longest:
        kept = f"{kept[:longest]}… ({len(kept)} characters in all)"
    return " ".join(_broken(w) for w in kept.split())


def short(words: str, longest: int) -> str:
    """Return the first characters of a text with a mark where it was cut."""
    whole = clean(words, len(words) + 1)
    return whole if len(whole) <= longest else f"{whole[:longest]}…"


def _broken(word: str, longest: int = LONGEST_WORD, piece: int = LONGEST_WORD) -> str:
    if len(word) <= longest:
        return word
    return "\u200b".join(word[k : k + piece] for k in range(0, len(word), piece))


def for_narrow(words: str) -> str:
    """Return text whose long words may be broken often, for a narrow cell on paper."""
    return " ".join(
        _broken(w.replace("\u200b", ""), NARROW_WORD, NARROW_WORD // 2) for w in words.split(" ")
    )


def for_fonts(words: str) -> str:
    """Return text with every character the embedded fonts lack written by its number."""
    return _NOT_PLAIN.sub(lambda found: _drawn(found.group()), words)


def _drawn(c: str) -> str:
    if c == "\u200b":
        return c
    code = ord(c)
    if any(a <= code <= b for a, b in _COVERED) and code not in _BROKEN and (
        unicodedata.category(c) != "Cn"
    ):  # fmt: skip
        return c
    return "" if unicodedata.combining(c) else f"[U+{code:04X}]"


def number(value: float | None, decimals: int = 2, unit: str = "") -> str:
    """Return a number as printed: halves away from zero, a true minus sign, no minus zero."""
    if value is None:
        return "—"
    shown = f"{printed(value, decimals) + 0.0:.{decimals}f}".replace("-", "−")
    return f"{shown} {unit}" if unit and unit != "1" else shown


def plain(value: object) -> str:
    """Return a sheet's field in words; None is "not recorded"."""
    if value is None or value in ("", ()):
        return NOT_RECORDED
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return f"{value:g}".replace("-", "−")
    if isinstance(value, tuple):
        return ", ".join(str(v) for v in value)
    return str(value)


def measured(value: float | None, unit: str) -> str:
    """Return a recorded number with its unit, or "not recorded"."""
    return NOT_RECORDED if value is None else f"{plain(value)} {unit}"


def joined(parts: Iterable[str]) -> str:
    """Return the recorded ones of several words, or "not recorded"."""
    there = [p for p in parts if p and p != NOT_RECORDED]
    return ", ".join(there) if there else NOT_RECORDED


def named(*parts: tuple[str, str]) -> str:
    """Return "size 6 F; engaged yes", or "not recorded" when no part is."""
    if all(v == NOT_RECORDED for _, v in parts):
        return NOT_RECORDED
    return "; ".join(f"{k} {v}" for k, v in parts)


def typeset(words: str) -> str:
    """Return words with the relations as one sign each."""
    return words.replace("<=", "≤").replace(">=", "≥")


def label(one: Index) -> str:
    """Return the index's label without its method, which stands beside it."""
    return one.label.removesuffix(f" ({one.method})")


def seconds(start_s: float | None, end_s: float | None) -> str:
    """Return a stretch of time in words."""
    if start_s is None or end_s is None:
        return "whole recording"
    if end_s - start_s < 0.5:
        return f"{start_s:.1f} s"
    return f"{start_s:.1f} to {end_s:.1f} s"


def interval(one: Index) -> str:
    """Return the 95 % interval with the index's own decimals."""
    if one.interval95 is None:
        return "—"
    low, high = one.interval95
    return f"{number(low, one.decimals)} to {number(high, one.decimals)}"


def value(one: Index) -> str:
    """Return the value with its unit, or the word withheld; withheld never means normal."""
    return "withheld" if one.value is None else number(one.value, one.decimals, one.unit)


def lines(cutoffs: Sequence[Cutoff]) -> str:
    """Return published lines: relation, value, side, source; a source of several stands once."""
    said = []
    for k, one in enumerate(cutoffs):
        relation = {"<=": "≤", ">=": "≥"}.get(one.relation, one.relation)
        side = f", {one.side}" if one.side else ", no side"
        again = k + 1 < len(cutoffs) and cutoffs[k + 1].source == one.source
        source = "" if again else f" {one.source}"
        said.append(f"{relation} {line_as_printed(one.value)}{side}{source}".rstrip())
    return "; ".join(said)
