"""One writer at a time in a folder: the others wait, and what was killed holds nothing.

The lock is SQLite's own on an empty file, as of the records: the system takes it back when its holder ends.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from heldtrue.errors import InputError

LOCK = ".heldtrue-lock"
PATIENCE_S = 30.0
"""How long a writer waits for the one before it: a whole set is written in well under a second."""
_BETWEEN_S = 0.05


@contextmanager
def alone_in(folder: Path, patience: float | None = None) -> Iterator[None]:
    """Hold a folder that is there; ``patience``: how long to wait for it [s].

    The empty file it is held by stays: taken away, it could be held by one and made anew by another.
    Raises: ``InputError`` where another keeps it for longer.
    """
    until = time.monotonic() + (PATIENCE_S if patience is None else patience)
    try:
        with closing(sqlite3.connect(folder / LOCK, timeout=0.0, isolation_level=None)) as mine:
            while not _takes(mine):
                if time.monotonic() > until:
                    raise InputError(f"{folder}: another run is writing there; try again when it is done, nothing was "
                                     "written")  # fmt: skip
                time.sleep(_BETWEEN_S)
            yield
    except sqlite3.OperationalError as error:
        raise InputError(f"cannot write {folder}: {error}") from error


def _takes(connection: sqlite3.Connection) -> bool:
    try:
        connection.execute("PRAGMA journal_mode = OFF")  # nothing is ever written: no second file beside it
        connection.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as error:
        if error.sqlite_errorname.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
            return False
        raise
    return True
