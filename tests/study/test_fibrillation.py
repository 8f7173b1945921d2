"""In fibrillation a mean over ten beats stands beside FFR, and only there."""

import pytest

from arteriole.simulate import session
from arteriole.study import analyse


@pytest.mark.parametrize("fault", [(), ("af",)])
def test_ten_beats_stand_beside_ffr_in_fibrillation_alone(fault: tuple[str, ...]) -> None:
    made = session("focal", 31, artefacts=fault, rate_hz=100.0)
    ffr = analyse(made.recording, made.sheet).index("ffr")

    assert ffr is not None
    assert ffr.beats == 5
    assert ("lowest 10-beat mean" in ffr.alternatives) is bool(fault)
