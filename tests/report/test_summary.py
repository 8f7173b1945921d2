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
