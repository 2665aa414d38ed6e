"""The schema's version: checked on opening, brought up by the migrations after a back-up copy."""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, inspect, text

from heldtrue.files import make_folder, part_of, sweep, sync_folder
from heldtrue.records.database import Database, sqlite_error
from heldtrue.records.errors import DamagedError, RecordsError, StoreVersionError
from heldtrue.records.migrations.guards import unguarded
from heldtrue.records.seals import SINCE, newest_broken, seal_everything

MIGRATIONS = Path(__file__).parent / "migrations"
BACKUPS = "backups"
SMALL_FILE = 2_000_000
"""Up to this size a file is looked through when it is opened: some milliseconds. [bytes]"""
UPGRADE_ADVICE = "back the server up, then run heldtrue upgrade once"


def newest() -> str:
    """The schema this program writes: the last of its migrations, which are numbered."""
    return max(path.stem.split("_")[0] for path in (MIGRATIONS / "versions").glob("[0-9]*.py"))


def found(connection: Connection) -> str | None:
    """The schema a database has; None for one that is empty."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


def make_ready(database: Database, *, upgrade: bool | None, create: bool) -> None:
    """Bring a database to this program's schema, or refuse.

    ``upgrade``: None does it where the file can be copied first.
    Raises: ``StoreVersionError``; ``RecordsError`` where nothing is there and ``create`` is False.
    """
    if database.file and not database.file.exists():
        if not create or database.read_only:
            raise RecordsError(f"there are no records in {database.file.parent}")
        _make_folder(database.file.parent)
    if database.file and not database.read_only:
        _to_wal(database)
    at, wanted = database.read(found), newest()
    if at == wanted:
        _look_quickly(database)
        return
    if at is not None and at > wanted:
        raise StoreVersionError(
            f"the records in {database.name} have schema {at}, this program knows up to {wanted}: "
            "a newer heldtrue wrote them; use that one"
        )
    if at is None and not create:
        raise RecordsError(f"there are no records in {database.name}")
    if database.read_only or (at is not None and not (database.is_sqlite if upgrade is None else upgrade)):
        raise StoreVersionError(
            f"the records in {database.name} have schema {at}, this program needs {wanted}: {UPGRADE_ADVICE}"
        )
    if at is not None and database.file:
        copy_file(database.file, _copy_name(database.file.parent, at))
    database.write(lambda connection: migrate(connection, wanted))


def _look_quickly(database: Database) -> None:
    """What opening costs next to nothing to see: a small file as a whole, else its newest actions; rows when read.

    Not seen: damage in older rows that nobody reads, and in indexes of a large file; that takes the full check.
    Raises: ``DamagedError``.
    """

    def work(connection: Connection) -> None:
        if database.file and database.file.stat().st_size <= SMALL_FILE:
            answer = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
            if answer != "ok":
                raise DamagedError(f"records in {database.name}: {answer}")
        action = newest_broken(connection)
        if action:
            raise DamagedError(f"records in {database.name}: action {action} is not as it was written")

    database.read(work)


def migrate(connection: Connection, to: str) -> None:
    """Run the migrations that are missing up to ``to``, in the transaction of ``connection``."""
    from alembic import command
    from alembic.config import Config

    at = found(connection)  # another program may have done it while this one waited for its turn
    if at is not None and at >= to:
        return
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)
    if at is not None and at < SINCE <= to == newest():
        with unguarded(connection):
            seal_everything(connection)


def copy_file(source: Path, target: Path) -> None:
    """Copy a SQLite file as it is at one moment, whoever writes to it meanwhile; whole and on disk, or not at all.

    Raises: ``RecordsError``.
    """
    part = part_of(target)
    try:
        make_folder(target.parent)
        sweep(target.parent)
        with (
            closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as from_,
            closing(sqlite3.connect(part)) as to,
        ):
            to.execute("PRAGMA fullfsync = ON")
            from_.backup(to)
            to.execute("PRAGMA journal_mode = DELETE")  # one file, nothing beside it
            (answer,) = to.execute("PRAGMA integrity_check").fetchone()
        if answer != "ok":
            raise RecordsError(f"{source} is damaged, its copy is not kept: {answer}")
        part.replace(target)
        _stays(target)
    except (OSError, sqlite3.Error) as error:
        raise RecordsError(f"cannot copy {source} to {target}: {error}; nothing was changed") from error
    finally:
        for end in ("", "-journal", "-wal", "-shm"):
            with suppress(OSError):
                part.with_name(part.name + end).unlink(missing_ok=True)


def _stays(target: Path) -> None:
    """Make the new name stay, or take it away again: a copy is not promised that a power cut may take."""
    try:
        sync_folder(target.parent)
    except OSError:
        with suppress(OSError):
            target.unlink(missing_ok=True)
        raise


def stamped(folder: Path, stem: str, suffix: str = ".db") -> Path:
    """A name with the date that no file of the folder has."""
    made = f"{stem}-{datetime.now(UTC):%Y%m%d-%H%M%S-%f}"
    return folder / f"{made}{suffix}"


def _copy_name(folder: Path, at: str) -> Path:
    return stamped(folder / BACKUPS, f"before-upgrade-from-{at}")


def _make_folder(folder: Path) -> None:
    try:
        make_folder(folder)
    except OSError as error:
        raise RecordsError(f"cannot make the folder {folder}: {(error.strerror or str(error)).lower()}") from error


def _to_wal(database: Database) -> None:
    """Readers do not wait for the writer, nor the writer for them; kept in the file once it is set."""
    connection = None
    try:
        connection = sqlite3.connect(str(database.file), timeout=database.patience)
        if connection.execute("PRAGMA journal_mode").fetchone() != ("wal",):
            connection.execute("PRAGMA journal_mode = WAL")
    except sqlite3.Error as error:
        raise sqlite_error(error, database.name) from error
    finally:
        if connection is not None:
            connection.close()
