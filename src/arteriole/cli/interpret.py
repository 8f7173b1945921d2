"""``arteriole interpret``: numbers from an old report into indices, intervals and a statement."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from arteriole.cli.outputs import parse_assignments, write_file

EXIT_WITHHELD = 4


def command(
    assignments: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="KEY=VALUE", help="A number, e.g. ffr=0.84 (repeatable)."),
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(help="What the operator knows, JSON or TOML.", metavar="FILE")
    ] = None,
    settings: Annotated[
        Path | None, typer.Option(help="A laboratory's settings, JSON or TOML.", metavar="FILE")
    ] = None,
    rules: Annotated[str | None, typer.Option(help="Rule table by name.", metavar="NAME")] = None,
    json: Annotated[
        str | None, typer.Option(metavar="FILE|-", help="Write the result document.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No summary.")] = False,
) -> int:
    """Interpret numbers without a recording: what follows from them and what would flip it.

    Transit times may be lists: tmn_hyper_s=0.24,0.26,0.25. Exit code 4: nothing could be derived.

    Example: arteriole interpret --set ffr=0.84 --set cfr_bolus=1.7 --set imr=31
    """
    from arteriole import document
    from arteriole.errors import OptionError
    from arteriole.formats.sheet_file import read_settings, read_sheet
    from arteriole.interpret import RULES, rule_table
    from arteriole.interpret.typed import RANGES, interpret_typed
    from arteriole.recording import Settings, Sheet
    from arteriole.study.typed_result import typed_result

    if not assignments:
        raise OptionError(
            f"No number was given; --set KEY=VALUE is needed, allowed keys: "
            f"{', '.join(sorted(RANGES))}; give at least one."
        )
    given = parse_assignments(assignments, "--set", "ffr=0.84")
    study = interpret_typed(
        given,
        Sheet() if sheet is None else read_sheet(sheet),
        Settings() if settings is None else read_settings(settings),
        rule_table(rules),
        RULES,
    )
    result = typed_result(study)
    if json == "-":
        sys.stdout.write(document.canonical_bytes(result).decode())
    elif json is not None:
        write_file(Path(json), document.canonical_bytes(result))
    if not quiet and json != "-":
        typer.echo(_summary(result))
    return EXIT_WITHHELD if result.all_withheld else 0


def _summary(result: object) -> str:
    from arteriole import CAUTION
    from arteriole.report.behind import readings
    from arteriole.report.words import number
    from arteriole.study.result import Result

    assert isinstance(result, Result)
    rows = [result.statement.sentence, *(f"  {b}" for b in result.statement.because), ""]
    for one in result.indices:
        if one.value is None or one.interval95 is None:
            continue
        low, high = (number(x, one.decimals) for x in one.interval95)
        shown = number(one.value, one.decimals, one.unit)
        rows.append(f"{one.label:<38} {shown} [{low}, {high}]  {one.certainty}")
        if one.note:
            rows.append(f"    {one.note}")
        if one.method == "pressure" and readings(one):
            rows.append(f"    Also: {readings(one)}.")
    rows.append("")
    rows += [f"would flip: {f.what}: {f.smallest_change} -> {f.would_become}" for f in result.flips]
    rows += [f"{f.message} {f.do}" for f in result.findings]
    rows += [f"rules: {result.statement.rules}", CAUTION]
    if result.simulated:
        rows.insert(0, "SIMULATED")
    return "\n".join(rows)
