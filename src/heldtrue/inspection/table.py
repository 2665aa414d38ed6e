"""A table of figures as people type or export it: any separator, decimal comma, units in the header.

A cell is blamed by its row in the file and the header of its column.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import InputError
from heldtrue.quantities import describe, to_core

Array: TypeAlias = NDArray[np.float64]

MOST_SHOWN = 5
"""Wrong cells named before the rest is only counted."""
_HEADER = re.compile(
    r"(?P<name>.+?)[\s_]*(?:[\[(]\s*(?P<bracket>[^\])]*?)\s*[\])]|[\s_](?P<unit>mm|um|µm|μm|thou|mil|in|inch|deg|°|rad|bar|psi|mpa))?\s*"
)


@dataclass(frozen=True)
class Column:
    """One column: its ``header`` as typed, its ``name`` without the unit, in small letters, and the ``unit``, or ''."""

    header: str
    name: str
    unit: str


@dataclass(frozen=True)
class Table:
    """Cells as text, by column; ``rows``: the number of each row in the file, from 1."""

    columns: tuple[Column, ...]
    cells: tuple[tuple[str, ...], ...]
    rows: tuple[int, ...]

    def find(self, names: Sequence[str]) -> int | None:
        """Place of the first column with one of these names."""
        return next((i for i, c in enumerate(self.columns) if c.name in names), None)


def read_table(text: str, headless: Sequence[str]) -> Table:
    """The table in ``text``.

    Separated by tabs, semicolons, commas or spaces, whichever comes first in that order in the first line; ``headless``
    names the columns when the first line is figures.  Blank lines and lines that begin with # are passed over.
    Raises: ``InputError`` where there is nothing, or a row has another number of cells than the header.
    """
    lines = text.removeprefix("\ufeff").splitlines()
    kept = [i for i, one in enumerate(lines) if one and not one.isspace() and one.lstrip()[0] != "#"]
    if not kept:
        raise InputError("found no readings; expected a header such as angle_deg,reading_mm and one row for each")
    first = lines[kept[0]]
    mark = next((m for m in "\t;," if m in first), " ")
    if mark == "," and len(headless) == 1 and _plain(first, " "):
        mark = " "  # one column of decimal commas and no header
    parted = _parted(lines, kept, mark)
    try:
        top = next(parted)
    except csv.Error as error:
        raise InputError(f"row {kept[0] + 1}: cannot be taken apart: {error}") from error
    has_header = not all(_plain(cell, mark) for cell in top)
    header = top if has_header else list(headless[: len(top)])
    if len(top) > len(header):
        raise InputError(f"row {kept[0] + 1}: found {len(top)} figures and no header; expected at most {len(header)}")
    rows = kept[1:] if has_header else kept
    if not rows:
        raise InputError("found a header and no rows under it")
    # One flat list and no list for each row: a million small lists cost more than reading them.
    flat = [*([] if has_header else top), *_flat(parted, kept, len(header), mark)]
    if len(flat) != len(rows) * len(header):  # a quoted cell that runs over lines would put every row number wrong
        row = next((i for i in kept if lines[i].count('"') % 2), kept[-1]) + 1
        raise InputError(f"row {row}: a quotation mark is opened and not closed")
    columns = tuple(column(one) for one in header)
    return Table(columns, tuple(tuple(flat[i :: len(header)]) for i in range(len(header))), tuple(i + 1 for i in rows))


def text_of(raw: bytes, name: str) -> str:
    """A text file as people save it: UTF-8, UTF-16 with its mark, or the usual western letters.

    Raises: ``InputError`` where it is no text; ``name``: of the file.
    """
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    if b"\0" in raw[:4096]:
        raise InputError(f"cannot read {name}: it is no text; save the table as CSV")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def _parted(lines: list[str], kept: list[int], mark: str) -> Iterator[list[str]]:
    """Every kept line as cells."""
    some = (lines[i] for i in kept)
    if mark == " " and len(lines[kept[0]].split()) > 1:
        return (one.split() for one in some)
    return csv.reader(some, delimiter=mark)


def _flat(parted: Iterator[list[str]], kept: list[int], width: int, mark: str) -> Iterator[str]:
    """Every cell below the first line, row after row."""
    count = 1
    try:
        for cells in parted:
            if len(cells) != width:
                break
            count += 1
            yield from cells
        else:
            return
    except csv.Error as error:
        raise InputError(f"row {kept[count] + 1}: cannot be taken apart: {error}") from error
    hint = "; with decimal commas separate the columns by semicolons or tabs" if mark == "," else ""
    raise InputError(f"row {kept[count] + 1}: found {len(cells)} cells, the first row has {width}{hint}")


def column(header: str) -> Column:
    """Name and unit of a header such as ``reading_um``, ``Reading [thou]`` or ``angle (deg)``."""
    match = _HEADER.fullmatch(header.strip().casefold())
    if match is None:  # the pattern takes any text; for the type checker
        return Column(header.strip(), header.strip().casefold(), "")
    unit = match["bracket"] or match["unit"] or ""
    return Column(header.strip(), match["name"].strip().replace(" ", "_"), unit)


def numbers(table: Table, place: int) -> Array:
    """A column as numbers, as typed.

    Raises: ``InputError`` with one sentence for each of the first wrong cells.
    """
    cells = table.cells[place]
    try:
        found = np.array(cells, dtype=float)
    except ValueError:
        try:  # decimal commas all at once, for long files
            found = np.array("\n".join(cells).replace(",", ".").split("\n"), dtype=float)
        except ValueError:
            found = np.array([_number(cell) for cell in cells])
    wrong = np.flatnonzero(~np.isfinite(found))
    if wrong.size:
        header = table.columns[place].header
        problems = [
            f'row {table.rows[i]}, column "{header}": found {describe(cells[i])}; expected a number'
            for i in wrong[:MOST_SHOWN]
        ]
        if wrong.size > MOST_SHOWN:
            problems.append(f"and {wrong.size - MOST_SHOWN} more cells like that")
        raise InputError(*problems)
    return found


def in_core(table: Table, place: int, kind: str, bare: str) -> Array:
    """A column as numbers in the core unit of ``kind``; ``bare``: the unit where the header names none.

    Raises: ``InputError`` for a wrong cell or a unit that is not of this kind.
    """
    one = table.columns[place]
    try:
        factor = to_core(1.0, kind, one.unit or bare)
    except InputError as error:
        raise InputError(f'column "{one.header}": {error}') from error
    return numbers(table, place) * factor


def _number(cell: str) -> float:
    """What a cell says, NaN where it says no number; a comma is a decimal comma, and a typed minus is a minus."""
    try:
        return float(cell.strip().replace(",", ".").replace("−", "-"))
    except ValueError:
        return float("nan")


def _plain(cell: str, mark: str) -> bool:
    return bool(np.isfinite(_number(cell))) or (mark == " " and not cell)
