"""Back-up, restore, and moving the records from one database to another."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

from heldtrue.errors import InputError
from heldtrue.files import copy_synced, make_folder, part_of, sweep, sync_folder
from heldtrue.records.database import FILE_NAME, is_url
from heldtrue.records.errors import RecordsError
from heldtrue.records.plain_files import MANIFEST, export_to, import_from
from heldtrue.records.schema import BACKUPS, copy_file, stamped
from heldtrue.records.sql_store import SqlStore
from heldtrue.records.store import Row, Store, open_store


def backup(store: Store, folder: str | Path) -> Path:
    """Copy everything, of one moment, into ``folder`` under a new name with the date; gives that name.

    Of SQLite a database file, checked; of a server an export as JSON lines.  Others may write meanwhile.
    Raises: ``RecordsError``.
    """
    folder = Path(folder)
    if isinstance(store, SqlStore) and store.database.file:
        target = stamped(folder, "records")
        copy_file(store.database.file, target)
        return target
    return export_to(store, stamped(folder, "records", ""))


def restore(copy: str | Path, where: str | Path, *, replace: bool = False) -> Path | None:
    """Bring the records of a back-up (or an export) back to a folder or an empty database.

    ``replace``: for a folder that holds records: they are set aside under a new name, which is given back, never
    deleted; nobody else may have them open.  The copy is checked before anything is touched.
    Raises: ``InputError`` where there are records and ``replace`` is not said, or the copy is none; ``RecordsError``.
    """
    copy = Path(copy)
    if not copy.exists():
        raise InputError(f"there is no back-up {copy}")
    if is_url(where):
        _restore_to_server(copy, str(where))
        return None
    folder = Path(where)
    file = folder / FILE_NAME
    if file.exists() and not replace:
        raise InputError(f"{folder} holds records: restore into another folder, or say that they are to be replaced")
    ready, aside = part_of(folder / "restored"), None
    try:
        make_folder(folder)
        sweep(folder)
        ready.mkdir()
        if (copy / MANIFEST).exists():
            with open_store(ready) as store:
                import_from(store, copy)
        else:
            copy_file(copy, ready / FILE_NAME)
        _must_be_sound(ready, copy)
        _to_one_file(ready)
        aside = _set_aside(folder) if file.exists() else None
        for end in ("-wal", "-shm"):  # of a damaged file; a sound one has none by now
            file.with_name(file.name + end).unlink(missing_ok=True)
        (ready / FILE_NAME).replace(file)
        sync_folder(folder)
    except OSError as error:
        kept = f"; what was there is in {aside}" if aside else ""
        raise RecordsError(f"cannot restore to {folder}: {(error.strerror or str(error)).lower()}{kept}") from error
    finally:
        shutil.rmtree(ready, ignore_errors=True)
    return aside


def copy_store(source: str | Path, target: str | Path) -> int:
    """Copy everything from one place to another that is empty, SQLite or PostgreSQL; gives the number of rows.

    Of one moment of the source; the target has all of it or nothing.
    Raises: ``InputError`` where the target is not empty; ``RecordsError``.
    """
    with open_store(source, create=False) as from_, open_store(target) as to:
        counted = _Counted()
        from_.read_rows(lambda rows: to.load_rows(counted.through(rows)))
    return counted.count


class _Counted:
    """Counts the rows that pass."""

    count = 0

    def through(self, rows: Iterable[tuple[str, Row]]) -> Iterator[tuple[str, Row]]:
        for self.count, row in enumerate(rows, start=1):
            yield row


def _restore_to_server(copy: Path, url: str) -> None:
    with open_store(url) as store:
        if (copy / MANIFEST).exists():
            import_from(store, copy)
            return
        with TemporaryDirectory() as folder:
            copy_file(copy, Path(folder) / FILE_NAME)
            _must_be_sound(Path(folder), copy)
            with open_store(folder, create=False) as kept:
                kept.read_rows(store.load_rows)


def _must_be_sound(folder: Path, copy: Path) -> None:
    with open_store(folder, create=False) as store:
        wrong = store.check()
    if wrong:
        raise InputError(f"{copy} is not sound, nothing was changed:", *(f"{one.where}: {one.words}" for one in wrong))


def _to_one_file(folder: Path) -> None:
    """Bring what stands in the log beside a database into its file: the file alone is moved."""
    try:
        with closing(sqlite3.connect(folder / FILE_NAME, timeout=1.0)) as connection:
            connection.execute("PRAGMA fullfsync = ON")
            answer = connection.execute("PRAGMA journal_mode = DELETE").fetchone()
    except sqlite3.Error as error:
        raise RecordsError(f"cannot restore: {error}; nothing was changed") from error
    if answer != ("delete",):
        raise RecordsError("cannot restore: the copy could not be made one file; nothing was changed")


def _set_aside(folder: Path) -> Path:
    """Keep what is there under a new name; refused while somebody has it open, who would write on into nothing."""
    file, aside = folder / FILE_NAME, stamped(folder / BACKUPS, "before-restore")
    try:
        with closing(sqlite3.connect(file, timeout=1.0)) as connection:
            if connection.execute("PRAGMA journal_mode = DELETE").fetchone() != ("delete",):
                raise RecordsError(f"somebody has the records in {folder} open: close every heldtrue and try again")
    except sqlite3.OperationalError as error:
        raise RecordsError(f"somebody has the records in {folder} open: close every heldtrue and try again") from error
    except sqlite3.DatabaseError:  # damaged, which may be why it is replaced: keep it as it is
        pass
    make_folder(aside.parent)
    for end in ("-wal", "-shm", ""):
        part = file.with_name(file.name + end)
        if part.exists():
            copy_synced(part, aside.with_name(aside.name + end))
    return aside
