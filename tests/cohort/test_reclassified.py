"""What a gauge that is off costs a cohort."""

import numpy as np
import pytest

from arteriole.cohort import reclassified
from arteriole.errors import OptionError
from arteriole.indices.lines import FFR_LINE
from arteriole.indices.resting_pd_pa import ABOUT as RESTING


def test_two_millimetres_move_only_what_lies_within_two_hundredths_at_100_mmhg():
    # 2 mmHg at Pa 100 is 0.02: 0.79 to 0.82 change side, printed 0.80 counts as at or below
    ratios = [0.70, 0.78, 0.79, 0.80, 0.81, 0.82, 0.83, 0.90]
    got = reclassified(ratios, [100.0] * len(ratios), FFR_LINE, offset_mmhg=2.0)

    assert (got.hits, got.of) == (4, 8)


def test_resting_ratios_suffer_most():
    # Cook 2016, 447 intermediate stenoses: 21 % by FFR, 33 % by resting Pd/Pa at +/-2 mmHg,
    # because resting values crowd at their line. Here: spread 0.10 and 0.05 about each line.
    rng = np.random.default_rng(11)
    pa = rng.normal(95.0, 8.0, 447)
    ffr = rng.normal(0.81, 0.10, 447)
    rest = rng.normal(0.92, 0.05, 447)
    by_ffr = reclassified(ffr.tolist(), pa.tolist(), FFR_LINE, offset_mmhg=2.0)
    by_rest = reclassified(rest.tolist(), pa.tolist(), RESTING.cutoffs[0], offset_mmhg=2.0)

    assert 0.12 < by_ffr.fraction < 0.25 < by_rest.fraction < 0.42


def test_no_offset_moves_nothing_and_a_missing_pressure_is_refused():
    assert reclassified([0.8], [90.0], FFR_LINE, offset_mmhg=0.0).hits == 0
    with pytest.raises(OptionError, match="2 ratios and 1 pressures"):
        reclassified([0.8, 0.9], [90.0], FFR_LINE, offset_mmhg=2.0)
