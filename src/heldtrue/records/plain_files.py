"""Everything as plain files, and back: records that open in ten years, with any program.

An export is a folder.  ``manifest.json`` says ``format``, ``form`` (``jsonl`` or ``csv``), ``schema`` and, under
``rows``, how many rows each table has.  Each table is one file, ``<table>.jsonl`` or ``<table>.csv``, UTF-8, a line
end after every row, rows by their key.  Columns are those of ``tables``, cards and history alike, in core units: mm,
N, MPa, rad, rev/min; ``dictionary.csv`` names each with its unit and meaning, and is not read back.  A time is ISO 8601
in UTC, bytes are base64, a document is JSON.

JSON lines: one object a row; what is not known is null.
CSV: a first line with the columns; commas, quotes doubled; not known is an empty cell, yes and no are ``true`` and
``false``.  A text that a spreadsheet would take for a formula (it begins with ``=``, ``+``, ``-``, ``@``, a tab or a
line end) is written with ``'`` before it, as is one that begins with ``'`` or is empty in a column that may be
unknown; reading takes that away again, and refuses a formula without it.
"""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import IO, Any, Literal

from sqlalchemy import Column, Table

from heldtrue.errors import InputError
from heldtrue.files import make_folder, part_of, sweep, sync, sync_folder
from heldtrue.records.bulk import Row, checked, kept_tables, references_of
from heldtrue.records.cells import cell_of, parsed_cell, parsed_json, plain_json
from heldtrue.records.columns import to_text
from heldtrue.records.dictionary import DICTIONARY
from heldtrue.records.dictionary import rows as dictionary_rows
from heldtrue.records.errors import RecordsError, StoreVersionError
from heldtrue.records.schema import newest
from heldtrue.records.seals import SEAL, SINCE, seal_of
from heldtrue.records.store import Store

Form = Literal["jsonl", "csv"]
FORMAT = 1
MANIFEST = "manifest.json"
_LARGEST_CELL = 32 * 1024 * 1024


def export_to(store: Store, folder: str | Path, form: Form = "jsonl") -> Path:
    """Write everything into a new folder, of one moment, whoever writes meanwhile; whole or not at all.

    Raises: ``InputError`` where the folder is there and holds something; ``RecordsError`` where it cannot be written.
    """
    folder = Path(folder)
    if form not in ("jsonl", "csv"):
        raise InputError(f"form {form!r} must be jsonl or csv")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError(f"{folder} is there already: an export needs a new folder")
    part = part_of(folder)
    try:
        make_folder(folder.parent)
        sweep(folder.parent)
        part.mkdir()
        store.read_rows(lambda rows: _write(part, rows, form))
        sync_folder(part)
        if folder.exists():
            folder.rmdir()
        part.rename(folder)
        try:
            sync_folder(folder.parent)
        except OSError:
            folder.rename(part)  # not promised, so not there
            raise
    except OSError as error:
        raise RecordsError(f"cannot export to {folder}: {(error.strerror or str(error)).lower()}") from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return folder


def import_from(store: Store, folder: str | Path) -> int:
    """Fill an empty store from an export; gives the number of rows. Nothing is written where one line is wrong.

    Raises: ``InputError`` that names file and line; ``StoreVersionError`` for an export of a newer program;
    ``RecordsError`` where the store cannot be written.
    """
    source = _Source(Path(folder))
    store.load_rows(source.rows())
    return source.count


def _write(folder: Path, rows: Iterable[tuple[str, Row]], form: Form) -> None:
    counts = {table.name: 0 for table in kept_tables()}
    tables = {table.name: table for table in kept_tables()}
    with ExitStack() as open_files:
        files: dict[str, IO[str]] = {}
        for name, table in tables.items():
            file: IO[str] = (folder / f"{name}.{form}").open("w", encoding="utf-8", newline="")
            files[name] = open_files.enter_context(file)
            if form == "csv":
                csv.writer(file, lineterminator="\n").writerow(table.c.keys())
        for name, row in rows:
            table = tables[name]
            if form == "csv":
                csv.writer(files[name], lineterminator="\n").writerow([cell_of(row[c.name], c) for c in table.columns])
            else:
                files[name].write(to_text({c.name: plain_json(row[c.name]) for c in table.columns}) + "\n")
            counts[name] += 1
        # Beside the tables, read by nobody but people: what their columns mean, and in which unit.
        file = (folder / DICTIONARY).open("w", encoding="utf-8", newline="")
        files[DICTIONARY] = open_files.enter_context(file)
        csv.writer(file, lineterminator="\n").writerows(dictionary_rows())
        for file in files.values():
            file.flush()
            sync(file.fileno())
    manifest = {"format": FORMAT, "form": form, "schema": newest(), "rows": counts}
    with (folder / MANIFEST).open("w", encoding="utf-8") as file:
        file.write(json.dumps(manifest, indent=2) + "\n")
        file.flush()
        sync(file.fileno())


class _Source:
    """An export being read: every row checked as it comes, with its file and line."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.count = folder, 0
        self.form, self.counts, schema = _manifest(folder / MANIFEST)
        self.has_seals = schema >= SINCE
        self.seen: dict[str, set[Any]] = {}

    def rows(self) -> Iterator[tuple[str, Row]]:
        for table in kept_tables():
            if table.name not in self.counts:  # a table that came to be later than the export
                continue
            path = self.folder / f"{table.name}.{self.form}"
            seen: set[Any] = set()
            self.seen[table.name] = seen
            later: list[tuple[str, str, Any]] = []
            line = 0
            for line, raw in self._lines(path, table):
                where = f"{path}, line {line}"
                row = _checked(table, raw, where)
                key = _key(table, row)
                if key in seen:
                    raise InputError(f"{where}: {key} is there twice")
                seen.add(key)
                later += self._missing(table, row, where)
                _must_be_as_exported(table, row, where)
                yield table.name, row
                self.count += 1
            if len(seen) != self.counts[table.name]:
                raise InputError(
                    f"{path}, line {line}: the file ends after {len(seen)} rows, the manifest counts "
                    f"{self.counts[table.name]}: it is not complete"
                )
            for where, name, id_ in later:
                if id_ not in seen:
                    raise InputError(f"{where}: {name} {id_!r} is not in {table.name}")

    def _missing(self, table: Table, row: Row, where: str) -> Iterator[tuple[str, str, Any]]:
        """References to rows that are not there; those within the table itself are given back, to be asked later."""
        for name, other in references_of(table):
            if row[name] is None or row[name] in self.seen.get(other, ()):
                continue
            if other != table.name:
                raise InputError(f"{where}: {name} {row[name]!r} is not in {other}")
            yield where, name, row[name]

    def _lines(self, path: Path, table: Table) -> Iterator[tuple[int, Row]]:
        try:
            with path.open("rb") as file:
                lines = _decoded(file, path)
                columns = [column for column in table.columns if self.has_seals or column.name != SEAL]
                read = _csv_rows if self.form == "csv" else _json_rows
                yield from read(lines, path, columns)
        except OSError as error:
            raise InputError(f"cannot read {path}: {(error.strerror or str(error)).lower()}") from error


def _manifest(path: Path) -> tuple[Form, dict[str, int], str]:
    try:
        found = json.loads(path.read_bytes().decode("utf-8"))
        form, schema, counts = found["form"], found["schema"], found["rows"]
        good = form in ("jsonl", "csv") and isinstance(schema, str) and all(type(n) is int for n in counts.values())
        at = found["format"]
    except OSError as error:
        raise InputError(f"{path.parent} is not an export: {path.name} cannot be read") from error
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        line = getattr(error, "lineno", 1)
        raise InputError(f"{path}, line {line}: this is not the manifest of an export") from error
    if not good or not isinstance(at, int):
        raise InputError(f"{path}, line 1: this is not the manifest of an export")
    if at != FORMAT or schema > newest():
        raise StoreVersionError(f"{path}: format {at}, schema {schema}: a newer heldtrue wrote it; use that one")
    missing = [table.name for table in kept_tables() if table.name not in counts]
    if missing and schema == newest():
        raise InputError(f"{path}, line 1: the rows of {', '.join(missing)} are not counted")
    return form, counts, schema


def _decoded(file: IO[bytes], path: Path) -> Iterator[str]:
    for number, raw in enumerate(file, start=1):
        try:
            line = raw.decode("utf-8-sig" if number == 1 else "utf-8")
        except UnicodeDecodeError as error:
            raise InputError(f"{path}, line {number}: byte {error.start + 1} is not UTF-8: save it as UTF-8") from error
        if "\0" in line:
            raise InputError(f"{path}, line {number}: it holds NUL characters: this is not a text in UTF-8")
        if not line.endswith("\n"):
            raise InputError(f"{path}, line {number}: the line is cut off: the file is not complete")
        yield line


def _json_rows(lines: Iterable[str], path: Path, columns: Sequence[Column[Any]]) -> Iterator[tuple[int, Row]]:
    names = [column.name for column in columns]
    for number, line in enumerate(lines, start=1):
        where = f"{path}, line {number}"
        try:
            found = json.loads(line, parse_constant=_no_number)
        except (ValueError, RecursionError) as error:
            raise InputError(f"{where}: this is not JSON: {error}") from error
        if not isinstance(found, dict) or set(found) != set(names):
            raise InputError(f"{where}: a row of {path.stem} has {', '.join(names)}")
        yield number, {c.name: parsed_json(found[c.name], c, f"{where}, {c.name}") for c in columns}


def _csv_rows(lines: Iterable[str], path: Path, columns: Sequence[Column[Any]]) -> Iterator[tuple[int, Row]]:
    csv.field_size_limit(_LARGEST_CELL)
    reader, names = csv.reader(lines, strict=True), [column.name for column in columns]
    number = 1
    try:
        head = next(reader, None)
        if head != names:
            raise InputError(f"{path}, line 1: the first line must be {','.join(names)}")
        number = reader.line_num + 1
        for cells in reader:
            where = f"{path}, line {number}"
            if len(cells) != len(columns):
                raise InputError(f"{where}: {len(cells)} cells, {len(columns)} columns")
            named = zip(columns, cells, strict=True)
            yield number, {c.name: parsed_cell(cell, c, f"{where}, {c.name}") for c, cell in named}
            number = reader.line_num + 1
    except csv.Error as error:
        raise InputError(f"{path}, line {number}: {error}") from error


def _checked(table: Table, row: Row, where: str) -> Row:
    try:
        return checked(table, row)
    except InputError as error:
        raise InputError(f"{where}: {error}") from error
    except (TypeError, ValueError, AttributeError) as error:
        raise InputError(f"{where}: this is not a row of {table.name}: {error}") from error


def _must_be_as_exported(table: Table, row: Row, where: str) -> None:
    if SEAL in row and row[SEAL] != seal_of(table, row):
        raise InputError(
            f"{where}: this row is not as it was exported; an export comes back as it went out, or not at all"
        )


def _key(table: Table, row: Row) -> Any:
    values = tuple(row[column.name] for column in table.primary_key.columns)
    return values[0] if len(values) == 1 else values


def _no_number(word: str) -> None:
    raise ValueError(f"{word} is not a number")
