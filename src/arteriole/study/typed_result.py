"""A result of typed numbers: the same document, without recording, curves or episodes."""

from arteriole import __version__
from arteriole.episodes.gauge import Gauge, GaugeReading
from arteriole.episodes.hyperaemia import Hyperaemia
from arteriole.indices import Offset
from arteriole.interpret.typed import TypedStudy
from arteriole.study.result import RecordingSummary, Result


def typed_result(study: TypedStudy) -> Result:
    """Return the result of typed numbers; a finding says that nothing could be checked."""
    return Result(
        version=__version__,
        recording=RecordingSummary(
            name="typed numbers", sha256="", format="typed", duration_s=0.0, channels=()
        ),
        sheet=study.sheet, settings=study.settings, simulated=study.sheet.simulated,
        episodes=(), injections=(),
        gauge=Gauge(equalisation=_typed(study.equalisation), drift=_typed(study.drift)),
        hyperaemia=Hyperaemia(state="not reached"), indices=study.indices,
        findings=study.findings, statement=study.statement, flips=study.flips,
        next_acts=study.next_acts,
    )  # fmt: skip


def _typed(offset: Offset) -> GaugeReading:
    """Return a typed offset as a gauge reading without beats."""
    if offset.offset_mmhg is None:
        return GaugeReading()
    return GaugeReading(
        state=offset.state, offset_mmhg=offset.offset_mmhg, offset_sd_mmhg=offset.sd_mmhg
    )
