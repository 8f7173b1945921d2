"""Section: places for the name, the date and the hand of the person who stands for the study."""

from arteriole.report.tree import Lines, Section
from arteriole.study.result import Result


def section(_result: Result) -> Section:
    """Return the signature block; arteriole signs nothing."""
    lines = Lines(labels=("Read by", "Date", "Signature"))
    return Section(key="signature", heading="Signature", blocks=(lines,))
