"""Corners and surfaces of a drawing as a setup file has them; ``size`` turns a length [mm] into what stands there."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from heldtrue.part_file.outline import OutlineCorner
from heldtrue.part_file.turned_part import FORMS, NotRound, Tolerances, TurnedSurface
from heldtrue.quantities import UnitSystem, bare_unit, file_value, from_core

Table = dict[str, Any]
Size = Callable[[float], Any]
PLACES: dict[UnitSystem, int] = {"metric": 6, "inch": 8}
"""Decimals of a length that people read: far finer than a drawing."""


def exact(system: UnitSystem) -> Size:
    """Such that reading it gives the very length back."""
    return partial(file_value, kind="length", system=system)


def rounded(system: UnitSystem) -> Size:
    """As people read it."""

    def size(length: float) -> float:
        value = round(from_core(length, "length", bare_unit("length", system)), PLACES[system]) + 0.0
        return int(value) if value.is_integer() else value

    return size


def corner_row(corner: OutlineCorner, size: Size) -> list[Any]:
    """Diameter and z, and its rounding where it has one."""
    row = [size(2 * corner.r), size(corner.z)]
    return [*row, {"radius": size(corner.radius)}] if corner.radius else row


def figures(surface: TurnedSurface, size: Size) -> Table:
    """Side, diameter and z."""
    diameters, z = ([size(value) for value in pair] for pair in (surface.diameters, surface.z))
    if surface.side == "face":
        return {"side": "face", "diameter": diameters, "z": z[0]}
    return {"side": surface.side, "diameter": diameters[0], "z": z}


def asked(tolerances: Tolerances, size: Size) -> Table:
    """What a drawing asks of a surface, each from the drawing."""
    found = {key: size(value) for key in FORMS if (value := getattr(tolerances, key)) is not None}
    if tolerances.size is not None:
        found["diameter_tolerance"] = [size(end) for end in tolerances.size]
    return {key: {"value": value, "from": "drawing"} for key, value in found.items()}


def surface_row(surface: TurnedSurface, size: Size) -> Table:
    """One table of ``[[surface]]``."""
    return {"name": surface.name, **figures(surface, size), **asked(surface.tolerances, size)}


def not_round_row(one: NotRound, size: Size) -> Table:
    """One table of ``[[part.not_round]]``."""
    return {"what": one.what, "side": one.side, "diameters": [size(d) for d in one.diameters],
            "z": [size(z) for z in one.z]}  # fmt: skip
