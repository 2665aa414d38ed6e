"""What can be changed at a place of the drawing: the fields of its surface, corner, jaws or chuck.

A dimension of a surface is one value to whoever reads the drawing and several in the setup: the corners at both ends,
the surface of that name, the grip.  They are set together, or the surface would become a cone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from heldtrue.drawing.svg import level_crossings
from heldtrue.planning.way_space import GripPlace, Side
from heldtrue.web import texts
from heldtrue.web.drafts import Draft
from heldtrue.web.fields import Field, Table, bare, field_at, get
from heldtrue.web.sections import CHUCK, GRIP, JAWS, corner_fields, cut_fields, surface_fields

SAME_MM = 1e-6
PROFILE, BLANK = "part.profile", "part.blank"
Corner = tuple[float, float]
Read = Callable[[str], float | None]
"""Reads a length of the draft. [mm]"""


@dataclass(frozen=True)
class Group:
    """Fields under a heading."""

    words: str
    fields: tuple[Field, ...]


@dataclass(frozen=True)
class Place:
    """A place on the drawing: ``title`` says what it is; ``grip``, ``turn``: what is set to grip or turn it."""

    title: str
    groups: tuple[Group, ...]
    grip: GripPlace | None = None
    turn: dict[str, object] | None = None


class Outline:
    """The half section of a draft as it stands, in diameters and z. [mm]"""

    def __init__(self, draft: Draft, read: Read) -> None:
        self.table: Table = draft.table
        self.read = read
        self.corners = _corners(self.table, PROFILE, read)

    @property
    def is_whole(self) -> bool:
        """Is it there corner by corner, every corner of it readable?"""
        return len(self.corners) > 2 and None not in self.corners

    def at(self, key: str) -> Place | None:
        """What can be changed at a spot of the drawing; None where the drawing has it no longer."""
        kind, _, number = key.partition(" ")
        if kind == "jaws":
            return Place(texts.SECTIONS[4], (Group("", JAWS.first),))
        if kind == "chuck":
            return Place(texts.SECTIONS[3], (Group("", CHUCK.first),))
        if not self.is_whole or not number.isdecimal() or int(number) >= len(self.corners):
            return None
        return self._corner(int(number)) if kind == "corner" else self._edge(int(number))

    def _corner(self, number: int) -> Place:
        named = [texts.DIAMETER, "z", texts.ROUNDING, texts.CHAMFER]
        fields = (replace(one, label=label) for one, label in zip(corner_fields(PROFILE, number), named, strict=True))
        return Place(texts.CORNER_AT.format(number=number + 1), (Group("", tuple(fields)),))

    def _known(self) -> list[Corner]:
        return [one for one in self.corners if one is not None]

    def _edge(self, number: int) -> Place:
        corners = self._known()
        ends = (number, (number + 1) % len(corners))
        (da, za), (db, zb) = corners[ends[0]], corners[ends[1]]
        low, high = sorted(ends, key=lambda one: corners[one][1])
        inner, outer = sorted(ends, key=lambda one: corners[one][0])
        if abs(da - db) < SAME_MM:
            title = f"{_facing(corners, number)} Ø{da:g}, z {min(za, zb):g} – {max(za, zb):g}"
            fields: tuple[Field, ...] = (self._level(0, low, texts.DIAMETER), self._level(1, low, texts.FROM_Z),
                      self._level(1, high, texts.TO_Z))  # fmt: skip
        elif abs(za - zb) < SAME_MM:
            title = texts.FACE_AT.format(z=f"{za:g}", inner=f"{min(da, db):g}", outer=f"{max(da, db):g}")
            fields = (self._level(1, low, texts.AT_Z), self._level(0, inner, texts.FROM_DIAMETER),
                      self._level(0, outer, texts.TO_DIAMETER))  # fmt: skip
        else:
            title = texts.CONE_AT
            fields = tuple(field for one in ends for field in corner_fields(PROFILE, one)[:2])
        groups = [Group("", fields), *self._made_here(ends), *self._gripped(ends)]
        return Place(title, tuple(groups), *self._offers(number, ends))

    def _level(self, axis: int, corner: int, label: str) -> Field:
        """One dimension: of the corner, and of all that must keep the same value."""
        corners, value = self._known(), self._known()[corner][axis]
        chain = [corner]
        for step in (1, -1):
            following = (corner + step) % len(corners)
            while following not in chain and abs(corners[following][axis] - value) < SAME_MM:
                chain.append(following)
                following = (following + step) % len(corners)
        span = [corners[one][1 - axis] for one in chain]
        also = [f"{PROFILE}.{one}.{axis}" for one in chain[1:]]
        also += self._alike(axis, value, (min(span), max(span)))
        return replace(field_at(f"{PROFILE}.{corner}.{axis}", label), also=tuple(also))

    def _alike(self, axis: int, value: float, span: tuple[float, float]) -> list[str]:
        """Paths of surfaces and of the grip that have this dimension too, along the same stretch."""
        found = []
        for number, face in self._surfaces():
            at = f"surface.{number}"
            here = [f"{at}.diameter.0", f"{at}.diameter.1"] if face else [f"{at}.diameter"]
            along = [f"{at}.z"] if face else [f"{at}.z.0", f"{at}.z.1"]
            mine, others = (here, along) if axis == 0 else (along, here)
            if self._within(others, span):
                found += [path for path in mine if self._is(path, value)]
        if axis == 0 and self._is("grip.diameter", value) and self._within(["grip.z.0", "grip.z.1"], span):
            found.append("grip.diameter")
            found += [f"{BLANK}.{number}.0" for number, one in enumerate(_corners(self.table, BLANK, self.read))
                      if one is not None and abs(one[0] - value) < SAME_MM]  # fmt: skip
        return found

    def _is(self, path: str, value: float) -> bool:
        found = self.read(path)
        return found is not None and abs(found - value) < SAME_MM

    def _within(self, paths: list[str], span: tuple[float, float]) -> bool:
        """Do the lengths at these paths lie along a stretch, at least in part?"""
        found = [one for path in paths if (one := self.read(path)) is not None]
        return bool(found) and min(found) <= span[1] + SAME_MM and max(found) >= span[0] - SAME_MM

    def _surfaces(self) -> list[tuple[int, bool]]:
        """Number of each machined surface, and whether it is a face."""
        rows = bare(get(self.table, "surface")) or ()
        return [(number, bare(one.get("side")) == "face") for number, one in enumerate(rows) if isinstance(one, dict)]

    def _on(self, ends: tuple[int, int]) -> list[int]:
        """The machined surfaces on an edge."""
        (da, za), (db, zb) = (self._known()[one] for one in ends)
        return [number for number, face in self._surfaces() if self._lies_on(number, face, (da, db), (za, zb))]

    def _lies_on(self, number: int, face: bool, across: Corner, along: Corner) -> bool:
        at = f"surface.{number}"
        if face:
            return (abs(along[0] - along[1]) < SAME_MM and self._is(f"{at}.z", along[0])
                    and self._overlaps(f"{at}.diameter.0", f"{at}.diameter.1", across))  # fmt: skip
        return (abs(across[0] - across[1]) < SAME_MM and self._is(f"{at}.diameter", across[0])
                and self._overlaps(f"{at}.z.0", f"{at}.z.1", along))  # fmt: skip

    def _overlaps(self, first: str, last: str, span: Corner) -> bool:
        ends = [self.read(path) for path in (first, last)]
        if ends[0] is None or ends[1] is None:
            return False
        return min(max(ends[0], ends[1]), max(span)) - max(min(ends[0], ends[1]), min(span)) > SAME_MM

    def _made_here(self, ends: tuple[int, int]) -> list[Group]:
        """Tolerances of the surfaces on an edge, and the cuts that make them."""
        found = []
        for number in self._on(ends):
            place = {f"surface.{number}.{key}" for key in PLACE_KEYS}
            name = str(bare(get(self.table, f"surface.{number}.name")) or number + 1)
            asked = tuple(one for one in surface_fields(self.table, number) if one.path not in place)
            found.append(Group(texts.TOLERANCES_OF.format(name=name), asked))
            for cut, row in enumerate(bare(get(self.table, "cut")) or ()):
                if isinstance(row, dict) and bare(row.get("surface")) == name:
                    words = texts.CUT_OF.format(name=bare(row.get("name")) or cut + 1)
                    fields = tuple(one for one in cut_fields(self.table, cut)[0]
                                   if one.path.rpartition(".")[2] in CUT_KEYS)  # fmt: skip
                    found.append(Group(words, fields))
        return found

    def is_gripped(self, ends: tuple[int, int]) -> bool:
        """Do the jaws bear on this edge?"""
        (da, za), (db, zb) = (self._known()[one] for one in ends)
        return (abs(da - db) < SAME_MM and self._is("grip.diameter", da)
                and self._overlaps("grip.z.0", "grip.z.1", (za, zb)))  # fmt: skip

    def _gripped(self, ends: tuple[int, int]) -> list[Group]:
        corners = self._known()
        by_path = {one.path: one for one in GRIP.fields}
        found = []
        if self.is_gripped(ends):
            keys: tuple[str, ...] = ("side", "z.0", "z.1", "diameter_tolerance.0", "diameter_tolerance.1", "centre")
            found.append(Group(texts.SECTIONS[2], tuple(by_path[f"grip.{key}"] for key in keys)))
        lowest = min(z for _, z in corners)
        if all(abs(corners[one][1] - lowest) < SAME_MM for one in ends):
            keys = ("seat", "seat_diameters.0", "seat_diameters.1")
            found.append(Group(texts.SEAT, tuple(by_path[f"grip.{key}"] for key in keys)))
        return found

    def _offers(self, number: int, ends: tuple[int, int]) -> tuple[GripPlace | None, dict[str, object] | None]:
        """What is set to grip this edge, and to turn it; None where it is already, or cannot be."""
        corners = self._known()
        (da, za), (db, zb) = (corners[one] for one in ends)
        low, high = sorted((za, zb))
        level = abs(da - db) < SAME_MM
        side = _facing(corners, number)
        grip: GripPlace | None = None
        if level and da > SAME_MM and not self.is_gripped(ends):
            grip = GripPlace(side, da, (low, high))
        turn: dict[str, object] | None = None
        if not self._on(ends) and (level or abs(za - zb) < SAME_MM):
            turn = {"side": side, "diameter": da, "z": (low, high)} if level else {
                "side": "face", "diameter": tuple(sorted((da, db))), "z": za}  # fmt: skip
        return grip, turn


PLACE_KEYS = ("name", "side", "diameter", "diameter.0", "diameter.1", "z", "z.0", "z.1")
"""Of a surface: what says where it is; the drawing says that."""
CUT_KEYS = ("depth", "feed", "speed", "width", "pitch", "finishing", "wear", "interrupted")


def _corners(table: Table, outline: str, read: Read) -> list[Corner | None]:
    rows = bare(get(table, outline))
    if not isinstance(rows, list | tuple):
        return []
    found: list[Corner | None] = []
    for number in range(len(rows)):
        diameter, z = (read(f"{outline}.{number}.{axis}") for axis in (0, 1))
        found.append(None if diameter is None or z is None else (diameter, z))
    return found


def _facing(corners: Sequence[Corner], number: int) -> Side:
    """Which way a cylinder looks: outside where the part lies towards the axis of it, else inside."""
    (diameter, first), (_, last) = corners[number], corners[(number + 1) % len(corners)]
    crossings = level_crossings([[(d, z) for d, z in corners]], (first + last) / 2)
    below = sum(one < diameter - SAME_MM for one in crossings)
    return "outside" if below % 2 else "inside"
