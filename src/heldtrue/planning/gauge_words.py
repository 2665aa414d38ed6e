"""Gauge pressures as they are said and typed: in the unit of the gauge, a least rounded up, a most rounded down."""

from __future__ import annotations

from math import ceil, floor
from typing import Literal

from heldtrue.errors import InputError
from heldtrue.quantities import from_core, names_unit, parse_quantity, to_core

Rounding = Literal["near", "up", "down"]

PRESSURE_PLACES = {"bar": 1, "psi": 0, "MPa": 2, "kgf/cm2": 1}


def pressure_number(value: float, unit: str, rounding: Rounding = "near") -> str:
    """A gauge pressure [MPa] as a number in ``unit``, rounded ``up`` for a least and ``down`` for a most."""
    places = PRESSURE_PLACES.get(unit, 1)
    scaled = from_core(value, "pressure", unit) * 10**places
    slack = 1e-6
    if rounding == "up":
        whole = ceil(scaled - slack)
    elif rounding == "down":
        whole = floor(scaled + slack)
    else:
        whole = round(scaled)
    return f"{whole / 10**places:.{places}f}"


def pressure_text(value: float, unit: str, rounding: Rounding = "near") -> str:
    """A gauge pressure [MPa] with its unit."""
    return f"{pressure_number(value, unit, rounding)} {spelled(unit)}"


def spelled(unit: str) -> str:
    """A unit as it is printed."""
    return unit.replace("cm2", "cm²").replace("mm2", "mm²").replace("in2", "in²")


def typed_pressure(typed: str, unit: str, most: float | None = None) -> float:
    """What was typed off a gauge [MPa]: a bare number is in the unit of that gauge, whatever the setup file speaks.

    ``most``: the highest pressure on the plates [MPa]; a bare number far over it that fits in another unit is asked
    back. Raises: ``InputError`` for what is no pressure, below 0, or to be asked back.
    """
    bare = not names_unit(typed)
    value = parse_quantity(f"{typed} {unit}" if bare else typed, "pressure")
    if value < 0:
        raise InputError(f'found "{typed}"; a gauge shows 0 or more')
    if bare and most is not None and value > 1.5 * most:
        number = from_core(value, "pressure", unit)
        meant = next((one for one in PRESSURE_PLACES if to_core(number, "pressure", one) <= most), "")
        if meant:
            raise InputError(
                f"{number:.7g} {spelled(unit)} is over the plates, {pressure_text(most, unit, 'down')}; "
                f'did you mean "{number:.7g} {meant}"? If not, write "{number:.7g} {unit}"'
            )
    return value
