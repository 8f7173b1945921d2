"""Results to JSON and back to plain values: one form, one order, no NaN."""

import json
import math
from dataclasses import fields, is_dataclass
from typing import Any

from arteriole import CAUTION
from arteriole.document.models import SCHEMA, ResultDocument
from arteriole.episodes.gauge import GaugeReading
from arteriole.recording.sheet import sheet_to_mapping
from arteriole.study.result import Infusion, Injection, Result

#: Digits kept in the document: more than any measurement carries, fewer than differ between
#: machines (results agree to 1e-9 relative there).
SIGNIFICANT_DIGITS = 10


def to_json(result: Result) -> dict[str, Any]:
    """Return the result document as plain values, per ``arteriole.result/1``."""
    plain = {
        "schema": SCHEMA,
        "software": {"name": "arteriole", "version": result.version},
        "recording": _plain(result.recording),
        "sheet": sheet_to_mapping(result.sheet),
        "episodes": [_plain(e) | {"id": e.id} for e in result.episodes],
        "injections": [_injection(i) for i in result.injections],
        "gauge": {
            "equalisation": _gauge(result.gauge.equalisation),
            "drift": _gauge(result.gauge.drift),
            "step": _plain(result.gauge.step),
            "pa_zero_mmhg": _plain(result.pa_zero_mmhg),
        },
        "hyperaemia": _plain(result.hyperaemia),
        "indices": [_plain(i) for i in result.indices],
        "findings": [_plain(f) for f in result.findings],
        "statement": _plain(result.statement),
        "flips": [_plain(f) for f in result.flips],
        "next_acts": [_plain(a) for a in result.next_acts],
        "caution": CAUTION,
        "simulated": result.simulated,
        "settings": _plain(result.settings),
        "haemodynamics": {k: _plain(v) for k, v in result.haemodynamics.items()},
        "pullback": _plain(result.pullback) if result.pullback else None,
        "infusions": [_infusion(i) for i in result.infusions],
        "beats_used": {k: _plain(v) for k, v in result.beats_used.items()},
        "likeness": [_plain(one) for one in result.likeness],
        "quality": None if result.quality is None else _plain(result.quality),
    }
    model = ResultDocument.model_validate(plain)
    document: dict[str, Any] = model.model_dump(mode="json")
    return document


def canonical_bytes(result: Result) -> bytes:
    """Return the result document as UTF-8 JSON; the same result gives the same bytes."""
    return (
        json.dumps(to_json(result), ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    ).encode()


def _injection(one: Injection) -> dict[str, Any]:
    reading = one.reading
    skipped = {"reading"}
    row = {f.name: _plain(getattr(one, f.name)) for f in fields(one) if f.name not in skipped}
    return row | {
        "zero_s": _plain(reading.zero_s),
        "tmn_onset_s": _plain(reading.tmn_onset_s),
        "sd_s": _plain(dict(reading.sd_s)),
        "model": reading.model,
        "features": _plain(dict(sorted(reading.features.items()))),
    }


def _infusion(one: Infusion) -> dict[str, Any]:
    got = one.reading
    mixed, infusate, blood, mixing = got.mixed, got.infusate, got.blood, got.mixing
    row = {
        "phase": one.phase, "start_s": one.start_s, "end_s": one.end_s, "source": one.source,
        "infusion_ml_min": got.infusion_ml_min, "q_ml_min": got.q_ml_min,
        "q_plain_ml_min": got.q_plain_ml_min, "t_c": got.t_c, "ti_c": got.ti_c,
        "t_window_s": (mixed.start_s, mixed.end_s) if mixed else None,
        "ti_window_s": (infusate.start_s, infusate.end_s) if infusate else None,
        "t_sd_c": mixed.sd_c if mixed else None, "t_climb_c": mixed.climb_c if mixed else None,
        "ripple_c": mixing.ripple_c if mixing else None,
        "blood_before_c": blood.before_c if blood else None,
        "blood_after_c": blood.after_c if blood else None,
        "steady": got.steady, "faults": got.faults, "sd_ml_min": dict(got.sd_ml_min),
    }  # fmt: skip
    plain: dict[str, Any] = _plain(row)
    return plain


def _gauge(reading: GaugeReading) -> dict[str, Any]:
    row = {
        f.name: _plain(getattr(reading, f.name))
        for f in fields(reading)
        if f.name not in {"offset_sd_mmhg", "lag_sd_s", "gain_sd"}
    }
    return row | {
        "offset_interval95_mmhg": _plain(reading.offset_interval95_mmhg),
        "lag_interval95_s": _plain(reading.lag_interval95_s),
        "gain_interval95": _plain(reading.gain_interval95),
    }


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, dict) or hasattr(value, "items"):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, bool) or value is None or isinstance(value, str | int):
        return value
    return _round(float(value))


def _round(value: float) -> float:
    if value == 0.0 or not math.isfinite(value):
        return value + 0.0
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}")
