"""``arteriole simulate``: a virtual patient's session with its truth, or a cohort of them."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from arteriole.cli.outputs import parse_assignments, write_file
from arteriole.errors import OptionError

if TYPE_CHECKING:
    from arteriole.simulate import Session

SHEET_INSIDE = {".h5", ".hdf5"}


def command(
    out: Annotated[
        Path, typer.Option(help="Recording to write; a folder with --cohort.", metavar="FILE")
    ],
    pattern: Annotated[
        str,
        typer.Option(
            help="normal, focal, serial, diffuse, structural, functional, mixed, collateralised, "
            "infarction, spasm or stented.",
            metavar="PATTERN",
        ),
    ] = "normal",
    seed: Annotated[int, typer.Option(help="Same seed, same bytes.", min=0)] = 1,
    truth: Annotated[
        Path | None, typer.Option(help="Write everything the model knows.", metavar="FILE")
    ] = None,
    artefact: Annotated[
        list[str] | None,
        typer.Option(
            help="A fault to put in, e.g. pd_drift; repeat for more. A wrong name tells all."
        ),
    ] = None,
    constant: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="KEY=VALUE", help="A patient constant by number."),
    ] = None,
    rate_hz: Annotated[float, typer.Option(help="Samples per second.")] = 500.0,
    continuous: Annotated[
        bool, typer.Option("--continuous", help="With two saline infusions.")
    ] = False,
    route: Annotated[
        str, typer.Option(help="Of the drug: intravenous or intracoronary.")
    ] = "intravenous",
    cohort: Annotated[
        int, typer.Option(help="Draw this many sessions into the folder --out.", min=0)
    ] = 0,
    workers: Annotated[int, typer.Option(help="Processes of a cohort.", min=1)] = 1,
    lossy: Annotated[
        bool, typer.Option("--lossy", help="Allow what the format cannot hold to be left out.")
    ] = False,
    kind: Annotated[
        str, typer.Option("--format", help="Ending of a cohort's recordings.", metavar="EXT")
    ] = "csv",
) -> int:
    """Write the session of a virtual patient, its sheet beside it, and its truth.

    Everything written is SIMULATED and says so. The sheet goes to NAME.sheet.json beside the
    recording. With --cohort N patients, faults and channels are drawn, and each session is
    written with sheet and truth into the folder.

    Example: arteriole simulate --pattern focal --seed 7 --out case.csv --truth case.truth.json
    """
    if cohort:
        return _cohort(out, seed, cohort, workers, kind, lossy=lossy)
    from arteriole.simulate import session

    made = session(
        pattern, seed, artefacts=artefact or [], overrides=_numbers(constant or []),
        rate_hz=rate_hz, continuous=continuous, route=route, case_id=out.stem,
    )  # fmt: skip
    _write(made, out, truth, lossy=lossy)
    typer.echo(f"SIMULATED session {pattern}, seed {seed}: wrote {out}", err=True)
    return 0


def _numbers(words: list[str]) -> dict[str, float]:
    values: dict[str, float] = {}
    for key, text in parse_assignments(words, "--set", "heart_rate_bpm=72").items():
        try:
            values[key] = float(text)
        except ValueError:
            raise OptionError(
                f"--set {key} was given {text!r}; a number is needed; write it with a point."
            ) from None
    return values


def _write(made: "Session", out: Path, truth: Path | None, *, lossy: bool = False) -> None:
    from dataclasses import replace

    from arteriole.formats import write_recording
    from arteriole.recording.sheet import sheet_to_mapping

    # the sheet goes into the file where that can hold it, and beside it in any case
    inside = made.sheet if out.suffix.lower() in SHEET_INSIDE else None
    write_recording(replace(made.recording, sheet=inside), out, lossy=lossy)
    write_file(out.with_name(f"{out.stem}.sheet.json"), _text(sheet_to_mapping(made.sheet)))
    if truth is not None:
        write_file(truth, _text(made.truth))


def _text(value: Any) -> bytes:
    return (json.dumps(value, indent=1, allow_nan=False, ensure_ascii=False) + "\n").encode()


def _cohort(out: Path, seed: int, count: int, workers: int, kind: str, *, lossy: bool) -> int:
    """Write ``count`` sessions; at any time one session per worker is held."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    out.mkdir(parents=True, exist_ok=True)
    jobs = [(out, seed, k, kind, lossy) for k in range(count)]
    if workers == 1:
        names = [_one(job) for job in jobs]
    else:
        # the first session compiles, so that the workers find the compiled solvers on disk
        names = [_one(jobs[0])]
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            names += pool.map(_one, jobs[1:], chunksize=4)
    typer.echo(f"SIMULATED cohort of {len(names)}, seed {seed}: wrote {out}", err=True)
    return 0


def _one(job: tuple[Path, int, int, str, bool]) -> str:
    folder, seed, index, kind, lossy = job
    from arteriole.simulate import drawn_session

    name = f"case-{index + 1:04d}"
    made = drawn_session(seed, index=index, case_id=name)
    out = folder / f"{name}.{kind.lstrip('.')}"
    _write(made, out, folder / f"{name}.truth.json", lossy=lossy)
    return name
