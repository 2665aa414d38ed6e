"""From the entities of a DXF drawing to strokes in millimetres: lines and arcs with what their line type means."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from math import cos, hypot, isfinite, radians, sin
from typing import Any, Literal

from heldtrue.errors import InputError
from heldtrue.part_file.outline import CHORD_MM, Arc, Line, Piece, Point

MOST_STROKES = 20_000
"""A drawing of one turned part has a hundredth of it."""
DEEPEST_BLOCK = 12
MOST_CONTROL_POINTS = 2_000
FARTHEST_MM = 1e6
"""A coordinate beyond this is a fault of the file, and would make chords without end."""
SHORTEST_MM = 1e-4

LineKind = Literal["visible", "hidden", "centre", "phantom"]
_NAMES: tuple[tuple[str, LineKind], ...] = (
    ("CENTER", "centre"), ("CENTRE", "centre"), ("DASHDOT", "centre"), ("ISO04", "centre"), ("ISO10", "centre"),
    ("PHANTOM", "phantom"), ("DIVIDE", "phantom"), ("ISO05", "phantom"), ("ISO12", "phantom"),
    ("HIDDEN", "hidden"), ("DASHED", "hidden"), ("ISO02", "hidden"), ("ISO03", "hidden"), ("DOT", "hidden"),
)  # fmt: skip
"""Part of a line type's name, and what such a line means; the pattern tells where the name does not."""
WORDS = {
    "DIMENSION": "dimension", "ARC_DIMENSION": "dimension", "LARGE_RADIAL_DIMENSION": "dimension",
    "TEXT": "text", "MTEXT": "text", "ATTRIB": "text", "ATTDEF": "text", "LEADER": "leader",
    "MULTILEADER": "leader", "MLEADER": "leader", "TOLERANCE": "tolerance frame", "SOLID": "filled area",
    "TRACE": "filled area", "POINT": "point", "VIEWPORT": "viewport", "IMAGE": "picture", "WIPEOUT": "wipe-out",
}  # fmt: skip


@dataclass(frozen=True)
class Stroke:
    """One line, arc or full circle of the drawing, in mm."""

    piece: Piece
    kind: LineKind


@dataclass(frozen=True)
class Hatching:
    """One hatched area: closed loops of points, of which inner ones are islands, or ``strips`` side by side. [mm]

    ``style``: pattern, angle and pitch; a drawing of several parts hatches each in its own.
    """

    loops: tuple[tuple[Point, ...], ...]
    style: str
    strips: bool = False


@dataclass
class Drawing:
    """What a drawing shows, in mm."""

    strokes: list[Stroke] = field(default_factory=list)
    circles: list[tuple[Arc, LineKind]] = field(default_factory=list)
    hatched: list[Hatching] = field(default_factory=list)
    left_out: Counter[str] = field(default_factory=Counter)
    chorded: int = 0


def drawing_of(document: Any, unit: float) -> Drawing:
    """The model space of a DXF document; ``unit``: mm per drawing unit.

    Raises: ``InputError`` for blocks in circles, far too much, or a coordinate that cannot be.
    """
    collector = _Collector(document, unit)
    collector.take(document.modelspace(), "", "", 0)
    return collector.found


@dataclass
class _Collector:
    document: Any
    unit: float
    found: Drawing = field(default_factory=Drawing)

    def take(self, entities: Iterable[Any], layer: str, linetype: str, depth: int) -> None:
        """``layer``, ``linetype``: those of the block reference they stand in, which its layer 0 and by-block take."""
        for entity in entities:
            here = entity.dxf.get("layer", "0")
            here = layer if here == "0" and layer else here
            if self._unseen(entity, here):
                self.found.left_out["line on a layer that is off, or made invisible"] += 1
                continue
            name = str(entity.dxf.get("linetype", "BYLAYER")).upper()
            if name == "BYBLOCK":
                name = linetype or "CONTINUOUS"
            elif name == "BYLAYER":
                name = self._of_layer(here)
            self._entity(entity, here, name, depth)

    def _entity(self, entity: Any, layer: str, linetype: str, depth: int) -> None:
        kind = entity.dxftype()
        if kind == "INSERT":
            self._insert(entity, layer, linetype, depth)
        elif kind == "HATCH":
            self._hatch(entity)
        elif kind in ("LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "ELLIPSE", "SPLINE"):
            if kind == "POLYLINE" and not entity.is_2d_polyline:
                self.found.left_out["line in space"] += 1
            elif not _flat(entity):
                self.found.left_out["line that does not lie in the plane of the drawing"] += 1
            else:
                for piece in self._pieces(entity, kind):
                    self._add(piece, self._meaning(linetype))
        else:
            self.found.left_out[WORDS.get(kind, f"{kind} entity")] += 1

    def _add(self, piece: Piece, kind: LineKind) -> None:
        numbers = (*piece.start, *piece.end, *(piece.centre if isinstance(piece, Arc) else ()))
        if not all(isfinite(one) and abs(one) < FARTHEST_MM for one in numbers):
            raise InputError("a line has a coordinate that is no place on a drawing")
        if piece.length < SHORTEST_MM:
            return
        if isinstance(piece, Arc) and piece.start == piece.end:
            self.found.circles.append((piece, kind))
        else:
            self.found.strokes.append(Stroke(piece, kind))
        if len(self.found.strokes) + len(self.found.circles) > MOST_STROKES:
            raise InputError(f"more than {MOST_STROKES:,} lines and arcs; give a drawing of this part alone")

    def _pieces(self, entity: Any, kind: str) -> Iterator[Piece]:
        if kind == "LINE":
            yield Line(self._point(entity.dxf.start), self._point(entity.dxf.end))
        elif kind in ("ARC", "CIRCLE"):
            yield self._arc(entity, kind == "CIRCLE")
        elif kind in ("LWPOLYLINE", "POLYLINE"):
            if len(entity) > MOST_STROKES:
                raise InputError(f"a line with more than {MOST_STROKES:,} points; give a drawing of this part alone")
            for one in entity.virtual_entities():
                yield from self._pieces(one, one.dxftype())
        else:
            yield from self._chords(entity, kind)

    def _arc(self, entity: Any, full: bool) -> Arc:
        x, y, _ = entity.dxf.center
        begin, finish = (0.0, 360.0) if full else (float(entity.dxf.start_angle), float(entity.dxf.end_angle))
        if entity.dxf.extrusion.z < 0:  # seen from behind: the drawing is mirrored about its y axis
            x, begin, finish = -x, 180.0 - finish, 180.0 - begin
        centre, radius = (x * self.unit, y * self.unit), abs(float(entity.dxf.radius)) * self.unit

        def on(angle: float) -> Point:
            return centre[0] + radius * cos(radians(angle)), centre[1] + radius * sin(radians(angle))

        start = on(begin)
        return Arc(start, start if full or abs((finish - begin) % 360.0) < 1e-9 else on(finish), centre, True)

    def _chords(self, entity: Any, kind: str) -> Iterator[Piece]:
        if kind == "SPLINE":
            if len(entity.control_points) + len(entity.fit_points) > MOST_CONTROL_POINTS:
                raise InputError(f"a spline with more than {MOST_CONTROL_POINTS:,} points")
            spread = [*entity.control_points, *entity.fit_points]
        else:
            axis = entity.dxf.major_axis
            if abs(float(entity.dxf.ratio) - 1.0) < 1e-9:
                yield from self._round(entity)
                return
            spread = [entity.dxf.center + axis, entity.dxf.center - axis]
        if any(not isfinite(p[i]) or abs(p[i]) * self.unit > FARTHEST_MM for p in spread for i in (0, 1)):
            raise InputError("a curve has a coordinate that is no place on a drawing")
        points = []
        for p in entity.flattening(CHORD_MM / self.unit, 4):
            points.append(self._point(p))
            if len(points) > MOST_STROKES:
                raise InputError("a curve needs too many chords of 1 µm; give a drawing of this part alone")
        self.found.chorded += 1
        yield from (Line(a, b) for a, b in pairwise(points))

    def _round(self, entity: Any) -> Iterator[Piece]:
        """An ellipse that is a circle."""
        begin, finish = float(entity.dxf.start_param), float(entity.dxf.end_param)
        start, end = (self._point(p) for p in entity.vertices([begin, finish]))
        full = abs(finish - begin) > 6.283185
        yield Arc(start, start if full else end, self._point(entity.dxf.center), entity.dxf.extrusion.z > 0)

    def _insert(self, entity: Any, layer: str, linetype: str, depth: int) -> None:
        block = entity.block()
        if block is None or block.block.is_xref:
            self.found.left_out["reference to another file or a missing block"] += 1
            return
        if depth >= DEEPEST_BLOCK:
            raise InputError(f"blocks stand in one another more than {DEEPEST_BLOCK} deep, or in circles")
        if entity.mcount * max(len(block), 1) > MOST_STROKES:
            raise InputError(f"more than {MOST_STROKES:,} lines and arcs; give a drawing of this part alone")
        self.found.left_out["text"] += len(entity.attribs)

        def skipped(one: Any, _reason: str) -> None:
            self.found.left_out[WORDS.get(one.dxftype(), f"{one.dxftype()} entity")] += 1

        for single in entity.multi_insert() if entity.mcount > 1 else (entity,):
            self.take(single.virtual_entities(skipped_entity_callback=skipped), layer, linetype, depth + 1)

    def _hatch(self, entity: Any) -> None:
        from ezdxf.path import from_hatch

        loops: list[tuple[Point, ...]] = []
        for path in from_hatch(entity):
            points: list[Point] = []
            for p in path.flattening(0.01 / self.unit, 4):
                points.append(self._point(p))
                if len(points) > MOST_STROKES or not all(isfinite(c) and abs(c) < FARTHEST_MM for c in points[-1]):
                    raise InputError("a hatched area has an edge that is no place on a drawing")
            if len(points) > 2:
                loops.append(tuple(points))
        if loops:
            names = ("pattern_name", "pattern_angle", "pattern_scale")
            style = " ".join(f"{entity.dxf.get(name, 0)}" for name in names)
            self.found.hatched.append(Hatching(tuple(loops), style))

    def _point(self, point: Any) -> Point:
        return float(point[0]) * self.unit, float(point[1]) * self.unit

    def _unseen(self, entity: Any, layer: str) -> bool:
        if entity.dxf.get("invisible", 0):
            return True
        if layer not in self.document.layers:
            return False
        record = self.document.layers.get(layer)
        return bool(record.is_off() or record.is_frozen())

    def _of_layer(self, layer: str) -> str:
        if layer not in self.document.layers:
            return "CONTINUOUS"
        return str(self.document.layers.get(layer).dxf.get("linetype", "CONTINUOUS")).upper()

    def _meaning(self, linetype: str) -> LineKind:
        if linetype in ("CONTINUOUS", ""):
            return "visible"
        for part, kind in _NAMES:
            if part in linetype:
                return kind
        if linetype not in self.document.linetypes:
            return "visible"
        pattern = self.document.linetypes.get(linetype).simplified_line_pattern()
        return _by_pattern([float(one) for one in pattern][::2])


def _by_pattern(dashes: list[float]) -> LineKind:
    """Dashes of one length are a hidden line; a long and a short one a centre line; a long and two short a phantom."""
    if not dashes or max(dashes) <= 0:
        return "visible" if not dashes else "hidden"
    short = sum(one < 0.6 * max(dashes) for one in dashes)
    return "hidden" if short == 0 else "centre" if short == 1 else "phantom"


def _flat(entity: Any) -> bool:
    if entity.dxftype() == "LINE":
        start, end = entity.dxf.start, entity.dxf.end
        return bool(abs(start[2] - end[2]) <= 1e-6 * max(1.0, hypot(end[0] - start[0], end[1] - start[1])))
    out = entity.dxf.extrusion if entity.dxf.hasattr("extrusion") else None
    return bool(out is None or abs(abs(out.normalize().z) - 1.0) < 1e-9)
