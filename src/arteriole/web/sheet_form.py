"""The sheet as a form, drawn from the Sheet's own fields; the spasm log; the rules."""

import types
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import htpy as h

from arteriole.interpret import RULES
from arteriole.recording import Settings, Sheet
from arteriole.recording.edit import Effective
from arteriole.recording.sheet import SpasmStep
from arteriole.web.texts import Texts

NOT_ON_FORM = {"marks", "spasm_test", "simulated"}
#: Settings offered on the Bench; the others are for files and scripts.
OFFERED = ("ffr_beats", "cfr_line", "imr_line", "lag_corrected")


def sheet_form(t: Texts, sheet: Sheet) -> h.Element:
    """Return one input per field; a change of an input is one edit of its top-level field."""
    hints = _hints(Sheet)
    plain = [f.name for f in fields(Sheet)
             if f.name not in NOT_ON_FORM and not is_dataclass(_bare(hints[f.name]))]  # fmt: skip
    parts = [f.name for f in fields(Sheet) if is_dataclass(_bare(hints[f.name]))]
    return h.form("#sheet-form.sheet", autocomplete="off")[
        (_field(t, n, n, hints[n], getattr(sheet, n)) for n in plain),
        (_group(t, n, t(f"field.{n}"), _bare(hints[n]), getattr(sheet, n)) for n in parts),
    ]


def spasm_log(t: Texts, sheet: Sheet) -> h.Node:
    """Return the steps of the provocation test as recorded, and a form for them."""
    steps = sheet.spasm_test
    names = [f.name for f in fields(SpasmStep)]
    shown = [n for n in names if any(getattr(s, n) is not None for s in steps)]
    empty = SpasmStep()
    return [
        h.div(".scroll")[h.table[
            h.thead[h.tr[h.th(scope="col")["#"],
                         (h.th(scope="col")[t(f"field.{n}")] for n in shown)]],
            h.tbody[(
                h.tr[h.th(scope="row")[f"{k}"],
                     (h.td[_shown(t, getattr(s, n))] for n in shown)]
                for k, s in enumerate(steps, 1))],
        ]] if steps else h.p(".soft")[t("spasm.none")],
        h.details("#spasm-fold")[
            h.summary[t("spasm.write")],
            h.form("#spasm-form.sheet", data_field="spasm_test", data_count=f"{len(steps)}",
                   autocomplete="off")[(
                _group(t, f"spasm_test.{k}", t("spasm.step", n=k + 1), SpasmStep,
                       steps[k] if k < len(steps) else empty)
                for k in range(len(steps) + 1))],
        ],
    ]  # fmt: skip


def rules_form(t: Texts, effective: Effective) -> h.Element:
    """Return the choice of the rule table and the offered settings."""
    hints = _hints(Settings)
    return h.details("#rules-fold")[
        h.summary[t("rules.title")],
        h.form("#rules-form.sheet", autocomplete="off")[
            h.div(".field")[
                h.label(for_="f-rules")[t("rules")],
                h.select("#f-rules", name="rules")[(
                    h.option(value=n, selected=n == effective.rules)[n] for n in RULES)],
            ],
            (_field(t, f"settings.{n}", n, hints[n], getattr(effective.settings, n),
                    bare_bool=True) for n in OFFERED),
        ],
    ]  # fmt: skip


def _group(t: Texts, path: str, title: str, kind: Any, value: Any) -> h.Element:
    hints = _hints(kind)
    return h.fieldset[
        h.legend[title],
        (_field(t, f"{path}.{f.name}", f.name, hints[f.name], getattr(value, f.name))
         for f in fields(kind)),
    ]  # fmt: skip


def _field(
    t: Texts, path: str, name: str, hint: Any, value: Any, *, bare_bool: bool = False
) -> h.Element:
    key, bare = "f-" + path.replace(".", "-").replace("_", "-"), _bare(hint)
    options: list[tuple[str, str]] | None = None
    if bare is bool:
        options = [("true", t("yes")), ("false", t("no"))]
    elif get_origin(bare) is Literal:
        options = [(str(o), str(o)) for o in get_args(bare)]
    label = h.label(for_=key)[t(f"field.{name}")]
    if options is not None:
        now = "" if value is None else str(value).lower() if bare is bool else str(value)
        return h.div(".field")[
            label,
            h.select(f"#{key}", name=path, data_type="bool" if bare is bool else "text")[
                None if bare_bool else h.option(value="", selected=now == "")[t("not_recorded")],
                (h.option(value=v, selected=v == now)[text] for v, text in options),
            ],
        ]
    many = get_origin(bare) is tuple
    kind = "list" if many else "number" if bare in {float, int} else "text"
    text = ", ".join(value) if many else "" if value is None else f"{value:g}" if kind == "number" \
        else str(value)  # fmt: skip
    return h.div(".field")[
        label,
        h.input(f"#{key}", type="text", name=path, data_type=kind, value=text, maxlength="500",
                inputmode="decimal" if kind == "number" else None, placeholder=t("not_recorded")),
    ]  # fmt: skip


def _shown(t: Texts, value: Any) -> str:
    if isinstance(value, bool):
        return t("yes") if value else t("no")
    return t("not_recorded") if value is None else f"{value:g}" if isinstance(value, float) \
        else str(value)  # fmt: skip


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)


def _bare(hint: Any) -> Any:
    if get_origin(hint) in {Union, types.UnionType}:
        return next(a for a in get_args(hint) if a is not type(None))
    return hint
