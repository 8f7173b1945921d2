"""Which other published reading or convention, taken in place of ours, would turn the statement."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from arteriole.indices.about import NO_SIDE, is_abnormal, printed, with_side
from arteriole.indices.bolus import LAG
from arteriole.indices.calibration import EXPECTED
from arteriole.indices.index import Index
from arteriole.indices.pressure import USUAL_HEIGHT
from arteriole.interpret.rules import Rule, Rules
from arteriole.interpret.statement import Flip

#: Beside a value, but no reading of it: one injection left out is told by itself, and values
#: without the lag carry no side. A height nobody measured is a sensitivity.
NO_READINGS = ("without ", LAG, EXPECTED, USUAL_HEIGHT)


def reading_flips(
    indices: Sequence[Index], rules: Rules, pattern: Callable[[Sequence[Index]], str], now: str
) -> Iterator[Flip]:
    """Yield each reading that moves a deciding index over its line or turns the pattern.

    A reading is taken for every index that has it at once: a convention or a gauge offset is not
    chosen for one number alone.
    """
    lines = {r.key: r for r in _deciding(rules)}
    named = dict.fromkeys(
        name for i in indices if i.key in lines for name in i.alternatives
        if not name.startswith(NO_READINGS)
    )  # fmt: skip
    for name in named:
        trial = tuple(
            moved(i, i.alternatives[name]) if i.key in lines and name in i.alternatives else i
            for i in indices
        )
        over = [
            new for old, new in zip(indices, trial, strict=True)
            if new is not old and _crosses(old, new, lines[new.key])
        ]  # fmt: skip
        then = pattern(trial)
        if not over and then == now:
            continue
        shown = ", ".join(f"{i.label} {_value(i)}" for i in over) or "no index over its line"
        yield Flip(
            what="reading",
            smallest_change=f"{name} in place of ours",
            would_become=f"{shown}; {then}" if then != now else f"{shown}; pattern stays {now}",
        )


def moved(index: Index, value: float) -> Index:
    """Return the index with another value, its sides judged anew."""
    lines = tuple(
        c if c.side is None else with_side(c, value, index.decimals) for c in index.cutoffs
    )
    return replace(index, value=value, cutoffs=lines)


def _deciding(rules: Rules) -> tuple[Rule, ...]:
    return (
        rules.epicardial, *rules.resting, *rules.reserve, *rules.resistance, *rules.corrected,
        rules.baseline,
    )  # fmt: skip


def _crosses(old: Index, new: Index, rule: Rule) -> bool:
    unsided = bool(old.cutoffs) and all(c.note.startswith(NO_SIDE) for c in old.cutoffs)
    if old.value is None or new.value is None or unsided:
        return False
    line, decimals = rule.as_cutoff(), old.decimals
    return is_abnormal(old.value, line, decimals) != is_abnormal(new.value, line, decimals)


def _value(index: Index) -> str:
    assert index.value is not None
    return f"{printed(index.value, index.decimals):.{index.decimals}f}"
