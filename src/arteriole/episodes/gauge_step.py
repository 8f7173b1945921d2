"""A step of Pd's gauge that explains what the gauges were apart at the end.

Both checks at the guide tip tell how far Pd's gauge moved in between. Where it moved at once, Pd
shows it: mean Pd jumps by just that much between two beats or across a lost stretch, and its shape
stays, for a gauge that moves leaves Pd and Pa parallel, while a wire that slips past a lesion
changes the gap of diastole more than that of systole. Such a step tells since when Pd was wrong,
which a course assumed linear does not. Decision 0093.
"""

from dataclasses import dataclass

import numpy as np

from arteriole.episodes.gauge import Gauge, GaugeStep
from arteriole.recording.channel import Samples
from arteriole.signal import Beats
from arteriole.signal.graded import Quality
from arteriole.signal.smooth import robust_sd

LEAST_MMHG = 2.0  # common practice, no source: a smaller offset is accepted
NEAR = 3  # beats right beside the step
SPAN_S = 14.0  # beats on either side lie this near
LIKE_MMHG, LIKE = 0.5, 0.12  # the step is what the gauges moved, in mmHg or by this share
ROUGHLY = 0.4  # the same, for a first look
AT_ONCE = 0.2  # of what the gauges moved: how far the beats beside it may be from that
PARALLEL_MMHG, PARALLEL = 0.25, 0.06  # change of the extra gap in diastole, mmHg or this share
MEDIAN_SD = 1.2533  # standard error of a median over that of a mean, normal: sqrt(pi / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """Beats on either side, fewest of them, longest stretch lost between, largest spread."""

    side: int
    fewest: int
    gap_s: float
    spread: float  # of what the gauges moved


#: Across an injection many beats on either side; while the drug arrives few, but side by side.
LOOKS = (
    _Look(side=8, fewest=4, gap_s=9.0, spread=0.2),
    _Look(side=4, fewest=3, gap_s=1.3, spread=0.12),
)


def step_of(
    beats: Beats, quality: Quality, gauge: Gauge, from_s: float, until_s: float | None
) -> GaugeStep | None:
    """Return the step of Pd's gauge between both checks, or None.

    Parameters
    ----------
    beats, quality
        Of the whole recording.
    gauge : Gauge
        Both checks.
    from_s : float
        From when the wire lies in its place, s: on its way in it passes lesions.
    until_s : float or None
        Start of the pullback, s: there it passes them again.

    None where a check is missing, where the gauges moved by less than ``LEAST_MMHG``, or where no
    one place shows all of it.
    """
    first, last = gauge.equalisation, gauge.drift
    if None in (first.offset_mmhg, last.offset_mmhg, first.end_s, last.start_s):
        return None
    assert first.offset_mmhg is not None and last.offset_mmhg is not None  # noqa: PT018
    assert first.end_s is not None and last.start_s is not None  # noqa: PT018
    moved = last.offset_mmhg - first.offset_mmhg
    if abs(moved) < LEAST_MMHG:
        return None
    end_s = last.start_s if until_s is None else min(until_s, last.start_s)
    used = quality.pa_ok & quality.pd_ok & ~beats.on_pd
    used &= np.isfinite(beats.pd_mean_mmhg) & (beats.pa_mean_mmhg > 0.0)
    used &= (beats.start_s > max(first.end_s, from_s)) & (beats.end_s < end_s)
    at = np.flatnonzero(used)
    pa, pd = beats.pa_mean_mmhg[at], beats.pd_mean_mmhg[at]
    row = _Row(
        start_s=beats.start_s[at], end_s=beats.end_s[at], pa=pa, pd=pd,
        gap=beats.pd_dia_mean_mmhg[at] - beats.pa_dia_mean_mmhg[at] - (pd - pa),
    )  # fmt: skip
    for look in LOOKS:
        found = _steps(row, look, moved)
        if found:
            return min(found, key=lambda s: s[0])[1]
    return None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Row:
    """Clean beats between the checks, all of shape (n,); ``gap``: further gap in diastole, mmHg."""

    start_s: Samples
    end_s: Samples
    pa: Samples
    pd: Samples
    gap: Samples


def _worth_a_look(row: _Row, first_after: int, moved: float) -> list[int]:
    """Return the last beat before each place where three beats either side differ by about that."""
    if row.pd.size < 2 * NEAR + first_after:
        return []
    pd, pa = (
        np.median(np.lib.stride_tricks.sliding_window_view(x, NEAR), axis=1)
        for x in (row.pd, row.pa)
    )
    apart = NEAR - 1 + first_after
    jump = pd[apart:] - pd[:-apart] * pa[apart:] / pa[:-apart]
    near = np.abs(jump - moved) < ROUGHLY * abs(moved)
    return [int(k) + NEAR - 1 for k in np.flatnonzero(near)]


def _steps(row: _Row, look: _Look, moved: float) -> list[tuple[float, GaugeStep]]:
    """Return (misfit, step) of every place where Pd jumps by what the gauges moved.

    The misfit is what a step just there leaves of the beats around, mmHg: beside the true place
    single beats lie a whole step off.
    """
    rows: list[tuple[float, GaugeStep]] = []
    like = max(LIKE_MMHG, LIKE * abs(moved))
    parallel = max(PARALLEL_MMHG, PARALLEL * abs(moved))
    n = row.pd.size
    for first_after in (1, 2):  # the beat on the step may be neither
        for last in _worth_a_look(row, first_after, moved):
            first = last + first_after
            if row.start_s[first] - row.end_s[last] > look.gap_s:
                continue
            old = np.arange(max(last - look.side + 1, 0), last + 1)
            old = old[row.start_s[last] - row.start_s[old] < SPAN_S]
            new = np.arange(first, min(first + look.side, n))
            new = new[row.start_s[new] - row.start_s[first] < SPAN_S]
            if min(old.size, new.size) < look.fewest:
                continue
            ratio = float(np.median(row.pd[old] / row.pa[old]))
            x, y = row.pd[old] - ratio * row.pa[old], row.pd[new] - ratio * row.pa[new]
            size = float(np.median(y) - np.median(x))
            near = float(np.median(y[:NEAR]) - np.median(x[-NEAR:]))
            if abs(size - moved) >= like or abs(near - moved) >= AT_ONCE * abs(moved):
                continue
            if not abs(_middle(row.gap[new]) - _middle(row.gap[old])) < parallel:
                continue  # it changed its shape, or its shape is not known
            spread = max(float(robust_sd(x)), float(robust_sd(y)))
            if spread >= look.spread * abs(moved):
                continue
            misfit = float(np.std(np.concatenate((x - np.median(x), y - np.median(y)))))
            sd = MEDIAN_SD * spread * float(np.sqrt(1.0 / old.size + 1.0 / new.size))
            step = GaugeStep(
                time_s=0.5 * float(row.end_s[last] + row.start_s[first]), size_mmhg=size,
                size_sd_mmhg=sd, start_s=float(row.end_s[last]), end_s=float(row.start_s[first]),
            )  # fmt: skip
            rows.append((misfit, step))
    return rows


def _middle(row: Samples) -> float:
    """Return the median of what is known, NaN where too little is."""
    known = row[np.isfinite(row)]
    return float(np.median(known)) if known.size >= NEAR else np.nan
