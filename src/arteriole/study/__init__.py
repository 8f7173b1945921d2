"""The only conductor: measure, then decide."""

from dataclasses import replace

from arteriole import __version__
from arteriole.interpret import Rules, own_rules, rule_table
from arteriole.recording import Recording, Settings, Sheet
from arteriole.study.decide import decide
from arteriole.study.measure import Measurement, measure
from arteriole.study.result import Result

DEFAULT_SETTINGS = Settings()

__all__ = [
    "DEFAULT_SETTINGS", "Measurement", "Result", "analyse", "decide", "effective_sheet",
    "measure", "own_rules", "rule_table",
]  # fmt: skip


def effective_sheet(recording: Recording, given: Sheet | None) -> Sheet:
    """Return the sheet given, else the one in the container, with the container's marks.

    A mark on the given sheet stands; the container's marks come in where it has none.
    """
    sheet = given if given is not None else recording.sheet or Sheet()
    marks = sheet.marks or recording.marks
    return replace(sheet, marks=marks, simulated=sheet.simulated or recording.simulated)


def analyse(
    recording: Recording,
    sheet: Sheet | None = None,
    *,
    settings: Settings | None = None,
    rules: str | Rules = "default",
    version: str = __version__,
    measured: Measurement | None = None,
) -> Result:
    """Return the complete, graded study of one recording.

    ``decide(measure(recording, settings), sheet, marks, settings, rules, version)``; both halves
    are pure. ``measured`` saves measuring again what was measured with the same settings.

    Raises
    ------
    UnreadableRecording
        No aortic pressure.
    """
    chosen = settings or DEFAULT_SETTINGS
    effective = effective_sheet(recording, sheet)
    measurement = measured if measured is not None else measure(recording, chosen)
    return decide(measurement, effective, effective.marks, chosen, rules, version)
