"""The sheet: what the operator knows. Every field is optional; absent means "not recorded"."""

from dataclasses import dataclass, field
from functools import cache
from typing import Any, Literal

from pydantic import ConfigDict, TypeAdapter, ValidationError

from arteriole.errors import SheetInvalid
from arteriole.recording.mark import Mark

_FORBID = ConfigDict(extra="forbid", allow_inf_nan=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hyperaemia:
    """The agent given, as recorded; arteriole never proposes one."""

    agent: str | None = None
    route: str | None = None
    dose: str | None = None
    start_s: float | None = None
    end_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Continuous:
    """Infusion rates of continuous thermodilution, mL/min."""

    rest_ml_min: float | None = None
    hyperaemia_ml_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pullback:
    """Length drawn back, mm, and speed of a motor, mm/s."""

    length_mm: float | None = None
    speed_mm_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Nitrate:
    """Nitrate before the run: amount, µg, and time, s."""

    dose_ug: float | None = None
    time_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """Guide catheter: size, side-holes, engagement."""

    size_f: float | None = None
    side_holes: bool | None = None
    engaged: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpasmStep:
    """One step of a provocation test, as recorded."""

    agent: str | None = None
    dose_ug: float | None = None
    route: str | None = None
    symptoms: Literal["none", "usual", "other"] | None = None
    ecg_change: bool | None = None
    narrowing_percent: float | None = None
    time_s: float | None = None
    reliever: str | None = None
    artery: str | None = None


#: How names of the right coronary artery and its branches begin.
RIGHT = ("RCA", "RIGHT", "RPD", "RPL")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Fields of the contract; units are in the names. ``marks`` override what is found."""

    case_id: str | None = None
    vessel: str | None = None
    segment: str | None = None
    wire_position_cm: float | None = None
    sensor_height_cm: float | None = None
    pa_transducer: str | None = None
    temp_reference: Literal["relative", "absolute"] | None = None
    sensor_lag_s: float | None = None
    rate_hz: float | None = None
    bolus_volume_ml: float | None = None
    hyperaemia: Hyperaemia = field(default_factory=Hyperaemia)
    continuous: Continuous = field(default_factory=Continuous)
    pullback: Pullback = field(default_factory=Pullback)
    cvp_mmhg: float | None = None
    coronary_occlusion_mmhg: float | None = None
    haemoglobin_g_dl: float | None = None
    caffeine_h: float | None = None
    symptoms: tuple[str, ...] = ()
    nitrate: Nitrate = field(default_factory=Nitrate)
    guide: Guide = field(default_factory=Guide)
    stenosis_percent: float | None = None
    lvedp_mmhg: float | None = None
    prior_infarct: bool | None = None
    lv_hypertrophy: bool | None = None
    pacing: bool | None = None
    stage: Literal["before", "after"] | None = None
    arteries_spasm_tested: tuple[str, ...] = ()
    simulated: bool = False
    spasm_test: tuple[SpasmStep, ...] = ()
    marks: tuple[Mark, ...] = ()
    # Beyond the contract: for the report only, never used in a computation.
    operator: str | None = None
    date: str | None = None
    patient_label: str | None = None
    free_text: str | None = None

    @property
    def right_artery(self) -> bool:
        """Whether the vessel is the right coronary artery or a branch of it, by its name."""
        return (self.vessel or "").strip().upper().startswith(RIGHT)


for _part in (Hyperaemia, Continuous, Pullback, Nitrate, Guide, SpasmStep, Mark, Sheet):
    _part.__pydantic_config__ = _FORBID  # type: ignore[union-attr]


@cache
def _adapter() -> TypeAdapter[Sheet]:
    return TypeAdapter(Sheet)


def sheet_from_mapping(mapping: Any) -> Sheet:
    """Return a sheet from parsed JSON or TOML; null fields count as absent.

    Raises
    ------
    SheetInvalid
        A field that is unknown, of the wrong type or not finite; the message names it.
    """
    if not isinstance(mapping, dict):
        raise SheetInvalid(
            f"The sheet holds {type(mapping).__name__}; a JSON object or a TOML table is needed. "
            "See the sheet's fields in docs/sheet.md."
        )
    try:
        return _adapter().validate_python(_without_none(mapping))
    except ValidationError as fault:
        first = fault.errors(include_url=False)[0]
        where = ".".join(str(p) for p in first["loc"]) or "sheet"
        given = repr(first.get("input"))[:60]
        raise SheetInvalid(
            f"Sheet field {where} was given {given}; {first['msg'].lower()}. "
            "Correct or remove the field."
        ) from None


def sheet_to_mapping(sheet: Sheet) -> dict[str, Any]:
    """Return the sheet's recorded fields as plain values, absent fields left out."""
    plain = _adapter().dump_python(sheet, mode="json", exclude_defaults=True)
    return {k: v for k, v in plain.items() if v not in (None, {}, [])}


def _without_none(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _without_none(v) for k, v in value.items() if v is not None}
    if isinstance(value, list | tuple):
        return [_without_none(v) for v in value]
    return value
