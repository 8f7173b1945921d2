"""Decide: measurement, sheet, marks, settings and rules become the result."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from arteriole.episodes import Episode, Hyperaemia
from arteriole.episodes.drug_start import with_drug_start
from arteriole.episodes.findings import findings_of
from arteriole.episodes.zeroing import pa_zero_mmhg
from arteriole.indices import Index, Pressures, compute
from arteriole.interpret import (
    RULES,
    Rules,
    expected,
    flips,
    next_acts,
    rule_table,
    state,
    with_lines_of,
)
from arteriole.recording import Finding, Mark, Recording, Settings, Sheet
from arteriole.study.beats import beat_quality
from arteriole.study.context import in_context, slips_of, with_side
from arteriole.study.doses import explained, findings_of_doses, with_doses, without_fading
from arteriole.study.evidence import clean_flags, evidence_of, lowest_smoothed_in, pressures_in
from arteriole.study.gauges import (
    gauge_of,
    guide_times,
    hyperaemia_of,
    line_of,
    place_held,
    steady_windows,
    uneven_sd,
    windows_within,
    with_told_pullback,
    with_transit,
)
from arteriole.study.infusions import findings_of as infusion_findings
from arteriole.study.infusions import flows_of, infusions_of, refusals_of
from arteriole.study.likeness import likeness_of
from arteriole.study.marks import marked_episodes
from arteriole.study.measure import Measurement
from arteriole.study.pullbacks import findings_of as pullback_findings
from arteriole.study.pullbacks import pullback_trace
from arteriole.study.repeats import told, without_overlap
from arteriole.study.rest import rest_doubt, unrest_of, with_note, with_true_rest
from arteriole.study.result import (
    ChannelSummary,
    Haemodynamics,
    Injection,
    RecordingSummary,
    Result,
)
from arteriole.study.row import beside_mark, beside_mark_told, injection_row

NOT_REACHED = Hyperaemia(state="not reached")


def decide(
    measurement: Measurement,
    sheet: Sheet,
    marks: Sequence[Mark],
    settings: Settings,
    rules: str | Rules,
    version: str,
) -> Result:
    """Return the study. Pure: the same arguments give the same result.

    Parameters
    ----------
    measurement : Measurement
        From :func:`arteriole.study.measure`.
    sheet, marks, settings
        Effective ones, after all edits.
    rules : str or Rules
        A rule table or its name.
    version : str
        Software version, named in the result.
    """
    table = with_lines_of(_table(rules), settings)
    measurement, doses = with_doses(measurement, sheet)
    episodes = marked_episodes(measurement.found.episodes, marks)
    unusable = [e for e in episodes if e.kind == "unusable"]
    clean = clean_flags(measurement, unusable)
    episodes = with_told_pullback(measurement, episodes, sheet)
    episodes = without_overlap(episodes)
    episodes = with_true_rest(measurement, episodes, sheet)
    states = with_drug_start(
        line_of(measurement, episodes), sheet.hyperaemia.start_s, sheet.hyperaemia.route
    )
    gauge = gauge_of(measurement, episodes, settings)
    findings = in_context(explained(measurement.findings, doses), episodes, gauge)
    moved = slips_of(findings, gauge)
    beside = beside_mark(measurement, episodes)
    row = injection_row(
        measurement, marks, episodes, states, settings, [b for _, b in moved], beside
    )  # fmt: skip
    episodes = _with_row(episodes, row)
    doubt = rest_doubt(measurement, episodes, sheet)
    episodes = with_note(episodes, doubt)
    marked = any(e.kind == "hyperaemia" and e.source == "marked" for e in episodes)
    boluses = [*(i.time_s for i in row), *guide_times(measurement)]
    steady = steady_windows(measurement, states, boluses, unusable, marked=marked)
    place = place_held(steady, moved)
    drawn_back = any(e.kind == "pullback" for e in episodes)
    findings = tuple(with_side(f, moved, steady, place, drawn_back=drawn_back) for f in findings)
    steady = windows_within(steady, place)
    resting = next((e for e in episodes if e.kind == "rest"), None)
    rest_s = None if resting is None else (resting.start_s, resting.end_s)
    rest = None if rest_s is None else pressures_in(measurement, clean, (rest_s,))
    plateau = pressures_in(measurement, clean, steady)
    seen = hyperaemia_of(measurement, states, steady, rest_s, marked=marked)
    seen = with_transit(seen, row) or NOT_REACHED
    infusions = infusions_of(measurement, episodes, sheet)
    flows = flows_of(measurement, infusions, clean)
    trace = pullback_trace(measurement, episodes, sheet, gauge)
    zero = pa_zero_mmhg(
        measurement.grid, [(e.start_s, e.end_s) for e in episodes if e.kind == "zeroing"]
    )
    evidence = evidence_of(
        measurement, sheet, settings, row, rest, plateau, steady, clean, gauge, flows,
        refusals_of(infusions), trace, zero,
        lowest_smoothed_in(measurement, states, boluses, unusable, place, steady),
        uneven_sd=uneven_sd(seen), not_full=seen.submaximal or seen.state == "not reached",
        unrest=unrest_of(doubt),
    )  # fmt: skip
    indices = compute(evidence)
    if measurement.beats.count > 0:
        findings += findings_of(
            episodes, doubt, gauge, without_fading(seen, doses), zero, settings
        )  # fmt: skip
        findings += (*told(measurement, episodes, settings), *pullback_findings(trace, sheet))
    hyper = [(i.label, i.time_s) for i in row if i.phase == "hyperaemia"]
    ffr_s = next((i.windows_s[0][0] for i in indices if i.key == "ffr" and i.windows_s), None)
    findings += infusion_findings(infusions)
    findings += beside_mark_told(beside, row)
    findings += expected(sheet, seen, hyper, rest_s, ffr_s=ffr_s, doses_s=doses.starts_s())
    if not marked:
        findings += findings_of_doses(doses, seen, row, sheet)
    statement = state(indices, sheet, seen.state, findings, table)
    others = {k: v for k, v in RULES.items() if v.name != table.name}
    return Result(
        version=version, recording=_summary(measurement.recording),
        sheet=replace(sheet, marks=tuple(marks)),
        settings=settings, simulated=measurement.recording.simulated or sheet.simulated,
        episodes=episodes,
        injections=row, infusions=infusions, gauge=gauge, hyperaemia=seen, indices=indices,
        findings=tuple(sorted(findings, key=_order)), statement=statement,
        flips=flips(evidence, indices, seen.state, findings, table, others),
        next_acts=next_acts(evidence, indices, table),
        haemodynamics=_haemodynamics(rest, plateau), pullback=trace,
        beats_used=_beats_used(indices), likeness=likeness_of(row, settings),
        pa_zero_mmhg=zero, quality=beat_quality(measurement, clean),
    )  # fmt: skip


def _summary(recording: Recording) -> RecordingSummary:
    return RecordingSummary(
        name=recording.name, sha256=recording.sha256, format=recording.format,
        duration_s=recording.duration_s,
        channels=tuple(
            ChannelSummary(name=c.name, unit=c.unit, rate_hz=c.rate_hz,
                           missing_fraction=c.missing_fraction)
            for c in recording.channels
        ),
    )  # fmt: skip


def _table(rules: str | Rules) -> Rules:
    if isinstance(rules, Rules):
        return rules
    return rule_table(None if rules == "default" else rules)


def _with_row(episodes: Sequence[Episode], row: Sequence[Injection]) -> tuple[Episode, ...]:
    """Return the episodes with the row's injections in place of the found ones."""
    kept = [e for e in episodes if e.kind != "injection"]
    made = [
        Episode(
            kind="injection",
            start_s=i.time_s,
            end_s=max(i.reading.end_s, i.time_s),
            source=i.source,
            note=f"{i.label}: {i.verdict}",
            phase=i.phase,
        )
        for i in row
    ]
    return tuple(sorted([*kept, *made], key=lambda e: (e.start_s, e.end_s, e.kind)))


def _haemodynamics(rest: Pressures | None, plateau: Pressures | None) -> dict[str, Haemodynamics]:
    rows: dict[str, Haemodynamics] = {}
    for name, one in (("rest", rest), ("hyperaemia", plateau)):
        if one is None:
            continue
        rate, top = one.heart_rate_bpm, one.pa_systolic_mmhg
        rows[name] = Haemodynamics(
            heart_rate_bpm=rate, pa_mmhg=one.pa_mmhg, pd_mmhg=one.pd_mmhg, pa_systolic_mmhg=top,
            rate_pressure_product=rate * top if rate is not None and top is not None else None,
        )  # fmt: skip
    return rows


def _beats_used(indices: Sequence[Index]) -> dict[str, tuple[tuple[float, float], ...]]:
    keep: Mapping[str, tuple[tuple[float, float], ...]] = {
        i.key: i.windows_s for i in indices if i.value is not None and i.windows_s
    }
    return dict(keep)


def _order(finding: Finding) -> tuple[float, str]:
    return (finding.start_s if finding.start_s is not None else -1.0, finding.code)
