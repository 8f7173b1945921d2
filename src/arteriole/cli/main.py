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

import click
import typer

from arteriole import CAUTION, __version__
from arteriole.errors import ArterioleError, OptionError, UnreadableRecording

EXIT_FAULT: Final = 1
EXIT_OPTIONS: Final = 2
EXIT_UNREADABLE: Final = 3

#: verb -> module in this room that holds its ``command``; modules are loaded only when called
VERBS: Final = {
    "analyse": "analyse",
    "check": "check",
    "convert": "convert",
    "demo": "demo",
    "interpret": "interpret",
    "serve": "serve",
    "simulate": "simulate",
}


class VerbGroup(click.Group):
    """Loads a verb's module when the verb is asked for: start-up stays short."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the verbs in alphabetical order."""
        del ctx
        return sorted(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the verb's command, or None for an unknown verb."""
        del ctx
        if cmd_name not in VERBS:
            return None
        module = importlib.import_module(f"arteriole.cli.{VERBS[cmd_name]}")
        app = typer.Typer(add_completion=False, rich_markup_mode=None)
        app.command(name=cmd_name)(module.command)
        return typer.main.get_command(app)


def _version(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
    if value:
        click.echo(f"arteriole {__version__}")
        ctx.exit()


def root() -> click.Group:
    """Return the command tree."""
    return VerbGroup(
        name="arteriole",
        help="One continuous coronary pressure and temperature recording in, one quality-graded "
        f"study out.\n\n{CAUTION}",
        epilog="Example: arteriole analyse case.csv --sheet case.sheet.json --json case.json",
        params=[
            click.Option(
                ["--version"],
                is_flag=True,
                is_eager=True,
                expose_value=False,
                callback=_version,
                help="Print the version and exit.",
            )
        ],
        context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
        no_args_is_help=False,
    )


def run(arguments: list[str]) -> int:
    """Run one call and return its exit code; nothing but SystemExit's kin gets through."""
    try:
        if not arguments:
            arguments = ["--help"]
        code = root().main(args=arguments, prog_name="arteriole", standalone_mode=False)
    except click.exceptions.Exit as leave:
        return leave.exit_code
    except click.exceptions.Abort:
        return _fail("stopped by the keyboard; nothing was lost", 130)
    except click.ClickException as fault:
        return _fail(_options_message(fault), EXIT_OPTIONS)
    except OptionError as fault:
        return _fail(str(fault), EXIT_OPTIONS)
    except UnreadableRecording as fault:
        return _fail(str(fault), EXIT_UNREADABLE)
    except ArterioleError as fault:
        return _fail(str(fault), EXIT_UNREADABLE)
    except KeyboardInterrupt:
        return _fail("stopped by the keyboard; nothing was lost", 130)
    except BrokenPipeError:
        return 0
    except Exception:  # noqa: BLE001 - the last door: a fault becomes a file, never a traceback
        return _fail(_write_fault(arguments), EXIT_FAULT)
    return code if isinstance(code, int) else 0


def main() -> None:
    """Enter from the shell."""
    sys.exit(run(sys.argv[1:]))


def _fail(message: str, code: int) -> int:
    typer.echo(f"error: {message}", err=True)
    return code


def _options_message(fault: click.ClickException) -> str:
    said = fault.format_message().rstrip(".")
    ctx = getattr(fault, "ctx", None)
    if isinstance(fault, click.UsageError) and "No such command" in said:
        return f"{said}; allowed: {', '.join(sorted(VERBS))}; see arteriole --help."
    where = ctx.command_path if ctx is not None else "arteriole"
    return f"{said}; see the allowed options with {where} --help."


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
