"""Rule tables: which published lines make which pattern. A table is a value, not code."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from arteriole.errors import OptionError, UnknownKey
from arteriole.indices import KEYS
from arteriole.indices.index import Cutoff
from arteriole.recording.settings import Settings

Relation = Literal["<=", "<", ">=", ">"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One line: the index of this key is abnormal when value <relation> line, as printed."""

    key: str
    relation: Relation
    value: float
    source: str

    def as_cutoff(self) -> Cutoff:
        """Return the line as a cut-off."""
        return Cutoff(
            name=self.key, relation=self.relation, value=self.value, source=self.source
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """A named, versioned table.

    ``epicardial`` decides; ``resting`` only where it is not valid, in this order. ``reserve`` and
    ``resistance`` are tried in order, the first that was measured speaks; ``corrected`` are the
    forms of resistance under a stenosis. ``continuous_confirms``/``continuous_excludes`` act where
    there is no bolus. ``baseline`` must be abnormal for a functional pattern.
    """

    name: str
    version: str
    epicardial: Rule
    resting: tuple[Rule, ...]
    reserve: tuple[Rule, ...]
    resistance: tuple[Rule, ...]
    corrected: tuple[Rule, ...]
    continuous_confirms: Rule
    continuous_excludes: Rule
    baseline: Rule
    narrowing_percent: float
    sources: tuple[str, ...]

    def __str__(self) -> str:
        """Name and version."""
        return f"{self.name} {self.version}"


def rules_from_mapping(mapping: Any, start: Rules) -> Rules:
    """Return a laboratory's own table: ``start`` with the lines that the mapping names.

    ``{"name": "ours", "version": "1", "lines": {"cfr_bolus": 2.5}}``; every line keeps its
    relation and is sourced to the table's own name.

    Raises
    ------
    OptionError
        Not a table, an unknown field, a line that the table does not hold, or no number.
    """
    if not isinstance(mapping, Mapping) or set(mapping) - {"name", "version", "lines"}:
        raise OptionError(
            "The rule table was given other fields; name, version and lines are allowed; "
            "see docs/rules.md."
        )
    name, version = str(mapping.get("name", "own")), str(mapping.get("version", "1"))
    lines = mapping.get("lines", {})
    known = {r.key for r in _rows(start)}
    if not isinstance(lines, Mapping) or not set(lines) <= known:
        raise OptionError(
            f"The rule table names lines it cannot hold; allowed: {', '.join(sorted(known))}; "
            "correct or remove them."
        )
    for key, value in lines.items():
        if isinstance(value, bool) or not isinstance(value, int | float) or not value > 0:
            raise OptionError(
                f"Line {key} was given {value!r}; a positive number is needed; correct it."
            )

    own = _overlaid(start, {k: float(v) for k, v in lines.items()}, f"rule table {name}")
    return replace(own, name=name, version=version)


def _overlaid(start: Rules, lines: Mapping[str, float], source: str) -> Rules:
    """Return the table with these lines in place of its own; every line keeps its relation."""

    def own(rule: Rule) -> Rule:
        if rule.key not in lines:
            return rule
        return replace(rule, value=lines[rule.key], source=source)

    def owns(rows: tuple[Rule, ...]) -> tuple[Rule, ...]:
        return tuple(own(r) for r in rows)

    return replace(
        start, epicardial=own(start.epicardial), resting=owns(start.resting),
        reserve=owns(start.reserve), resistance=owns(start.resistance),
        corrected=owns(start.corrected), continuous_confirms=own(start.continuous_confirms),
        baseline=own(start.baseline),
    )  # fmt: skip


def with_lines_of(table: Rules, settings: Settings) -> Rules:
    """Return the table with the lines of CFR and IMR that a laboratory chose in its settings.

    A line left at its default leaves the table's own: a table is chosen for its lines.
    """
    usual = Settings()
    chosen = {
        key: value
        for keys, value, default in (
            (("cfr_bolus",), settings.cfr_line, usual.cfr_line),
            (("imr", "imr_occlusion", "imr_corrected"), settings.imr_line, usual.imr_line),
        )
        for key in keys
        if value != default
    }
    held = {r.key for r in _rows(table)}
    lines = {k: v for k, v in chosen.items() if k in held}
    if not lines:
        return table
    name = f"settings {settings.version}"
    return replace(_overlaid(table, lines, name), version=f"{table.version} with {name}")


def table_named(name: str | None, tables: Mapping[str, Rules]) -> Rules:
    """Return the table of this name, the first where None is asked.

    Raises
    ------
    UnknownKey
        No table has this name; the message lists the names.
    """
    if name is None:
        return next(iter(tables.values()))
    if name not in tables:
        raise UnknownKey(
            f"Rule table {name!r} is not known; allowed: {', '.join(tables)}; choose one of them."
        )
    return tables[name]


def _rows(table: Rules) -> tuple[Rule, ...]:
    rows = (
        table.epicardial, *table.resting, *table.reserve, *table.resistance, *table.corrected,
        table.continuous_confirms, table.baseline,
    )  # fmt: skip
    assert all(r.key in KEYS for r in rows)
    return rows
