"""From a file, a shape or stock to the corners of a half section, in core units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from heldtrue.errors import GeometryError, InputError
from heldtrue.part_file.choices import ChoiceNeededError, Choices
from heldtrue.part_file.outline import Line, Outline, OutlineCorner, closed
from heldtrue.part_file.surfaces import not_round_seated, seated, surfaces_of
from heldtrue.part_file.turned_part import NotRound, TurnedPart, TurnedSurface
from heldtrue.planning.entries import Corner, SectionSource, UnitSystem
from heldtrue.planning.toml_file import path_below

PLAN_CHORD_MM = 0.05
"""How far chords of arcs may stand off in a plan: far under what bends a part or shows on a sheet."""
LONGEST_PROFILE = 500
SMOOTH = 0.21
"""Sine of the turn up to which neighbouring short pieces are chords of one curve."""
SHORT_MM = 2.0
EVEN_MM = 2.5e-3
"""Ends of a cylinder or face that differ by less were meant to be even: files round their numbers."""


@dataclass(frozen=True)
class Seated:
    """The section of a file with its seat at z = 0: corners, surfaces with what the file asks of them, its digest.

    ``has_holes``: has the part anything that no lathe turns? ``not_round``: stretches that are no cylinders;
    ``off_centre``: how far they take the centre of mass off the axis. [mm]
    """

    corners: tuple[OutlineCorner, ...]
    surfaces: tuple[TurnedSurface, ...]
    digest: str
    has_holes: bool = False
    not_round: tuple[NotRound, ...] = ()
    off_centre: float = 0.0


def kind_of(source: SectionSource) -> str:
    """``file``, ``shape``, ``bar``, ``tube`` or ``allowance``.

    Raises: ``InputError`` where none or several are given, or keys that do not go with it.
    """
    given = {key for key in SectionSource.model_fields if getattr(source, key) is not None}
    kinds = {"file": "file", "shape": "shape", "bar": "bar", "tube": "tube"}
    found = [kind for key, kind in kinds.items() if key in given]
    found += ["allowance"] if given & {"on_diameter", "on_faces"} else []
    if len(found) != 1:
        said = " and ".join(found) or "none of them"
        raise InputError(f"give one of file, shape, bar, tube, or on_diameter and on_faces; found {said}")
    kind = found[0]
    allowed = {
        "file": {"file", "sha256", "body", "axis", "units", "seat_end", "seat_at", "corners"},
        "bar": {"bar", "length", "seat_at"}, "tube": {"tube", "length", "seat_at"},
        "allowance": {"on_diameter", "on_faces"},
        "shape": given - {"sha256", "body", "axis", "units", "corners", "on_diameter", "on_faces"},
    }[kind]  # fmt: skip
    if strange := sorted(given - allowed):
        raise InputError(f"{', '.join(strange)} does not go with {kind}")
    return kind


def from_file(source: SectionSource, base_dir: str | Path | None, system: UnitSystem) -> Seated:
    """The section of a STEP or DXF file.

    Raises: ``InputError`` where the file cannot be read, has more than one answer, or has changed since its sha256.
    """
    name = source.file or ""
    recorded = source.corners is not None and source.sha256 is not None
    try:
        path = path_below(base_dir, name)
    except InputError:
        if recorded:  # a setup that was handed on without its drawing: the section as it was read stands in it
            corners = outline_corners(source.corners or ())
            try:
                return Seated(corners, surfaces_of(closed(corners), system), source.sha256 or "")
            except GeometryError as error:
                raise InputError(f"the corners that were read from {name} are no half section: {error}") from error
        raise
    part = _read(name, _content(path, name), source)
    if source.sha256 is not None and source.sha256.lower() != part.digest:
        raise InputError(
            f"{name} has changed since this setup was made: its sha256 is {part.digest}, here stands {source.sha256}; "
            "look at the new drawing, then write its sha256 here (or leave the key out) and take corners out"
        )
    corners, surfaces = _seated(part, source, system)
    if recorded and not _alike(corners, source.corners or ()):
        raise InputError(f"the corners here are not those of {name}; leave out the corners, or the file")
    not_round = not_round_seated(part, source.seat_end != "high", source.seat_at or 0.0)
    return Seated(corners, surfaces, part.digest, bool(part.not_turned), not_round, part.off_centre)


def plan_corners(outline: Outline) -> tuple[OutlineCorner, ...]:
    """The corners that an outline is planned with. Raises: ``InputError`` where they are too many."""
    corners = _clean(outline.corners(PLAN_CHORD_MM))
    if len(corners) > LONGEST_PROFILE:
        raise InputError(f"the section needs {len(corners)} corners; more than {LONGEST_PROFILE} are too many to plan")
    return corners


def from_shape(source: SectionSource) -> tuple[OutlineCorner, ...]:
    """The corners of a shape, with the seat at z = 0. Raises: ``InputError``."""
    from heldtrue.part_file.shapes import SHAPES, outline_of_shape

    keys = {one.key for kind in SHAPES.values() for one in kind.dimensions}
    outline = outline_of_shape(source.shape or "", {key: getattr(source, key) for key in sorted(keys)})
    seated_outline = outline.seated(source.seat_end != "high").moved(-(source.seat_at or 0.0))
    return _clean(seated_outline.corners(PLAN_CHORD_MM))


def from_stock(source: SectionSource) -> tuple[OutlineCorner, ...]:
    """The corners of a bar or a tube. Raises: ``InputError``."""
    if source.length is None or not source.length > 0:
        raise InputError("length is missing; it is the length of the stock")
    outer, inner = (source.bar, 0.0) if source.tube is None else source.tube
    if outer is None or not outer > inner >= 0:
        raise InputError("a tube has its outside diameter first, then its inside diameter; a bar one above 0")
    low = -(source.seat_at or 0.0)
    high = low + source.length
    points = ((inner, low), (outer, low), (outer, high), (inner, high))
    return tuple(OutlineCorner(diameter / 2, z) for diameter, z in points)


def surfaces_by_name(corners: Sequence[Corner], system: UnitSystem) -> tuple[TurnedSurface, ...]:
    """The surfaces of typed corners; none where they are no body: the checks say why."""
    try:
        return surfaces_of(closed(_unbroken(corners)), system)
    except GeometryError:
        return ()


def outline_corners(corners: Sequence[Corner]) -> tuple[OutlineCorner, ...]:
    """Corners of a setup without their chamfers, which are cuts at a corner. [mm]"""
    return tuple(OutlineCorner(c.diameter / 2, c.z, c.radius) for c in corners)


def _unbroken(corners: Sequence[Corner]) -> tuple[OutlineCorner, ...]:
    """With every chamfer as two corners."""
    found: list[OutlineCorner] = []
    for number, corner in enumerate(corners):
        here = (corner.diameter / 2, corner.z)
        if not corner.chamfer:
            found.append(OutlineCorner(*here, corner.radius))
            continue
        for other in (corners[number - 1], corners[(number + 1) % len(corners)]):
            line = Line(here, (other.diameter / 2, other.z))
            if line.length == 0:
                raise GeometryError("two corners are the same")
            u, v = line.direction(False)
            found.append(OutlineCorner(here[0] + corner.chamfer * u, here[1] + corner.chamfer * v))
    return tuple(found)


def _content(path: Path, name: str) -> bytes:
    from heldtrue.part_file.read import LARGEST_BYTES

    try:
        with path.open("rb") as file:
            return file.read(LARGEST_BYTES + 1)  # one byte more is refused in words by the reader
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise InputError(f"{name}: cannot be read: {reason}") from error


def _read(name: str, content: bytes, source: SectionSource) -> TurnedPart:
    from heldtrue.part_file.read import read_part

    try:
        return read_part(name, content, Choices(source.body, source.axis, source.units))
    except ChoiceNeededError as error:
        listed = "; ".join(f'{error.question} = "{option.id}": {option.what}' for option in error.options)
        raise InputError(f"{error}. Write one of: {listed}") from error
    except GeometryError as error:
        raise InputError(f"{name}: {error}") from error


def _seated(
    part: TurnedPart, source: SectionSource, system: UnitSystem
) -> tuple[tuple[OutlineCorner, ...], tuple[TurnedSurface, ...]]:
    outline, surfaces = seated(part, source.seat_end != "high", system, source.seat_at or 0.0)
    return plan_corners(outline), surfaces


def _clean(corners: Sequence[OutlineCorner]) -> tuple[OutlineCorner, ...]:
    """Fewer chords along smooth curves, and cylinders and faces even to the last digit."""
    points = [[corner.r, corner.z] for corner in corners]
    for number, point in enumerate(points):
        before = points[number - 1]
        for i in (0, 1):
            if 0 < abs(point[i] - before[i]) <= EVEN_MM < abs(point[1 - i] - before[1 - i]):
                point[i] = before[i]
    for i in (0, 1):  # the last corner may have moved with the one before it
        if points and abs(points[0][i] - points[-1][i]) <= EVEN_MM < abs(points[0][1 - i] - points[-1][1 - i]):
            points[-1][i] = points[0][i]
    even = [
        OutlineCorner(round(r, 6) + 0.0, round(z, 6) + 0.0, None if c.radius is None else round(c.radius, 6))
        for c, (r, z) in zip(corners, points, strict=True)
    ]
    return tuple(_thinned(even))


def _thinned(corners: Sequence[OutlineCorner]) -> list[OutlineCorner]:
    """Runs of short pieces that turn little at each corner, as chords that stand off by ``PLAN_CHORD_MM`` at most."""
    from shapely import LineString

    count = len(corners)
    smooth = [_is_smooth(corners, number) for number in range(count)]
    if not any(smooth) or all(smooth):
        return list(corners)
    start = smooth.index(False)
    order = [(start + k) % count for k in range(count)]
    found: list[OutlineCorner] = []
    run: list[OutlineCorner] = []
    for number in [*order, start]:
        corner = corners[number]
        if smooth[number]:
            run.append(corner)
            continue
        if len(run) > 3:
            line = LineString([(found[-1].r, found[-1].z), *((c.r, c.z) for c in run), (corner.r, corner.z)])
            run = [OutlineCorner(r, z) for r, z in list(line.simplify(PLAN_CHORD_MM).coords)[1:-1]]
        found += [*run, corner]
        run = []
    return found[:-1]


def _is_smooth(corners: Sequence[OutlineCorner], number: int) -> bool:
    before, here, after = (corners[(number + k) % len(corners)] for k in (-1, 0, 1))
    if any(corner.radius for corner in (before, here, after)):
        return False
    one, other = Line((before.r, before.z), (here.r, here.z)), Line((here.r, here.z), (after.r, after.z))
    if not (0 < one.length < SHORT_MM and 0 < other.length < SHORT_MM):
        return False
    (a, b), (c, d) = one.direction(True), other.direction(False)
    return abs(a * d - b * c) < SMOOTH and a * c + b * d > 0


def _alike(corners: Sequence[OutlineCorner], recorded: Sequence[Corner]) -> bool:
    """Do both sets of corners enclose the same half section, but for chords?"""
    from shapely import Polygon

    try:
        one = Polygon(closed(corners).polygon(0.01))
        other = Polygon(closed(outline_corners(recorded)).polygon(0.01))
    except GeometryError:
        return False
    return bool(one.symmetric_difference(other).area <= 0.02 * one.length)
