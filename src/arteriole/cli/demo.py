"""``arteriole demo``: simulate a session, analyse it, print the study and open the Bench."""

from pathlib import Path
from typing import Annotated

import typer

from arteriole.cli.outputs import write_file


def command(
    once: Annotated[
        bool, typer.Option("--once", help="Write result and report, then exit.")
    ] = False,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Only print the address of the Bench.")
    ] = False,
    pattern: Annotated[str, typer.Option(help="The virtual patient's pattern.")] = "mixed",
    seed: Annotated[int, typer.Option(help="Same seed, same session.")] = 7,
    out: Annotated[
        Path, typer.Option(help="Folder for result and report.", metavar="FOLDER")
    ] = Path(),
    port: Annotated[int, typer.Option(help="Port of the Bench on this computer.")] = 8765,
) -> int:
    """Simulate a session, analyse it, print the study and open the Bench on this computer.

    Everything is SIMULATED. With --once the result document and the study page are written beside
    each other and the program ends.

    Example: arteriole demo --once --out .
    """
    from arteriole import document, simulate, study
    from arteriole.report.summary import print_summary

    typer.echo(f"simulating a session: pattern {pattern}, seed {seed} (SIMULATED)", err=True)
    session = simulate.session(pattern, seed)
    measurement = study.measure(session.recording, study.DEFAULT_SETTINGS)
    result = study.analyse(session.recording, session.sheet, measured=measurement)
    print_summary(result)
    if once:
        from arteriole.report.html import study_page

        stem = f"demo-{pattern}-{seed}-SIMULATED"
        write_file(out / f"{stem}.json", document.canonical_bytes(result))
        write_file(out / f"{stem}.html", study_page(result, measurement).encode())
        typer.echo(f"wrote {out / stem}.json and {out / stem}.html", err=True)
        return 0
    from arteriole.cli.serve import serve_app
    from arteriole.web import open_demo

    app = open_demo(session.recording, session.sheet, session.truth)
    serve_app(app, "127.0.0.1", port, open_browser=not no_browser, path=app.state.first_path)
    return 0
