"""A case bag back into the study it was: read, measured and decided anew, then compared."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from arteriole import __version__, study
from arteriole.document import canonical_bytes
from arteriole.errors import UnreadableRecording
from arteriole.exchange.bag import CaseBag
from arteriole.formats import read_recording
from arteriole.recording import Settings, resolve
from arteriole.recording.runs import join_runs
from arteriole.recording.settings import settings_from_mapping
from arteriole.study import Measurement, Result


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Restored:
    """The study of a bag, made anew; ``difference`` is empty where it is the same, byte for byte.

    ``measurement`` and ``result`` are as after an analysis.
    """

    measurement: Measurement
    result: Result
    difference: str


def analysis_of(
    *,
    settings: Settings,
    rules: Any = "default",
    column_map: Mapping[str, str] | None = None,
    rate_hz: float | None = None,
) -> dict[str, Any]:
    """Return what a bag must say of an analysis from a sheet: settings, rules, named columns.

    ``rules`` is the table's name, or a laboratory's own table as it was parsed.
    """
    chosen = {f: getattr(settings, f) for f in settings.__dataclass_fields__}
    return {
        "settings": chosen, "rules": rules, "column_map": dict(column_map or {}),
        "rate_hz": rate_hz, "software": __version__,
    }  # fmt: skip


def restored(bag: CaseBag) -> Restored:
    """Return the study of a bag after reading its recordings and deciding it anew.

    Raises
    ------
    UnreadableRecording
        A recording that cannot be read, or an analysis that cannot be repeated.
    """
    how = bag.analysis
    maps = how.get("column_maps") or [how.get("column_map") or {}] * len(bag.recordings)
    rate = how.get("rate_hz")
    rate = bag.sheet.rate_hz if rate is None else rate
    if not isinstance(maps, list) or len(maps) != len(bag.recordings):
        raise UnreadableRecording(
            "The bag's analysis.json does not fit its recordings; get a copy."
        )
    recording = join_runs(
        [read_recording(p, column_map=m, rate_hz=rate)
         for p, m in zip(bag.recordings, maps, strict=True)]
    )  # fmt: skip
    if how.get("ledger"):  # what a ledger says is resolved, and measured with the usual settings
        effective = resolve(bag.sheet, bag.edits)
        measurement = study.measure(recording, Settings())
        result = study.decide(
            measurement, effective.sheet, effective.marks, effective.settings, effective.rules,
            __version__,
        )  # fmt: skip
    else:
        settings = settings_from_mapping(how.get("settings") or {})
        rules = how.get("rules", "default")
        table = study.own_rules(rules) if isinstance(rules, dict) else study.rule_table(rules)
        measurement = study.measure(recording, settings)
        result = study.decide(measurement, bag.sheet, bag.sheet.marks, settings, table, __version__)
    return Restored(
        measurement=measurement, result=result, difference=_difference(result, bag, how)
    )


def _difference(result: Result, bag: CaseBag, how: Mapping[str, Any]) -> str:
    """Return in words how a result differs from the bag's, empty when it does not."""
    if canonical_bytes(result) == bag.result:
        return ""
    made = str(how.get("software") or "unknown")
    if made != __version__:
        said = canonical_bytes(replace(result, version=made))
        same = "all else is the same" if said == bag.result else "other parts differ too"
        return f"made by version {made}, read by {__version__}; {same}"
    return "the result made anew differs from the one in the bag"
