"""One database, SQLite or PostgreSQL: connections, transactions, and its errors in our words.

Writers take turns.  SQLite has room for one writer anyway (``BEGIN IMMEDIATE``); on PostgreSQL an advisory lock does
the same, so that neither deadlock nor failed serialization can come from us, and both databases behave alike.  A shop
writes a few rows a minute.  What still fails for a passing reason is tried again.
"""

from __future__ import annotations

import random
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path
from threading import Lock
from typing import Any, TypeVar

from sqlalchemy import URL, Connection, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from heldtrue.errors import InputError
from heldtrue.records.errors import RecordsError

Result = TypeVar("Result")
PATIENCE_S = 30.0
"""How long a writer waits for its turn before it gives up. [s]"""
FILE_NAME = "records.db"
_KEEP = "SELECT set_config('synchronous_commit', 'on', true) WHERE current_setting('synchronous_commit') = 'off'"
"""A server may be set to acknowledge what is not on disk yet; ours must be."""
LOCK_KEY = 0x68656C64
"""Advisory lock of the one writer; any number, the same in every heldtrue."""
_BUSY = "another program is writing and does not come to an end; nothing was changed, try again"
_LOST = ("08", "57P01", "57P02", "57P03")
_AGAIN = ("40001", "40P01", "55P03", "53300", *_LOST)


class Database:
    """Connections to one database. Threads may share it; processes may not.

    ``where``: a folder, for SQLite, or a ``postgresql://`` URL; ``read_only``: nothing is ever written.
    """

    def __init__(self, where: str | Path, *, read_only: bool = False, patience: float = PATIENCE_S) -> None:
        self.patience, self.read_only = patience, read_only
        self.where = str(where) if is_url(where) else str(Path(where).absolute())
        self._turn, self._reached = Lock(), False
        self.file: Path | None = None
        if is_url(where):
            self.url = _postgres_url(str(where))
            options: dict[str, Any] = {"connect_args": {"connect_timeout": 10}}
        else:
            self.file = Path(where).absolute() / FILE_NAME
            self.url = URL.create("sqlite", database=_uri(self.file, read_only), query={"uri": "true"})
            options = {"connect_args": {"timeout": patience, "check_same_thread": False}}
        try:
            self.engine = create_engine(self.url, pool_size=8, max_overflow=56, pool_timeout=patience, **options)
        except ModuleNotFoundError as error:
            raise RecordsError("PostgreSQL needs one more package: pip install 'heldtrue[postgres]'") from error
        if self.file:
            event.listen(self.engine, "connect", _prepare_sqlite)
            event.listen(self.engine, "begin", _begin_sqlite)

    @property
    def is_sqlite(self) -> bool:
        """Is it the file of one folder?"""
        return self.file is not None

    @property
    def name(self) -> str:
        """What to call it in a message; no password."""
        return str(self.file.parent) if self.file else self.url.render_as_string(hide_password=True)

    def read(self, work: Callable[[Connection], Result]) -> Result:
        """Do ``work`` on one consistent picture of the database.

        Raises: ``RecordsError``.
        """
        return self._until_done(lambda: self._in_transaction(work, write=False))

    def write(self, work: Callable[[Connection], Result], *, once: bool = False) -> Result:
        """Do ``work`` in one transaction, alone: all of it is written, on disk, or none.

        It may be done more than once, where a connection was lost for one; not where it must be done ``once``.
        Raises: ``RecordsError``; whatever ``work`` raises passes, and nothing is written.
        """
        if self.read_only:
            raise RecordsError(f"{self.name} was opened for reading alone: nothing can be written")

        def in_turn() -> Result:
            with self._turn:  # threads of this program queue here, which is fairer than polling the file
                return self._in_transaction(work, write=True)

        return self._until_done(in_turn, once=once)

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()

    def _in_transaction(self, work: Callable[[Connection], Result], *, write: bool) -> Result:
        options: dict[str, Any] = {"heldtrue_write": write}
        if not write and not self.is_sqlite:
            options |= {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        with self.engine.connect() as connection:
            connection = connection.execution_options(**options)
            with connection.begin():
                if write and not self.is_sqlite:
                    connection.exec_driver_sql(_KEEP)
                    connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{self.patience:.0f}s'")
                    connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({LOCK_KEY})")
                return work(connection)

    def _until_done(self, attempt: Callable[[], Result], *, once: bool = False) -> Result:
        give_up, pause = time.monotonic() + self.patience, 0.01
        while True:
            try:
                result = attempt()
            except (DBAPIError, PoolTimeout) as error:
                hopeless = once or not (passing(error) or (self._reached and unreached(error)))
                if hopeless or time.monotonic() + pause > give_up:
                    raise translated(error, self.name) from error
            else:
                self._reached = True
                return result
            time.sleep(pause * random.uniform(0.5, 1.0))
            pause = min(2 * pause, 1.0)


def is_url(where: str | Path) -> bool:
    """Is it the address of a server, not a folder?"""
    return "://" in str(where)


def passing(error: Exception) -> bool:
    """May the same work succeed a moment later?"""
    cause = getattr(error, "orig", None)
    if isinstance(cause, sqlite3.Error):
        return _sqlite_name(cause).startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))
    state = getattr(cause, "sqlstate", None)
    if state is None:  # a connection that broke has no state
        return bool(getattr(error, "connection_invalidated", False))
    return str(state).startswith(_AGAIN)


def unreached(error: Exception) -> bool:
    """Did the server not answer? Worth waiting for if it did before: it is being started again."""
    cause = getattr(error, "orig", None)
    return isinstance(error, OperationalError) and getattr(cause, "sqlstate", "") is None


def translated(error: Exception, name: str) -> RecordsError:
    """The database's error in our words. Whatever the cause, the transaction was rolled back."""
    cause = getattr(error, "orig", None) or error
    if isinstance(cause, sqlite3.Error):
        words = _sqlite_words(_sqlite_name(cause), str(cause))
    else:
        words = _postgres_words(str(getattr(cause, "sqlstate", None) or ""), str(cause).strip())
    return RecordsError(f"records in {name}: {words}")


def sqlite_error(error: sqlite3.Error, name: str) -> RecordsError:
    """An error of the SQLite driver itself in our words."""
    return RecordsError(f"records in {name}: {_sqlite_words(_sqlite_name(error), str(error))}")


def _sqlite_words(code: str, text: str) -> str:
    if code.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return _BUSY
    if code.startswith("SQLITE_FULL"):
        return "the disk is full: nothing was changed; make room and try again"
    if code.startswith(("SQLITE_READONLY", "SQLITE_PERM", "SQLITE_AUTH")):
        return "the folder or its file may not be written: nothing was changed; ask for the right to write there"
    if code.startswith("SQLITE_CANTOPEN"):
        return "the file cannot be opened: the folder does not exist, or may not be written"
    if code.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
        return "the file is damaged or not a records file; keep it as it is and restore a back-up"
    if code in ("SQLITE_IOERR_FSYNC", "SQLITE_IOERR_DIR_FSYNC"):
        # what was written may be read again after a restart, though the disk never said that it has it
        return "the disk does not say that it kept the entry: look whether it is there before you enter it again"
    if code.startswith("SQLITE_IOERR"):
        return f"the disk does not take or give the data ({text}): nothing was changed; is it full?"
    if code.startswith("SQLITE_CONSTRAINT"):
        return f"the rows do not fit together ({text}): nothing was changed"
    return f"{text}: nothing was changed"


def _postgres_words(state: str, text: str) -> str:
    if state.startswith(_LOST) or not state:
        return f"the server cannot be reached: {text.splitlines()[0] if text else 'no reason given'}"
    if state.startswith(("53100", "58030")):
        return "the server's disk is full: nothing was changed; make room and try again"
    if state.startswith("25006"):
        return "the server takes no writing now: nothing was changed"
    if state.startswith("55P03"):
        return _BUSY
    if state.startswith("42501"):
        return f"this user may not do that on the server ({text.splitlines()[0]}): nothing was changed"
    if state.startswith("28"):
        return f"the server does not let this user in: {text.splitlines()[0]}"
    return f"{text.splitlines()[0] if text else state}: nothing was changed"


def _sqlite_name(error: sqlite3.Error) -> str:
    return getattr(error, "sqlite_errorname", None) or ""


def _uri(file: Path, read_only: bool) -> str:
    return f"{file.as_uri()}?mode={'ro' if read_only else 'rwc'}"


def _postgres_url(where: str) -> URL:
    try:
        url = make_url(where)
    except ArgumentError as error:
        raise InputError("the address of the records must look like postgresql://user@host/name") from error
    if url.drivername.split("+")[0] not in ("postgresql", "postgres"):
        raise InputError(f"records live in a folder or on PostgreSQL (postgresql://...), not on {url.drivername}")
    return url.set(drivername="postgresql+psycopg")


def _prepare_sqlite(connection: Any, _: Any) -> None:
    connection.isolation_level = None  # the driver would begin transactions on its own, and too late
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")  # NORMAL loses the last transactions when the power goes
    connection.execute("PRAGMA fullfsync = ON")  # where a plain sync stops at the drive's own memory
    connection.execute("PRAGMA cache_size = -65536")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("heldtrue_write")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
