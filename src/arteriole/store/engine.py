"""Open an engine with the settings the ledger relies on, and bring its tables up to date."""

from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from arteriole.errors import OptionError

#: WAL lets readers go on while one writes; recursive_triggers stops INSERT OR REPLACE from
#: slipping past the delete trigger; FULL because the ledger is an audit trail (decision 0070).
PRAGMAS = (
    "journal_mode=WAL", "foreign_keys=ON", "busy_timeout=5000", "recursive_triggers=ON",
    "synchronous=FULL",
)  # fmt: skip
MIGRATIONS = Path(__file__).parent / "migrations"


def sqlite_url(given: str) -> URL:
    """Return the URL of a SQLite file; a plain path is taken as one.

    Raises
    ------
    OptionError
        Another database, an address that cannot be read, or SQLite without a file.
    """
    try:
        url = make_url(given if "://" in given else f"sqlite:///{given}")
    except ArgumentError:
        raise OptionError(
            f"Store address {given!r} cannot be read; allowed: a file path or sqlite:///PATH. "
            "Correct --store."
        ) from None
    if url.get_backend_name() != "sqlite":
        raise OptionError(
            f"Store address {given!r} names {url.get_backend_name()}; this version keeps studies "
            "in SQLite only. Give a file path or sqlite:///PATH."
        )
    if not url.database or url.database == ":memory:":
        raise OptionError(
            f"Store address {given!r} names no file; a file is needed, recordings lie beside it. "
            "Give a file path."
        )
    return url


def open_engine(url: URL) -> Engine:
    """Return an engine whose every writing transaction starts with BEGIN IMMEDIATE.

    With the execution option ``reads=True`` a transaction takes no write lock. A deferred BEGIN
    fails at once with "database is locked" when two writers meet; the driver is therefore put
    into autocommit and the transaction is begun by hand.
    """
    engine = create_engine(url)

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _: Any) -> None:
        connection.isolation_level = None
        for pragma in PRAGMAS:
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        reads = connection.get_execution_options().get("reads", False)
        connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")

    return engine


def migrate(engine: Engine, revision: str = "head") -> None:
    """Bring the tables to ``revision``; ``base`` takes them all away."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with engine.connect() as connection:
        config.attributes["connection"] = connection
        if revision == "base":
            command.downgrade(config, revision)
        else:
            command.upgrade(config, revision)
