"""What stands behind the intervals, in words."""

from dataclasses import replace

from arteriole.indices.index import Index
from arteriole.report import behind, text
from arteriole.report.tree import Report
from arteriole.study.result import BeatQuality, Likeness

CFR = Index(
    key="cfr_bolus", label="CFR (bolus)", unit="1", method="bolus", value=2.87,
    interval95=(2.58, 3.20), certainty="near the line", formula="", source="[Pijls2002]",
    shares={"tail": 0.10, "injection spread": 0.65, "time zero": 0.246, "drift": 0.004},
    alternatives={"median of injections": 2.95, "without R1": 2.85, "without H1": 2.79,
                  "without H3": 2.98, "onset convention": 2.06},
    note="The sensor's own lag lowers it.",
)  # fmt: skip
SET = Likeness(
    phase="rest", read=3, used=2, median_s=1.53, range_percent=0.7, farthest="R3",
    farthest_percent=11.3, rule="alike within 20 % of the median of its state",
)  # fmt: skip


def said(result, make=behind.section) -> str:
    section = make(result)
    return text.render(Report(title="t", banner="", caution="c", sections=(section,), identity=""))


def with_cfr(full):
    return replace(full, indices=(*full.indices[:2], CFR), likeness=(SET,))


def test_sources_stand_with_their_share_the_largest_first(full):
    assert behind.shares(CFR) == "injection spread 65 %, time zero 25 %, tail 10 %"


def test_an_index_is_told_by_its_ends_with_one_injection_left_out(full):
    assert behind.left_out(CFR) == "2.79 (without H1) to 2.98 (without H3)"
    assert behind.left_out(full.index("ffr")) == "—"


def test_likeness_steadiness_rule_onset_and_notes_are_printed(full):
    words = " ".join(said(with_cfr(full)).split())

    for part in (
        "2 of 3 used, median 1.53 s, range 1 % of it; farthest R3, 11 %",
        "alike within 20 % of the median", "By onset convention 2.06",
        "CFR (bolus): The sensor's own lag lowers it.",
    ):  # fmt: skip
        assert part in words


def test_the_plateau_is_told_by_both_published_measures(full):
    steady = replace(full.hyperaemia, range_ratio=0.031, dispersion_percent=1.24)

    assert behind.steadiness(replace(full, hyperaemia=steady)) == (
        "range 0.03, coefficient of dispersion 1.2 % [HyperaemiaSwing2016]"
    )
    wavy = replace(steady, wave_s=23.4)
    assert behind.steadiness(replace(full, hyperaemia=wavy)).endswith("; in waves of about 23 s")


def test_beats_used_and_what_is_held_against_the_others_are_counted(full):
    quality = BeatQuality(
        beats=464, used=345, causes={"ectopy": 36, "pa_damped": 216}, harmed=(), spans=()
    )

    assert behind.beats(quality) == (
        "345 of 464 used for pressures; held against beats: 216 pa damped, 36 ectopy"
    )
    assert "Beats: 345 of 464" in said(replace(full, quality=quality))


def test_what_pa_reads_open_to_air_is_told(full):
    assert "Pa open to air: reads −1.3 mmHg" in said(replace(full, pa_zero_mmhg=-1.34))


def test_the_short_form_holds_the_main_indices_only(full):
    drop = replace(CFR, key="pullback_drop", label="pullback drop")
    result = replace(with_cfr(full), indices=(CFR, drop))

    assert "pullback drop" in said(result)
    assert "pullback drop" not in said(result, behind.short)


def test_other_readings_of_a_ratio_stand_in_the_short_form(full):
    other = {"plateau mean": 0.853, "(Pd-Pv)/(Pa-Pv)": 0.829}
    one = replace(full.index("ffr"), alternatives=other)

    words = " ".join(said(replace(full, indices=(one,)), behind.short).split())
    assert "FFR also: plateau mean: 0.85; (Pd-Pv)/(Pa-Pv): 0.83" in words


def test_nothing_known_says_nothing(poor):
    assert behind.section(replace(poor, likeness=())).blocks == ()


def test_published_windows_beside_a_ratio_of_part_of_the_beat_stand_there_too(full):
    one = replace(full.index("resting_pd_pa"), key="diastolic_ratio", label="diastolic ratio",
                  alternatives={"mid-diastolic ratio": 0.913})  # fmt: skip

    words = " ".join(said(replace(full, indices=(one,)), behind.short).split())
    assert "diastolic ratio also: mid-diastolic ratio: 0.91" in words
