"""What would flip this: the smallest change that moves a pattern, found by computing it again."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from arteriole.indices import Evidence, Index, InjectionEvidence, compute
from arteriole.indices.about import is_abnormal
from arteriole.indices.ground import ground_of
from arteriole.interpret.flip_readings import moved, reading_flips
from arteriole.interpret.reading import first_measured
from arteriole.interpret.rules import Rules
from arteriole.interpret.state import HyperaemiaWord, state
from arteriole.interpret.statement import Flip
from arteriole.recording.finding import Finding

FEW_DRAWS = 200  # for values and sides only; the intervals of a trial are not shown
LARGEST_DRIFT_MMHG = 15.0  # a gauge farther off than this is broken, not drifted
USUAL_PA_MMHG = 90.0  # where no pressure was typed; said so in the flip
STEP_MMHG = 0.1  # drift is told to this
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
        *_drift(evidence, indices, rules, pattern, now),
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


def _drift(
    evidence: Evidence,
    indices: Sequence[Index],
    rules: Rules,
    pattern: Callable[[Sequence[Index]], str],
    now: str,
) -> Iterator[Flip]:
    """Yield the smallest gauge offset that moves the deciding pressure index over its line.

    The same offset moves every ratio that could decide, and at the line the index is near it.
    """
    rows = {i.key: i for i in indices}
    keys = [r.key for r in (rules.epicardial, *rules.resting)]
    rule = next(
        (r for r in (rules.epicardial, *rules.resting)
         if r.key in rows and rows[r.key].value is not None), None,
    )  # fmt: skip
    if rule is None:
        return
    index = rows[rule.key]
    assert index.value is not None
    state_of = evidence.plateau or evidence.rest
    assumed = "" if state_of or "pa_mmhg" in index.inputs else f", at Pa {USUAL_PA_MMHG:g} mmHg"
    stand_in = USUAL_PA_MMHG if state_of is None else state_of.pa_mmhg
    cutoff = rule.as_cutoff()
    bad = is_abnormal(index.value, cutoff, index.decimals)
    sign = 1.0 if bad else -1.0

    def off_by(one: Index, offset: float) -> float:
        assert one.value is not None
        return one.value + offset / one.inputs.get("pa_mmhg", stand_in)

    for k in range(1, int(LARGEST_DRIFT_MMHG / STEP_MMHG) + 1):
        offset = sign * k * STEP_MMHG
        value = off_by(index, offset)
        if is_abnormal(value, cutoff, index.decimals) == bad:
            continue
        trial = [
            moved(i, off_by(i, offset)) if i.key in keys and i.value is not None else i
            for i in indices
        ]
        trial = [replace(i, certainty="near the line") if i.key == rule.key else i for i in trial]
        yield Flip(
            what=f"{index.label} {index.value:.2f} against {rule.relation} {rule.value:.2f}",
            smallest_change=(
                f"Pd reading {abs(offset):.1f} mmHg too {'low' if bad else 'high'}{assumed}"
            ),
            would_become=_become(index, value, pattern(trial), now),
        )
        return


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

    for what, words, there, changed in (
        ("mean transit time in hyperaemia", ("shorter", "longer"), used, by_bolus),
        ("continuous flow in hyperaemia", ("lower", "higher"), flows, by_flow),
    ):
        if there != {"rest", "hyperaemia"}:
            continue

        def trial(share: float, changed: Callable[[float], Evidence] = changed) -> str:
            return pattern(_again(changed(share), indices, rules))

        best: tuple[float, str] | None = None
        for sign in (1.0, -1.0):
            share, then = _smallest(lambda s, sign=sign: trial(sign * s), now)  # type: ignore[misc]
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


def _again(evidence: Evidence, indices: Sequence[Index], rules: Rules) -> tuple[Index, ...]:
    """Return the indices with those that rest on injections and decide computed anew."""
    deciding = (
        *rules.reserve, *rules.resistance, *rules.corrected, rules.baseline,
        rules.continuous_confirms, rules.continuous_excludes,
    )  # fmt: skip
    fresh = {i.key: i for i in compute(evidence, {r.key for r in deciding})}
    return tuple(fresh.get(i.key, i) for i in indices)


def _smallest(trial: Callable[[float], str], now: str) -> tuple[float | None, str]:
    """Return the smallest share that turns the pattern: coarse steps out, then halving back."""
    coarse, low = 0.1, 0.0
    high, then = coarse, trial(coarse)
    while then == now:
        low, high = high, high + coarse
        if high > LARGEST_TMN_SHARE + STEP_SHARE:
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


def _become(index: Index, value: float, then: str, now: str) -> str:
    shown = f"{index.label} {value:.2f}"
    return f"{shown}; {then}" if then != now else f"{shown}; pattern stays {now}"
