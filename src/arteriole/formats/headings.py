"""What a column or signal is: its channel name and unit, from what a file calls it."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from arteriole.errors import ChannelUnclear
from arteriole.recording import Finding
from arteriole.recording.channel import UNITS
from arteriole.recording.units import is_known_unit, to_contract_unit

#: channel -> names it goes by, lower case letters and digits only; our choice, decision 0011.
_NAMES = {
    "pa": {"pa", "pao", "paortic", "ao", "aop", "aortic", "aorta", "aorticpressure", "paorta"},
    "pd": {"pd", "pdist", "pdistal", "distal", "distalpressure", "pcoronary", "pwire"},
    "temp": {"temp", "temperature", "tdist", "tdistal", "tempdistal", "distaltemp", "tempd"},
    "shaft_temp": {"shafttemp", "tempshaft", "tprox", "tproximal", "tempprox", "tempproximal",
                   "proximaltemp", "shafttemperature", "tshaft"},
    "ecg": {"ecg", "ekg"},
}  # fmt: skip
_UNCLEAR = re.compile(r"(p|press|pressure|t)\d*")
_BRACKET = re.compile(r"^(.*?)\s*[\[(](.*)[\])]\s*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """One column: its place, channel name, unit inside, and value = written * factor + offset."""

    index: int
    name: str
    unit: str
    factor: float
    offset: float


def split(cell: str) -> tuple[str, str | None]:
    """Return (name, unit or None) of a header cell such as ``Pd [mmHg]`` or ``pa_mmHg``."""
    cell = cell.strip().strip('"').strip()
    if found := _BRACKET.match(cell):
        inner = found[2].strip()
        return found[1].strip(), inner or None
    for mark in ("_", " "):
        name, sign, unit = cell.rpartition(mark)
        if sign and name and (is_known_unit(unit) or unit in {"s", "ms", "min"}):
            # "C" or "K" alone after "_" may be a label, but no channel is called by it
            return name.strip(), unit
    return cell, None


def key_of(name: str) -> str:
    """Return the name's letters and digits in lower case."""
    return re.sub(r"[^a-z0-9]", "", name.lower())


def is_channel(name: str) -> bool:
    """Return whether a name is one that a channel goes by."""
    return any(key_of(name) in names for names in _NAMES.values())


def understand(
    cells: Sequence[tuple[str, str | None]], column_map: Mapping[str, str]
) -> tuple[tuple[Heading, ...], tuple[Finding, ...]]:
    """Return a heading per (name, unit) cell.

    Raises
    ------
    ChannelUnclear
        Two columns for one channel, a name that could be several, or a unit of another kind.
    """
    mapped: dict[int, str] = {}
    for channel, column in column_map.items():
        wanted = column.strip().lower()
        hits = [i for i, (n, u) in enumerate(cells)
                if wanted in {n.lower(), f"{n}_{u}".lower(), f"{n} [{u}]".lower(),
                              f"{n} ({u})".lower(), f"{n}[{u}]".lower()}]  # fmt: skip
        if len(hits) != 1:
            raise ChannelUnclear(
                f"--map {channel}={column}: {len(hits)} columns have that name; the columns are: "
                f"{', '.join(n for n, _ in cells)}. Name one of them."
            )
        mapped[hits[0]] = channel
    rows: list[Heading] = []
    findings: list[Finding] = []
    taken: dict[str, str] = {}
    for i, (name, unit) in enumerate(cells):
        key = key_of(name)
        known = mapped.get(i) or next(
            (c for c, names in _NAMES.items() if key in names and c not in mapped.values()), None
        )
        if known is None and _UNCLEAR.fullmatch(key):
            raise ChannelUnclear(
                f"Column {name!r} could be several channels; allowed: {', '.join(UNITS)}. "
                f"Say which with --map pa={name} or the like."
            )
        if known is not None and known in taken:
            raise ChannelUnclear(
                f"Columns {taken[known]!r} and {name!r} both look like {known}; one is needed. "
                f"Choose with --map {known}=COLUMN."
            )
        if known is not None:
            taken[known] = name
        rows.append(_heading(i, name, unit, known, findings))
    return tuple(rows), tuple(findings)


def _heading(
    index: int, name: str, unit: str | None, known: str | None, findings: list[Finding]
) -> Heading:
    channel = known or name.strip() or f"column_{index + 1}"
    wanted = UNITS.get(channel)
    if unit is None and wanted is not None:
        findings.append(Finding(
            code="unit_assumed", severity="caution", channel=channel, start_s=None, end_s=None,
            message=f"Column {name!r} names no unit; {wanted} was taken.",
            do="Check the values; write the unit into the header.",
        ))  # fmt: skip
        return Heading(index=index, name=channel, unit=wanted, factor=1.0, offset=0.0)
    if unit is None or not is_known_unit(unit):
        if wanted is not None:
            raise ChannelUnclear(
                f"Column {name!r} is in {unit!r}; {channel} needs a unit like {wanted}. "
                "Correct the header."
            )
        return Heading(index=index, name=channel, unit=unit or "1", factor=1.0, offset=0.0)
    inside, factor, offset = to_contract_unit(unit)
    if wanted is not None and inside != wanted:
        raise ChannelUnclear(
            f"Column {name!r} is in {unit!r}; {channel} needs a unit like {wanted}. "
            f"Choose another column with --map {channel}=COLUMN."
        )
    return Heading(index=index, name=channel, unit=inside, factor=factor, offset=offset)
