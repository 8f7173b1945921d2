"""Which offset of Pd's gauge would turn the statement: Pd moved in all that the indices rest on."""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import ceil

from arteriole.indices import Evidence, Index, Pressures, compute, imr_corrected, imr_occlusion
from arteriole.indices.about import NO_SIDE, is_abnormal, line_as_printed, printed
from arteriole.indices.ground import USUAL_PA_MMHG
from arteriole.interpret.flip_readings import moved
from arteriole.interpret.reading import against
from arteriole.interpret.rules import Rule, Rules
from arteriole.interpret.statement import Flip

FEW_DRAWS = 200  # for values and sides only; the intervals of a trial are not shown
LARGEST_DRIFT_MMHG = 15.0  # a gauge farther off than this is broken, not drifted
STEP_MMHG = 0.1  # drift is told to this
LAST = round(LARGEST_DRIFT_MMHG / STEP_MMHG)
MOST_LINES = (
    4  # further lines tried where the nearest leaves the pattern; our choice, decision 0096
)
CLEAR = " clear of its line"
MOST_TOLD = 3  # indices in one flip; our choice, decision 0096
Pattern = Callable[[Sequence[Index]], str]
Word = tuple[str, tuple[bool, ...]]  # the pattern and which deciding indices are abnormal


def offset_flips(
    evidence: Evidence, indices: Sequence[Index], rules: Rules, pattern: Pattern, *, reached: bool
) -> Iterator[Flip]:
    """Yield the smallest offset of Pd, either way, that turns the pattern or crosses a line.

    Where the nearest line leaves the pattern, the first farther one that turns it is told too.
    Each index moves one way with Pd, so that what an offset has turned a larger one leaves turned.
    ``reached``: FFR counts, so that resting indices only vote by their sides.
    """
    few = replace(evidence, settings=replace(evidence.settings, draws=FEW_DRAWS))
    trials = _Trials(evidence=few, indices=indices, rules=rules, pattern=pattern, reached=reached)
    if not trials.sided:
        return
    found = _first_turn(trials)
    if found is not None and abs(found) == 1 and trials.word(0) != trials.now:
        # Few draws alone turned it: the certainty of an index lies on an edge.
        trials = replace(trials, evidence=evidence, kept={})
        found = _first_turn(trials)
    if found is None:
        return
    yield _told(trials, found)
    then, sides = trials.word(found)
    if then != trials.now[0] and sides != trials.now[1]:
        return
    own = [(r, k) for r, k in trials.lines() if r in trials.sided and abs(k) > abs(found)]
    for rule, k in own[:MOST_LINES]:
        sign = 1 if k > 0 else -1
        crossed = _smallest(
            lambda k, r=rule: trials.crosses(k, r),  # type: ignore[misc]
            sign, [k], low=abs(found) if found * sign > 0 else 0,
        )  # fmt: skip
        if crossed is not None and trials.word(crossed)[0] not in {then, trials.now[0]}:
            yield _told(trials, crossed, rule)
            return


def _first_turn(trials: "_Trials") -> int | None:
    """Return the smallest offset, either way, with another word, in steps."""
    lines = trials.lines()
    own = [k for r, k in lines if r in trials.sided]
    guesses = [*own, *(k for r, k in lines if r not in trials.sided)]
    sign = -1 if own and own[0] < 0 else 1

    def differs(k: int) -> bool:
        return trials.word(k) != trials.now

    found = _smallest(differs, sign, guesses)
    below = LAST if found is None else abs(found) - 1  # only a smaller one the other way counts
    if below == 0 or not differs(-sign * below):
        return found
    return _smallest(differs, -sign, guesses, largest=below)


def shifted(evidence: Evidence, mmhg: float) -> Evidence:
    """Return the evidence with Pd higher by an offset wherever it was read; the checks stay."""
    beats = evidence.beats
    pa = _pa_hyper(evidence)
    smoothed = evidence.lowest_smoothed
    return replace(
        evidence,
        beats=None if beats is None else replace(beats, pd_mean_mmhg=beats.pd_mean_mmhg + mmhg),
        rest=_moved(evidence.rest, mmhg), plateau=_moved(evidence.plateau, mmhg),
        lowest_smoothed=None if smoothed is None else smoothed + mmhg / pa,
        injections=tuple(
            i if i.pd_before_mmhg is None else replace(i, pd_before_mmhg=i.pd_before_mmhg + mmhg)
            for i in evidence.injections
        ),
        flows=tuple(
            f if f.pd_mmhg is None else replace(f, pd_mmhg=f.pd_mmhg + mmhg)
            for f in evidence.flows
        ),
        typed={
            k: (_typed(evidence, k, value, mmhg), sd) for k, (value, sd) in evidence.typed.items()
        },
    )  # fmt: skip


def _moved(state: Pressures | None, mmhg: float) -> Pressures | None:
    """Return a state with Pd moved; a ratio within the beat by its own window's Pa."""
    if state is None:
        return None
    ratios = {
        k: v + mmhg / state.window_pa_mmhg.get(k, state.pa_mmhg) for k, v in state.ratios.items()
    }
    return replace(state, pd_mmhg=state.pd_mmhg + mmhg, ratios=ratios)


def _pa_hyper(evidence: Evidence) -> float:
    state = evidence.plateau or evidence.rest
    return USUAL_PA_MMHG if state is None else state.pa_mmhg


def _typed(evidence: Evidence, key: str, value: float, mmhg: float) -> float:
    """Return a typed value as it were with Pd moved; as typed where no Pd is known for it."""
    rest = evidence.rest or evidence.plateau
    pa_rest = USUAL_PA_MMHG if rest is None else rest.pa_mmhg
    pa = _pa_hyper(evidence)
    if key.startswith("ffr"):
        return value + mmhg / pa
    if key.endswith("_ratio") or key == "resting_pd_pa":
        return value + mmhg / pa_rest
    if key == "baseline_resistance_index":
        pd = _pd(evidence, evidence.rest, "resting_pd_pa", pa_rest)
        return value if pd is None else value * max(pd + mmhg, 0.0) / pd
    pd, pw = _pd(evidence, evidence.plateau, "ffr", pa), evidence.sheet.coronary_occlusion_mmhg
    if pd is None or pd + mmhg <= 0.0:
        return value
    if key in {"imr", "imr_lag_corrected"}:
        return value * (pd + mmhg) / pd
    if key in {"mrr_bolus", "mrr_continuous", "rrr"}:
        return value * pd / (pd + mmhg)
    if key == "imr_corrected":
        was = imr_corrected.formula(pd, pa, 1.0)
        return value if was <= 0.0 else value * imr_corrected.formula(pd + mmhg, pa, 1.0) / was
    if key == "imr_occlusion" and pw is not None and pw < min(pd, pa):
        was = imr_occlusion.formula(pd, pa, 1.0, pw)
        return float(value * imr_occlusion.formula(pd + mmhg, pa, 1.0, pw) / was)
    return value


def _pd(evidence: Evidence, state: Pressures | None, key: str, pa_mmhg: float) -> float | None:
    if state is not None:
        return state.pd_mmhg
    return evidence.typed[key][0] * pa_mmhg if key in evidence.typed else None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trials:
    """Offsets in steps of ``STEP_MMHG``, + where Pd reads too low; each is computed once."""

    evidence: Evidence
    indices: Sequence[Index]
    rules: Rules
    pattern: Pattern
    reached: bool
    kept: dict[int, tuple[Index, ...]] = field(default_factory=dict)

    @property
    def sided(self) -> tuple[Rule, ...]:
        """Return the rules whose measured index decides and has a side."""
        return deciding(self.indices, self.rules)

    @property
    def asked(self) -> tuple[Rule, ...]:
        """Return every rule that the pattern may ask for."""
        r = self.rules
        return (
            r.epicardial, *r.resting, *r.reserve, *r.resistance, *r.corrected, r.baseline,
            r.continuous_confirms, r.continuous_excludes,
        )  # fmt: skip

    @property
    def keys(self) -> dict[str, None]:
        """Return the keys that the pattern may ask for and that Pd moves.

        What was not measured stays so, but for a form that only the pressures forbade.
        """
        there = {i.key for i in self.indices if i.value is not None} - self.voting
        if self.evidence.sheet.coronary_occlusion_mmhg is not None:
            there.add("imr_occlusion")
        if not self.evidence.not_full:  # a bound counts from flow reserve, which Pd does not move
            there.discard("cfr_bolus")
        return dict.fromkeys(r.key for r in self.asked if r.key in there)

    @property
    def now(self) -> Word:
        """Return the word without an offset."""
        return self._word(self.indices)

    def rows(self, k: int) -> tuple[Index, ...]:
        """Return the indices had Pd read ``k`` steps too low."""
        if k not in self.kept:
            mmhg, keys = k * STEP_MMHG, self.keys
            fresh = again(shifted(self.evidence, mmhg), self.indices, keys)
            self.kept[k] = tuple(
                self._voting(i, mmhg) if i.key in self.voting - set(keys) else i for i in fresh
            )
        return self.kept[k]

    @property
    def voting(self) -> frozenset[str]:
        """Return the resting indices that only vote by their sides, beside a valid FFR."""
        ffr = next((i for i in self.indices if i.key == self.rules.epicardial.key), None)
        if not self.reached or ffr is None or ffr.value is None or self.evidence.rest is None:
            return frozenset()
        return frozenset(r.key for r in self.rules.resting) - set(self.evidence.typed)

    def _voting(self, index: Index, mmhg: float) -> Index:
        """Return a resting index with its value moved: exact, and its interval is not asked."""
        rest = self.evidence.rest
        if rest is None or index.value is None:
            return index
        return moved(index, index.value + mmhg / rest.window_pa_mmhg.get(index.key, rest.pa_mmhg))

    def word(self, k: int) -> Word:
        """Return the word at an offset."""
        return self._word(self.rows(k))

    def crosses(self, k: int, rule: Rule) -> bool:
        """Return whether one index lies on the other side of its line at an offset."""
        if k in self.kept:
            rows: Sequence[Index] = self.rows(k)
        else:
            rows = compute(shifted(self.evidence, k * STEP_MMHG), {rule.key})
        new = next(i for i in rows if i.key == rule.key)
        old = next(i for i in self.indices if i.key == rule.key)
        return _abnormal(new, rule) != _abnormal(old, rule)

    def lines(self) -> list[tuple[Rule, int]]:
        """Return the rules with where their lines should lie, nearest first.

        Nearly all indices are linear in Pd: from where they are at the largest offset.
        """
        now, then = ({i.key: i for i in rows} for rows in (self.indices, self.rows(LAST)))
        found: list[tuple[Rule, int]] = []
        for rule in self.asked:
            if rule.key not in now:
                continue
            a, b = now[rule.key].value, then[rule.key].value
            if a is None or b is None or a == b:
                continue
            half = 0.5 * 10.0 ** -now[rule.key].decimals
            edge = rule.value + (half if rule.relation in {"<=", ">"} else -half)
            slope = (b - a) / LAST
            if rule is self.rules.epicardial:  # the lowest beats need not stay the same ones
                slope = STEP_MMHG / now[rule.key].inputs.get("pa_mmhg", STEP_MMHG / slope)
            steps = (edge - a) / slope
            size = max(ceil(abs(steps) - 1e-9), 1)
            if size <= LAST:
                found.append((rule, size if steps > 0.0 else -size))
        return sorted(found, key=lambda one: abs(one[1]))

    def _word(self, rows: Sequence[Index]) -> Word:
        known = {i.key: i for i in rows}
        sides = tuple(_abnormal(known[r.key], r) for r in self.sided)
        return self.pattern(rows), sides


def deciding(indices: Sequence[Index], rules: Rules) -> tuple[Rule, ...]:
    """Return the rules that speak now: their index is measured and has a side.

    FFR, else the resting indices; behind a stenosis the corrected resistances, else the first
    measured reserve and resistance, or continuous flow where there is no bolus.
    """
    rows = {i.key: i for i in indices if i.value is not None and not unsided(i)}
    first = [r for r in (rules.epicardial,) if r.key in rows] or list(rules.resting)
    obstructed = against(rules.epicardial, rows).word == "abnormal"
    corrected = [r for r in rules.corrected if r.key in rows][:1]
    plain = [next((r for r in some if r.key in rows), None)
             for some in (rules.reserve, rules.resistance)]  # fmt: skip
    bed = corrected if obstructed else [r for r in plain if r is not None]
    bed = bed or [rules.continuous_confirms, rules.continuous_excludes]
    return tuple(r for r in (*first, *bed) if r.key in rows)


def unsided(index: Index) -> bool:
    """Return whether no line of the index has a side."""
    return bool(index.cutoffs) and all(c.note.startswith(NO_SIDE) for c in index.cutoffs)


def again(evidence: Evidence, indices: Sequence[Index], keys: Collection[str]) -> tuple[Index, ...]:
    """Return the indices with those of these keys computed anew."""
    fresh = {i.key: i for i in compute(evidence, keys)}
    return tuple(fresh.get(i.key, i) for i in indices)


def _abnormal(index: Index, rule: Rule) -> bool:
    return index.value is not None and is_abnormal(index.value, rule.as_cutoff(), index.decimals)


def _smallest(
    differs: Callable[[int], bool], sign: int, guesses: Sequence[int], low: int = 0,
    largest: int = LAST,
) -> int | None:  # fmt: skip
    """Return the smallest offset of a sign beyond ``low`` that differs, in steps, or None.

    The guesses of that sign are tried first, the nearest line before the others.
    """
    high = largest + 1
    sizes = [abs(k) for k in guesses if k * sign > 0]
    first = [s for k in sizes[:1] for s in (k, k - 1, k + 1, k - 4, k + 4)]
    others = sorted({s for k in sizes[1:] for s in (k, k - 1)})
    while high - low > 1:
        tried = [s for s in first if low < s < high]
        inside = [s for s in others if low < s < high]
        size = (
            tried[0] if tried else inside[len(inside) // 2] if inside
            else largest if high > largest else (low + high) // 2
        )  # fmt: skip
        low, high = (low, size) if differs(sign * size) else (size, high)
    return None if high > largest else sign * high


def _told(trials: _Trials, k: int, line: Rule | None = None) -> Flip:
    """Return the offset as a flip, named by the line that was looked for, or the first crossed."""
    old = {i.key: i for i in trials.indices}
    rows = [(r, old[r.key], i) for i in trials.rows(k) for r in trials.asked if r.key == i.key]
    over = [
        row for row in rows if _abnormal(row[1], row[0]) != _abnormal(row[2], row[0])
        and row[0] in (*trials.sided, *trials.rules.resting)
    ]  # fmt: skip
    own = [row for row in over if row[0] in trials.sided]
    # Where no line of its own is crossed, an index came near one, lost its side or came clear.
    moved_side = [r for r in rows if r[0] in trials.sided and _side(r[1]) != _side(r[2])]
    other = [] if own else ([r for r in moved_side if _side(r[2])] or moved_side)
    other.sort(key=lambda row: not unsided(row[2]))  # what loses its side turns more
    then, now = trials.word(k)[0], trials.now[0]
    change = f"Pd reading {abs(k) * STEP_MMHG:.1f} mmHg too {'low' if k > 0 else 'high'}"
    evidence = trials.evidence
    if evidence.plateau is None and evidence.rest is None and evidence.typed:
        change += f", at Pa {USUAL_PA_MMHG:g} mmHg"
    named = [row for row in own if row[0] is line] or (own or other or over)[:1]
    what = "".join(
        f"{_shown(i)} against {r.relation} {line_as_printed(r.value)}"
        if own or not other
        else _shown(i)
        for r, i, _ in named
    )
    told = [*(f"{_shown(i)}{_side(i) or CLEAR}" for _, _, i in other),
            *(_shown(i) for _, _, i in own or over)]  # fmt: skip
    if len(told) > MOST_TOLD + 1:
        told = [*told[:MOST_TOLD], f"{len(told) - MOST_TOLD} more"]
    return Flip(
        what=what or "gauge offset", smallest_change=change,
        would_become=f"{', '.join(told) or 'certainty of an index'}; "
        + (then if then != now else f"pattern stays {now}"),
    )  # fmt: skip


def _side(index: Index) -> str:
    near = index.certainty == "near the line"
    return " without a side" if unsided(index) else " near its line" if near else ""


def _shown(index: Index) -> str:
    if index.value is None:
        return f"{index.label} withheld"
    return f"{index.label} {printed(index.value, index.decimals):.{index.decimals}f}"
