"""Indicator readings as a setter takes them: from a file, or typed.

A reading counts up when the plunger is pushed in, as on a dial: metal towards the indicator.  Angles are from jaw 1,
in the direction in which the jaws are numbered.  Units inside: mm, rad.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import inf, pi, radians
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import InputError
from heldtrue.inspection.table import Table, in_core, read_table
from heldtrue.quantities import UnitSystem, describe, to_core

Array: TypeAlias = NDArray[np.float64]
Side: TypeAlias = Literal["outside", "inside", "face"]
State: TypeAlias = Literal["clamped", "free", "spindle", "not said"]

ANGLES, VALUES, PLACES = ("angle", "angles", "at", "deg"), ("reading", "readings", "indicator", "dial"), ("z", "plane")
STATES, TURNS, PRESSURES, CLAMPINGS = ("state",), ("turned", "part_turned"), ("pressure",), ("clamping",)
READERS = ("reader", "read_by")
_JAW = re.compile(r"jaw[\s_]*(\d+)", re.IGNORECASE)
_INCH_UNIT: dict[UnitSystem, str] = {"metric": "mm", "inch": "in"}


LARGEST_ANGLE, LARGEST_READING_MM, LARGEST_PLANE_MM = 10_000 * 2 * pi, 1e3, 1e5
"""No part is read further than that: what is larger is a slip, and its squares are no numbers any more."""


@dataclass(frozen=True)
class Trace:
    """Readings taken in one go, the part not moved in the jaws.

    ``angle`` from jaw 1 [rad], ``reading`` [mm], ``z`` place along the part [mm], one each a reading; ``side``: the
    surface read; ``state``: while clamped, after release, or on a test bar in the spindle; ``turned``: by how much
    the part was turned in the jaws against the first trace, the way the angles run [rad]; ``pressure`` it was clamped
    at [MPa], None where nobody said; ``reader``: who took each reading, empty where nobody said.
    """

    angle: Array
    reading: Array
    z: Array
    side: Side = "outside"
    state: State = "not said"
    turned: float = 0.0
    pressure: float | None = None
    reader: tuple[str, ...] = ()

    @property
    def deviation(self) -> Array:
        """Radial deviation, away from the axis positive; on a face towards the indicator. [mm]"""
        return -self.reading if self.side == "inside" else self.reading

    @property
    def planes(self) -> tuple[float, ...]:
        """The places along the part. [mm]"""
        return tuple(float(z) for z in np.unique(self.z))


def trace(
    angle: Array, reading: Array, z: Array | None = None, side: Side = "outside", state: State = "not said",
    turned: float = 0.0, pressure: float | None = None, reader: tuple[str, ...] = (),
) -> Trace:  # fmt: skip
    """A trace from arrays, checked.

    Raises: ``InputError`` for arrays that do not match, hold anything but finite numbers of a sane size, for fewer than
    6 readings, or a pressure that is not above 0.
    """
    angle, reading = np.asarray(angle, float), np.asarray(reading, float)
    z = np.zeros_like(angle) if z is None else np.asarray(z, float)
    if angle.ndim != 1 or angle.shape != reading.shape or angle.shape != z.shape:
        raise InputError(f"angles {angle.shape}, readings {reading.shape} and planes {z.shape} must be one row each")
    if angle.size < 6:
        raise InputError(f"found {angle.size} readings; at least 6 round the part are needed, 12 are better")
    for name, values, most, words in (
        ("angle", angle, LARGEST_ANGLE, "10000 turns"), ("reading", reading, LARGEST_READING_MM, "1000 mm"),
        ("plane", z, LARGEST_PLANE_MM, "100 m"),
    ):  # fmt: skip
        wrong = np.flatnonzero(~(np.abs(values) <= most))  # so that what is no number is wrong as well
        if wrong.size:
            row = int(wrong[0])
            raise InputError(f"reading {row + 1}: its {name} must be a finite number, no more than {words}; found "
                             f"{values[row]:g}")  # fmt: skip
    if side not in ("outside", "inside", "face"):
        raise InputError(f"side: found {describe(side)}; expected outside, inside or face")
    if pressure is not None and not 0.0 < pressure < inf:
        raise InputError(f"pressure: found {pressure:g} MPa; expected more than 0")
    return Trace(angle, reading, z, side, state, float(turned), pressure, reader)


def read_readings(text: str, units: UnitSystem = "metric", side: Side = "outside", jaws: int = 3) -> tuple[Trace, ...]:
    """Every trace in a CSV text.

    Columns in any order: ``angle`` (degrees; or ``jaw 1``, ``jaw 2`` in place of a number), ``reading``, and if there
    are any ``z``, ``state`` (clamped, free, or spindle for a test bar), ``turned`` (degrees) and ``pressure`` of the
    gauge (bar, or psi with inches), ``clamping`` (a number, or any word: what is clamped again is another),
    ``reader`` (who read); units in the header (``reading_um``, ``z [mm]``), else those of ``units``.  Rows are parted
    by clamping, state, turn and pressure.  Without a header: angle, reading, z.
    Raises: ``InputError`` with row and column.
    """
    table = read_table(text, ("angle", "reading", "z"))
    at, value = table.find(ANGLES), table.find(VALUES)
    if at is None or value is None:
        missing = " and ".join(w for w, place in (("angle", at), ("reading", value)) if place is None)
        headers = ", ".join(c.header for c in table.columns)
        raise InputError(f"no column for {missing} among: {headers}; expected headers such as angle_deg, reading_mm")
    bare = _INCH_UNIT[units]
    angle, reading = _angles(table, at, jaws), in_core(table, value, "length", bare)
    z_at, turn_at = table.find(PLACES), table.find(TURNS)
    z = np.zeros_like(angle) if z_at is None else in_core(table, z_at, "length", bare)
    turned = np.zeros_like(angle) if turn_at is None else in_core(table, turn_at, "angle", "deg")
    states, pressure = _states(table), _pressures(table, units, angle.size)
    state = np.array(["not said"] * angle.size if states is None else states)
    again_at = table.find(CLAMPINGS)
    again = np.array([""] * angle.size if again_at is None else [cell.strip() for cell in table.cells[again_at]])
    who_at = table.find(READERS)
    who = None if who_at is None else np.array([cell.strip().casefold() for cell in table.cells[who_at]])
    groups = dict.fromkeys(zip(again.tolist(), state.tolist(), turned.tolist(), pressure.tolist(), strict=True))
    found = []
    for number, said, turn, gauge in groups:
        mine = (again == number) & (state == said) & (turned == turn) & (pressure == gauge)
        readers = () if who is None else tuple(who[mine].tolist())
        found.append(trace(angle[mine], reading[mine], z[mine], side, said, turn, gauge or None, readers))
    return tuple(found)


def typed_readings(text: str, unit: str = "mm", side: Side = "outside", jaws: int = 3) -> Trace:
    """Readings typed in one line, separated by spaces or semicolons.

    Bare readings are taken at equal steps from jaw 1: ``5 7 4 -2 0 3``; pairs say where: ``0:5 60:7 jaw2:4`` (degrees).
    Raises: ``InputError`` that counts the readings from 1.
    """
    items = re.sub(r"(?i)jaw\s+(?=\d)", "jaw", text).replace(";", " ").split()
    pairs = [item.rpartition(":") for item in items]
    stated = [bool(colon) for _, colon, _ in pairs]
    if any(stated) and not all(stated):
        raise InputError(f"reading {stated.index(False) + 1}: has no angle though others have; write 0:5 60:7 for all")
    factor = to_core(1.0, "length", unit)
    values = np.array([_typed(value, n, "a reading") * factor for n, (_, _, value) in enumerate(pairs, 1)])
    if all(stated) and stated:
        angle = np.array([_typed_angle(place, n, jaws) for n, (place, _, _) in enumerate(pairs, 1)])
    else:
        angle = 2 * pi * np.arange(len(items)) / max(len(items), 1)
    return trace(angle, values, None, side)


def _angles(table: Table, at: int, jaws: int) -> Array:
    """Angles of a column [rad]; ``jaw 2`` stands for the angle of that jaw."""
    cells = table.cells[at]
    if not any("j" in cell.casefold() for cell in cells):
        return in_core(table, at, "angle", "deg")
    unit = table.columns[at].unit or "deg"
    spelled = [
        str(_jaw_angle(cell, jaws, f"row {row}: ") / to_core(1.0, "angle", unit)) if _JAW.search(cell) else cell
        for cell, row in zip(cells, table.rows, strict=True)
    ]
    swapped = tuple(tuple(spelled) if i == at else c for i, c in enumerate(table.cells))
    return in_core(Table(table.columns, swapped, table.rows), at, "angle", "deg")


def _jaw_angle(cell: str, jaws: int, where: str) -> float:
    match = _JAW.fullmatch(cell.strip())
    number = int(match[1]) if match else 0
    if not 1 <= number <= jaws:
        raise InputError(f"{where}found {describe(cell)}; expected jaw 1 to jaw {jaws}")
    return 2 * pi * (number - 1) / jaws


def _states(table: Table) -> list[State] | None:
    place = table.find(STATES)
    if place is None:
        return None
    found: list[State] = []
    for cell, row in zip(table.cells[place], table.rows, strict=True):
        word = cell.strip().casefold()
        if word not in _SAID:
            header = table.columns[place].header
            raise InputError(f'row {row}, column "{header}": found {describe(cell)}; expected clamped, free or spindle')
        found.append(_SAID[word])
    return found


_SAID: dict[str, State] = {"clamped": "clamped", "free": "free", "spindle": "spindle", "": "not said"}


def _pressures(table: Table, units: UnitSystem, count: int) -> Array:
    """Pressure of every row [MPa], 0 where nobody said."""
    place = table.find(PRESSURES)
    if place is None:
        return np.zeros(count)
    cells = tuple(cell if cell.strip() else "0" for cell in table.cells[place])
    whole = Table(table.columns, tuple(cells if i == place else c for i, c in enumerate(table.cells)), table.rows)
    found = in_core(whole, place, "pressure", "bar" if units == "metric" else "psi")
    if (found < 0.0).any():
        row = int(np.flatnonzero(found < 0.0)[0])
        raise InputError(f'row {table.rows[row]}, column "{table.columns[place].header}": found '
                         f"{describe(table.cells[place][row])}; expected a pressure above 0, or nothing")  # fmt: skip
    return found


def _typed(text: str, number: int, what: str) -> float:
    try:
        return float(text.replace(",", ".").replace("−", "-"))
    except ValueError:
        raise InputError(f"reading {number}: found {describe(text)}; expected {what} as a number") from None


def _typed_angle(place: str, number: int, jaws: int) -> float:
    if _JAW.fullmatch(place):
        return _jaw_angle(place, jaws, f"reading {number}: ")
    return radians(_typed(place, number, "an angle in degrees"))
