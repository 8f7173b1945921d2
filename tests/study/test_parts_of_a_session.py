"""A recording that holds only a part is read as that part; the rest is withheld, not guessed.

The stretches are cut from open session 06 (../shared/cases): its events name rest and drug.
"""

from dataclasses import replace

import numpy as np
import pytest

from arteriole import study
from arteriole.formats import read_recording
from arteriole.recording import Recording


@pytest.fixture(scope="module")
def whole(shared) -> Recording:
    return read_recording(shared / "cases" / "session-06" / "recording.csv")


def cut(recording: Recording, start_s: float, end_s: float) -> Recording:
    def part(channel):
        a, b = round(start_s * channel.rate_hz), round(end_s * channel.rate_hz)
        return replace(channel, values=channel.values[a:b].copy())

    return replace(recording, channels=tuple(part(c) for c in recording.channels))


def test_only_hyperaemia_gives_no_resting_number(whole):
    result = study.analyse(cut(whole, 225.0, 345.0))

    assert {i.phase for i in result.injections} == {"hyperaemia"}
    for key in ("resting_pd_pa", "tmn_rest", "cfr_bolus", "baseline_resistance_index"):
        assert result.index(key).value is None
        assert result.index(key).withheld.do
    assert result.index("ffr").value == pytest.approx(0.738, abs=0.02)  # truth.json of session 06


def test_only_rest_without_injections_gives_no_flow_and_no_ffr(whole):
    result = study.analyse(cut(whole, 70.0, 143.0))

    assert result.injections == ()
    assert "no_injections" in {f.code for f in result.findings}
    for key in ("ffr", "tmn_rest", "cfr_bolus", "imr", "pullback_drop"):
        assert result.index(key).value is None
    assert result.index("resting_pd_pa").value == pytest.approx(0.852, abs=0.01)
    assert "vasospasm" in result.statement.not_assessed


def test_without_a_single_beat_the_curves_are_read_and_no_pressure_is_given(whole):
    lost = tuple(
        replace(c, values=np.full(c.values.size, np.nan)) if c.name in {"pa", "pd"} else c
        for c in whole.channels
    )
    result = study.analyse(replace(whole, channels=lost))

    assert len([i for i in result.injections if i.tmn_s is not None]) >= 5
    for key in ("resting_pd_pa", "ffr", "ffr_plateau", "imr", "pullback_drop"):
        assert result.index(key).value is None
        assert result.index(key).withheld.do


def test_a_range_that_cuts_every_beat_leaves_the_acts_and_the_curves(whole):
    pa = next(c for c in whole.channels if c.name == "pa")
    low = np.where(pa.values < 95.0, pa.values, 95.0)  # every systole of Pa lies above
    cut = tuple(replace(c, values=low) if c.name == "pa" else c for c in whole.channels)
    given, uncut = study.analyse(replace(whole, channels=cut)), study.analyse(whole)

    assert "signal_clipped" in {f.code for f in given.findings}
    assert [i.phase for i in given.injections] == [i.phase for i in uncut.injections]
    for kind in ("rest", "hyperaemia"):
        here, there = (next(e for e in r.episodes if e.kind == kind) for r in (given, uncut))
        assert here.start_s == pytest.approx(there.start_s, abs=12.0)
    assert given.index("cfr_bolus").value == pytest.approx(uncut.index("cfr_bolus").value, rel=0.05)
    for key in ("resting_pd_pa", "ffr", "ffr_plateau", "pullback_drop", "imr"):
        one = given.index(key)
        assert one.value is None
    assert "range cuts nearly every beat" in given.index("ffr").withheld.reason
    assert given.pullback is None
