"""Sizes of finished parts as they are typed or exported: Ø at the front, Ø at the back, pressure, where it was read."""

from __future__ import annotations

import re
from dataclasses import dataclass

from heldtrue.errors import InputError
from heldtrue.inspection.part_taper import State
from heldtrue.inspection.table import Column, column
from heldtrue.quantities import UnitSystem, names_unit, parse_quantity

MOST_PARTS = 200
NAMES = ("front", "back", "pressure", "state")
STATE_WORDS: dict[str, State] = {
    "free": "free", "released": "free", "out": "free", "clamped": "clamped", "chuck": "clamped", "in chuck": "clamped",
}  # fmt: skip
_STATE = re.compile(rf"[\s,;]*\b({'|'.join(sorted(STATE_WORDS, key=len, reverse=True))})\s*$", re.IGNORECASE)


@dataclass(frozen=True)
class Finished:
    """Sizes of one finished part: Ø at ``front`` and ``back`` [mm], clamped at ``pressure`` [MPa], None for that of the
    finish; ``state`` it was read in."""

    front: float
    back: float
    pressure: float | None = None
    state: State = "free"


def typed_parts(text: str, system: UnitSystem, gauge: str) -> tuple[Finished, ...]:
    """One part a line: ``50.012 50.004 25 bar free``; bare numbers in the units of ``system`` and of the ``gauge``.

    Separated by spaces, tabs, semicolons or commas; pressure and state may be left out: that of the finish, free.  A
    first line of names (front_mm, back_mm, pressure_bar, state) says the units.  Lines that begin with # are passed
    over.
    Raises: ``InputError`` with one sentence for each wrong line.
    """
    lines = [(n, one.strip()) for n, one in enumerate(text.removeprefix("\ufeff").splitlines(), 1)]
    lines = [(n, one) for n, one in lines if one and not one.startswith("#")]
    units = ("in" if system == "inch" else "mm", gauge)
    if lines and lines[0][1][0].isalpha():
        units = _units(lines.pop(0)[1], units)
    if len(lines) > MOST_PARTS:
        raise InputError(f"found {len(lines)} parts; {MOST_PARTS} are the most")
    found, problems = [], []
    for number, one in lines:
        try:
            found.append(_part(one, units))
        except InputError as error:
            problems.append(f"line {number}: {error}")
    if problems:
        raise InputError(*problems)
    return tuple(found)


def _part(line: str, units: tuple[str, str]) -> Finished:
    state = _STATE.search(line)
    rest = line[: state.start()] if state else line
    commas = "," in rest and ("." in rest or (";" not in rest and ", " in rest))
    cells = [one for one in re.split(r"[;\t]|,\s*|\s+" if commas else r"[;\t]|\s+", rest.strip()) if one]
    if len(cells) < 2:
        raise InputError(f'found "{line}"; expected Ø at the front, Ø at the back, pressure, and free or clamped')
    # A comma that is left is a decimal comma: nobody types thousands of millimetres here.
    front, back = (parse_quantity(f"{one.replace(',', '.')} {units[0]}", "length") for one in cells[:2])
    typed = " ".join(cells[2:]).replace(",", ".")
    pressure = None
    if typed:
        bare = not names_unit(typed)
        pressure = parse_quantity(f"{typed} {units[1]}" if bare else typed, "pressure")
    return Finished(front, back, pressure, STATE_WORDS[state[1].casefold()] if state else "free")


def _units(line: str, units: tuple[str, str]) -> tuple[str, str]:
    """Units of length and pressure that a line of names says."""
    columns = [column(one) for one in re.split(r"[;,\t]|\s{2,}|(?<=\w)\s(?=\w)", line) if one.strip()]
    names = tuple(one.name for one in columns)
    if names[:2] != NAMES[:2] or names != NAMES[: len(names)]:
        raise InputError(f"columns: found {', '.join(names)}; expected {', '.join(NAMES)}, in this order")
    if columns[0].unit != columns[1].unit:
        raise InputError("columns: front and back must have the same unit")
    return columns[0].unit or units[0], _unit(columns, 2) or units[1]


def _unit(columns: list[Column], place: int) -> str:
    return columns[place].unit if len(columns) > place else ""
