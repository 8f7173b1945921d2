"""What would narrow the doubt most: each act is tried on the evidence and the interval compared.

Never more drug, longer drug time, a spasm agent or crossing the lesion again. Whether a run is
recorded again is not said: only what recording it so would narrow, should it be. Every act names
its cost.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

from arteriole.indices import Evidence, Index, InjectionEvidence, Offset, compute
from arteriole.indices.ground import ground_of
from arteriole.interpret.flip_offset import unsided
from arteriole.interpret.reading import ONSET, against
from arteriole.interpret.rules import Rule, Rules
from arteriole.interpret.statement import NextAct

CHECK_SD_MMHG = 0.3  # what a gauge check of some beats leaves open; our choice, decision 0066
LEAST_GAIN = 0.05  # an act that narrows by less is not named; decision 0066
MOST_ACTS = 3
MOST_INJECTIONS = 5  # of a state; beyond it the interval hardly shrinks; decision 0066
RUN_COST = "a whole run more, which the operator weighs"
READ_FULL = "If hyperaemia is recorded again, read only once it is full and steady."
WAIT = "Wait for quiet beats before any drug and record rest again, or mark a stretch as rest."
HYPERAEMIA_ONLY = ("imr", "imr_corrected", "imr_occlusion")  # no injection at rest enters them


@dataclass(frozen=True, slots=True, kw_only=True)
class _Act:
    do: str
    cost: str
    trial: Evidence
    without: tuple[str, ...] = ()
    makes_full: bool = False
    gain: float = 0.0
    told: str = ""


def next_acts(evidence: Evidence, indices: Sequence[Index], rules: Rules) -> tuple[NextAct, ...]:
    """Return the acts that narrow the deciding intervals most, best first, at most three.

    Every trial keeps the draws of the study, so the interval before is the one printed.
    """
    tries = replace(evidence, seed=ground_of(evidence).chance.seed)
    keys = in_doubt(indices, rules)
    before = _computed(tries, keys)
    acts = [_weighed(act, keys, before) for act in _possible(tries)]
    good = sorted((a for a in acts if a.gain >= LEAST_GAIN), key=lambda a: -a.gain)
    rows = [NextAct(do=a.do, gain=f"{a.told}; cost: {a.cost}") for a in good[:MOST_ACTS]]
    said = {a.do for a in rows}
    opens = (*_withheld_ffr(evidence, indices, rules), *_missing(evidence, indices))
    return (*rows, *(a for a in opens if a.do not in said))[:MOST_ACTS]


def in_doubt(indices: Sequence[Index], rules: Rules) -> tuple[str, ...]:
    """Return the keys of the deciding indices whose side is in doubt.

    Behind a stenosis the corrected resistance that speaks decides, flow reserve does not.
    """
    rows = {i.key: i for i in indices}
    measured = {k: i for k, i in rows.items() if i.value is not None}
    obstructed = against(rules.epicardial, rows).word == "abnormal"
    speaks = [r for r in rules.corrected if r.key in measured][:1]
    bed: Sequence[Rule] = speaks if obstructed else (*rules.reserve, *rules.resistance)
    keys = [r.key for r in (rules.epicardial, *bed) if r.key in measured]
    if rules.epicardial.key not in measured:
        keys += [r.key for r in rules.resting if r.key in measured]
    doubtful = [k for k in keys if measured[k].certainty != "clear of the line"]
    return tuple(k for k in doubtful if not unsided(measured[k]))


def _possible(evidence: Evidence) -> list[_Act]:
    acts = []
    if evidence.drift.offset_mmhg is None:
        checked = Offset(state="matched", offset_mmhg=0.0, sd_mmhg=CHECK_SD_MMHG)
        acts.append(_Act(
            do="Compare the gauges at the guide tip at the end (drift check).",
            cost="the sensor leaves its place, so it comes last; about 15 s",
            trial=replace(evidence, drift=checked),
        ))  # fmt: skip
    acts += [*_equalised(evidence), *_full(evidence)]
    spread, _ = ground_of(evidence).relative_spread()
    for phase, word, cost in (
        ("rest", "at rest", "one saline injection and the wait after it, before the drug"),
        ("hyperaemia", "in hyperaemia",
         "one saline injection; only while hyperaemia is still steady, not by prolonging it"),
    ):  # fmt: skip
        used = [i for i in evidence.injections if i.phase == phase and i.usable]
        if not 0 < len(used) < MOST_INJECTIONS:
            continue
        bad = next((i for i in evidence.injections if i.phase == phase and not i.usable), None)
        times = [i.tmn_s for i in used if i.tmn_s is not None]
        onsets = [i.tmn_onset_s for i in used if i.tmn_onset_s is not None]
        # As far from the mean as injections lie apart, so that the spread stays what it is.
        apart = 1.0 + spread * sqrt((len(times) + 1) / len(times))
        extra: InjectionEvidence = replace(
            used[-1], label="one more", tmn_s=apart * sum(times) / len(times),
            tmn_onset_s=sum(onsets) / len(onsets) if onsets else None,
        )  # fmt: skip
        what = "One more injection" if bad is None else f"Repeat {bad.label}: one more injection"
        acts.append(_Act(
            do=f"{what} {word}.", cost=cost,
            trial=replace(evidence, injections=(*evidence.injections, extra)),
            without=HYPERAEMIA_ONLY if phase == "rest" else (),
        ))  # fmt: skip
    return acts


def _equalised(evidence: Evidence) -> list[_Act]:
    """Return a run recorded again between two good gauge checks, where they were not good."""
    line = evidence.settings.drift_off_mmhg
    start, end = evidence.equalisation, evidence.drift
    if end.offset_mmhg is None and abs(start.offset_mmhg or 0.0) <= line:
        return []  # nothing but the check at the end is missing
    good = Offset(state="matched", offset_mmhg=0.0, sd_mmhg=CHECK_SD_MMHG)
    trial = replace(
        evidence, equalisation=replace(good, time_s=start.time_s),
        drift=replace(good, time_s=end.time_s), step=None,
    )  # fmt: skip
    hyper = evidence.plateau is not None or any(
        i.phase == "hyperaemia" for i in evidence.injections
    )
    what = "hyperaemia" if hyper else "rest"
    cost = RUN_COST if hyper else "a minute of rest and the way to the guide tip and back"
    return [_Act(
        do=f"If {what} is recorded again, equalise at the guide tip before it and check after it.",
        cost=f"half a minute for each check, and {cost}", trial=trial,
    )]  # fmt: skip


def _full(evidence: Evidence) -> list[_Act]:
    """Return a run read in full and even hyperaemia, where it was not."""
    if not (evidence.not_full or evidence.uneven_sd > 0.0):
        return []
    return [_Act(
        do=READ_FULL,
        cost=f"the wait until its signs are there, and {RUN_COST}",
        trial=replace(evidence, not_full=False, uneven_sd=0.0), makes_full=evidence.not_full,
    )]  # fmt: skip


def _computed(evidence: Evidence, keys: Sequence[str]) -> dict[str, Index]:
    """Return these indices; a bound counts from flow reserve, so that it is there as well."""
    bound = ("cfr_bolus",) if evidence.not_full else ()
    return {i.key: i for i in compute(evidence, {*keys, *bound})}


def _weighed(act: _Act, keys: Sequence[str], before: dict[str, Index]) -> _Act:
    """Return the act with the largest relative narrowing of a deciding interval."""
    after = _computed(act.trial, keys)
    best = act
    for key in keys:
        if key in act.without:
            continue
        old, new = before[key], after[key]
        if old.interval95 is None or new.interval95 is None:
            continue
        if not old.value or not new.value:
            continue
        if act.makes_full and old.certainty == "cannot say" != new.certainty:
            return replace(act, gain=1.0, told=f"gives {old.label} a side; now it is only a bound")
        was = (old.interval95[1] - old.interval95[0]) / 2.0
        # of the value before: the trial's own value may lie a little beside it
        now = (new.interval95[1] - new.interval95[0]) / 2.0 * old.value / new.value
        gain = 1.0 - now / was if was > 0.0 else 0.0
        if gain > best.gain:
            first, then = (f"±{x:.{old.decimals}f}" for x in (was, now))
            if first == then:  # a gain that does not print is none
                continue
            told = f"narrows {old.label} from {first} to about {then}"
            if ONSET in old.alternatives and old.certainty == "cannot say":
                told += ", while the time-zero convention stays open"
            best = replace(act, gain=gain, told=told)
    return best


def _withheld_ffr(
    evidence: Evidence, indices: Sequence[Index], rules: Rules
) -> list[NextAct]:  # fmt: skip
    """Return what opens FFR where hyperaemia that was not reached withholds it."""
    ffr = next((i for i in indices if i.key == rules.epicardial.key), None)
    if not evidence.not_full or evidence.beats is None or ffr is None or ffr.value is not None:
        return []
    hyper = any(i.phase == "hyperaemia" for i in evidence.injections)
    if not hyper and not evidence.sheet.hyperaemia.agent:
        return []  # no drug was meant
    return [NextAct(do=READ_FULL, gain=f"opens {ffr.label}; cost: {RUN_COST}")]


def _missing(evidence: Evidence, indices: Sequence[Index]) -> list[NextAct]:
    """Return what opens a withheld deciding index without a new measurement of the drug."""
    if evidence.beats is None:
        return []
    rows = {i.key: i for i in indices}
    resting = rows.get("resting_pd_pa")
    if resting is None or resting.withheld is None:
        return []
    if evidence.rest is None:
        return [NextAct(do=WAIT, gain="opens the resting indices; cost: about a minute's wait")]
    return [
        NextAct(do=resting.withheld.do, gain="opens the resting indices; cost: a minute's wait")
    ]
