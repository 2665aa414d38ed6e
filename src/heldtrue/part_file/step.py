"""The turned part of a STEP file (ISO 10303-21): read at its text, measured a second time by the kernel."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from hashlib import sha256
from math import degrees, pi, tau

from heldtrue.errors import GeometryError, InputError
from heldtrue.part_file.choices import ChoiceNeededError, Choices, Option
from heldtrue.part_file.closing import Strand
from heldtrue.part_file.exchange_text import Exchange, read_exchange
from heldtrue.part_file.faces import Face
from heldtrue.part_file.features import Feature, features
from heldtrue.part_file.orientation import consistent
from heldtrue.part_file.solid_volume import solid_volume
from heldtrue.part_file.step_axis import Turned, turned
from heldtrue.part_file.step_bodies import Body, bodies, faces_of
from heldtrue.part_file.step_shapes import Shapes
from heldtrue.part_file.step_tolerances import with_tolerances
from heldtrue.part_file.surface_strands import strands_of
from heldtrue.part_file.surfaces import surfaces_of, turned_surfaces
from heldtrue.part_file.turned_part import NotRound, NotTurned, TurnedPart, TurnedSurface
from heldtrue.part_file.vectors import unit
from heldtrue.part_file.walls import Wall, off_centre
from heldtrue.sentences import sentence

INCH_MM = 25.4
NOTHING_SAID = Choices()
SAME_VOLUME = 1e-6
"""Two volumes closer than this share are one; chords, roundings of a file and the kernel stay far under it."""
SAMPLED_VOLUME = 1e-4
"""The same where a curve was sampled to 1 um. common practice, no source"""
MOST_OUTSIDE = 0.02
"""A solid larger than its turned section by more than this share is no turned part. common practice, no source"""
MUCH = 0.05
"""A part that misses more of its turned section than this share is cautioned about. common practice, no source"""
MOST_NOT_ROUND = 1 / 3
"""A part with hexagons, sockets or eccentrics that misses more of its section than this share is no turned part: a
square bar with a bore misses more, a nut less. common practice, no source"""
OFF_MM = 1e-3
MOST_SIZED = 50
"""Bodies whose size is said where one has to be chosen."""
INTERRUPTED = tau - 0.02


@dataclass(frozen=True)
class Section:
    """What the text alone gives."""

    file: Exchange
    body: Body
    faces: tuple[Face, ...]
    turned: Turned
    length: float
    angle: float
    notes: tuple[str, ...]


def read_step(name: str, content: bytes, choices: Choices = NOTHING_SAID, *, measured: bool = True) -> TurnedPart:
    """The turned part in a STEP file. ``measured``: let the kernel measure the solid, in a process of its own: 0.5 s.

    Raises: ``ChoiceNeededError`` where it holds several bodies, turns about several axes or names no unit;
    ``InputError`` where it is no STEP file or damaged, has no solid or no section, or the section does not agree with
    the solid.
    """
    with _named(name), _no_collecting():
        section = _section(name, content, choices)
        outline, axis = section.turned.closed.outline, section.turned.view.axis
        walls = section.turned.walls
        standing = frozenset[int]().union(*(wall.faces for wall in walls))
        on_outline = section.turned.closed.faces - standing
        rest = [face for face in section.faces if face.id not in on_outline | standing]
        found = (*_wall_features(walls), *features(rest, axis, max(r for r, _ in outline.polygon())))
        not_round = tuple(NotRound(f"{wall.kind}, {wall.size}", wall.side, wall.diameters, wall.z) for wall in walls)
        surfaces = turned_surfaces(surfaces_of(outline), not_round)
        strands = strands_of(surfaces, section.turned.closed)
        faces_of_each = [frozenset().union(*(strand.faces for strand in own)) for own in strands]
        rims = {face.id: {edge.id for loop in face.loops for edge, _ in loop} for face in section.faces}
        edges_of_each = [frozenset(id_ for face in own for id_ in rims[face]) for own in faces_of_each]
        surfaces, unmapped = with_tolerances(section.file, surfaces, faces_of_each, edges_of_each)
        digest = sha256(content).hexdigest()
        solid = solid_volume(section.file, section.body, section.length, section.angle, digest) if measured else None
        place = section.body.places[0]
        return TurnedPart(
            source=name,
            digest=digest,
            outline=outline,
            surfaces=surfaces,
            not_turned=tuple(one.what for one in found),
            axis_origin=place.point(axis.origin),
            axis_direction=unit(place.direction(axis.z)),
            solid_volume=solid,
            not_round=not_round,
            off_centre=off_centre(walls, solid or outline.volume),
            notes=(
                *section.file.notes,
                *section.notes,
                *_agreement(section, found, solid, measured),
                *_interrupted(surfaces, strands),
                *unmapped,
            ),
        )


@contextmanager
def _named(name: str) -> Iterator[None]:
    """Say of which file a problem is; a value of a kind that its place does not take is a damaged file."""
    try:
        yield
    except ChoiceNeededError:
        raise
    except InputError as error:
        raise InputError(*(f"{name}: {problem}" for problem in error.problems)) from error
    except GeometryError as error:
        raise GeometryError(f"{name}: {error}") from error
    except (ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError) as error:
        raise InputError(f"{name}: the STEP file is damaged: a value is not what its place asks for") from error


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Reading makes very many small things and no circles of them: looking for circles would take half of its time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.freeze()  # counted as old, or the next thing made would have all of it looked through
            gc.unfreeze()
            gc.enable()


def section_of(name: str, content: bytes, choices: Choices = NOTHING_SAID) -> Section:
    """Body, axis and section from the text alone. Raises: as :func:`read_step`."""
    with _named(name), _no_collecting():
        return _section(name, content, choices)


def _section(name: str, content: bytes, choices: Choices) -> Section:
    file = read_exchange(content)
    body, notes = _body(file, name, bodies(file), choices.body)
    length, unit_notes = _length(name, body, choices)
    faces, found, angle, angle_notes = _in_angles(file, body, length, choices.axis)
    scale = body.places[0].scale
    if abs(scale - 1) > 1e-9:
        notes.append(f"the assembly shows the body {scale:g} times as large; it is read as drawn")
    sampled = sum(one.sampled for one in found.faces)
    if sampled:
        notes.append(f"{sampled} turned faces are free curves: taken as chords within 1 um of them")
    return Section(file, body, tuple(faces), found, length, angle, (*notes, *unit_notes, *angle_notes))


def _in_angles(
    file: Exchange, body: Body, length: float, axis: str | None
) -> tuple[list[Face], Turned, float, list[str]]:
    """Faces and section, with the unit of angle that the cones fit their edges in. [rad in one unit]"""
    angle = body.units.angle or 1.0
    faces, found = _turned(file, body, length, angle, axis)
    off = max((one.off for one in found.faces), default=0.0)
    if off <= OFF_MM:
        return faces, found, angle, []
    other = pi / 180 if angle == 1.0 else 1.0
    again, refound = _turned(file, body, length, other, axis)
    if max((one.off for one in refound.faces), default=0.0) < OFF_MM:
        said = "degrees" if other < 1 else "radians"
        return again, refound, other, [
            f"the angles of the file's cones are in {said}, whatever its units say: only so do they fit their edges"
        ]  # fmt: skip
    return (
        faces,
        found,
        angle,
        [sentence("edges of the turned faces lie up to {:.3g mm} off their surfaces; the edges count", off)],
    )


def _turned(file: Exchange, body: Body, length: float, angle: float, axis: str | None) -> tuple[list[Face], Turned]:
    faces = consistent(faces_of(Shapes(file, length, angle), body))
    return faces, turned(faces, axis, f"body {body.name!r}" if body.name else "the body")


def _body(file: Exchange, name: str, found: Sequence[Body], chosen: str | None) -> tuple[Body, list[str]]:
    """The body asked for, or the only one."""
    if len(found) > 1:
        sized = len(found) <= MOST_SIZED
        options = tuple(Option(str(n), _body_words(file, body, sized)) for n, body in enumerate(found, 1))
        if chosen is None:
            raise ChoiceNeededError("body", options, f"{name} holds {len(found)} bodies; say which")
        wanted = [body for option, body in zip(options, found, strict=True) if chosen.strip() == option.id]
        wanted = wanted or [body for body in found if body.name == chosen.strip()]
        if len(wanted) != 1:
            raise InputError(f"there is no body {chosen!r}; the file has {len(found)}, 1 to {len(found)}")
        body = wanted[0]
    else:
        body = found[0]
    notes = []
    if len(body.places) > 1:
        notes.append(f"the body stands at {len(body.places)} places of the assembly; the axis is that of the first")
    if body.places[0].is_mirrored:
        notes.append("the assembly shows the body mirrored; the section of a turned part is the same")
    return body, notes


def _body_words(file: Exchange, body: Body, sized: bool) -> str:
    """A body by its name and size, as far as it can be read."""
    times = f", {len(body.places)} times" if len(body.places) > 1 else ""
    spans: list[float] = []
    with suppress(InputError):  # it is said when the body is chosen
        shapes = Shapes(file, body.units.length or 1.0, body.units.angle or 1.0)
        faces = faces_of(shapes, body) if sized else []
        points = [point for face in faces for loop in face.loops for edge, _ in loop for point in edge.points]
        spans = [max(one) - min(one) for one in zip(*points, strict=True)]
    size = "".join(f"{' x' if k else ', about'} {span:.4g}" for k, span in enumerate(spans))
    unit = " mm" if body.units.length else " of its units"
    return f"{body.name or 'without a name'}{size}{unit if size else ''}{times}"


def _length(name: str, body: Body, choices: Choices) -> tuple[float, list[str]]:
    """Millimetres in one unit of the file."""
    given = {"mm": 1.0, "inch": INCH_MM}
    if body.units.length is not None:
        said = body.units.length
        if choices.units is not None and abs(given[choices.units] - said) > 1e-9:
            return said, [
                sentence(
                    "the file says that one of its units is {:g mm}; the answer {} is not used", said, choices.units
                )
            ]
        return said, []
    if choices.units is None:
        options = (Option("mm", "its numbers are millimetres"), Option("inch", "its numbers are inches"))
        raise ChoiceNeededError("units", options, f"{name} names no unit of length; say whether it is in mm or inch")
    return given[choices.units], [f"the file names no unit of length; {choices.units} was said"]


def _agreement(section: Section, found: Sequence[Feature], solid: float | None, measured: bool) -> list[str]:
    """What section and solid say of each other. Raises: ``InputError`` where they cannot both be right."""
    turned_volume = section.turned.closed.outline.volume
    if section.turned.walls and measured and (solid is None or turned_volume - solid > MOST_NOT_ROUND * turned_volume):
        what = ", ".join(sorted({wall.kind for wall in section.turned.walls}))
        why = "the kernel could not measure the solid" if solid is None else (
            f"{100 * (1 - solid / turned_volume):.3g} % of the section turned full round is not there")  # fmt: skip
        raise InputError(f"this is no turned part: its faces do not close without {what}, and {why}")
    if solid is None:
        return ["the kernel could not measure the solid: the section has no second opinion"] if measured else []
    share = SAMPLED_VOLUME if any(one.sampled for one in section.turned.faces) else SAME_VOLUME
    more = turned_volume - solid
    both = f"section turned full round {turned_volume:.8g} mm3, solid {solid:.8g} mm3"
    if abs(more) <= share * max(solid, turned_volume):
        if not found:
            return []
        return [f"{both}: equal, though faces are listed that are not turned"]
    if not found:
        raise InputError(f"the section does not agree with the solid ({both}), and nothing on it is not turned: "
                         "it cannot be relied on")  # fmt: skip
    if more < 0:
        if -more > MOST_OUTSIDE * turned_volume:
            raise InputError(f"{100 * -more / solid:.3g} % of the solid stands outside of its turned section ({both}): "
                             "this is no turned part")  # fmt: skip
        return [f"CAUTION: {both}: {-more:.6g} mm3 stand outside of the turned section, at faces listed as not turned; "
                "they swing, weigh and may be hit, and no plan knows of them"]  # fmt: skip
    most = sum(one.most for one in found)
    if more > most * 1.01 + share * turned_volume:
        raise InputError(f"the section does not agree with the solid ({both}): the faces that are not turned can "
                         f"take away {most:.6g} mm3 at most, {more:.6g} are missing")  # fmt: skip
    words = f"{both}: the faces that are not turned take away {more:.6g} mm3 ({100 * more / turned_volume:.3g} %)"
    if more > MUCH * turned_volume:
        return [f"CAUTION: {words}; a plan takes the part as whole: its mass, balance and stiffness are others"]
    return [words]


def _wall_features(walls: Sequence[Wall]) -> tuple[Feature, ...]:
    return tuple(
        Feature(
            NotTurned(wall.kind, wall.size, sentence("z {:.6g [mm]} to {:.6g [mm]}", *wall.z)),
            tuple(wall.faces),
            wall.most,
        )
        for wall in walls
    )


def _interrupted(surfaces: Sequence[TurnedSurface], strands: Sequence[Sequence[Strand]]) -> list[str]:
    """Which surfaces do not go round whole."""
    found = []
    for surface, own in zip(surfaces, strands, strict=True):
        sweep = min((strand.sweep for strand in own if strand.faces), default=tau)
        if sweep < INTERRUPTED:
            found.append(f"{surface.name} is interrupted: no edge of it goes round more than {degrees(sweep):.0f}°")
    return found
