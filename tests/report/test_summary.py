import io

from rich.console import Console

from arteriole import CAUTION
from arteriole.report.summary import print_summary


def said(result, width=120) -> str:
    out = io.StringIO()
    print_summary(result, Console(file=out, width=width, no_color=True))
    return out.getvalue()


def test_statement_stands_before_the_numbers_and_says_what_was_not_assessed(full):
    text = said(full)
    assert text.index("Not assessed: vasospasm") < text.index("resting Pd/Pa")


def test_every_number_has_interval_certainty_line_and_source(full):
    row = next(r for r in said(full).splitlines() if r.startswith("FFR  "))
    for part in ("0.84", "0.82 to 0.86", "clear of the line", "≤ 0.80, above", "[Johnson2015]"):
        assert part in row


def test_summary_warns_and_names_simulated_data(full):
    text = " ".join(said(full).split())
    assert "SIMULATED" in text
    assert CAUTION in text


def test_withheld_numbers_have_a_reason_and_a_remedy(poor):
    text = said(poor)
    assert "Pa is damped throughout." in text
    assert "Flush and record again." in text


def test_markup_and_escapes_in_names_are_inert(full):
    from dataclasses import replace

    bad = replace(full, sheet=replace(full.sheet, case_id="[red]x\x1b[31m[/red]"))
    text = said(bad)
    assert "[red]x" in text
    assert "\x1b" not in text


def test_the_pullback_has_a_sentence_and_every_step_a_place_and_a_size(full):
    from dataclasses import replace

    first = replace(full.pullback.steps[0], start_mm=10.0, end_mm=18.0, drop=0.05,
                    centre95_mm=(4.0, 24.0), would_leave=0.89,
                    would_leave95=(0.79, 0.99))  # fmt: skip
    two = replace(full.pullback, steps=(first, *full.pullback.steps))
    text = said(replace(full, pullback=two))
    assert full.pullback.sentence in text
    assert "±0.10 [GradientOutcome2025]" in text
    row = next(r for r in text.splitlines() if r.startswith("1     "))
    for part in ("10 to 18 mm", "4 to 24 mm", "0.05", "0.04 to 0.08", "0.89, 0.79 to 0.99"):
        assert part in row
    row = next(r for r in text.splitlines() if r.startswith("2     "))
    for part in ("56 to 68 mm", "0.06", "—"):
        assert part in row
    assert max(map(len, said(replace(full, pullback=two), 100).splitlines())) <= 100


def test_without_a_length_steps_have_times_and_at_rest_nothing_is_foretold(full):
    from dataclasses import replace

    step = replace(full.pullback.steps[0], start_mm=None, end_mm=None)
    trace = replace(full.pullback, steps=(step,), place_unit="s", state="rest")
    text = said(replace(full, pullback=trace))
    assert "350 to 354 s" in text
    assert "not published for rest" in " ".join(text.split())


def test_without_a_pullback_there_is_no_such_section(poor):
    assert "Pullback," not in said(poor)
