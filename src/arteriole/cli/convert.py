"""``arteriole convert``: between all formats that are read and written."""

from pathlib import Path
from typing import Annotated

import typer

from arteriole.cli.outputs import parse_assignments


def command(
    recording: Annotated[Path, typer.Argument(metavar="RECORDING", help="File to read.")],
    out: Annotated[Path, typer.Argument(metavar="OUT", help="File to write; its ending decides.")],
    column: Annotated[
        list[str] | None,
        typer.Option("--map", metavar="CHANNEL=COLUMN", help="Name a column, e.g. pa=P_ao."),
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(help="Sheet with rate_hz, JSON or TOML.", metavar="FILE")
    ] = None,
    lossy: Annotated[
        bool, typer.Option("--lossy", help="Allow what the format cannot hold to be lost.")
    ] = False,
) -> int:
    """Convert a recording; what a format cannot hold is refused unless --lossy.

    Example: arteriole convert case.csv case.h5
    """
    from arteriole.formats import read_recording, write_recording
    from arteriole.formats.sheet_file import read_sheet

    columns = parse_assignments(column or [], "--map", "pa=COLUMN")
    said = None if sheet is None else read_sheet(sheet)
    write_recording(read_recording(recording, column_map=columns, sheet=said), out, lossy=lossy)
    typer.echo(f"wrote {out}", err=True)
    return 0
