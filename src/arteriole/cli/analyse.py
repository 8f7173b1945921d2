"""``arteriole analyse``: one recording, or several runs of one case, into one study."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from arteriole.cli.outputs import parse_assignments, write_file

if TYPE_CHECKING:
    from arteriole.interpret import Rules

EXIT_WITHHELD = 4


def command(
    recordings: Annotated[
        list[Path],
        typer.Argument(metavar="RECORDING...", help="One file, or several runs of one case."),
    ],
    sheet: Annotated[
        Path | None, typer.Option(help="What the operator knows, JSON or TOML.", metavar="FILE")
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option("--map", metavar="CHANNEL=COLUMN", help="Name a column, e.g. pa=P_ao."),
    ] = None,
    settings: Annotated[
        Path | None, typer.Option(help="A laboratory's settings, JSON or TOML.", metavar="FILE")
    ] = None,
    rules: Annotated[
        str | None,
        typer.Option(help="Rule table by name, or a laboratory's own.", metavar="NAME|FILE"),
    ] = None,
    lag_corrected: Annotated[
        bool, typer.Option("--lag-corrected", help="Add values with the sensor's lag removed.")
    ] = False,
    json: Annotated[
        str | None, typer.Option(metavar="FILE|-", help="Write the result document.")
    ] = None,
    html: Annotated[Path | None, typer.Option(metavar="FILE", help="Write the study page.")] = None,
    pdf: Annotated[Path | None, typer.Option(metavar="FILE", help="Write the Letter.")] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No summary, no progress.")] = False,
) -> int:
    """Analyse one recording, or several runs of one case, into one study.

    The summary goes to stdout, progress to stderr. With --json - the result document goes to
    stdout instead of the summary. Exit code 4: read, but every index is withheld.

    Example: arteriole analyse case.csv --sheet case.sheet.json --json case.json --html case.html
    """
    from dataclasses import replace

    from arteriole import __version__, document, study
    from arteriole.formats import read_recording
    from arteriole.formats.sheet_file import read_settings, read_sheet
    from arteriole.recording import Settings, Sheet
    from arteriole.recording.runs import join_runs

    said = Sheet() if sheet is None else read_sheet(sheet)
    chosen = Settings() if settings is None else read_settings(settings)
    if lag_corrected:
        chosen = replace(chosen, lag_corrected=True)
    table = _rules(rules)
    columns = parse_assignments(column or [], "--map", "pa=COLUMN")

    def tell(text: str) -> None:
        if not quiet:
            typer.echo(text, err=True)

    runs = []
    for path in recordings:
        tell(f"reading {path}")
        runs.append(read_recording(path, column_map=columns, sheet=said))
    recording = join_runs(runs)
    tell("measuring")
    measurement = study.measure(recording, chosen)
    effective = study.effective_sheet(recording, said if sheet is not None else None)
    result = study.decide(measurement, effective, effective.marks, chosen, table, __version__)
    if json == "-":
        sys.stdout.write(document.canonical_bytes(result).decode())
    elif json is not None:
        write_file(Path(json), document.canonical_bytes(result))
        tell(f"wrote {json}")
    if html is not None:
        from arteriole.report.html import study_page

        write_file(html, study_page(result, measurement).encode())
        tell(f"wrote {html}")
    if pdf is not None:
        from arteriole.report.letter import letter

        write_file(pdf, letter(result, measurement).pdf())
        tell(f"wrote {pdf}")
    if not quiet and json != "-":
        from arteriole.report.summary import print_summary

        print_summary(result)
    return EXIT_WITHHELD if result.all_withheld else 0


def _rules(asked: str | None) -> "Rules":
    """Return a table by name, or a laboratory's own from a JSON or TOML file."""
    from arteriole import study
    from arteriole.formats.sheet_file import read_mapping

    if asked is not None and Path(asked).suffix.lower() in {".json", ".toml"}:
        return study.own_rules(read_mapping(Path(asked), "rule table"))
    return study.rule_table(asked)
