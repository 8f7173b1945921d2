"""Time runs forward: what is done later changes nothing that was."""

import numpy as np
import pytest

from arteriole.simulate.acts import Adenosine, Inject, of_kind
from arteriole.simulate.course import course
from arteriole.simulate.patterns import patient_of, plan_of
from arteriole.simulate.script import write_script

RATE_HZ = 200.0
SEED = 11


def run(faults=()):
    patient = patient_of("focal", faults, np.random.default_rng(SEED))
    plan = plan_of("focal", continuous=False, pa="flat", route="intravenous")
    acts, duration_s = write_script(plan, faults, np.random.default_rng(SEED))
    return patient, acts, course(patient, acts, duration_s, RATE_HZ, SEED)


@pytest.fixture(scope="module")
def whole():
    return run()


@pytest.fixture(scope="module")
def wavy():
    return run(("unstable_hyperaemia",))


@pytest.mark.parametrize("kind", [Inject, Adenosine])
@pytest.mark.parametrize("name", ["whole", "wavy"])
def test_a_session_cut_short_is_the_beginning_of_the_whole(request, name, kind):
    # What a stepping form rests on: acts to come are not known, and must not matter.
    patient, acts, full = request.getfixturevalue(name)
    cut_s = of_kind(acts, kind)[-1].start_s + 8.0
    known = [a for a in acts if a.start_s < cut_s]
    part = course(patient, known, cut_s, RATE_HZ, SEED)
    n = part.t_s.size

    assert np.array_equal(part.flow, full.flow[:n])
    assert np.array_equal(part.cold, full.cold[:n])
    assert np.array_equal(part.pd_mmhg, full.pd_mmhg[:n])


def test_without_the_drug_nothing_dilates_after_the_contrast(whole):
    patient, acts, full = whole
    quiet = [a for a in acts if not isinstance(a, Adenosine | Inject)]
    rest = course(patient, quiet, full.t_s[-1], RATE_HZ, SEED)

    assert rest.dilation[int(150 * RATE_HZ) :].max() < 0.01


def test_a_drug_in_waves_comes_and_goes(whole, wavy):
    def sway(patient, acts, full):
        given = of_kind(acts, Adenosine)[0]
        on = (full.t_s > given.start_s + 75.0) & (full.t_s < given.end_s)
        return full.dilation[on].std()

    assert sway(*whole) < 0.01 < 4.0 * 0.01 < sway(*wavy)
