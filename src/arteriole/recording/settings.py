"""Versioned settings: every number a laboratory may choose. Named in each result."""

from dataclasses import dataclass, fields
from typing import Any

from arteriole.errors import SheetInvalid


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Choices a laboratory can change; the defaults are version ``arteriole-1``.

    A change here is part of the result's identity: two results with different settings are
    different results.
    """

    version: str = "arteriole-1"
    ffr_beats: int = 5  # beats in the lowest steady mean; [Johnson2015]
    alike_fraction: float = 0.20  # of the median Tmn; farther is "look again"; decision 0004
    repeat_fraction: float = 0.30  # of the median Tmn; farther is "repeat"; decision 0004
    cfr_line: float = 2.0  # [Ong2018]; 2.5 is shown beside it
    imr_line: float = 25.0  # [Ong2018]
    yong_max_ffr: float = 0.80  # the Yong form is offered as *the* correction only at or below
    drift_off_mmhg: float = 2.0  # beyond this the gauge is "off"; science.md 6.1, common practice
    gauge_repeat_mmhg: float = 3.0  # from here on a run is repeated, not reported; decision 0025
    lag_corrected: bool = False  # add *_lag_corrected keys when the lag is on the sheet
    draws: int = 4000  # Monte-Carlo draws, [JCGM101]


def settings_from_mapping(mapping: Any) -> Settings:
    """Return settings from parsed JSON or TOML; absent fields keep their defaults.

    Raises
    ------
    SheetInvalid
        Unknown field or a value of the wrong type.
    """
    if not isinstance(mapping, dict):
        raise SheetInvalid(
            f"Settings hold {type(mapping).__name__}; a JSON object or TOML table is needed."
        )
    known = {f.name: f for f in fields(Settings)}
    values: dict[str, Any] = {}
    for key, value in mapping.items():
        if key not in known:
            raise SheetInvalid(
                f"Setting {key!r} is not known; allowed: {', '.join(sorted(known))}. "
                "Remove or correct it."
            )
        default: Any = known[key].default
        if isinstance(default, bool):
            good = isinstance(value, bool)
        elif isinstance(default, str):
            good = isinstance(value, str)
        else:
            good = isinstance(value, int | float) and not isinstance(value, bool) and value > 0
            if good and isinstance(default, int):
                good = float(value).is_integer()
        if not good:
            raise SheetInvalid(
                f"Setting {key!r} was given {value!r}; a value like {default!r} is needed."
            )
        values[key] = type(default)(value)
    if "version" not in values and any(
        v != known[k].default for k, v in values.items() if k != "lag_corrected"
    ):
        values["version"] = "custom"
    return Settings(**values)
