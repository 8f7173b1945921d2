"""Evidence for the tests: one healthy vessel's numbers, changed as each test says."""

from arteriole.indices import Evidence, InjectionEvidence, Pressures, compute
from arteriole.recording import Settings, Sheet


def injections(rest=(0.95, 1.02, 1.00), hyper=(0.24, 0.26, 0.25), *, onset=None, sd=None):
    rows = []
    for phase, letter, times, pa, pd in (
        ("rest", "R", rest, 95.0, 90.0), ("hyperaemia", "H", hyper, 90.0, 78.0),
    ):  # fmt: skip
        rows += [
            InjectionEvidence(
                label=f"{letter}{k}", phase=phase, tmn_s=t, pa_before_mmhg=pa, pd_before_mmhg=pd,
                tmn_onset_s=None if onset is None else t + onset, sd_s=sd or {},
            )
            for k, t in enumerate(times, 1)
        ]  # fmt: skip
    return tuple(rows)


def evidence(**changed):
    whole = {
        "sheet": Sheet(), "settings": Settings(), "injections": injections(),
        "rest": Pressures(pa_mmhg=95.0, pd_mmhg=90.0),
        "plateau": Pressures(pa_mmhg=90.0, pd_mmhg=78.0),
    } | changed  # fmt: skip
    return Evidence(**whole)


def indices(**changed):
    return {i.key: i for i in compute(evidence(**changed))}
