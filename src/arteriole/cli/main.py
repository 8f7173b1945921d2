"""The command line: verbs, and the one place where failures become exit codes.

0 done · 1 internal fault (a report file is written and named) · 2 wrong options · 3 path missing,
unreadable or not a recording · 4 read, but every index withheld.
"""

import importlib
import sys
import tempfile
import traceback
from pathlib import Path
from typing import Final

import typer
from typer.exceptions import TyperException

from arteriole import CAUTION, __version__
from arteriole.errors import ArterioleError, OptionError

EXIT_FAULT: Final = 1
EXIT_OPTIONS: Final = 2
EXIT_UNREADABLE: Final = 3
EXIT_STOPPED: Final = 130  # the shell's own number for an interrupt

#: verb -> module in this room that holds its ``command``; modules are loaded only when called
VERBS: Final = {
    "analyse": "analyse",
    "bag": "bag",
    "check": "check",
    "convert": "convert",
    "demo": "demo",
    "interpret": "interpret",
    "serve": "serve",
    "simulate": "simulate",
}


#: verb -> one line for the overview
SUMMARIES: Final = {
    "analyse": "one recording, or several runs of one case, into one study",
    "bag": "check a case bag, open it as the study it was, keep it in a store",
    "check": "what is in a file, and whether it can be analysed",
    "convert": "between all formats that are read and written",
    "demo": "simulate a session, analyse it, print the study and open the Bench",
    "interpret": "numbers from an old report into indices, intervals and a statement",
    "serve": "the web application",
    "simulate": "a virtual patient's session with its truth",
}


def overview() -> str:
    """Return the help of the program itself."""
    rows = "\n".join(f"  {verb:<10} {SUMMARIES[verb]}" for verb in sorted(VERBS))
    return (
        "Usage: arteriole VERB [OPTIONS]\n\n"
        "One continuous coronary pressure and temperature recording in, one quality-graded study "
        f"out.\n\n{CAUTION}\n\nVerbs:\n{rows}\n\n"
        "arteriole VERB --help tells the options of a verb; arteriole --version the version.\n\n"
        "Example: arteriole analyse case.csv --sheet case.sheet.json --json case.json"
    )


def run(arguments: list[str]) -> int:
    """Run one call and return its exit code; a failure becomes one line on stderr."""
    if not arguments or arguments[0] in {"-h", "--help", "help"}:
        typer.echo(overview())
        return 0 if arguments else EXIT_OPTIONS
    if arguments[0] == "--version":
        typer.echo(f"arteriole {__version__}")
        return 0
    verb = arguments[0]
    if verb not in VERBS:
        allowed = ", ".join(sorted(VERBS))
        return _fail(
            f"verb {verb!r} is not known; allowed: {allowed}; see arteriole --help", EXIT_OPTIONS
        )
    try:
        return _call(verb, arguments[1:])
    except OptionError as fault:
        return _fail(str(fault), EXIT_OPTIONS)
    except ArterioleError as fault:
        return _fail(str(fault), EXIT_UNREADABLE)
    except KeyboardInterrupt:
        return _fail("stopped by the keyboard; nothing was lost", EXIT_STOPPED)
    except BrokenPipeError:
        return 0
    except Exception:  # noqa: BLE001 - the last door: a fault becomes a file, never a traceback
        return _fail(_write_fault(arguments), EXIT_FAULT)


def _call(verb: str, arguments: list[str]) -> int:
    module = importlib.import_module(f"arteriole.cli.{VERBS[verb]}")
    app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    settings = {"help_option_names": ["-h", "--help"], "max_content_width": 100}
    app.command(name=verb, context_settings=settings)(module.command)
    command = typer.main.get_command(app)
    prog = f"arteriole {verb}"
    try:
        code = command.main(args=arguments, prog_name=prog, standalone_mode=False)
    except typer.Exit as leave:
        return leave.exit_code
    except typer.Abort:
        return _fail("stopped by the keyboard; nothing was lost", EXIT_STOPPED)
    except TyperException as fault:
        said = (fault.format_message() if hasattr(fault, "format_message") else str(fault)).rstrip(
            "."
        )
        return _fail(f"{said}; see the allowed options with {prog} --help", EXIT_OPTIONS)
    return code if isinstance(code, int) else 0


def main() -> None:
    """Enter from the shell."""
    sys.exit(run(sys.argv[1:]))


def _fail(message: str, code: int) -> int:
    typer.echo(f"error: {message}", err=True)
    return code


def _write_fault(arguments: list[str]) -> str:
    """Write the fault to a file for the developers; the recording itself is not copied."""
    text = f"arteriole {__version__}\narguments: {arguments!r}\n\n{traceback.format_exc()}"
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="arteriole-fault-", suffix=".txt", delete=False, encoding="utf-8"
        ) as out:
            out.write(text)
            name = Path(out.name)
    except OSError:
        typer.echo(text, err=True)
        return "internal fault; its report could not be written, so it stands above; report it."
    return f"internal fault; a report was written to {name}; send it to the developers."
