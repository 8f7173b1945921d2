"""``arteriole analyse``: one recording, or several runs of one case, into one study."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

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
    letter_html: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the Letter as a page.")
    ] = None,
    letter_text: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the Letter as plain text.")
    ] = None,
    plain_letter: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the Plain Letter; .pdf, .html or .txt."),
    ] = None,
    plain_words: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="A clinician's words for the Plain Letter, on record."),
    ] = None,
    paper: Annotated[str, typer.Option(metavar="a4|letter", help="Paper of the PDFs.")] = "a4",
    template: Annotated[
        str | None,
        typer.Option(metavar="NAME|FILE", help="Words, order and logo of the Letter, e.g. de."),
    ] = None,
    fhir: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write a FHIR R4B bundle (extra fhir).")
    ] = None,
    sr: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write a DICOM Structured Report.")
    ] = None,
    dicom_pdf: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the Letter as a DICOM object.")
    ] = None,
    waveform: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write a DICOM Hemodynamic Waveform.")
    ] = None,
    tables: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Write CSV and Parquet tables (extra parquet)."),
    ] = None,
    bag: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Write the case bag, a new folder.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No summary, no progress.")] = False,
) -> int:
    """Analyse one recording, or several runs of one case, into one study.

    The summary goes to stdout, progress to stderr. With --json - the result document goes to
    stdout instead of the summary. Exit code 4: read, but every index is withheld.

    Letters, open standards, tables and the case bag are written only where asked for.

    Example: arteriole analyse case.csv --sheet case.sheet.json --json case.json --pdf letter.pdf
    """
    from dataclasses import replace

    from arteriole import __version__, document, study
    from arteriole.cli.exports import (
        Asked,
        Case,
        check_forms,
        plain_words_of,
        template_of,
        write_exports,
    )
    from arteriole.formats import read_recording
    from arteriole.formats.sheet_file import read_settings, read_sheet
    from arteriole.recording import Settings, Sheet
    from arteriole.recording.runs import join_runs

    asked = Asked(
        html=html, pdf=pdf, letter_html=letter_html, letter_text=letter_text,
        plain_letter=plain_letter, fhir=fhir, sr=sr, dicom_pdf=dicom_pdf, waveform=waveform,
        tables=tables, bag=bag,
    )  # fmt: skip
    check_forms(asked, paper)
    words, own_words = template_of(template), plain_words_of(plain_words)
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
    if asked.any:
        from arteriole.exchange.restore import analysis_of  # a store comes with it

        used = rules or "default"
        case = Case(
            result=result, measurement=measurement, sheet=effective, originals=recordings,
            plain_words=own_words,
            analysis=analysis_of(
                settings=chosen, rules=_own_rules(rules) or used, column_map=columns,
                rate_hz=said.rate_hz,
            ),
        )  # fmt: skip
        write_exports(asked, case, tell, paper=paper, template=words)
    if not quiet and json != "-":
        from arteriole.report.summary import print_summary

        print_summary(result)
    return EXIT_WITHHELD if result.all_withheld else 0


def _rules(asked: str | None) -> "Rules":
    """Return a table by name, or a laboratory's own from a JSON or TOML file."""
    from arteriole import study

    own = _own_rules(asked)
    return study.rule_table(asked) if own is None else study.own_rules(own)


def _own_rules(asked: str | None) -> dict[str, Any] | None:
    """Return a laboratory's own table as it was written, None for a named one."""
    from arteriole.formats.sheet_file import read_mapping

    if asked is None or Path(asked).suffix.lower() not in {".json", ".toml"}:
        return None
    return dict(read_mapping(Path(asked), "rule table"))
