"""Evidence as quantities: every input of a formula, with its doubt by source, made once."""

import math
from functools import lru_cache

import numpy as np

from arteriole.indices.evidence import (
    Evidence,
    InjectionEvidence,
    Offset,
    Pressures,
    State,
    Windows,
    windows_of,
)
from arteriole.indices.index import Withheld
from arteriole.indices.means import LowestMean, lowest_mean, pressures_of
from arteriole.indices.quantity import Chance, Quantity, floored, seed_of
from arteriole.indices.transit import physical, physical_times_s, relative_spread, transit
from arteriole.recording.channel import Samples
from arteriole.thermo.lag import SHEET_LAG_SHARE, SMALLEST_LEFT

TRANSDUCER_SD_MMHG = 1.0  # zero of the Pa transducer, shared by Pa and Pd; decision 0061
#: Drift nobody checked: 17.5 % of checked runs lay beyond 0.97 to 1.03 [Matsumura2017], that is
#: an SD of 0.022 of Pd/Pa if it is normal.
UNCHECKED_DRIFT = 0.022
RECTANGLE = 3.0**0.5  # half-width over standard deviation of a rectangle [JCGM101]
#: Doubts of continuous flow that both states share, so that they cancel in a ratio [JCGM100]:
#: one pump, one saline, one blood.
COMMON_TO_FLOWS = frozenset({"heat ratio", "pump"})
USUAL_PA_MMHG = 90.0  # a usual mean pressure, where none was given
JUST_BEFORE_S = 5.0  # the beats before an injection lie in it
LONE_RATIO_SD = 0.01  # Pd/Pa before a single injection; our choice, decision 0061
MISSING = Withheld(
    reason="What it needs was not measured.", do="Enter it on the sheet, or measure it."
)


class Ground:
    """Quantities of one body of evidence; asked twice, the same draws come back."""

    __slots__ = ("_kept", "chance", "evidence")

    def __init__(self, evidence: Evidence) -> None:
        """Seed the draws by a hash of what the numbers rest on."""
        self.evidence = evidence
        plain = (
            evidence.rest, evidence.plateau, evidence.steady_s, evidence.injections,
            evidence.equalisation, evidence.drift, evidence.flows, evidence.pullback,
            sorted(evidence.typed.items()), evidence.settings.draws,
            *(() if evidence.step is None else (evidence.step,)),
            *((evidence.uneven_sd,) if evidence.uneven_sd else ()),
        )  # fmt: skip
        seed = seed_of(repr(plain)) if evidence.seed is None else evidence.seed
        self.chance = Chance(seed=seed, count=evidence.settings.draws)
        self._kept: dict[str, Quantity | LowestMean | Pressures | None] = {}

    def typed(self, key: str) -> Quantity | None:
        """Return a typed index value with its published repeatability, or None."""
        if key not in self.evidence.typed:
            return None
        value, sd = self.evidence.typed[key]
        return floored(Quantity(value=value, parts={"typed": sd * self._normal(f"typed {key}")}))

    def pressure_pair(self, pressures: Pressures, name: str) -> tuple[Quantity, Quantity]:
        """Return (Pd, Pa) of a state; both share the doubt of the transducer's zero."""
        sd = pressures.ratio_sd.get("pd_pa", 0.0)
        windows = self.evidence.steady_s if name == "plateau" else ()
        if name == "plateau":
            sd = math.hypot(sd, self.evidence.uneven_sd)
        return self._pair(
            pressures.pd_mmhg, pressures.pa_mmhg, sd, name, pressures.middle_s,
            windows or pressures.windows_s,
        )  # fmt: skip

    def _pair(
        self, pd: float, pa: float, ratio_sd: float, name: str, time_s: float | None,
        windows_s: Windows = (),
    ) -> tuple[Quantity, Quantity]:  # fmt: skip
        zero = TRANSDUCER_SD_MMHG * self._normal("transducer zero")
        spread = pa * ratio_sd * self._normal(f"spread {name}")
        drift = {"drift": self._left_in(pa, time_s, windows_s)}
        return (
            floored(Quantity(value=pd, parts={"pressure": zero + spread, **drift})),
            floored(Quantity(value=pa, parts={"pressure": zero})),
        )

    def _left_in(self, pa_mmhg: float, time_s: float | None, windows_s: Windows) -> Samples:
        """Return the doubt of Pd as read by the offset that was left in it.

        An offset that is known but not taken off widens the interval by its size, as a rectangle
        of that half-width [JCGM100]; one that nobody checked by what is usual.
        """
        known = self.offset_at(time_s, windows_s)
        size = 0.0 if known is None else abs(known.value) / RECTANGLE
        own = size * self._normal("offset left in")
        if not self.drift_checked:
            return own + pa_mmhg * self.unchecked()
        return own + self.evidence.drift.sd_mmhg * self._normal("drift check")

    @property
    def drift_checked(self) -> bool:
        """Whether the gauges were compared at the end."""
        return self.evidence.drift.offset_mmhg is not None

    def lowest(self, count: int) -> LowestMean | None:
        """Return the lowest steady mean over ``count`` beats."""
        e = self.evidence
        if e.beats is None or e.clean is None:
            return None
        name = f"lowest {count}"
        if name not in self._kept:
            self._kept[name] = lowest_mean(e.beats, e.clean, e.steady_s, count)
        kept = self._kept[name]
        return kept if isinstance(kept, LowestMean) else None

    def lowest_pair(self, count: int) -> tuple[Quantity, Quantity] | None:
        """Return (Pd, Pa) of the lowest steady mean."""
        low = self.lowest(count)
        return None if low is None else self._pair(
            low.pd_mmhg, low.pa_mmhg, math.hypot(low.ratio_sd, self.evidence.uneven_sd), "lowest",
            (low.start_s + low.end_s) / 2.0,
            ((low.start_s, low.end_s),),
        )  # fmt: skip

    def plateau(self) -> Pressures | None:
        """Return the means over the steady plateau: given, or from the clean beats in it."""
        e = self.evidence
        if e.plateau is not None or e.beats is None or e.clean is None or not e.steady_s:
            return e.plateau
        if "plateau" not in self._kept:
            used = np.zeros(e.beats.count, dtype=bool)
            for start, end in e.steady_s:
                used |= e.beats.between(start, end)
            self._kept["plateau"] = pressures_of(e.beats, used & e.clean)
        kept = self._kept["plateau"]
        return kept if isinstance(kept, Pressures) else None

    def offset_at(self, time_s: float | None, windows_s: Windows = ()) -> Quantity | None:
        """Return the gauges' offset at a time, Pd minus Pa, mmHg; None when never compared.

        The value grows linearly in time between equalisation and check; without a time it is what
        the check found. Its doubt is all that may have been, as at rest (:meth:`came`). A step of
        the gauge that was seen and explains it is there from its moment on, in a mean over
        ``windows_s`` by its share of them; only the remainder grows.
        """
        start, end = self.evidence.equalisation, self.evidence.drift
        if end.offset_mmhg is None:
            if start.offset_mmhg is None:
                return None
            pa = self._any_pa()
            moved = {"drift": pa * self.unchecked() + self.gauge_doubt(start, "equalisation")}
            return Quantity(value=start.offset_mmhg, parts=moved)
        late = self.gauge_doubt(end, "drift check")
        if start.offset_mmhg is None:
            return Quantity(value=end.offset_mmhg, parts={"drift": late})
        moved_mmhg, u = end.offset_mmhg - start.offset_mmhg, self.share_at(time_s)
        if u is None:
            doubt = (self.came(u) - 1.0) * moved_mmhg
            return Quantity(value=end.offset_mmhg, parts={"drift": late + doubt})
        assert time_s is not None
        jumped, seen = self.jumped(time_s, windows_s), self.evidence.step
        grown_mmhg = moved_mmhg - (0.0 if seen is None else seen.size_mmhg)
        doubt = (self.came(u) - u) * grown_mmhg
        if seen is not None:
            doubt = doubt + (jumped - u) * seen.sd_mmhg * self._normal("gauge step")
        early = self.gauge_doubt(start, "equalisation")
        return Quantity(
            value=start.offset_mmhg + u * grown_mmhg
            + (0.0 if seen is None else jumped * seen.size_mmhg),
            parts={"drift": (1.0 - u) * early + u * late + doubt},
        )  # fmt: skip

    def came(self, share: float | None) -> Samples:
        """Return how much of the drift was there by then, 0 to 1 in each draw; decision 0025.

        Half of the draws let it grow in proportion to time, half let it come at one moment, any
        time between the checks; ``share`` is how much of that time had passed, None: half of it.
        One that came after the reading is no drift in it.
        """
        passed = 0.5 if share is None else share
        even = self._uniform("drift even") > 0.0
        at_once = 0.5 * (1.0 + self._uniform("drift moment")) < passed
        return np.where(even, passed, at_once.astype(np.float64))

    def share_at(self, time_s: float | None) -> float | None:
        """Return the share of the time between both checks that has passed, None if not known."""
        start_s, end_s = self.evidence.equalisation.time_s, self.evidence.drift.time_s
        if time_s is None or start_s is None or end_s is None:
            return None
        return float(np.clip((time_s - start_s) / max(end_s - start_s, 1.0), 0.0, 1.0))

    def jumped(self, time_s: float, windows_s: Windows = ()) -> float:
        """Return the share of the windows, or 1 or 0 at a time, that lies after the step."""
        step = self.evidence.step
        if step is None:
            return 0.0
        whole = sum(b - a for a, b in windows_s)
        if whole <= 0.0:
            return float(time_s >= step.time_s)
        return sum(max(b - max(a, step.time_s), 0.0) for a, b in windows_s) / whole

    def _any_pa(self) -> float:
        state = self.evidence.rest or self.plateau()
        return USUAL_PA_MMHG if state is None else state.pa_mmhg

    def gauge_doubt(self, offset: Offset, name: str) -> Samples:
        """Return the doubt of one reading of the gauges, mmHg, shape (draws,)."""
        return offset.sd_mmhg * self._normal(name)

    def injections(self, phase: State) -> tuple[InjectionEvidence, ...]:
        """Return the usable injections of a state."""
        return tuple(i for i in self.evidence.injections if i.phase == phase and i.usable)

    def tmn(self, phase: State) -> Quantity | None:
        """Return the mean transit time of a state: mean of its usable injections, s."""
        name = f"tmn {phase}"
        if name not in self._kept:
            self._kept[name] = self._tmn(phase)
        kept = self._kept[name]
        return kept if isinstance(kept, Quantity) else None

    def _tmn(self, phase: State) -> Quantity | None:
        used = self.injections(phase)
        return transit(used, phase, self.relative_spread(), self.chance) if used else None

    def relative_spread(self) -> tuple[float, float]:
        """Return spread of single injections, share of Tmn, and its degrees of freedom."""
        return relative_spread(self.evidence.injections)

    def times_s(self, phase: State, *, lag_removed: bool) -> list[float]:
        """Return the transit time of each usable injection, as read or the physical one, s."""
        used = self.injections(phase)
        if lag_removed:
            return physical_times_s(used, self.evidence.sheet.sensor_lag_s or 0.0)
        return [i.tmn_s for i in used if i.tmn_s is not None]

    def tmn_onset_s(self, phase: State) -> float | None:
        """Return the mean by the onset convention, s; None when not read for all."""
        values = [i.tmn_onset_s for i in self.injections(phase)]
        good = [v for v in values if v is not None]
        return sum(good) / len(good) if good and len(good) == len(values) else None

    def lag(self) -> Quantity | None:
        """Return the sensor's own lag from the sheet, s."""
        lag = self.evidence.sheet.sensor_lag_s
        if lag is None or lag <= 0.0:
            return None
        return Quantity(value=lag, parts={"lag": SHEET_LAG_SHARE * lag * self._normal("lag")})

    def tmn_without_lag(self, phase: State) -> Quantity | None:
        """Return the mean transit time without lag and fill; None if too little is left."""
        read, lag, used = self.tmn(phase), self.lag(), self.injections(phase)
        if read is None or lag is None:
            return None
        if float(np.mean(physical_times_s(used, lag.value))) < SMALLEST_LEFT * read.value:
            return None
        return physical(read, lag, used, phase, self.chance)

    def before(self, phase: State) -> tuple[Quantity | None, Quantity | None]:
        """Return (Pd, Pa) of whole beats just before the usable injections, mean over them."""
        used = self.injections(phase)
        pds = [i.pd_before_mmhg for i in used if i.pd_before_mmhg is not None]
        pas = [i.pa_before_mmhg for i in used if i.pa_before_mmhg is not None]
        pd = float(np.mean(pds)) if pds else None
        pa = float(np.mean(pas)) if pas else None
        stand_in = pa or pd
        if stand_in is None:
            return None, None
        ratios = [
            i.pd_before_mmhg / i.pa_before_mmhg
            for i in used
            if i.pd_before_mmhg and i.pa_before_mmhg
        ]
        few = len(ratios) < 2
        sd = LONE_RATIO_SD if few else float(np.std(ratios, ddof=1) / len(ratios) ** 0.5)
        times = [i.time_s for i in used if i.time_s is not None]
        pair = self._pair(
            pd or stand_in, stand_in, sd, f"before {phase}",
            sum(times) / len(times) if times else None,
            tuple((t - JUST_BEFORE_S, t) for t in times),
        )  # fmt: skip
        return (None if pd is None else pair[0]), (None if pa is None else pair[1])

    def flow(self, phase: State) -> Quantity | None:
        """Return continuous flow of a state, mL/min."""
        for one in self.evidence.flows:
            if one.phase == phase:
                parts = {
                    source: sd * self._normal(
                        f"flow {source}" if source in COMMON_TO_FLOWS else f"flow {source} {phase}"
                    )
                    for source, sd in one.sd_ml_min.items() if sd > 0.0
                }  # fmt: skip
                return floored(Quantity(value=one.q_ml_min, parts=parts))
        return None

    def flow_pair(self, phase: State) -> tuple[Quantity, Quantity] | None:
        """Return (Pd, Pa) during the infusion of a state."""
        for one in self.evidence.flows:
            if one.phase == phase and one.pd_mmhg is not None and one.pa_mmhg is not None:
                return self._pair(
                    one.pd_mmhg, one.pa_mmhg, 0.005, f"flow {phase}", one.end_s,
                    windows_of(one.start_s, one.end_s),
                )  # fmt: skip
        return None

    def why(self, *names: str, otherwise: Withheld = MISSING) -> Withheld:
        """Return the first refusal known under these names, or ``otherwise``."""
        for name in names:
            if name in self.evidence.refusals:
                return self.evidence.refusals[name]
        return otherwise

    def _normal(self, name: str) -> Samples:
        return self.chance.normal(name)

    def _uniform(self, name: str) -> Samples:
        return self.chance.uniform(name)

    def unchecked(self) -> Samples:
        """Return the doubt of Pd/Pa by drift that nobody checked, shape (draws,)."""
        return UNCHECKED_DRIFT * self._normal("unchecked drift")


@lru_cache(maxsize=4)
def ground_of(evidence: Evidence) -> Ground:
    """Return the quantities of this evidence, made once per value."""
    return Ground(evidence)
