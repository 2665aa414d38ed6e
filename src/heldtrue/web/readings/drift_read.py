"""Measured parts in a row, understood: the series, their limits as typed, and what they say."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.errors import InputError
from heldtrue.inspection import read_drift, read_measurements
from heldtrue.inspection.drift import Drift
from heldtrue.inspection.table import read_table
from heldtrue.quantities import UnitSystem, bare_unit, parse_quantity
from heldtrue.web import texts
from heldtrue.web.chucks.page import with_unit
from heldtrue.web.fields import Table

LARGEST = 1_000_000
"""Bytes of a table of parts."""


@dataclass(frozen=True)
class Parts:
    """``units``: of each characteristic by its name, in which a bare limit is; ``found``: what each says; ``wrong``:
    what is wrong with a limit, by name and end, in which case nothing is found."""

    units: dict[str, str]
    found: tuple[Drift, ...]
    wrong: dict[tuple[str, int], str]


def blank(units: UnitSystem) -> Table:
    """Nothing typed yet."""
    return {"units": units, "text": "", "file": "", "limits": []}


def read_parts(table: Table) -> Parts:
    """Read the table of parts. Raises: ``InputError`` with row and column."""
    text = str(table["text"])
    if len(text.encode()) > LARGEST:
        raise InputError(texts.PARTS_TOO_LARGE)
    units: UnitSystem = table["units"]
    heads = {one.name: one.unit for one in read_table(text, ("size",)).columns}
    names = {one.name: heads[one.name] or bare_unit("length", units) for one in read_measurements(text, units)}
    limits: dict[str, tuple[float | None, float | None]] = {}
    wrong: dict[tuple[str, int], str] = {}
    for name, *ends in table["limits"]:
        if name in names:
            low, high = (_limit(text, names[name], (name, at), wrong) for at, text in enumerate(ends))
            limits[name] = (low, high)
    if wrong:
        return Parts(names, (), wrong)
    return Parts(names, read_drift(read_measurements(text, units, limits)), {})


def _limit(text: str, unit: str, key: tuple[str, int], wrong: dict[tuple[str, int], str]) -> float | None:
    if not text.strip():
        return None
    try:
        return parse_quantity(with_unit(text, unit), "length")
    except InputError as error:
        wrong[key] = str(error)
        return None
