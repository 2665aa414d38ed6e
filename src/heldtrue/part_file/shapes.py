"""Usual turned parts from a few named dimensions, each as one closed half section that seats at z = 0."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from heldtrue.errors import GeometryError, InputError
from heldtrue.part_file.outline import Outline, OutlineCorner, closed

Given = Mapping[str, Any]
"""Dimensions by key: a length, or several for ``diameters`` and ``lengths``. [mm]"""


@dataclass(frozen=True)
class Dimension:
    """One dimension of a shape: its key, what it is, whether it must be given, whether it is a list."""

    key: str
    what: str
    needed: bool = True
    several: bool = False


@dataclass(frozen=True)
class ShapeKind:
    """A shape: its name, what it is, its dimensions, its corners and what is wrong with given dimensions."""

    name: str
    what: str
    dimensions: tuple[Dimension, ...]
    corners: Callable[[Given], list[OutlineCorner]]
    faults: Callable[[Given], Iterator[str]]
    example: Given


def outline_of_shape(name: str, given: Given) -> Outline:
    """The half section of a shape; dimensions in mm, ``None`` counts as not given.

    Raises: ``InputError`` with every dimension that is missing, unknown or impossible.
    """
    kind = SHAPES.get(name)
    if kind is None:
        raise InputError(f"there is no shape '{name}'; shapes are {', '.join(SHAPES)}")
    given = {key: value for key, value in given.items() if value is not None}
    known = {one.key for one in kind.dimensions}
    problems = [
        f"{one.key} is missing; it is the {one.what}" for one in kind.dimensions if one.needed and one.key not in given
    ]
    problems += [f"a {name} has no {key}; it has {', '.join(sorted(known))}" for key in given if key not in known]
    for key, value in given.items():
        if any(not one > 0 for one in (value if isinstance(value, list | tuple) else (value,))):
            problems.append(f"{key} must be above 0")
    problems = problems or list(kind.faults(given))
    if problems:
        raise InputError(*problems)
    try:
        return closed(kind.corners(given))
    except GeometryError as error:
        raise InputError(f"a {name} with these dimensions cannot be: {error}") from error


def _less(given: Given, small: str, large: str) -> Iterator[str]:
    if small in given and large in given and not given[small] < given[large]:
        yield f"{small} {given[small]:g} mm must be less than {large} {given[large]:g} mm"


def _pairs(*pairs: tuple[str, str]) -> Callable[[Given], Iterator[str]]:
    def faults(given: Given) -> Iterator[str]:
        for small, large in pairs:
            yield from _less(given, small, large)

    return faults


def _walk(*points: tuple[float, float] | tuple[float, float, float | None]) -> list[OutlineCorner]:
    """Corners from (diameter, z) or (diameter, z, rounding), those that repeat left out."""
    found: list[OutlineCorner] = []
    for diameter, z, *radius in points:
        corner = OutlineCorner(diameter / 2, z, *radius)
        if not found or (found[-1].r, found[-1].z) != (corner.r, corner.z):
            found.append(corner)
    return found


def _ring(d: Given) -> list[OutlineCorner]:
    return _walk((d["bore"], 0), (d["outside"], 0), (d["outside"], d["length"]), (d["bore"], d["length"]))


def _shaft(d: Given) -> list[OutlineCorner]:
    bore, z = d.get("bore", 0.0), 0.0
    points: list[tuple[float, float]] = [(bore, 0.0)]
    for diameter, length in zip(d["diameters"], d["lengths"], strict=True):
        points += [(diameter, z), (diameter, z + length)]
        z += length
    return _walk(*points, (bore, z))


def _shaft_faults(d: Given) -> Iterator[str]:
    diameters, lengths = d["diameters"], d["lengths"]
    if len(diameters) != len(lengths):
        yield f"diameters and lengths go together; found {len(diameters)} and {len(lengths)}"
    for number, (one, following) in enumerate(pairwise(diameters), 1):
        if one == following:
            yield f"steps {number} and {number + 1} have one diameter, {one:g} mm; make them one step"
    if "bore" in d and not d["bore"] < min(diameters):
        yield f"bore {d['bore']:g} mm must be less than the smallest of the diameters, {min(diameters):g} mm"


def _flange(d: Given) -> list[OutlineCorner]:
    bore, high = d.get("bore", 0.0), d["length"]
    return _walk((bore, 0), (d["outside"], 0), (d["outside"], d["thickness"]),
                 (d["neck"], d["thickness"], d.get("root")), (d["neck"], high), (bore, high))  # fmt: skip


def _sleeve(d: Given) -> list[OutlineCorner]:
    collar, low = d.get("collar", d["outside"]), d.get("collar_length", 0.0)
    return _walk((d["bore"], 0), (collar, 0), (collar, low), (d["outside"], low), (d["outside"], d["length"]),
                 (d["bore"], d["length"]))  # fmt: skip


def _sleeve_faults(d: Given) -> Iterator[str]:
    yield from _pairs(("bore", "outside"), ("outside", "collar"), ("collar_length", "length"))(d)
    for one, other in (("collar", "collar_length"), ("collar_length", "collar")):
        if one in d and other not in d:
            yield f"{other} is missing; a collar needs both"


def _disc(d: Given) -> list[OutlineCorner]:
    bore, low, hub, root = d.get("bore", 0.0), d.get("offset", 0.0), d["hub"], d.get("root")
    high = low + d["thickness"]
    below: list[tuple[float, float, float | None]] = [(hub, 0, None), (hub, low, root)] if low else []
    return _walk((bore, 0), *below, (d["outside"], low), (d["outside"], high), (hub, high, root), (hub, d["length"]),
                 (bore, d["length"]))  # fmt: skip


def _disc_faults(d: Given) -> Iterator[str]:
    yield from _pairs(("bore", "hub"), ("hub", "outside"))(d)
    high = d.get("offset", 0.0) + d["thickness"]
    if not high < d["length"]:
        yield f"offset and thickness together, {high:g} mm, must be less than length {d['length']:g} mm"


def _cup(d: Given) -> list[OutlineCorner]:
    return _walk((0, 0), (d["outside"], 0), (d["outside"], d["length"]), (d["bore"], d["length"]),
                 (d["bore"], d["bottom"], d.get("root")), (0, d["bottom"]))  # fmt: skip


_OUTSIDE = Dimension("outside", "outside diameter")
_BORE = Dimension("bore", "diameter of the bore")
_THROUGH = Dimension("bore", "diameter of a bore right through; without it the part is solid", needed=False)
_LENGTH = Dimension("length", "length along the axis")
_ROOT = Dimension("root", "radius in the inner corner", needed=False)

SHAPES: Mapping[str, ShapeKind] = {kind.name: kind for kind in (
    ShapeKind("ring", "a ring of one outside and one bore", (_OUTSIDE, _BORE, _LENGTH), _ring,
              _pairs(("bore", "outside")), {"outside": 166, "bore": 140, "length": 32}),
    ShapeKind("stepped shaft", "a shaft of steps, from the end that seats",
              (Dimension("diameters", "diameter of each step, from the seat", several=True),
               Dimension("lengths", "length of each step, from the seat", several=True), _THROUGH),
              _shaft, _shaft_faults, {"diameters": (60, 48, 36), "lengths": (30, 40, 35)}),
    ShapeKind("flange", "a flange that seats on its plate, with a neck",
              (_OUTSIDE, Dimension("thickness", "thickness of the plate"), Dimension("neck", "diameter of the neck"),
               Dimension("length", "length over all"), _THROUGH, _ROOT),
              _flange, _pairs(("bore", "neck"), ("neck", "outside"), ("thickness", "length")),
              {"outside": 150, "thickness": 18, "neck": 90, "length": 50, "bore": 60, "root": 4}),
    ShapeKind("sleeve", "a sleeve, plain or with a collar at the seat",
              (_OUTSIDE, _BORE, _LENGTH, Dimension("collar", "diameter of the collar", needed=False),
               Dimension("collar_length", "length of the collar", needed=False)),
              _sleeve, _sleeve_faults, {"outside": 70, "bore": 52, "length": 90, "collar": 90, "collar_length": 20}),
    ShapeKind("disc with hub", "a disc on a hub that stands out on one side or both",
              (_OUTSIDE, Dimension("thickness", "thickness of the disc"), Dimension("hub", "diameter of the hub"),
               Dimension("length", "length of the hub, over all"),
               Dimension("offset", "from the seat end of the hub to the disc; without it the disc seats", needed=False),
               _THROUGH, _ROOT),
              _disc, _disc_faults,
              {"outside": 160, "thickness": 20, "hub": 70, "length": 60, "offset": 15, "bore": 40, "root": 3}),
    ShapeKind("cup", "a cup that seats on its closed bottom",
              (_OUTSIDE, _BORE, _LENGTH, Dimension("bottom", "thickness of the bottom"), _ROOT),
              _cup, _pairs(("bore", "outside"), ("bottom", "length")),
              {"outside": 110, "bore": 90, "length": 70, "bottom": 14, "root": 5}),
)}  # fmt: skip
"""Every shape by its name."""
