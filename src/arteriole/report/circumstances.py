"""Who it is, then the section: where, with what, after what; the missing is named."""

from arteriole.report.tree import Block, Facts, Paragraph, Section
from arteriole.report.words import NOT_RECORDED, joined, measured, named, plain
from arteriole.study.result import Result

TYPED = frozenset({"Symptoms", "Pa transducer", "Hyperaemic agent", "Note"})


def who(result: Result) -> tuple[tuple[str, str], ...]:
    """Return whose study it is, for the head of the letter; the missing is said to be missing."""
    s = result.sheet
    return (
        ("Patient", plain(s.patient_label)),
        ("Case", plain(s.case_id)),
        ("Vessel, segment", joined((plain(s.vessel), plain(s.segment)))),
        ("Stage", plain(s.stage)),
        ("Date", plain(s.date)),
        ("Operator", plain(s.operator)),
    )


def section(result: Result) -> Section:
    """Return every item of a complete report that the sheet can hold."""
    s = result.sheet
    h, g, n, c, p = s.hyperaemia, s.guide, s.nitrate, s.continuous, s.pullback
    start = None if h.start_s is None else f"from {h.start_s:g} s"
    rows: tuple[tuple[str, str], ...] = (
        ("Narrowing", measured(s.stenosis_percent, "%")),
        ("Symptoms", plain(s.symptoms)),
        ("Haemoglobin", measured(s.haemoglobin_g_dl, "g/dL")),
        ("Last caffeine", measured(s.caffeine_h, "h before")),
        ("Guide catheter", named(("size", measured(g.size_f, "F")),
                                  ("side-holes", plain(g.side_holes)),
                                  ("engaged", plain(g.engaged)))),
        ("Pa transducer", plain(s.pa_transducer)),
        ("Sensor position", measured(s.wire_position_cm, "cm")),
        ("Sensor height", measured(s.sensor_height_cm, "cm")),
        ("Sensor lag", measured(s.sensor_lag_s, "s")),
        ("Nitrate", named(("dose", measured(n.dose_ug, "µg")), ("time", measured(n.time_s, "s")))),
        ("Hyperaemic agent", joined((plain(h.agent), plain(h.route), plain(h.dose),
                                     start or ""))),
        ("Bolus volume", measured(s.bolus_volume_ml, "mL")),
        ("Infusion", named(("rest", measured(c.rest_ml_min, "mL/min")),
                            ("hyperaemia", measured(c.hyperaemia_ml_min, "mL/min")))),
        ("Pullback", named(("length", measured(p.length_mm, "mm")),
                            ("speed", measured(p.speed_mm_s, "mm/s")))),
        ("Venous pressure", measured(s.cvp_mmhg, "mmHg")),
        ("Wedge pressure", measured(s.coronary_occlusion_mmhg, "mmHg")),
        ("LV end-diastolic pressure", measured(s.lvedp_mmhg, "mmHg")),
        ("Heart", named(("prior infarct", plain(s.prior_infarct)),
                        ("hypertrophy", plain(s.lv_hypertrophy)), ("pacing", plain(s.pacing)))),
        ("Note", plain(s.free_text)),
    )  # fmt: skip
    missing = [k for k, v in rows if v == NOT_RECORDED]
    rows = tuple((k, v) for k, v in rows if v != NOT_RECORDED)
    blocks: list[Block] = []
    if rows:
        blocks.append(Facts(rows=rows, columns=3, typed=TYPED))
    if missing:
        blocks.append(Paragraph(words=f"{NOT_RECORDED.capitalize()}: {'; '.join(missing)}."))
    return Section(key="circumstances", heading="Circumstances", blocks=tuple(blocks))
