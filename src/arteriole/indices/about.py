"""An index's fixed words, and the making of an :class:`Index` from a quantity: sides, certainty."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import ROUND_HALF_UP, Decimal

from arteriole.indices.index import Certainty, Cutoff, Index, Method, Withheld
from arteriole.indices.quantity import Quantity
from arteriole.indices.retest import retest_sd

NO_SIDE = "no side: "  # a cut-off's note that begins so is printed without a side
#: One-sided 95 % of a normal: farther from the line is clear of it; our choice, decision 0062.
CLEAR = 1.645
#: Sources that are the published noise already; it is not counted twice.
PUBLISHED = frozenset({"typed", "published repeatability"})


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What is fixed of one index. The first ``deciding`` cut-offs with a side decide."""

    key: str
    label: str
    unit: str
    method: Method
    source: str
    text: str
    cutoffs: tuple[Cutoff, ...] = ()
    decimals: int = 2
    deciding: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """Other values of the same index: ``shown``; and those that bear on sides.

    ``readings``: another published reading or the drift removed; a change of side makes it near
    the line at best. ``onset``: by the other time-zero convention; a change of side takes the
    side away.
    """

    shown: Mapping[str, float] = field(default_factory=dict)
    readings: Mapping[str, float] = field(default_factory=dict)
    onset: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Which stretch and how many beats."""

    windows_s: tuple[tuple[float, float], ...] = ()
    beats: int | None = None


def printed(value: float, decimals: int) -> float:
    """Return the value as it is printed, halves away from zero: 0.805 prints 0.81."""
    step = Decimal(1).scaleb(-decimals)
    return float(Decimal(repr(value)).quantize(step, rounding=ROUND_HALF_UP))


def line_as_printed(value: float) -> str:
    """Return a published line as papers print it, no digit lost: 0.80, 2.0, 2.62, 25, 47.1."""
    shown = f"{value:.{2 if value < 1.0 else 1 if value < 10.0 else 0}f}"
    return shown if float(shown) == value else f"{value:g}"


def is_abnormal(value: float, cutoff: Cutoff, decimals: int) -> bool:
    """Return whether the value as printed lies on the abnormal side of a cut-off."""
    shown = printed(value, decimals)
    line = cutoff.value
    return {"<=": shown <= line, "<": shown < line, ">=": shown >= line, ">": shown > line}[
        cutoff.relation
    ]


def with_side(cutoff: Cutoff, value: float, decimals: int) -> Cutoff:
    """Return the cut-off with the side on which the value as printed lies."""
    shown = printed(value, decimals)
    side = "at" if shown == cutoff.value else "above" if shown > cutoff.value else "below"
    return replace(cutoff, side=side)  # type: ignore[arg-type]


def line_with_side(index: Index) -> Cutoff | None:
    """Return the first line on which the index was given a side, None where it has none."""
    return next(
        (c for c in index.cutoffs if not c.note.startswith(NO_SIDE) and c.side is not None), None
    )


def withhold(about: About, withheld: Withheld) -> Index:
    """Return the index without a number, with the reason and the remedy."""
    return Index(
        key=about.key, label=about.label, unit=about.unit, method=about.method, value=None,
        interval95=None, certainty="cannot say", formula=about.text, source=about.source,
        decimals=about.decimals, cutoffs=about.cutoffs, withheld=withheld,
    )  # fmt: skip


def give(
    about: About,
    quantity: Quantity,
    *,
    inputs: Mapping[str, float],
    where: Where | None = None,
    ways: Ways | None = None,
    corrected_for: Sequence[str] = (),
    notes: Sequence[str] = (),
) -> Index:
    """Return the index of a quantity with sides, certainty and interval."""  # fmt: skip
    ways, where = ways or Ways(), where or Where()
    value = quantity.value
    cutoffs, certainty, why = _judge(about, quantity, ways)
    shown = dict(ways.shown) | dict(ways.readings)
    if ways.onset is not None:
        shown["onset convention"] = ways.onset
    return Index(
        key=about.key, label=about.label, unit=about.unit, method=about.method, value=value,
        interval95=quantity.interval95(), certainty=certainty, formula=about.text,
        source=about.source, decimals=about.decimals, inputs=dict(inputs),
        windows_s=where.windows_s, beats=where.beats, cutoffs=cutoffs,
        corrected_for=tuple(corrected_for), shares=quantity.shares(), alternatives=shown,
        note=" ".join(n for n in (*notes, *why) if n),
    )  # fmt: skip


def _judge(
    about: About, quantity: Quantity, ways: Ways
) -> tuple[tuple[Cutoff, ...], Certainty, tuple[str, ...]]:
    value, decimals = quantity.value, about.decimals
    sided = [c for c in about.cutoffs if not c.note.startswith(NO_SIDE)]
    if not sided:
        return about.cutoffs, "cannot say", ()
    split = [
        c for c in sided
        if ways.onset is not None
        and is_abnormal(ways.onset, c, decimals) != is_abnormal(value, c, decimals)
    ]  # fmt: skip
    rows = tuple(
        c if c not in sided else
        replace(c, note=_joined(c.note, "the onset convention falls on the other side"))
        if c in split else with_side(c, value, decimals)
        for c in about.cutoffs
    )  # fmt: skip
    first = sided[0]
    at = line_as_printed(first.value)
    if first in split:
        assert ways.onset is not None
        told = (
            f"By the mean-passage convention {value:.{decimals}f}, by the onset convention "
            f"{ways.onset:.{decimals}f}: on both sides of {at}, so no side is given."
        )
        return rows, "cannot say", (told,)
    moved = [
        f"{name} {other:.{decimals}f}" for name, other in ways.readings.items()
        if is_abnormal(other, first, decimals) != is_abnormal(value, first, decimals)
    ]  # fmt: skip
    own = 0.0 if PUBLISHED & set(quantity.parts) else quantity.sd
    sd = (retest_sd(about.key, value) ** 2 + own**2) ** 0.5
    deciding = sided[: about.deciding]
    nearest = min(abs(printed(value, decimals) - c.value) for c in deciding)
    between = len({is_abnormal(value, c, decimals) for c in deciding}) > 1
    low, high = quantity.interval95()
    straddles = any(low <= c.value <= high for c in deciding)
    clear = nearest >= CLEAR * sd and not (moved or between or straddles)
    why = (f"On the other side of {at}: {', '.join(moved)}.",) if moved else ()
    return rows, "clear of the line" if clear else "near the line", why


def _joined(note: str, more: str) -> str:
    return f"{note}; {more}" if note else more
