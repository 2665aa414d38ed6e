"""The solids of a STEP file: which there are, what they are called, in which unit, and where they stand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from heldtrue.errors import InputError
from heldtrue.part_file.exchange_text import Entity, Exchange, Ref, Typed, references
from heldtrue.part_file.faces import Face
from heldtrue.part_file.step_shapes import Shapes
from heldtrue.part_file.vectors import Frame, Vec, cross, dot, norm, sub

SOLIDS = ("MANIFOLD_SOLID_BREP", "BREP_WITH_VOIDS", "FACETED_BREP")
PREFIXES = {"EXA": 1e18, "PETA": 1e15, "TERA": 1e12, "GIGA": 1e9, "MEGA": 1e6, "KILO": 1e3, "HECTO": 1e2, "DECA": 10.0,
            "DECI": 0.1, "CENTI": 1e-2, "MILLI": 1e-3, "MICRO": 1e-6, "NANO": 1e-9, "PICO": 1e-12}  # fmt: skip
DEEPEST = 64
MOST_PLACES = 1000
INCH = 25.4


@dataclass(frozen=True)
class Units:
    """What one unit of the file is: ``length`` [mm], ``angle`` [rad]; ``None`` where the file does not say."""

    length: float | None
    angle: float | None


@dataclass(frozen=True)
class Place:
    """Where a solid stands in the assembly: axes as columns, and the shift; left-handed where it is mirrored. [mm]"""

    x: Vec = (1.0, 0.0, 0.0)
    y: Vec = (0.0, 1.0, 0.0)
    z: Vec = (0.0, 0.0, 1.0)
    shift: Vec = (0.0, 0.0, 0.0)

    def direction(self, a: Vec) -> Vec:
        """A direction of the solid in the assembly."""
        return tuple(self.x[k] * a[0] + self.y[k] * a[1] + self.z[k] * a[2] for k in range(3))  # type: ignore[return-value]

    def point(self, a: Vec) -> Vec:
        """A point of the solid in the assembly."""
        moved = self.direction(a)
        return moved[0] + self.shift[0], moved[1] + self.shift[1], moved[2] + self.shift[2]

    def then(self, outer: Place) -> Place:
        """This place, and the place of the whole it is in."""
        return Place(outer.direction(self.x), outer.direction(self.y), outer.direction(self.z), outer.point(self.shift))

    @property
    def scale(self) -> float:
        """How much larger it makes a length."""
        return norm(self.x)

    @property
    def is_mirrored(self) -> bool:
        """Does it make a right hand a left one?"""
        return dot(cross(self.x, self.y), self.z) < 0


@dataclass(frozen=True)
class Body:
    """One solid: its number in the file, what it is called, its units, and every place it stands at."""

    id: int
    name: str
    representation: int | None
    units: Units
    places: tuple[Place, ...]


def bodies(file: Exchange) -> tuple[Body, ...]:
    """The solids of a file, in its order.

    Raises: ``InputError`` where it has none, or its structure is broken.
    """
    solids = file.of(*SOLIDS)
    if not solids:
        if file.of("SHELL_BASED_SURFACE_MODEL", "OPEN_SHELL", "GEOMETRIC_CURVE_SET", "GEOMETRIC_SET"):
            raise InputError("the STEP file holds surfaces or lines but no solid body: export the part as a solid")
        if file.of("TESSELLATED_SOLID", "TRIANGULATED_FACE", "COMPLEX_TRIANGULATED_FACE"):
            raise InputError("the STEP file holds a mesh but no exact solid body: export the part with exact faces")
        raise InputError("the STEP file holds no solid body")
    links = _Links(file)
    found = []
    for solid in solids:
        home = links.home.get(solid.id)
        units = units_of(file, home)
        places = tuple(links.places(solid.id, home, units.length or 1.0))
        name = links.name(home) or next((v for v in solid.values if isinstance(v, str)), "")
        found.append(Body(solid.id, name, home, units, places))
    return tuple(found)


def faces_of(shapes: Shapes, body: Body) -> list[Face]:
    """All faces of a solid, its hollows with them. Raises: ``InputError``."""
    entity = shapes.file[Ref(body.id)]
    basic = entity.part("MANIFOLD_SOLID_BREP") or entity.values
    shells = [v for v in entity.values if isinstance(v, Ref)] or [v for v in basic if isinstance(v, Ref)]
    voids = entity.part("BREP_WITH_VOIDS") or ()
    shells += [ref for value in voids if isinstance(value, tuple) for ref in value]
    if not shells:
        raise InputError(f"#{body.id} of the STEP file is a solid without a shell")
    return [face for shell in dict.fromkeys(shells) for face in shapes.faces(shell)]


def units_of(file: Exchange, representation: int | None) -> Units:
    """Length and angle of a representation; of the only context there is where it is in none."""
    contexts = file.of("GLOBAL_UNIT_ASSIGNED_CONTEXT")
    own = None
    if representation is not None:
        values = file[Ref(representation)].values
        wanted = values[2] if len(values) > 2 else None
        own = next((one for one in contexts if one.id == wanted), None)
    elif len(contexts) == 1:
        own = contexts[0]
    if own is None:
        return Units(None, None)
    length = angle = None
    part = own.part("GLOBAL_UNIT_ASSIGNED_CONTEXT") or ()
    for ref in references(part[0] if part else ()):
        unit = file[ref]
        if unit.has("LENGTH_UNIT"):
            size = size_of_unit(file, unit)
            length = None if size is None else 1000.0 * size
        elif unit.has("PLANE_ANGLE_UNIT"):
            angle = size_of_unit(file, unit)
    if length is not None and not 1e-4 <= length <= 1e4:
        raise InputError(f"the STEP file gives its lengths in a unit of {length:g} mm")
    return Units(length, angle)


def size_of_unit(file: Exchange, unit: Entity, depth: int = 0) -> float | None:
    """A unit in metres or radians."""
    si = unit.part("SI_UNIT")
    if si is not None:
        return PREFIXES.get(str(si[0]), 1.0) if len(si) > 1 and si[1] in ("METRE", "RADIAN") else None
    converted = unit.part("CONVERSION_BASED_UNIT")
    if converted is None or len(converted) < 2 or depth > 8:
        return None
    measure = file[converted[1]]
    values = next((v for _, v in measure.parts if len(v) == 2), ())
    if len(values) != 2:
        return None
    number = number_of(values[0])
    basis = size_of_unit(file, file[values[1]], depth + 1)
    return None if number is None or basis is None else number * basis


def number_of(value: Any) -> float | None:
    """A number, with or without its type."""
    if isinstance(value, Typed) and len(value.values) == 1:
        value = value.values[0]
    return value if isinstance(value, float) and isfinite(value) else None


class _Links:
    """What stands in what: solids in representations, representations in one another, products over them."""

    def __init__(self, file: Exchange) -> None:
        self.file = file
        self.home: dict[int, int] = {}
        self.up: dict[int, list[tuple[int, Entity | None, bool]]] = {}
        # what describes the curves on each face stands in no assembly, and there are thousands of them
        names = [name for name in file.names_ending("REPRESENTATION") if name != "DEFINITIONAL_REPRESENTATION"]
        self.representations = {one.id: one for one in file.of(*names) if len(one.values) == 3}
        wanted = {one.id for one in file.of(*SOLIDS)}
        mapped = {one.id: one for one in file.of("MAPPED_ITEM") if len(one.values) > 2}
        maps = {one.id: one for one in file.of("REPRESENTATION_MAP") if len(one.values) > 1}
        for rep in self.representations.values():
            for item in references(rep.values[1]):
                if item in wanted:
                    self.home.setdefault(int(item), rep.id)
                elif item in mapped and (source := maps.get(mapped[item].values[1])) is not None:
                    self._put(int(source.values[1]), rep.id, mapped[item])
        self.homes = set(self.home.values())
        self.parents = self._parents()
        for relation in file.of("REPRESENTATION_RELATIONSHIP", "SHAPE_REPRESENTATION_RELATIONSHIP"):
            self._relate(relation)

    def _put(self, inner: int, outer: int, moved: Entity | None, forward: bool = True) -> None:
        self.up.setdefault(inner, []).append((outer, moved, forward))

    def _relate(self, relation: Entity) -> None:
        basic = relation.part("REPRESENTATION_RELATIONSHIP") or relation.values
        if len(basic) < 4 or not isinstance(basic[2], Ref) or not isinstance(basic[3], Ref):
            return
        one, two = int(basic[2]), int(basic[3])
        moved = relation.part("REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION")
        if moved is None:  # the same thing twice: the one with the solid is the inner one
            self._put(*((one, two) if one in self.homes else (two, one)), None)
        elif self.parents.get(relation.id) == one:  # some write the whole first
            self._put(two, one, self.file[moved[0]], forward=False)
        else:
            self._put(one, two, self.file[moved[0]])

    def _parents(self) -> dict[int, int]:
        """For each placement of a part in a whole, by its number: the representation of the whole."""
        shown: dict[int, int] = {}
        for definition in self.file.of("SHAPE_DEFINITION_REPRESENTATION"):
            shape, rep = (*definition.values, None, None)[:2]
            product = self.file[shape].values[2:3] if isinstance(shape, Ref) else ()
            if product and isinstance(product[0], Ref) and isinstance(rep, Ref):
                shown[int(product[0])] = int(rep)
        found: dict[int, int] = {}
        for placed in self.file.of("CONTEXT_DEPENDENT_SHAPE_REPRESENTATION"):
            relation, shape = (*placed.values, None, None)[:2]
            use = self.file[shape].values[2:3] if isinstance(shape, Ref) else ()
            whole = self.file[use[0]].values[3:4] if use and isinstance(use[0], Ref) else ()
            if isinstance(relation, Ref) and whole and whole[0] in shown:
                found[int(relation)] = shown[whole[0]]
        return found

    def name(self, home: int | None) -> str:
        """The name of the product that a representation shows."""
        seen = {home}
        todo = [home]
        while todo:
            here = todo.pop()
            for definition in self.file.of("SHAPE_DEFINITION_REPRESENTATION"):
                if len(definition.values) > 1 and definition.values[1] == here:
                    found = _product(self.file, definition.values[0])
                    if found:
                        return found
            for outer, moved, _ in self.up.get(here or 0, ()):
                if moved is None and outer not in seen:
                    seen.add(outer)
                    todo.append(outer)
        return ""

    def places(self, solid: int, home: int | None, length: float) -> Iterator[Place]:
        """Every place at which a solid stands: one for each way up to the whole."""
        todo: list[tuple[int | None, Place, tuple[int, ...]]] = [(home, Place(), ())]
        count = 0
        while todo:
            here, place, way = todo.pop()
            above = self.up.get(here or 0, [])
            if not above or here in way or len(way) > DEEPEST:
                yield place
                count += 1
                if count >= MOST_PLACES:
                    return
                continue
            todo.extend(
                (outer, place if moved is None else place.then(self._moved(moved, forward, length)), (*way, here or 0))
                for outer, moved, forward in reversed(above)
            )

    def _moved(self, moved: Entity, forward: bool, length: float) -> Place:
        shapes = Shapes(self.file, length)
        if moved.name == "ITEM_DEFINED_TRANSFORMATION" and len(moved.values) > 3:
            one, two = shapes.frame(moved.values[2]), shapes.frame(moved.values[3])
            return _between(one, two) if forward else _between(two, one)
        if moved.name == "MAPPED_ITEM":
            source = shapes.file[moved.values[1]]
            target = self.file[moved.values[2]]
            origin = shapes.frame(source.values[0])
            if target.has("CARTESIAN_TRANSFORMATION_OPERATOR_3D", "CARTESIAN_TRANSFORMATION_OPERATOR"):
                return _between(origin, Frame.of((0.0, 0.0, 0.0))).then(_operator(shapes, target))
            return _between(origin, shapes.frame(moved.values[2]))
        if moved.has("CARTESIAN_TRANSFORMATION_OPERATOR_3D"):
            return _operator(shapes, moved)
        raise InputError(f"#{moved.id} of the STEP file places a body by a {moved.name}, which is not read")


def _between(one: Frame, two: Frame) -> Place:
    """The movement that takes one frame onto another."""
    columns = [two.turned((one.x[k], one.y[k], one.z[k])) for k in range(3)]
    turned = Place(*columns)
    return replace(turned, shift=sub(two.origin, turned.direction(one.origin)))


def _operator(shapes: Shapes, entity: Entity) -> Place:
    """A transformation operator: axes that may be mirrored, a scale, an origin (ISO 10303-42, from memory)."""
    values = entity.part("CARTESIAN_TRANSFORMATION_OPERATOR")
    third = entity.part("CARTESIAN_TRANSFORMATION_OPERATOR_3D")
    if values is None:
        ordinary = [v for v in entity.values if not isinstance(v, str)]
        values, third = tuple(ordinary[:4]), tuple(ordinary[4:5])
    if len(values) < 4:
        raise InputError(f"#{entity.id} of the STEP file: a transformation with too few values")
    x, y, origin, scale = values[0], values[1], values[2], values[3]
    z = third[0] if third else None
    frame = Frame.of((0.0, 0.0, 0.0), shapes.direction(z), shapes.direction(x))
    given = shapes.direction(y)
    hand = -1.0 if given is not None and dot(given, frame.y) < 0 else 1.0
    size = scale if isinstance(scale, float) else 1.0
    if not 1e-6 < size < 1e6:
        raise InputError(f"#{entity.id} of the STEP file scales by {size:g}")
    columns = [tuple(size * c for c in axis) for axis in (frame.x, tuple(hand * c for c in frame.y), frame.z)]
    return Place(columns[0], columns[1], columns[2], shapes.point(origin))  # type: ignore[arg-type]


def _product(file: Exchange, definition: Any) -> str:
    """The name of the product behind a PRODUCT_DEFINITION_SHAPE."""
    here = file[definition]
    for name in ("PRODUCT_DEFINITION_SHAPE", "PRODUCT_DEFINITION", "PRODUCT_DEFINITION_FORMATION"):
        if not here.name.startswith(name):
            return ""
        following = next((v for v in here.values if isinstance(v, Ref)), None)
        if following is None:
            return ""
        here = file[following]
    words = [v for v in here.values if isinstance(v, str)] if here.name == "PRODUCT" else []
    return next((word for word in (words[1::-1] if len(words) > 1 else words) if word.strip()), "")
