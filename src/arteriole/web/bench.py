"""The Bench: one study under review."""

import json
from collections.abc import Iterable

import htpy as h

from arteriole.episodes.gauge import GaugeReading
from arteriole.indices.index import Index
from arteriole.recording.mark import EpisodeKind
from arteriole.report.doubt import in_doubt
from arteriole.report.words import label, typeset
from arteriole.study.result import Injection
from arteriole.web import charts
from arteriole.web.desk import Reading
from arteriole.web.history import history_of
from arteriole.web.page import Face, page
from arteriole.web.sheet_form import rules_form, sheet_form, spasm_log
from arteriole.web.strips import SHOWN_KINDS, plan_of
from arteriole.web.texts import Texts

FIRST_BINS = 1600  # asked for while the scripts still load; refined where the screen is wider
PHASES = frozenset({"rest", "hyperaemia"})
SYMBOLS = {"usable": "●", "look again": "◐", "repeat": "○", "left out": "×"}
#: Stretches a person can put from the measuring window.
MARKABLE: tuple[EpisodeKind, ...] = (
    "rest", "hyperaemia", "equalisation", "drift_check", "pullback", "infusion", "flush",
    "unusable",
)  # fmt: skip
SIGN_WORDS = {True: "present", False: "absent", None: "not_measured"}
#: Tags on the traces: two letters at most where space is short.
TAGS = {"rest": "○ R", "hyperaemia": "◆ H", "equalisation": "Eq", "drift_check": "Dr",
        "pullback": "Pb", "zeroing": "0", "infusion": "In", "flush": "Fl",
        "unusable": "×"}  # fmt: skip


def bench(face: Face, reading: Reading) -> str:
    """Return the whole page."""
    t, row = face.t, reading.row
    src = f"/api/v1/studies/{row.id}"
    first = f"{src}/traces?t0=0&t1={reading.laid.recording.duration_s:.3f}&n={FIRST_BINS}"
    traces = h.trace_view(
        "#traces", data_src=f"{src}/traces", data_first=first, data_view=f"{src}/view",
        data_beats=f"{src}/beats",
        data_plan=json.dumps(plan_of(reading, t)), data_words=json.dumps(_words(t)),
    )  # fmt: skip
    return page(
        face, row.title,
        h.div(".row")[
            h.h1[row.title],
            h.span("#state.tag.strong")[t(f"study.{row.state}")],
            h.span(".soft.small")[
                ", ".join(r.name for r in row.recordings),
                f" · {reading.laid.recording.duration_s / 60:.1f} min",
            ],
        ],
        h.section(".panel", aria_label=t("traces"))[_trace_bar(t), traces],
        h.div("#parts")[parts(face, reading)],
        h.dialog("#working.working", aria_label=t("working")),
        _reason_dialog(t),
        script="bench.js", simulated=reading.result.simulated or row.simulated, current="bench",
        study_id=row.id, ahead=(first, f"{src}/view", f"{src}/beats"),
    )  # fmt: skip


def parts(face: Face, reading: Reading) -> h.Node:
    """Return everything that follows an edit: the part of the page below the traces."""
    t, result = face.t, reading.result
    history = history_of(reading.edits)
    return [
        h.p("#case.small.soft")[_case(t, reading)],
        _edit_bar(t, reading, undo=history.undo is not None, redo=history.redo is not None),
        h.div(".bench")[
            h.div(".stack")[
                _statement(t, reading),
                h.section("#indices.panel", tabindex="-1", aria_labelledby="indices-title")[
                    h.h2("#indices-title")[t("indices")], index_table(t, result.indices)
                ],
                _haemodynamics(t, reading),
                _flips(t, reading),
                h.section(".panel")[h.h2[t("spasm")], spasm_log(t, reading.effective.sheet)],
                h.section("#sheet.panel", aria_label=t("sheet"))[
                    h.details("#sheet-fold")[
                        h.summary("#sheet-open")[t("sheet")], sheet_form(t, reading.effective.sheet)
                    ],
                    rules_form(t, reading.effective),
                ],
            ],
            h.div(".stack")[
                _injection_row(t, reading),
                _gauge(t, reading),
                _steadiness(t, reading),
                _pullback(t, reading),
                _findings(t, reading),
            ],
        ],
    ]


def _case(t: Texts, reading: Reading) -> str:
    """Return in one line what the operator recorded of vessel, site, stage and agent."""
    sheet = reading.effective.sheet
    drug = " ".join(filter(None, (sheet.hyperaemia.agent, sheet.hyperaemia.route)))
    rows = (("vessel", sheet.vessel), ("segment", sheet.segment), ("stage", sheet.stage),
            ("agent", drug))  # fmt: skip
    return " · ".join(f"{t('case.' + k)}: {v or t('not_recorded')}" for k, v in rows)


def index_table(t: Texts, indices: Iterable[Index]) -> h.Element:
    """Return the index table: interval bars against lines, certainty words, Working buttons."""
    heads = ("index", "value", "against", "certainty", "working")
    return h.div(".scroll")[
        h.table(".indices")[
            h.thead[
                h.tr[(h.th(class_="num" if k == "value" else None, scope="col")[
                    t(f"head.{k}")] for k in heads)]
            ],
            h.tbody[(_index_row(t, i) for i in indices)],
        ]
    ]  # fmt: skip


def _index_row(t: Texts, i: Index) -> h.Element:
    name = h.th(scope="row")[label(i), " ", h.span(".tag")[t(f"method.{i.method}")]]
    act = h.td[
        h.button(f"#w-{i.key}", type="button", data_working=i.key,
                 aria_label=t("working.of", label=i.label))[t("working")]
    ]  # fmt: skip
    if i.value is None:
        why = i.withheld
        text = f"{t('withheld')}: {why.reason} {why.do}" if why else t("withheld")
        return h.tr(data_key=i.key)[name, h.td(".withheld", colspan="3")[text], act]
    return h.tr(data_key=i.key)[
        name,
        h.td(".num")[
            h.span(".value", id=f"value-{i.key}")[value_text(i)],
            h.div(".small.soft")[interval_text(i)],
        ],
        h.td[charts.interval_bar(i, t)],
        h.td[h.span(f".tag.{'strong' if i.certainty.startswith('clear') else 'dashed'}")[
            t("certainty." + (i.certainty if i.cutoffs else "no line"))]],
        act,
    ]  # fmt: skip


def value_text(i: Index) -> str:
    """Return the value as printed, with its unit unless it is a plain ratio."""
    if i.value is None:
        return "–"
    return f"{i.value:.{i.decimals}f}" + ("" if i.unit in {"1", ""} else f" {i.unit}")


def interval_text(i: Index) -> str:
    """Return the 95 % interval as printed."""
    if i.interval95 is None:
        return "–"
    return f"{i.interval95[0]:.{i.decimals}f}–{i.interval95[1]:.{i.decimals}f}"


def _statement(t: Texts, reading: Reading) -> h.Element:
    s = reading.result.statement
    return h.section("#statement.panel.statement", aria_labelledby="statement-title")[
        h.h2("#statement-title")[t("statement")],
        h.p("#pattern.pattern")[s.pattern],
        h.p(".sentence")[typeset(s.sentence)],
        h.h3[t("because")],
        h.ul[(h.li[typeset(b)] for b in s.because)],
        h.p(".small")[h.strong[t("not_assessed"), ": "], ", ".join(s.not_assessed) or "–"],
        h.p(".soft.small")[t("rules"), ": ", s.rules],
    ]


def _haemodynamics(t: Texts, reading: Reading) -> h.Node:
    """Return heart rate and pressures of each state; they stand beside CFR."""
    states = reading.result.haemodynamics
    if not states:
        return None
    shown = (("heart_rate_bpm", 0), ("pa_mmhg", 0), ("pd_mmhg", 0), ("pa_systolic_mmhg", 0),
             ("rate_pressure_product", 0))  # fmt: skip
    return h.section(".panel", aria_labelledby="haemodynamics-title")[
        h.h2("#haemodynamics-title")[t("haemodynamics")],
        h.div(".scroll")[h.table(".states")[
            h.thead[h.tr[h.th(scope="col")[t("study.state")],
                         (h.th(".num", scope="col")[t(f"haemodynamics.{k}")] for k, _ in shown)]],
            h.tbody[(
                h.tr[h.th(scope="row")[t(f"phase.{name}") if name in PHASES else name],
                     (h.td(".num")["–" if getattr(one, k) is None
                                   else f"{getattr(one, k):.{d}f}"] for k, d in shown)]
                for name, one in states.items())],
        ]],
    ]  # fmt: skip


def _flips(t: Texts, reading: Reading) -> h.Element:
    result = reading.result
    return h.section(".panel")[
        h.h2[t("flips")],
        h.ul[(h.li[typeset(f"{f.what}: {f.smallest_change} → "), h.strong[f.would_become]]
              for f in result.flips)] if result.flips else h.p(".soft")[t("flips.none")],
        h.h3[t("next_acts")],
        h.ul[(h.li[a.do, h.span(".soft")[f" {a.gain}"]] for a in result.next_acts)]
        if result.next_acts
        else h.p(".soft")[t(f"next_acts.{'none' if in_doubt(result) else 'clear'}")],
    ]  # fmt: skip


def _injection_row(t: Texts, reading: Reading) -> h.Element:
    injections = reading.result.injections
    return h.section("#injections.panel", aria_labelledby="injections-title")[
        h.h2("#injections-title")[t("injections")],
        charts.curves(reading.result, t),
        h.div(".injections")[(_injection(t, i) for i in injections)]
        if injections else h.p(".soft")[t("injections.none")],
    ]  # fmt: skip


def _injection(t: Texts, i: Injection) -> h.Element:
    out = i.verdict == "left out"
    tmn = "–" if i.tmn_s is None else f"{i.tmn_s:.2f} s"
    interval = (
        "" if i.interval95_s is None else f"{i.interval95_s[0]:.2f}–{i.interval95_s[1]:.2f} s"
    )
    return h.article(
        class_="injection left-out" if out else "injection", data_id=i.id, aria_label=i.label
    )[
        h.div(".head")[
            h.span(".label")[i.label],
            h.span[SYMBOLS[i.verdict], " ", t("verdict." + i.verdict)],
            h.span(".value")[tmn],
        ],
        h.div(".small.soft")[
            f"{interval} · " if interval else "", t(f"phase.{i.phase}"), f" · {i.time_s:.1f} s · ",
            t(f"time_zero.{i.time_zero}"), f" · {t('marked')}" if i.source == "marked" else "",
        ],
        h.ul(".small.plain")[(h.li[r] for r in i.reasons)] if i.reasons else None,
        h.div(".row")[
            h.button(f"#leave-{_slug(i.id)}", type="button", data_injection=i.id,
                     data_label=i.label, data_act="bring-back" if out else "leave-out",
                     aria_label=t("bring_back.of" if out else "leave_out.of", label=i.label))[
                t("bring_back") if out else t("leave_out")
            ],
            h.button(".quiet", type="button", data_look=f"{i.time_s}",
                     aria_label=t("look.of", label=i.label))[t("look")],
        ],
    ]  # fmt: skip


def _gauge(t: Texts, reading: Reading) -> h.Element:
    gauge = reading.result.gauge
    rows = (("equalisation", gauge.equalisation), ("drift", gauge.drift))
    return h.section(".panel", aria_labelledby="gauge-title")[
        h.h2("#gauge-title")[t("gauge")],
        h.div(".scroll")[h.table[
            h.thead[h.tr[(h.th(scope="col")[t(f"gauge.{k}")]
                          for k in ("check", "state", "offset", "ratio", "lag"))]],
            h.tbody[(_gauge_row(t, name, one) for name, one in rows)],
        ]],
        None if gauge.step is None else h.p[t(
            "gauge.step", size=f"{gauge.step.size_mmhg:+.1f}".replace("-", "−"),
            time=f"{gauge.step.time_s:.0f}",
        )],
    ]  # fmt: skip


def _gauge_row(t: Texts, name: str, one: GaugeReading) -> h.Element:
    strong = "strong" if one.state == "matched" else "dashed"
    return h.tr[
        h.th(scope="row")[t(f"gauge.{name}")],
        h.td[h.span(f".tag.{strong}")[t("gauge." + one.state)]],
        h.td["–" if one.offset_mmhg is None else f"{one.offset_mmhg:+.1f} mmHg"],
        h.td["–" if one.ratio is None else f"{one.ratio:.3f}"],
        h.td["–" if one.lag_s is None else f"{one.lag_s * 1000:+.0f} ms"],
    ]


def _steadiness(t: Texts, reading: Reading) -> h.Element:
    one = reading.result.hyperaemia
    return h.section(".panel", aria_labelledby="steadiness-title")[
        h.h2("#steadiness-title")[t("steadiness")],
        h.p[h.span(f".tag.{'strong' if one.state == 'steady' else 'dashed'}")[
            t("state." + one.state)],
            "" if one.start_s is None or one.end_s is None
            else f" {one.start_s:.0f}–{one.end_s:.0f} s",
            "" if one.wave_s is None
            else f", {t('steadiness.waves', period=f'{one.wave_s:.0f}')}"],
        charts.steadiness(reading.result, t),
        h.ul(".small")[(
            h.li[s.name, ": ", t(SIGN_WORDS[s.present]),
                 "" if s.value is None
                 else f" ({s.value:.3g}{'' if s.unit in {'', '1'} else ' ' + s.unit})"]
            for s in one.signs)] if one.signs else None,
    ]  # fmt: skip


def _pullback(t: Texts, reading: Reading) -> h.Node:
    trace = reading.result.pullback
    return h.section(".panel", aria_labelledby="pullback-title")[
        h.h2("#pullback-title")[t("pullback")],
        h.p(".soft")[t("pullback.none")] if trace is None else [
            charts.pullback(reading.result, t), h.p[trace.sentence],
            h.p(".small.soft")[t("pullback.made", state=t(f"phase.{trace.state}"))],
        ],
    ]  # fmt: skip


def _findings(t: Texts, reading: Reading) -> h.Element:
    rows = reading.result.findings
    return h.section(".panel", aria_labelledby="findings-title")[
        h.h2("#findings-title")[t("findings")],
        h.ul(".plain")[(
            h.li[h.span(f".tag.{'dashed' if f.severity == 'note' else 'strong'}")[
                t("severity." + f.severity)], " ",
                f.start_s is not None
                and h.button(".quiet", type="button", data_look=f"{f.start_s}")[
                    f"{f.start_s:.1f} s"],
                " ", f.message, " ", h.span(".soft")[f.do]]
            for f in rows)] if rows else h.p(".soft")[t("findings.none")],
    ]  # fmt: skip


def _trace_bar(t: Texts) -> h.Element:
    zooms = (("in", "+"), ("out", "−"), ("whole", "0"))
    return h.div(".bar", role="toolbar", aria_label=t("traces"))[
        (h.button(type="button", data_zoom=k, aria_label=t(f"zoom.{k}"))[s] for k, s in zooms),
        h.button("#measure", type="button", data_act="measure", aria_pressed="false")[t("measure")],
        h.label[
            h.span(".sr")[t("mark_as")],
            h.select("#mark-kind")[(h.option(value=k)[t(f"kind.{k}")] for k in MARKABLE)],
        ],
        h.button("#mark-set", type="button", data_act="mark-window")[t("mark_window")],
        h.button("#mark-injection", type="button", data_act="mark-injection")[t("mark_injection")],
    ]  # fmt: skip


def _edit_bar(t: Texts, reading: Reading, *, undo: bool, redo: bool) -> h.Element:
    states = ("gathering", "complete")
    return h.div(".bar", role="toolbar", aria_label=t("editing"))[
        h.button("#undo", type="button", data_act="undo", disabled=not undo)[h.kbd["U"], t("undo")],
        h.button("#redo", type="button", data_act="redo", disabled=not redo)[h.kbd["R"], t("redo")],
        h.label[h.span[t("why")],
                h.input("#why", type="text", maxlength="300", placeholder=t("why.hint"),
                        autocomplete="off")],
        h.span(".gap"),
        h.label[h.span[t("study.state")],
                h.select("#study-state")[(
                    h.option(value=s, selected=s == reading.row.state)[t(f"study.{s}")]
                    for s in states)]],
        h.a(".button", href=f"/api/v1/studies/{reading.row.id}/result", download=True)[
            t("result.json")],
    ]  # fmt: skip


def _reason_dialog(t: Texts) -> h.Element:
    return h.dialog("#reason", aria_labelledby="reason-title")[
        h.form(method="dialog")[
            h.h2("#reason-title", data_leave=t("leave_out.of", label="{label}"),
                 data_bring=t("bring_back.of", label="{label}"))[t("leave_out")],
            h.p[h.label[h.span[t("reason")],
                        h.input("#reason-text", type="text", required=True, maxlength="300",
                                size="40", autocomplete="off")]],
            h.p(".soft.small")[t("reason.hint")],
            h.div(".acts")[
                h.button(type="button", data_close=True)[t("cancel")],
                h.button("#reason-ok.primary", value="ok")[t("write")],
            ],
        ]
    ]  # fmt: skip


def _words(t: Texts) -> dict[str, object]:
    keys = ("plot", "plot_keys", "overview", "loading", "failed", "window", "beats", "no_beats",
            "start", "end", "injection", "marked")  # fmt: skip
    return {k: t(f"tv.{k}") for k in keys} | {
        "kinds": {k: t(f"kind.{k}") for k in (*SHOWN_KINDS, "measure")},
        "tags": {k: TAGS[k] for k in SHOWN_KINDS} | {"measure": "Pd/Pa"},
        "verdicts": {v: t("verdict." + v) for v in SYMBOLS},
    }


def _slug(key: str) -> str:
    return key.replace("@", "-").replace(".", "-")
