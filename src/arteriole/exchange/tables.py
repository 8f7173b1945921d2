"""Tidy tables of indices, injections and beats, with a codebook: CSV and Parquet."""

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

import numpy as np

from arteriole import CAUTION
from arteriole.study.result import Result

Row = dict[str, Any]

#: column -> what it holds; the codebook is written from this and no column lacks a line.
CODEBOOK = {
    "case_id": "case as on the sheet; empty: not recorded",
    "recording_sha256": "hash of the recording's bytes",
    "simulated": "true when no person was recorded",
    "version": "software version",
    "rules": "rule table of the statement",
    "vessel": "vessel as on the sheet",
    "key": "index key of the result document",
    "label": "printed name",
    "method": "pressure, bolus or continuous; never mixed in one comparison",
    "unit": "unit of value and interval",
    "value": "number; empty: withheld, which never means normal",
    "low95": "lower end of the 95 % interval",
    "high95": "upper end of the 95 % interval",
    "certainty": "clear of the line, near the line, cannot say",
    "withheld": "why there is no number",
    "injection": "label of the injection",
    "phase": "rest or hyperaemia",
    "time_s": "start of the injection, s from the recording's start",
    "tmn_s": "mean transit time, s",
    "time_zero": "where time zero comes from",
    "verdict": "usable, look again, repeat, left out",
    "reasons": "why the verdict is so",
    "start_s": "start of the beat, s",
    "end_s": "end of the beat, s",
    "pa_mean_mmhg": "mean Pa of the beat, mmHg",
    "pd_mean_mmhg": "mean Pd of the beat, mmHg",
}
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


class HasBeats(Protocol):
    """A measurement, for its beats."""

    @property
    def beats(self) -> Any:
        """Arrays ``start_s``, ``end_s``, ``pa_mean_mmhg``, ``pd_mean_mmhg``, shape (n,)."""


def tables(result: Result, signals: HasBeats | None = None) -> dict[str, list[Row]]:
    """Return the rows of every table by name: indices, injections, beats, codebook."""
    who: Row = {
        "case_id": result.sheet.case_id, "recording_sha256": result.recording.sha256,
        "simulated": result.simulated, "version": result.version,
        "rules": result.statement.rules, "vessel": result.sheet.vessel,
    }  # fmt: skip
    made: dict[str, list[Row]] = {
        "indices": [
            who | {
                "key": i.key, "label": i.label, "method": i.method, "unit": i.unit,
                "value": i.value, "low95": i.interval95[0] if i.interval95 else None,
                "high95": i.interval95[1] if i.interval95 else None, "certainty": i.certainty,
                "withheld": i.withheld.reason if i.withheld else None,
            } for i in result.indices
        ],
        "injections": [
            who | {
                "injection": i.label, "phase": i.phase, "time_s": i.time_s, "tmn_s": i.tmn_s,
                "low95": i.interval95_s[0] if i.interval95_s else None,
                "high95": i.interval95_s[1] if i.interval95_s else None,
                "time_zero": i.time_zero, "verdict": i.verdict, "reasons": "; ".join(i.reasons),
            } for i in result.injections
        ],
    }  # fmt: skip
    if signals is not None:
        made["beats"] = _beats(who, signals)
    made["codebook"] = [
        {"column": k, "holds": CODEBOOK[k]}
        for k in dict.fromkeys(k for rows in made.values() for row in rows[:1] for k in row)
    ] + [{"column": "(all)", "holds": CAUTION}]
    return made


def _beats(who: Row, signals: HasBeats) -> list[Row]:
    names = ("start_s", "end_s", "pa_mean_mmhg", "pd_mean_mmhg")
    columns = [np.asarray(getattr(signals.beats, n), float).tolist() for n in names]
    return [
        who | {n: None if v != v else v for n, v in zip(names, row, strict=True)}  # noqa: PLR0124
        for row in zip(*columns, strict=True)
    ]


def to_csv(rows: Sequence[Mapping[str, Any]]) -> str:
    """Return RFC 4180 text; words that a spreadsheet would run as a formula are quoted [ASVS5].

    Numbers are never touched: a leading minus of a number stays.
    """
    out = io.StringIO()
    names = list(rows[0]) if rows else []
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(names)
    for row in rows:
        writer.writerow([_cell(row[n]) for n in names])
    return out.getvalue()


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        flat = "".join(c if c.isprintable() else " " for c in value)
        return f"'{flat}" if value.startswith(_FORMULA_STARTS) else flat
    return repr(value)


def to_parquet(rows: Sequence[Mapping[str, Any]]) -> bytes:
    """Return the rows as one Parquet file; needs the extra ``parquet``."""
    import pyarrow as pa
    from pyarrow import parquet

    sink = pa.BufferOutputStream()
    parquet.write_table(pa.Table.from_pylist([dict(r) for r in rows]), sink)
    content: bytes = sink.getvalue().to_pybytes()
    return content
