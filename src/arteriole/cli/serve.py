"""``arteriole serve``: the web application on this computer."""

import os
import secrets
import socket
import threading
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from arteriole.errors import OptionError

if TYPE_CHECKING:
    from fastapi import FastAPI

LOOPBACK = ("127.0.0.1", "localhost")
DEFAULT_PORT = 8765  # our choice: above 1024 and used by no registered service of hospitals


def command(
    host: Annotated[
        str, typer.Option(help="Address to listen on; only this computer itself.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port; 0 takes a free one.")] = DEFAULT_PORT,
    store: Annotated[
        str, typer.Option(help="Where studies are kept: a file path or sqlite:///PATH.")
    ] = "",
    new_key: Annotated[
        bool, typer.Option("--new-key", help="End all sessions opened before.")
    ] = False,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Only print the address.")
    ] = False,
) -> None:
    """Serve Shelf, Bench and Ledger in the browser, on this computer only.

    Example: arteriole serve --port 8765 --store studies/arteriole.db
    """
    check_host(host)
    from arteriole.store import open_store
    from arteriole.web import Keys, create_app

    place = Path(store.removeprefix("sqlite:///")) if store else own_store()
    kept = open_store(str(place) if store.startswith("sqlite:///") or not store else store)
    secret = session_secret(place.expanduser().resolve().parent, fresh=new_key)
    app = create_app(kept, keys=Keys(secret), cookie=f"arteriole_{port}")
    serve_app(app, host, port, open_browser=not no_browser)


def serve_app(app: "FastAPI", host: str, port: int, *, open_browser: bool, path: str = "/") -> None:
    """Serve until interrupted; print the address with its opening key, open it if asked.

    Raises
    ------
    OptionError
        The port is taken, or the address is not this computer's own.
    """
    import uvicorn

    check_host(host)
    listening = _bound(host, port)
    actual = listening.getsockname()[1]
    address = f"http://{host}:{actual}/open?key={app.state.keys.new_opening()}&next={path}"
    typer.echo(f"arteriole serves on {address}", err=True)
    typer.echo("The address opens once; sessions last 12 hours. Stop with Ctrl+C.", err=True)
    if open_browser:
        threading.Timer(0.5, webbrowser.open, (address,)).start()
    config: dict[str, Any] = {"log_level": "warning", "access_log": False, "ws": "none",
                              "server_header": False, "timeout_graceful_shutdown": 3}  # fmt: skip
    uvicorn.Server(uvicorn.Config(app, **config)).run(sockets=[listening])


def check_host(host: str) -> None:
    """Refuse any address but this computer's own.

    Raises
    ------
    OptionError
        Another address.
    """
    if host not in LOOPBACK:
        raise OptionError(
            f"--host {host} would show studies to other computers; allowed without accounts: "
            f"{', '.join(LOOPBACK)}. Accounts are not in this version; serve on this computer only."
        )


def own_store() -> Path:
    """Return where studies are kept when ``--store`` is not given."""
    root = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return Path(root) / "arteriole" / "arteriole.db"


def session_secret(folder: Path, *, fresh: bool) -> bytes:
    """Return the secret that signs sessions, kept beside the store for its owner alone."""
    file = folder / "session.key"
    if not fresh and file.exists() and file.stat().st_size >= 32:
        return file.read_bytes()
    secret = secrets.token_bytes(32)
    file.unlink(missing_ok=True)
    with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        out.write(secret)
    return secret


def _bound(host: str, port: int) -> socket.socket:
    one = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        one.bind((host, port))
    except (OSError, OverflowError) as fault:
        one.close()
        said = getattr(fault, "strerror", None) or str(fault)
        raise OptionError(
            f"--port {port} cannot be used on {host} ({said}); a free port from 1024 to 65535 is "
            f"needed. Choose another with --port, or --port 0 for any free one."
        ) from None
    return one
