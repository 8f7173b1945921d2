"""A guide that blocks the ostium: Pa ventricularised, low while blood runs off behind it.

What physics makes of it: the guide's tip sees the aorta through a resistance, so Pa falls by that
resistance times the flow, at once, and comes back at once when the guide is eased off. Coronary
flow is diastolic, so diastole falls at least about as much as systole; Pd lies behind the same
resistance and falls with it; the rate stays. A drug or a breath moves Pa slowly or not for long,
an extra beat changes the rate, a flush leaves Pd as it is, a weak heart lowers systole first.

Signature: between a fast fall and a fast rise within 60 s nearly every beat lies lower than nearly
every beat before and after, and the median lower than the lowest tenth of the beats around. Extra
beats and the beats after them are not asked. A flush is told by less than such a fall, and clipping
hides its edges, so this is asked before both. Pa is not the aorta's pressure then, and its means
are not used. Our choice, decisions 0033 and 0027. Look-ahead: until Pa comes back, 60 s at most,
and ten beats.
"""

from dataclasses import dataclass

import numpy as np

from arteriole.quality.scene import Scene, Seen, spans_of_beats
from arteriole.recording import Finding
from arteriole.recording.channel import Samples
from arteriole.signal import Beats, Flags, Indices
from arteriole.signal.smooth import robust_sd, rolling_median

CODE = "pa_ventricularised"
EDGE = 3  # beats on either side of a fall
STEP = 0.05  # of ln Pa: a fall or a rise worth a look
OUTSIDE, AROUND = 10, 40  # beats before and after that are compared, and that say what is usual
FEWEST_OUTSIDE = 4  # of them on either side
LONGEST_S, SHORTEST_S = 60.0, 3.0
FEWEST, FEW = 4, 8  # beats inside: at least, and fewer than these must be lower without doubt
FALL = 0.065  # of ln Pa
UNDER = 0.065  # of ln Pa below the lowest tenth of the beats around
LOWEST = 0.1  # that tenth
LOWER, LOWER_FEW, LOWER_DIASTOLE = 0.87, 0.95, 0.77  # share of pairs in which the inner is lower
FAST, AT_ONCE = 0.5, 0.28  # of the fall between the three beats, and the next ones, beside it
WANDER, MOST_WANDER = 0.5, 0.7  # what moves outside by itself counts so much against the latter
DIASTOLE_SHARE = 0.7  # of the fall of ln systolic that ln diastolic shows at least
PD_SHARE = 0.25  # of Pa's fall that Pd shows
RATE_STAYS = 0.25  # of ln of the beats' length
HEARD = 0.4  # of the beats between are neither extra nor lost
LEAST_MMHG = 5.0  # a pressure below this is no beat's
ODD_LENGTH, NEAR = 0.165, 21  # of ln: an extra beat against the beats around
IRREGULAR, IRREGULAR_BEATS = 0.10, 41  # then no beat is called extra; decision 0034
LEAST_SPREAD = 0.01  # of ln


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """Logarithms per beat asked, shape (n,)."""

    mean: Samples
    low: Samples
    high: Samples
    pd: Samples
    length: Samples
    start_s: Samples


def detect(scene: Scene, sound: Flags) -> Seen:
    """Return the beats between a fast fall of Pa and its fast return."""
    b = scene.beats
    flags = np.zeros(b.count, dtype=np.bool_)
    asked = sound & ~b.on_pd & (b.pa_mean_mmhg > LEAST_MMHG) & (b.pd_mean_mmhg > LEAST_MMHG)
    asked &= b.pa_diastolic_mmhg > 0.5 * LEAST_MMHG
    idx = np.flatnonzero(asked & _ordinary(b))
    if idx.size < 2 * FEWEST_OUTSIDE + FEWEST:
        return Seen(code=CODE)
    rows = _Rows(
        mean=np.log(b.pa_mean_mmhg[idx]), low=np.log(b.pa_diastolic_mmhg[idx]),
        high=np.log(b.pa_systolic_mmhg[idx]), pd=np.log(b.pd_mean_mmhg[idx]),
        length=np.log(b.length_s[idx]), start_s=b.start_s[idx],
    )  # fmt: skip
    for _, k, m in sorted(_blocked(rows, idx), reverse=True):
        first, last = _edges(rows, k, m)
        here = slice(int(idx[first]), int(idx[last]) + 1)
        if not flags[here].any():
            flags[here] = True
    spans = spans_of_beats(CODE, "pa", flags, b)
    findings = tuple(
        Finding(
            code=CODE, severity="caution", channel="pa", start_s=s.start_s, end_s=s.end_s,
            message=f"Pa falls and comes back within a beat or two, {s.start_s:.1f} to "
            f"{s.end_s:.1f} s, as when the guide blocks the ostium.",
            do="These beats are left out. Ease the guide off the ostium and read again.",
        )
        for s in spans
    )  # fmt: skip
    return Seen(code=CODE, spans=spans, findings=findings, pa_bad=flags, shape_bad=flags)


def _ordinary(beats: Beats) -> Flags:
    """Return which beats are neither extra nor the beat after one, by their length alone."""
    if beats.count < NEAR:
        return np.ones(beats.count, dtype=np.bool_)
    length = np.log(beats.length_s)
    change = np.abs(np.diff(length, prepend=length[0]))
    odd = np.abs(length - rolling_median(length, NEAR)) > ODD_LENGTH
    odd &= rolling_median(change, IRREGULAR_BEATS) < IRREGULAR
    odd[1:] |= odd[:-1].copy()
    return np.asarray(~odd)


def _blocked(rows: _Rows, idx: Indices) -> list[tuple[float, int, int]]:
    """Return (how clear, beat of the fall, beat of the rise) of every pair that fits."""
    step = _step(rows.mean)
    change = np.zeros(step.size)  # tells which of the beats around a step it lies at
    change[1:-1] = rows.mean[2:] - rows.mean[:-2]
    rises = _peaks(step, step + change)
    found: list[tuple[float, int, int]] = []
    for k in _peaks(-step, -step - change).tolist():
        for m in rises[rises > k + FEWEST].tolist():
            long = float(rows.start_s[m] - rows.start_s[k])
            if long > LONGEST_S:
                break
            heard = (m - k) / float(idx[m] - idx[k])
            if long >= SHORTEST_S and heard >= HEARD:
                clear = _clear(rows, k, m, min(-float(step[k]), float(step[m])))
                if clear > 0.0:
                    found.append((clear, k, m))
    return found


def _clear(rows: _Rows, k: int, m: int, fastest: float) -> float:
    """Return how far the beats between lie below those outside, in spreads; 0: not blocked."""
    inside, before = slice(k + 1, m), slice(max(k - OUTSIDE, 0), k)
    after = slice(m + 1, m + 1 + OUTSIDE)
    x = rows.mean
    sides = (x[before], x[after])
    if min(s.size for s in sides) < FEWEST_OUTSIDE:
        return 0.0
    within = x[inside]
    fall = min(_median(s) for s in sides) - _median(within)
    both = 0.5 * (_median(sides[0]) + _median(sides[1])) - _median(within)
    if fall < FALL or fastest < FAST * fall:
        return 0.0
    at_once = min(float(x[k - 1] - x[k + 1]), float(x[m + 1] - x[m - 1]))
    wander = max(_drift(s) for s in sides)
    if at_once < AT_ONCE * fall + WANDER * wander or wander > MOST_WANDER * fall:
        return 0.0
    around = np.concatenate((x[max(k - AROUND, 0) : k], x[m + 1 : m + 1 + AROUND]))
    if float(np.quantile(around, LOWEST)) - _median(within) < UNDER:
        return 0.0
    if min(_lower(within, s) for s in sides) < (LOWER_FEW if within.size < FEW else LOWER):
        return 0.0
    low = (rows.low[before], rows.low[after])
    if min(_lower(rows.low[inside], s) for s in low) < LOWER_DIASTOLE:
        return 0.0
    falls = [
        min(_median(r[before]), _median(r[after])) - _median(r[inside])
        for r in (rows.low, rows.high)
    ]
    pd = 0.5 * (_median(rows.pd[before]) + _median(rows.pd[after])) - _median(rows.pd[inside])
    rate = np.concatenate((rows.length[before], rows.length[after]))
    if (
        falls[0] < DIASTOLE_SHARE * falls[1]
        or pd < PD_SHARE * both
        or abs(_median(rows.length[inside]) - _median(rate)) > RATE_STAYS
    ):
        return 0.0
    spread = float(np.hypot(_spread(within), max(_spread(s) for s in sides)))
    return float(fall / spread * within.size**0.5)


def _edges(rows: _Rows, k: int, m: int) -> tuple[int, int]:
    """Return the first and the last beat that are low, the one of the change where it is."""
    low, mean = rows.low, rows.mean
    first, last = k + 1, m - 1
    for row in (low, mean):
        middle = 0.5 * (
            _median(row[k + 1 : m])
            + min(_median(row[max(k - OUTSIDE, 0) : k]), _median(row[m + 1 : m + 1 + OUTSIDE]))
        )
        first = k if row[k] < middle else first
        last = m if row[m] < middle else last
    return first, last


def _lower(inside: Samples, outside: Samples) -> float:
    """Return the share of pairs in which the beat inside is the lower one."""
    return float(np.mean(inside[:, None] < outside[None, :]))


def _drift(side: Samples) -> float:
    """Return how far the halves of the beats on one side lie apart."""
    half = OUTSIDE // 2
    return abs(_median(side[:half]) - _median(side[-half:]))


def _median(x: Samples) -> float:
    return float(np.median(x))


def _spread(x: Samples) -> float:
    return max(float(robust_sd(x)), LEAST_SPREAD)


def _step(x: Samples) -> Samples:
    """Return the median of the next ``EDGE`` beats less that of those before, shape (n,)."""
    middle = np.median(np.lib.stride_tricks.sliding_window_view(x, EDGE), axis=1)
    row = np.zeros(x.size)
    row[EDGE : x.size - EDGE] = middle[EDGE + 1 :] - middle[: -EDGE - 1]
    return row


def _peaks(step: Samples, place: Samples) -> Indices:
    """Return where ``step`` is ``STEP`` or more and ``place`` highest within two beats."""
    padded = np.concatenate((np.full(2, -np.inf), place, np.full(2, -np.inf)))
    near = np.lib.stride_tricks.sliding_window_view(padded, 5).max(axis=1)
    return np.flatnonzero((place >= near) & (step >= STEP))
