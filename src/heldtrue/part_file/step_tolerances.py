"""Tolerances that an AP242 file ties to faces: read at the text, each one mapped to a surface or named.

The way from a tolerance to a face: tolerance -> SHAPE_ASPECT -> GEOMETRIC_ITEM_SPECIFIC_USAGE -> face; an aspect may
stand for others through SHAPE_ASPECT_RELATIONSHIP.  Source: ISO 10303-242 as NIST's public test models use it; the rest
from memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from heldtrue.errors import InputError
from heldtrue.part_file.exchange_text import Entity, Exchange, Ref, references
from heldtrue.part_file.fits import deviations
from heldtrue.part_file.step_bodies import number_of, size_of_unit
from heldtrue.part_file.turned_part import Tolerances, TurnedSurface
from heldtrue.sentences import sentence

FORMS = {
    "ROUNDNESS_TOLERANCE": "roundness",
    "CYLINDRICITY_TOLERANCE": "cylindricity",
    "FLATNESS_TOLERANCE": "flatness",
    "CIRCULAR_RUNOUT_TOLERANCE": "runout",
}
ON = {"roundness": ("outside", "inside"), "cylindricity": ("outside", "inside"), "flatness": ("face",),
      "runout": ("outside", "inside", "face"), "size": ("outside", "inside")}  # fmt: skip
NO_TOLERANCE = ("PLUS_MINUS_TOLERANCE", "GEOMETRIC_TOLERANCE", "MODIFIED_GEOMETRIC_TOLERANCE",
                "UNEQUALLY_DISPOSED_GEOMETRIC_TOLERANCE")  # fmt: skip
CHANGES = ("GEOMETRIC_TOLERANCE_WITH_MODIFIERS", "GEOMETRIC_TOLERANCE_WITH_DEFINED_UNIT",
           "GEOMETRIC_TOLERANCE_WITH_DEFINED_AREA_UNIT", "MODIFIED_GEOMETRIC_TOLERANCE",
           "GEOMETRIC_TOLERANCE_WITH_MAXIMUM_TOLERANCE", "UNEQUALLY_DISPOSED_GEOMETRIC_TOLERANCE")  # fmt: skip
FACES = ("ADVANCED_FACE", "FACE_SURFACE")
SAME_SIZE_MM = 1e-3
MOST_FACES = 100_000


@dataclass(frozen=True)
class _Asked:
    """One tolerance of the file: its key on a surface, its value, the faces, and how it is called. [mm]"""

    name: str
    key: str
    value: float | tuple[float, float] | str
    faces: frozenset[int]
    nominal: float | None = None


def with_tolerances(
    file: Exchange,
    surfaces: Sequence[TurnedSurface],
    faces: Sequence[frozenset[int]],
    edges: Sequence[frozenset[int]],
) -> tuple[tuple[TurnedSurface, ...], list[str]]:
    """The surfaces with what the file asks of them, and a sentence for each tolerance that is on none of them.

    ``faces``, ``edges``: the faces that each surface is made of, and the edges of those, in the same order. A size may
    stand on the edge of its cylinder, as in NIST's model CTC-02.
    """
    found, notes = list(surfaces), []
    aspects = _Aspects(file)
    for entity in file.of(*_named(file), "PLUS_MINUS_TOLERANCE", "GEOMETRIC_TOLERANCE"):
        try:
            asked = _asked(file, aspects, entity)
        except (InputError, IndexError, TypeError):
            notes.append(f"tolerance #{entity.id} of the file could not be read; it is not taken over")
            continue
        if isinstance(asked, str):
            notes.append(asked)
            continue
        by_edge = asked.key == "size" and asked.nominal is not None
        on = [own | rims for own, rims in zip(faces, edges, strict=True)] if by_edge else faces
        reason = _put(found, on, asked)
        if reason and asked.faces and not any(file[ref].has(*FACES) for ref in asked.faces):
            reason = "the file ties it to an edge"
        if reason:
            notes.append(f"{asked.name} is not taken over: {reason}")
    return tuple(found), notes


def _named(file: Exchange) -> list[str]:
    return [name for name in file.names_ending("_TOLERANCE") if name not in NO_TOLERANCE]


def _put(surfaces: list[TurnedSurface], faces: Sequence[frozenset[int]], asked: _Asked) -> str:
    """Set it on every surface of its faces; why it could not be, in words."""
    if not asked.faces:
        return "the file ties it to no face"
    reason = "its face is no cylinder or flat face of the section"
    taken = set[int]()
    for k, surface in enumerate(surfaces):
        if not faces[k] & asked.faces:
            continue
        if surface.side not in ON[asked.key]:
            reason = f"{surface.name} is {'a face' if surface.side == 'face' else 'a cylinder'}"
            continue
        value = asked.value
        if asked.key == "size":
            diameter = surface.diameters[0]
            if asked.nominal is not None and abs(asked.nominal - diameter) > SAME_SIZE_MM:
                reason = sentence("its size Ø{:.6g [mm]} is not that of {}", asked.nominal, surface.name)
                continue
            if isinstance(value, str):
                limits = deviations(value, diameter)
                if limits is None:
                    reason = f"the class {value} is not in the tables here"
                    continue
                value = limits
        surfaces[k] = replace(surface, tolerances=_tighter(surface.tolerances, asked.key, value))
        taken |= faces[k] & asked.faces
    return "" if taken else reason


def _tighter(known: Tolerances, key: str, value: float | tuple[float, float] | str) -> Tolerances:
    """With one more; of two the narrower one."""
    if isinstance(value, tuple):
        old = known.size
        return replace(known, size=value if old is None else (max(value[0], old[0]), min(value[1], old[1])))
    before: float | None = getattr(known, key)
    changed: dict[str, Any] = {key: value if before is None or isinstance(value, str) else min(value, before)}
    return replace(known, **changed)


def _asked(file: Exchange, aspects: _Aspects, entity: Entity) -> _Asked | str:
    if entity.has("PLUS_MINUS_TOLERANCE"):
        return _size(file, aspects, entity)
    kind = next((name for name, _ in entity.parts if name.endswith("_TOLERANCE") and name not in NO_TOLERANCE), "")
    values = entity.part("GEOMETRIC_TOLERANCE") or entity.values
    own = values[0] if isinstance(values[0], str) and values[0] else f"#{entity.id}"
    amount = _length(file, values[2]) if len(values) > 2 and isinstance(values[2], Ref) else None
    said = "" if amount is None else sentence(" {:.4g mm}", amount)
    name = sentence("{}{} ({})", _words(kind) or "a geometric tolerance", said, own)
    key = FORMS.get(kind)
    if key is None:
        return name + " is not taken over: heldtrue judges size, roundness, cylindricity, flatness and circular run-out"
    if amount is None or amount <= 0:
        return name + " is not taken over: it has no value in a length"
    changed = next((part for part, _ in entity.parts if part in CHANGES), None)
    if changed:
        return name + f" is not taken over: it is changed by {_words(changed.removeprefix('GEOMETRIC_TOLERANCE_'))}"
    return _Asked(name, key, amount, aspects.faces(values[3]))


def _size(file: Exchange, aspects: _Aspects, entity: Entity) -> _Asked | str:
    span, dimension = file[entity.values[0]], file[entity.values[1]]
    basic = dimension.part("DIMENSIONAL_SIZE") or dimension.values
    what = str(basic[1]) if len(basic) > 1 and isinstance(basic[1], str) and basic[1] else _words(dimension.name)
    name = f"size tolerance of a {what} (#{entity.id})"
    if not dimension.name.startswith("DIMENSIONAL_SIZE") or what != "diameter":
        return f"{name} is not taken over: heldtrue takes tolerances of diameters"
    nominal = _nominal(file, dimension.id)
    faces = aspects.faces(basic[0])
    if span.has("LIMITS_AND_FITS"):
        zone = f"{span.values[0]}{span.values[2]}"
        return _Asked(f"fit {zone} of a diameter (#{entity.id})", "size", zone, faces, nominal)
    low, high = (_length(file, ref) for ref in span.values[:2])
    if low is None or high is None or low > high:
        return f"{name} is not taken over: it has no lower and upper deviation"
    return _Asked(
        sentence("size tolerance {:+.4g [mm]}/{:+.4g mm} of a diameter (#{})", low, high, entity.id),
        "size",
        (low, high),
        faces,
        nominal,
    )


def _nominal(file: Exchange, dimension: int) -> float | None:
    for link in file.of("DIMENSIONAL_CHARACTERISTIC_REPRESENTATION"):
        if len(link.values) > 1 and link.values[0] == dimension:
            for item in references(file[link.values[1]].values[1]):
                found = _length(file, item)
                if found is not None and found > 0:
                    return found
    return None


def _length(file: Exchange, ref: Ref) -> float | None:
    """A measure with its unit. [mm]"""
    entity = file[ref]
    values = entity.part("MEASURE_WITH_UNIT") or entity.part("LENGTH_MEASURE_WITH_UNIT") or entity.values
    if len(values) < 2 or not isinstance(values[1], Ref):
        return None
    unit = file[values[1]]
    size = size_of_unit(file, unit) if unit.has("LENGTH_UNIT") else None
    number = number_of(values[0])
    return None if size is None or number is None else number * size * 1000.0


class _Aspects:
    """Which faces an aspect of the shape stands for."""

    def __init__(self, file: Exchange) -> None:
        self.items: dict[int, list[int]] = {}
        self.parts: dict[int, list[int]] = {}
        for use in file.of("GEOMETRIC_ITEM_SPECIFIC_USAGE", "ITEM_IDENTIFIED_REPRESENTATION_USAGE"):
            if len(use.values) > 4 and isinstance(use.values[2], Ref):
                self.items.setdefault(int(use.values[2]), []).extend(int(r) for r in references(use.values[4]))
        for link in file.of("SHAPE_ASPECT_RELATIONSHIP"):
            values = link.values
            if len(values) > 3 and isinstance(values[2], Ref) and isinstance(values[3], Ref):
                self.parts.setdefault(int(values[2]), []).append(int(values[3]))
        for dimension in file.of("DIMENSIONAL_SIZE"):
            if dimension.values and isinstance(dimension.values[0], Ref):
                self.parts.setdefault(dimension.id, []).append(int(dimension.values[0]))

    def faces(self, aspect: object) -> frozenset[int]:
        """The faces of an aspect, and of all that it is made of."""
        return frozenset(self._faces(int(aspect))) if isinstance(aspect, Ref) else frozenset()

    def _faces(self, aspect: int) -> Iterator[int]:
        seen, todo = {aspect}, [aspect]
        while todo and len(seen) < MOST_FACES:
            here = todo.pop()
            yield from self.items.get(here, ())
            todo += [part for part in self.parts.get(here, ()) if part not in seen]
            seen.update(self.parts.get(here, ()))


def _words(name: str) -> str:
    return name.lower().replace("_", " ")
