"""What would flip this: the smallest change that moves a pattern, found by computing it again."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from arteriole.indices import Evidence, Index, InjectionEvidence
from arteriole.indices.ground import ground_of
from arteriole.interpret.flip_offset import FEW_DRAWS, again, offset_flips
from arteriole.interpret.flip_readings import reading_flips
from arteriole.interpret.reading import first_measured
from arteriole.interpret.rules import Rules
from arteriole.interpret.state import HyperaemiaWord, state
from arteriole.interpret.statement import Flip
from arteriole.recording.finding import Finding

LARGEST_TMN_SHARE = 0.5  # a mean farther off than half is another measurement
STEP_SHARE = 0.01
STANDS = {
    "abnormal": "past its line", "normal": "not past its line", "cannot say": "cannot say",
    "not measured": "not measured",
}  # fmt: skip


def flips(
    evidence: Evidence,
    indices: Sequence[Index],
    hyperaemia_state: HyperaemiaWord,
    findings: Sequence[Finding],
    rules: Rules,
    tables: Mapping[str, Rules] | None = None,
) -> tuple[Flip, ...]:
    """Return what would turn the statement, each computed again with one thing changed.

    Parameters
    ----------
    evidence, indices
        What was computed, and what it was computed from.
    hyperaemia_state, findings, rules
        As for :func:`arteriole.interpret.state`.
    tables : mapping of Rules, optional
        The other published tables to try, by name.
    """  # fmt: skip

    def pattern(rows: Sequence[Index], table: Rules = rules) -> str:
        return state(rows, evidence.sheet, hyperaemia_state, findings, table).pattern

    # Trials keep the study's seed: what differs is the change, and each row is drawn once.
    evidence = replace(evidence, seed=ground_of(evidence).chance.seed)
    now = pattern(indices)
    found = [
        *offset_flips(evidence, indices, rules, pattern, reached=hyperaemia_state != "not reached"),
        *_injections(evidence, indices, rules, pattern, now),
        *_transit(evidence, indices, rules, pattern, now),
        *reading_flips(indices, rules, pattern, now),
    ]
    for name, table in (tables or {}).items():
        if table.name != rules.name:
            then = pattern(indices, table)
            if then != now:
                found.append(
                    Flip(what="rule table", smallest_change=f"table {name} in place of {rules}",
                         would_become=then)
                )  # fmt: skip
    return tuple(found)


def _injections(
    evidence: Evidence, indices: Sequence[Index], rules: Rules,
    pattern: Callable[[Sequence[Index]], str], now: str,
) -> Iterator[Flip]:  # fmt: skip
    """Yield the injections whose leaving out moves reserve or resistance over its line.

    Injections that do the same, each alone, are told together.
    """
    few = replace(evidence.settings, draws=FEW_DRAWS)
    before = _bed(indices, rules)
    alike: dict[tuple[str, str], list[InjectionEvidence]] = {}
    for k, one in enumerate(evidence.injections):
        takes_out = one.usable
        if one.tmn_s is None:
            continue
        alone = sum(i.usable and i.phase == one.phase for i in evidence.injections) < 2
        if takes_out and alone:
            continue
        changed = replace(one, verdict="left out" if takes_out else "usable")
        row = (*evidence.injections[:k], changed, *evidence.injections[k + 1 :])
        trial = _again(replace(evidence, injections=row, settings=few), indices, rules)
        then, after = pattern(trial), _bed(trial, rules)
        if then == now and after == before:
            continue
        verb = "leaving out" if takes_out else "taking in"
        become = then if then != now else f"{after}; pattern stays {now}"
        alike.setdefault((verb, become), []).append(one)
    for (verb, become), rows in alike.items():
        each = " or ".join(f"{i.label} ({i.tmn_s:.2f} s)" for i in rows)
        yield Flip(
            what=f"injection {' or '.join(i.label for i in rows)}",
            smallest_change=f"{verb} {each}", would_become=become,
        )  # fmt: skip


def _transit(
    evidence: Evidence,
    indices: Sequence[Index],
    rules: Rules,
    pattern: Callable[[Sequence[Index]], str],
    now: str,
) -> Iterator[Flip]:
    """Yield the smallest error of Tmn, or of continuous flow, that turns the pattern."""
    few = replace(evidence, settings=replace(evidence.settings, draws=FEW_DRAWS))
    used = {i.phase for i in evidence.injections if i.usable}
    flows = {f.phase for f in evidence.flows}

    def by_bolus(share: float) -> Evidence:
        return replace(few, injections=tuple(_stretched(i, share) for i in few.injections))

    def by_flow(share: float) -> Evidence:
        rows = tuple(
            replace(f, q_ml_min=f.q_ml_min * (1.0 + share)) if f.phase == "hyperaemia" else f
            for f in few.flows
        )
        return replace(few, flows=rows)

    for what, words, there, changed, method in (
        ("mean transit time in hyperaemia", ("shorter", "longer"), used, by_bolus, "bolus"),
        ("continuous flow in hyperaemia", ("lower", "higher"), flows, by_flow, "continuous"),
    ):
        if there != {"rest", "hyperaemia"}:
            continue

        def trial(
            share: float, changed: Callable[[float], Evidence] = changed, method: str = method
        ) -> str:  # fmt: skip
            return pattern(_again(changed(share), indices, rules, method))

        best: tuple[float, str] | None = None
        for sign in (1.0, -1.0):
            share, then = _smallest(
                lambda s, sign=sign: trial(sign * s),  # type: ignore[misc]
                now, LARGEST_TMN_SHARE if best is None else abs(best[0]),
            )  # fmt: skip
            if share is not None and (best is None or share < abs(best[0])):
                best = (sign * share, then)
        if best is not None:
            yield Flip(
                what=what, would_become=best[1],
                smallest_change=f"{100.0 * abs(best[0]):.0f} % {words[best[0] > 0.0]}",
            )  # fmt: skip


def _stretched(one: InjectionEvidence, share: float) -> InjectionEvidence:
    """Return a used injection in hyperaemia with its transit time off by a share."""
    if one.phase != "hyperaemia" or not one.usable or one.tmn_s is None:
        return one
    late = None if one.tmn_onset_s is None else one.tmn_onset_s + one.tmn_s * share
    return replace(one, tmn_s=one.tmn_s * (1.0 + share), tmn_onset_s=late)


def _again(
    evidence: Evidence, indices: Sequence[Index], rules: Rules, method: str = ""
) -> tuple[Index, ...]:
    """Return the indices with those that rest on injections and decide computed anew.

    ``method``: only the measured ones of it, where nothing else changed.
    """
    deciding = (
        *rules.reserve, *rules.resistance, *rules.corrected, rules.baseline,
        rules.continuous_confirms, rules.continuous_excludes,
    )  # fmt: skip
    # A bound counts from flow reserve, whichever index the table decides by.
    bound = ("cfr_bolus",) if evidence.not_full else ()
    keys = {*(r.key for r in deciding), *bound}
    if method:
        keys &= {i.key for i in indices if i.method == method and i.value is not None}
    return again(evidence, indices, keys)


def _smallest(
    trial: Callable[[float], str], now: str, largest: float
) -> tuple[float | None, str]:  # fmt: skip
    """Return the smallest share that turns the pattern: coarse steps out, then halving back.

    Not beyond ``largest``, in whole coarse steps.
    """
    coarse, low = 0.1, 0.0
    high, then = coarse, trial(coarse)
    while then == now:
        low, high = high, high + coarse
        if high > LARGEST_TMN_SHARE + STEP_SHARE or low >= largest:
            return None, now
        then = trial(high)
    while high - low > STEP_SHARE:
        middle = (low + high) / 2.0
        word = trial(middle)
        if word == now:
            low = middle
        else:
            high, then = middle, word
    return high, then


def _bed(indices: Sequence[Index], rules: Rules) -> str:
    rows = {i.key: i for i in indices}
    found = [first_measured(r, rows) for r in (rules.reserve, rules.resistance)]
    return ", ".join(
        f"{rows[a.rule.key].label if a.rule.key in rows else a.rule.key} {STANDS[a.word]}"
        for a in found
    )
