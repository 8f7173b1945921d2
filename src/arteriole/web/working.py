"""The Working: how one number was made."""

import json

import htpy as h

from arteriole.indices.about import line_as_printed
from arteriole.indices.index import Cutoff, Index
from arteriole.report.words import label, typeset
from arteriole.web import charts
from arteriole.web.bench import interval_text, value_text
from arteriole.web.desk import Reading
from arteriole.web.page import Face, page
from arteriole.web.texts import Texts


def working(face: Face, reading: Reading, index: Index) -> str:
    """Return the whole page of one number."""
    row = reading.row
    return page(
        face, f"{index.label} · {row.title}",
        h.h1[h.a(href=f"/studies/{row.id}")[f"← {row.title}"]],
        h.section(".panel")[working_part(face, reading, index)],
        script="plain.js", simulated=reading.result.simulated or row.simulated, study_id=row.id,
    )  # fmt: skip


def working_part(face: Face, reading: Reading, index: Index) -> h.Element:
    """Return the same as a part for the Bench's side sheet."""
    t = face.t
    used = [i for i in reading.result.injections if i.verdict in {"usable", "look again"}]
    return h.div("#working-body", data_windows=json.dumps([list(w) for w in index.windows_s]))[
        h.div(".acts.no-print")[
            h.button(".primary", type="button", data_close=True)[t("close"), " ", h.kbd["Esc"]]
        ],
        h.div(".row")[
            h.h2[t("working.title", label=label(index))],
            h.span(".tag")[t(f"method.{index.method}")],
        ],
        _value(t, index),
        h.h3[t("working.formula")],
        h.p(".formula")[index.formula],
        h.h3[t("working.inputs")],
        h.dl(".pairs")[((h.dt[_words(k)], h.dd[f"{v:.5g} {_unit(k)}"])
                        for k, v in index.inputs.items())]
        if index.inputs else h.p(".soft")[t("working.none")],
        h.h3[t("working.used")],
        h.p[
            "" if index.beats is None else t("working.beats", n=index.beats) + " ",
            ", ".join(f"{a:.1f}–{b:.1f} s" for a, b in index.windows_s),
            " ",
            h.button(type="button", data_show_windows=True)[t("working.show")]
            if index.windows_s else None,
        ],
        h.p(".small")[t("working.curves"), ": ",
                          ", ".join(f"{i.label} {i.tmn_s:.2f} s" for i in used
                                    if i.tmn_s is not None)]
        if index.method == "bolus" and used else None,
        [
            h.h3[t("working.shares")],
            h.dl(".pairs")[((h.dt[_words(k)], h.dd[f"{100 * v:.0f} %"])
                            for k, v in sorted(index.shares.items(), key=lambda kv: -kv[1]))],
        ] if index.shares else None,
        h.h3[t("working.corrected")],
        h.p[", ".join(index.corrected_for) or t("working.uncorrected")],
        [h.h3[t("working.lines")], h.ul[(_line(t, c) for c in index.cutoffs)]]
        if index.cutoffs else None,
        [
            h.h3[t("working.alternatives")],
            h.dl(".pairs")[((h.dt[_words(k)], h.dd[f"{v:.{index.decimals}f}"])
                            for k, v in index.alternatives.items())],
        ] if index.alternatives else None,
        h.p(".small")[index.note] if index.note else None,
        h.p(".soft.small")[t("source"), ": ", index.source],
    ]  # fmt: skip


def _value(t: Texts, index: Index) -> h.Node:
    if index.value is None:
        why = index.withheld
        return h.p(".message")[
            t("withheld"), ": ", f"{why.reason} {why.do}" if why else "", " ", t("withheld.means")
        ]
    return [
        h.p(".row")[
            h.strong(".pattern")[value_text(index)],
            h.span[t("working.interval", interval=interval_text(index))],
            h.span(".tag")[t("certainty." + (index.certainty if index.cutoffs else "no line"))],
        ],
        charts.interval_bar(index, t),
    ]


def _line(t: Texts, c: Cutoff) -> h.Element:
    side = t("side.none") if c.side is None else t(f"side.{c.side}")
    line = f"{typeset(c.relation)} {line_as_printed(c.value)}"
    return h.li[f"{c.name}: {line} – {side}. ", c.note, " ", h.span(".soft")[c.source]]


#: Endings of input names and how the unit is printed, longest first.
ENDINGS = {"_mmhg": "mmHg", "_ml_min": "mL/min", "_bpm": "/min", "_percent": "%", "_wu": "WU",
           "_c": "°C", "_s": "s", "_hz": "Hz", "_mm": "mm", "_cm": "cm"}  # fmt: skip


def _unit(name: str) -> str:
    return next((u for e, u in ENDINGS.items() if name.endswith(e)), "")


def _words(name: str) -> str:
    for ending in ENDINGS:
        if name.endswith(ending):
            name = name.removesuffix(ending)
            break
    return name.replace("_", " ")
