"""The wave of a damped Pa is not read; its mean is."""

import numpy as np

from arteriole import simulate
from arteriole.episodes.trend import trend_of
from arteriole.quality import grade
from arteriole.signal import align, find_beats


def test_beats_with_a_damped_pa_have_a_ratio_and_no_wave() -> None:
    made = simulate.session("focal", 3, artefacts=["damped_pa"], rate_hz=200.0)
    grid = align(made.recording)
    beats = find_beats(grid)
    got = trend_of(beats, grade(grid, beats))
    start, end = made.truth["artefact_details"]["damped_pa"]["spans"][0]
    inside = (got.time_s > start + 3.0) & (got.time_s < min(end, grid.end_s) - 3.0)
    outside = got.time_s < start - 3.0
    assert np.isfinite(got.ratio[inside]).all()
    assert np.isnan(got.shape_mmhg[inside]).mean() > 0.9
    assert np.isnan(got.shape_mmhg[outside]).mean() < 0.05
