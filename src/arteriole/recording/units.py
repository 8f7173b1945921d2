"""Units at the border: what a file may say, and the factor to the unit of the contract."""

from arteriole.errors import UnreadableRecording

#: unit as written, lower case and without blanks -> (unit inside, factor, offset)
_TABLE: dict[str, tuple[str, float, float]] = {
    "mmhg": ("mmHg", 1.0, 0.0), "mm[hg]": ("mmHg", 1.0, 0.0), "torr": ("mmHg", 1.0, 0.0),
    # 1 mmHg = 133.322387415 Pa, BIPM SI brochure 8th ed. table 8
    "kpa": ("mmHg", 1000.0 / 133.322387415, 0.0), "pa": ("mmHg", 1.0 / 133.322387415, 0.0),
    "hpa": ("mmHg", 100.0 / 133.322387415, 0.0), "mbar": ("mmHg", 100.0 / 133.322387415, 0.0),
    "cmh2o": ("mmHg", 98.0665 / 133.322387415, 0.0),
    "cm[h2o]": ("mmHg", 98.0665 / 133.322387415, 0.0),
    "°c": ("°C", 1.0, 0.0), "c": ("°C", 1.0, 0.0), "degc": ("°C", 1.0, 0.0),
    "cel": ("°C", 1.0, 0.0),
    "deg_c": ("°C", 1.0, 0.0), "celsius": ("°C", 1.0, 0.0),
    "k": ("°C", 1.0, -273.15), "kelvin": ("°C", 1.0, -273.15), "mk": ("°C", 0.001, -273.15),
    "degf": ("°C", 5.0 / 9.0, -160.0 / 9.0), "°f": ("°C", 5.0 / 9.0, -160.0 / 9.0),
    "mv": ("mV", 1.0, 0.0), "v": ("mV", 1000.0, 0.0), "uv": ("mV", 0.001, 0.0),
    "µv": ("mV", 0.001, 0.0), "μv": ("mV", 0.001, 0.0),
}  # fmt: skip


def to_contract_unit(unit: str) -> tuple[str, float, float]:
    """Return (unit, factor, offset): value in unit = written value * factor + offset.

    Raises
    ------
    UnreadableRecording
        A unit that is not in the table.
    """
    key = unit.strip().lower().replace(" ", "")
    if key not in _TABLE:
        raise UnreadableRecording(
            f"Unit {unit!r} is not known; allowed: mmHg, kPa, Pa, hPa, mbar, cmH2O, °C, K, °F, mV, "
            "V, µV. Correct the unit in the file's header."
        )
    return _TABLE[key]


def is_known_unit(unit: str) -> bool:
    """Return whether the unit can be converted."""
    return unit.strip().lower().replace(" ", "") in _TABLE
