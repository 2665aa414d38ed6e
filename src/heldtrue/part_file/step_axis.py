"""The axis that a solid turns about, and its section there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import tau

from heldtrue.errors import InputError
from heldtrue.part_file.choices import ChoiceNeededError, Option
from heldtrue.part_file.closing import Closed, Strand, close
from heldtrue.part_file.faces import Cone, Face, Revolved, SplineSurface, Torus
from heldtrue.part_file.meridian import is_on
from heldtrue.part_file.outline import Point
from heldtrue.part_file.turned_faces import AxisView, TurnedFace
from heldtrue.part_file.vectors import Frame, Vec, dot, on
from heldtrue.part_file.walls import Wall, walls_of

TRIED = 8
"""Axes looked at in full, the greatest first."""
NEARLY = 0.5
"""A second axis with so much of the turned surface of the first is asked about. common practice, no source"""


@dataclass(frozen=True)
class Turned:
    """A solid about one axis: what turns, and the closed section.

    ``weight``: sum of radius x extent of its turned faces, by the angle they go round [mm2]; ``walls``: what goes round
    the axis and does not turn, without which the section would not close.
    """

    view: AxisView
    faces: tuple[TurnedFace, ...]
    closed: Closed
    weight: float
    walls: tuple[Wall, ...] = ()


def turned(faces: Sequence[Face], chosen: str | None, what: str) -> Turned:
    """The solid about the axis with the most turned surface. ``chosen``: id of an axis, asked for before.

    Raises: ``ChoiceNeededError`` where two axes are possible; ``InputError`` where none is, with what is open.
    """
    views = [AxisView(axis) for axis in _axes(faces)[:TRIED]]
    if not views:
        raise InputError(f"{what} has no turned face: no cylinder, cone, sphere or torus, and no round edge")
    found: list[Turned] = []
    problems: list[tuple[float, str]] = []
    open_: list[tuple[float, AxisView, tuple[TurnedFace, ...]]] = []
    for view in views:
        on_axis = tuple(turns for face in faces if (turns := view.turned(face)) is not None)
        weight = sum(_weight(turns) for turns in on_axis)
        try:
            found.append(Turned(view, on_axis, close(_strands(on_axis)), weight))
        except InputError as error:
            problems.append((weight, str(error)))
            open_.append((weight, view, on_axis))
    most = max([one.weight for one in found] + [weight for weight, _ in problems])
    if not any(one.weight >= NEARLY * most for one in found):
        found += [made for weight, view, on_axis in open_
                  if (made := _with_walls(view.axis, faces, on_axis, weight)) is not None]  # fmt: skip
    found.sort(key=lambda one: -one.weight)
    if not found or found[0].weight < NEARLY * most:
        _, why = max(problems)
        raise InputError(f"{what} has no turned section: about its best axis {why}")
    likely = [one for one in found if one.weight >= NEARLY * found[0].weight]
    if len(likely) == 1 and chosen is None:
        return found[0]
    options = tuple(Option(str(n), _words(one)) for n, one in enumerate(likely, 1))
    if chosen is None:
        raise ChoiceNeededError("axis", options, f"{what} turns about more than one axis; say which")
    for option, one in zip(options, likely, strict=True):
        if option.id == chosen.strip():
            return one
    raise InputError(f"{what} has no axis {chosen!r}; it has {', '.join(option.id for option in options)}")


def _with_walls(axis: Frame, faces: Sequence[Face], on_axis: Sequence[TurnedFace], weight: float) -> Turned | None:
    """The solid with its hexagons, sockets and eccentrics as cylinders, where it closes so."""
    turning = {one.face.id for one in on_axis}
    others = [face for face in faces if face.id not in turning]
    walls = walls_of(others, faces, axis)
    if not walls:
        return None
    reach: dict[int, tuple[Point, ...]] = {}
    for wall in walls:
        for id_, ends in wall.reach.items():
            reach[id_] = (*reach.get(id_, ()), *ends)
    view = AxisView(axis, reach)
    again = tuple(turns for face in faces if (turns := view.turned(face)) is not None)
    try:
        closed = close([*_strands(again), *(wall.strand for wall in walls)])
    except InputError:
        return None
    standing = tuple(wall for wall in walls if wall.faces & closed.faces)
    return Turned(view, again, closed, weight, standing) if standing else None


def _strands(faces: Sequence[TurnedFace]) -> list[Strand]:
    return [Strand(piece, frozenset((one.face.id,)), one.sweep) for one in faces for piece in one.pieces]


def _weight(one: TurnedFace) -> float:
    swept = sum((piece.start[0] + piece.end[0]) / 2 * piece.length for piece in one.pieces)
    return swept * one.sweep / tau


def _axes(faces: Sequence[Face]) -> list[Frame]:
    """Lines that faces turn about, those with the most of it first; each z towards the greater coordinate."""
    axes: list[Frame] = []
    weights: list[float] = []

    def add(frame: Frame, weight: float) -> None:
        for k, axis in enumerate(axes):
            if is_on(axis, frame):
                weights[k] += weight
                return
        axes.append(_standard(frame))
        weights.append(weight)

    for face in faces:
        for frame, radius in _own_axes(face):
            add(frame, radius * _extent(face, frame))
    order = sorted(range(len(axes)), key=lambda k: -weights[k])
    return [axes[k] for k in order]


def _own_axes(face: Face) -> list[tuple[Frame, float]]:
    """The axes that a face may turn about, each with a radius."""
    surface = face.surface
    if isinstance(surface, Cone):
        return [(surface.frame, surface.radius)]
    if isinstance(surface, Torus):
        return [(surface.frame, surface.major + surface.minor)]
    if isinstance(surface, Revolved):
        return [
            (surface.frame, surface.frame.rz(face.loops[0][0][0].start)[0] if face.loops and face.loops[0] else 0.0)
        ]
    if isinstance(surface, SplineSurface):
        circles = [edge.circle for loop in face.loops for edge, _ in loop if edge.circle is not None]
        return [(circle.frame, circle.a / len(circles)) for circle in circles]
    return []


def _extent(face: Face, frame: Frame) -> float:
    """How far a face reaches along an axis, and at least its width across it."""
    flat = [frame.rz(edge.start) for loop in face.loops for edge, _ in loop]
    if not flat:
        return 0.0
    rs, zs = [r for r, _ in flat], [z for _, z in flat]
    return max(max(rs) - min(rs), max(zs) - min(zs))


def _standard(frame: Frame) -> Frame:
    """The same axis from the foot of the origin of the file, z towards the greater coordinate, noise taken off."""
    z: Vec = tuple(0.0 if abs(c) < 1e-12 else c for c in frame.z)  # type: ignore[assignment]
    largest = max(z, key=abs)
    first = next(c for c in z if abs(c) > 0.999 * abs(largest))
    if first < 0:
        z = (-z[0], -z[1], -z[2])
    foot = on(frame.origin, z, -dot(frame.origin, z))
    foot = tuple(0.0 if abs(c) < 1e-9 else c for c in foot)  # type: ignore[assignment]
    return Frame.of(foot, z)


def _words(one: Turned) -> str:
    axis, outline = one.view.axis, one.closed.outline
    low, high = outline.z
    largest = 2 * max(r for r, _ in outline.polygon())
    x, y, z = (f"{c:.4g}" for c in axis.z)
    a, b, c = (f"{c:.6g}" for c in axis.origin)
    way = {("1", "0", "0"): "along x", ("0", "1", "0"): "along y", ("0", "0", "1"): "along z"}.get((x, y, z))
    return f"{way or f'direction {x}, {y}, {z}'} through {a}, {b}, {c}: Ø{largest:.6g}, {high - low:.6g} mm long"
