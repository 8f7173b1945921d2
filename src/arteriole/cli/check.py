"""``arteriole check``: what is in a file, and whether it can be analysed."""

from pathlib import Path
from typing import Annotated

import typer

from arteriole.cli.outputs import parse_assignments


def command(
    recording: Annotated[Path, typer.Argument(metavar="RECORDING", help="File to look into.")],
    column: Annotated[
        list[str] | None,
        typer.Option("--map", metavar="CHANNEL=COLUMN", help="Name a column, e.g. pa=P_ao."),
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(help="Sheet with rate_hz, JSON or TOML.", metavar="FILE")
    ] = None,
) -> int:
    """Tell channels, units, rates and gaps, and whether the recording can be analysed.

    Example: arteriole check case.csv
    """
    from arteriole import CAUTION
    from arteriole.formats import read_recording
    from arteriole.formats.sheet_file import read_sheet

    columns = parse_assignments(column or [], "--map", "pa=COLUMN")
    said = None if sheet is None else read_sheet(sheet)
    found = read_recording(recording, column_map=columns, sheet=said)
    word = "SIMULATED " if found.simulated else ""
    typer.echo(f"{word}{found.name}: {found.format}, {found.duration_s:.1f} s")
    for c in found.channels:
        typer.echo(f"  {c.name:<12} {c.unit:<6} {c.rate_hz:g} Hz  from {c.start_s:.3f} s, "
                   f"{c.duration_s:.1f} s, lost {c.missing_fraction:.2%}")  # fmt: skip
    for f in found.findings:
        typer.echo(f"  {f.severity}: {f.message} {f.do}")
    lacking = [n for n in ("pa", "pd") if n not in found]
    if lacking:
        typer.echo(f"Cannot be analysed: {' and '.join(lacking)} missing; name with --map.")
    else:
        typer.echo("Can be analysed: pressure" + (", temperature" if "temp" in found else ""))
    typer.echo(CAUTION)
    return 0
