"""Faults that can be put into a session: their names, and the acts they are made of."""

from collections.abc import Collection, Sequence

import numpy as np

from arteriole.simulate.acts import (
    Act,
    Adenosine,
    Advance,
    BaselineShift,
    Clip,
    Inject,
    LineFault,
    Lost,
    Migrate,
    Wedge,
    Whip,
    Window,
)  # fmt: skip

#: Every fault that can be put in, with one line for people.
ARTEFACTS: dict[str, str] = {
    "slow_injection": "one bolus pushed over about 2 s",
    "inhomogeneous_injection": "one bolus pushed in two pieces",
    "early_injection": "one bolus given before the previous one has gone",
    "small_injection": "one bolus of little more than a third of the volume",
    "submaximal_hyperaemia": "the drug reaches the heart in too small an amount",
    "unstable_hyperaemia": "the drug arrives in waves",
    "wire_migration": "the wire slips back between two hyperaemic boluses",
    "temp_baseline": "the temperature channel shifts and stays",
    "pd_drift": "the Pd gauge drifts during the session",
    "pd_step": "the Pd gauge steps during the session",
    "eq_offset": "equalisation leaves several mmHg",
    "damped_pa": "the fluid line is damped from some time on",
    "air": "an air bubble in the fluid line for a while",
    "guide_wedge": "the guide blocks the ostium for a while",
    "ringing": "the fluid line is underdamped throughout",
    "whip": "the wire strikes the wall at each beat for a while",
    "ectopy": "extra beats",
    "af": "atrial fibrillation",
    "dropout": "stretches of samples are lost",
    "clipping": "a channel's range ends too early",
}


def fault_acts(
    acts: Sequence[Act], end: float, faults: Collection[str], rng: np.random.Generator
) -> list[Act]:
    """Return the acts of the named faults for a session of ``acts`` that lasts ``end`` s."""
    made: list[Act] = []
    drug = next(a for a in acts if isinstance(a, Adenosine))
    advanced = next(a for a in acts if isinstance(a, Advance)).end_s
    add = made.append
    if "wire_migration" in faults:
        hyper = [a for a in acts if isinstance(a, Inject) and a.state == "hyper"]
        window = next(a for a in acts if isinstance(a, Window) and a.state == "hyper")
        at = hyper[1].end_s + 4.5 if len(hyper) > 1 else window.start_s - 6.0
        add(Migrate(start_s=at, end_s=at + 0.3, to=float(rng.uniform(0.6, 0.8))))
    if "temp_baseline" in faults:
        at = float(rng.uniform(advanced + 30.0, drug.start_s))
        size = float(rng.choice((-1.0, 1.0)) * rng.uniform(0.3, 0.7))
        add(BaselineShift(start_s=at, end_s=at + 3.0, shift_c=size))
    if "damped_pa" in faults:
        at = float(rng.uniform(advanced + 20.0, drug.start_s + 60.0))
        add(
            LineFault(
                start_s=at,
                end_s=end,
                kind="damped_pa",
                line_hz=float(rng.uniform(3.0, 7.0)),
                damping=float(rng.uniform(0.9, 1.6)),
            )
        )
    if "air" in faults:
        at = float(rng.uniform(advanced + 20.0, drug.start_s + 30.0))
        add(
            LineFault(
                start_s=at,
                end_s=at + float(rng.uniform(25.0, 60.0)),
                kind="air",
                line_hz=float(rng.uniform(3.5, 6.0)),
                damping=float(rng.uniform(0.5, 0.9)),
            )
        )
    if "ringing" in faults:
        add(
            LineFault(
                start_s=0.0,
                end_s=end,
                kind="ringing",
                line_hz=float(rng.uniform(9.0, 14.0)),
                damping=float(rng.uniform(0.10, 0.2)),
            )
        )
    if "guide_wedge" in faults:
        at = drug.start_s + float(rng.uniform(35.0, 44.0))
        add(
            Wedge(
                start_s=at,
                end_s=at + float(rng.uniform(9.0, 14.0)),
                resistance_mmhg_s_ml=float(rng.uniform(12.0, 40.0)),
            )
        )
    if "whip" in faults:
        at = float(rng.uniform(advanced + 5.0, drug.start_s + 30.0))
        add(
            Whip(
                start_s=at,
                end_s=min(at + float(rng.uniform(60.0, 200.0)), end),
                gain=float(rng.uniform(25.0, 60.0)),
            )
        )
    if "dropout" in faults:
        for _ in range(int(rng.integers(3, 7))):
            at = float(rng.uniform(5.0, end - 5.0))
            long = float(rng.choice((rng.uniform(0.02, 0.4), rng.uniform(1.0, 5.0))))
            add(Lost(start_s=at, end_s=at + long, channel=str(rng.choice(("pa", "pd", "temp")))))
    if "clipping" in faults:
        if rng.random() < 0.5:
            add(
                Clip(
                    start_s=0.0,
                    end_s=end,
                    channel="pa",
                    low=-10.0,
                    high=float(rng.uniform(98.0, 112.0)),
                )
            )
        else:
            add(
                Clip(
                    start_s=0.0,
                    end_s=end,
                    channel="temp",
                    low=float(rng.uniform(33.8, 35.2)),
                    high=40.0,
                )
            )
    return made
