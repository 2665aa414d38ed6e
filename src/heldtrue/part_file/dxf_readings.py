"""The ways to read a drawing once its axis is known: which half counts, and what in it is material."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heldtrue.errors import InputError
from heldtrue.part_file.cells import SNAP_MM, Cells, bounds, cells_of
from heldtrue.part_file.choices import ChoiceNeededError, Choices, Option
from heldtrue.part_file.dxf_axis import Axis
from heldtrue.part_file.dxf_gaps import beyond, open_ends
from heldtrue.part_file.dxf_hatch import HatchedArea, hatched_areas
from heldtrue.part_file.dxf_section import Half
from heldtrue.part_file.dxf_strokes import Drawing
from heldtrue.part_file.dxf_views import View
from heldtrue.part_file.outline import Arc, Line, Piece
from heldtrue.part_file.turned_part import NotTurned
from heldtrue.sentences import sentence


@dataclass(frozen=True)
class Reading:
    """One way to read the drawing: the half that counts, and its material."""

    half: Half
    material: frozenset[int]


def material_of(
    drawing: Drawing, axis: Axis, views: Sequence[View], holes: Sequence[float], choices: Choices
) -> tuple[Reading, list[str]]:
    """The half that counts with its material, and what is to be said; ``holes``: r of centre lines beside the axis.

    Raises: ``ChoiceNeededError`` where solid and hollow, or several areas, are possible; ``InputError`` for no outline.
    """
    visible = [axis.placed(piece) for view in views for piece in view.pieces]
    around = [circle for view in views for circle in view.circles]
    cells = _cells(visible, axis, around)
    hidden = _hidden(drawing, axis, cells)
    hatch = hatched_areas(drawing, axis)
    halves = [half for half in _halves(cells, hatch, holes) if half.numbers]
    if not halves:
        raise InputError(open_ends(cells) or "no line encloses an area beside the axis; a closed outline is needed")
    if problem := open_ends(cells) or beyond(cells):
        raise InputError(problem)
    notes = []
    loose = [n for n in cells.loose if max(abs(p[0]) for p in (cells.edges[n].start, cells.edges[n].end)) > SNAP_MM]
    if loose:
        notes.append(f"{len(loose)} pieces of lines inside the outline enclose nothing; left out.")
    shaded = [half for half in halves if half.is_hatched]
    wanted = [word.strip() for word in (choices.body or "").split(",")]
    if shaded:
        readings = [Reading(half, half.by_hatch()) for half in shaded]
        others = [Reading(half, half.whole()) for half in halves if half not in shaded]
        notes.append("The hatched areas are the material.")
        if {"solid", "hollow"} & set(wanted):
            notes.append("Whether it is solid or hollow was said, but the hatching says it.")
        if hidden:
            notes.append(f"{len(hidden)} hidden lines left out: the section is hatched.")
    else:
        readings, others = _unhatched(halves, visible, hidden, axis, around, holes, wanted), []
    reading = _agreed(readings, others)
    notes.append("Both halves are drawn and agree." if len(halves) == 2 else "One half is drawn.")
    return _one_body(reading, wanted), notes


def _unhatched(
    halves: Sequence[Half], visible: Sequence[Piece], hidden: Sequence[Piece], axis: Axis, around: Sequence[Arc],
    holes: Sequence[float], wanted: Sequence[str],
) -> list[Reading]:  # fmt: skip
    """Solid, or open between the lines along the axis; asked where that is not the same."""
    solid = [Reading(half, half.whole()) for half in halves]
    lined = halves
    if hidden:
        lined = [half for half in _halves(_cells([*visible, *hidden], axis, around), (), holes) if half.numbers]
    open_ = [Reading(half, found) for half in lined if (found := half.by_lines()) is not None]
    same = len(open_) == len(lined) and all(one.material == one.half.whole() for one in open_)
    if same:
        return open_ if not hidden else solid
    if "solid" in wanted:
        return solid
    possible = [("solid", solid, "all inside the outline is material; inner lines are edges, slots or flats")]
    if len(open_) == len(lined):
        if "hollow" in wanted:
            return open_
        possible.append(("hollow", open_, f"the {'hidden ' if hidden else ''}lines along the axis are walls of a bore"))
    options = tuple(Option(id_, f"{what}: {_volume(readings[0]):.6g} mm³") for id_, readings, what in possible)
    inner = "lines along the axis are drawn hidden" if hidden else "lines run along the axis inside the outline"
    raise ChoiceNeededError(
        "body",
        options,
        f"the drawing is not hatched and {inner}; say which it is: {' or '.join(o.id for o in options)}",
    )


def _agreed(readings: Sequence[Reading], others: Sequence[Reading]) -> Reading:
    """One reading of both halves. What one half has and the other has not is not turned.

    Raises: ``InputError`` where each has something that the other has not.
    """
    first = max(readings, key=lambda one: float(one.half.region(one.material).area))
    for other in (*readings, *others):
        if other is first:
            continue
        mine, theirs = first.half, other.half
        whole = first.material if other in readings else mine.whole()
        one, two = mine.region(whole), theirs.region(other.material)
        less, more = one.difference(two.buffer(0.01)), two.difference(one.buffer(0.01))
        if more.area > 0.01:
            r0, z0, r1, z1 = more.bounds
            raise InputError(f"the two halves differ at Ø{2 * r0:.4g} to Ø{2 * r1:.4g}, z {z0:.4g} to {z1:.4g}")
        if less.area > 0.01:
            for part in getattr(less, "geoms", (less,)):
                r0, z0, r1, z1 = part.bounds
                mine.filled.append(
                    NotTurned(
                        "recess on one side",
                        sentence("{:.4g mm} along, {:.4g mm} deep", z1 - z0, r1 - r0),
                        sentence("Ø{:.4g [mm]} to Ø{:.4g [mm]}, z {:.4g [mm]} to {:.4g [mm]}", 2 * r0, 2 * r1, z0, z1),
                    )
                )
        mine.filled += [one for one in theirs.filled if one not in mine.filled]
    return first


def _one_body(reading: Reading, wanted: Sequence[str]) -> Reading:
    bodies = reading.half.bodies(reading.material)
    ids = [f"area {number}" for number in range(1, len(bodies) + 1)]
    picked = [body for id_, body in zip(ids, bodies, strict=True) if id_ in wanted]
    if picked:
        return Reading(reading.half, picked[0])
    strange = [word for word in wanted if word not in ("", "solid", "hollow")]
    if strange and len(bodies) == 1:
        raise InputError(f'body: found "{strange[0][:40]}"; there is one area on the axis: leave body out')
    if len(bodies) == 1:
        return reading
    options = []
    for id_, body in zip(ids, bodies, strict=True):
        r0, z0, r1, z1 = reading.half.region(body).bounds
        options.append(
            Option(id_, sentence("Ø{:.4g [mm]} to Ø{:.4g [mm]}, z {:.4g [mm]} to {:.4g [mm]}", 2 * r0, 2 * r1, z0, z1))
        )
    already = [word for word in wanted if word in ("solid", "hollow")]
    named = tuple(Option(", ".join([*already, option.id]), option.what) for option in options)
    raise ChoiceNeededError("body", named, f"{len(bodies)} separate areas stand on the axis; say which is the part")


def _cells(placed: Sequence[Piece], axis: Axis, circles: Sequence[Arc]) -> Cells:
    """Cells of lines in (r, z), cut along the axis. A circle counts only where it is part of the outline."""
    pieces = [_onto_axis(piece) for piece in placed]
    for circle in circles:
        inside = bounds(axis.placed(circle))
        outer = [p for piece in pieces for p in (piece.start, piece.end)]
        if not outer or not (min(p[1] for p in outer) <= inside[1] and inside[3] <= max(p[1] for p in outer)):
            pieces += _halved(axis.placed(circle))
    zs = [p[1] for piece in pieces for p in (piece.start, piece.end)]
    zs += [z for piece in pieces if isinstance(piece, Arc) for z in (piece.centre[1] - piece.radius,
                                                                     piece.centre[1] + piece.radius)]  # fmt: skip
    pieces = [piece for piece in pieces if max(abs(piece.start[0]), abs(piece.end[0])) > 0 or isinstance(piece, Arc)]
    return cells_of([Line((0.0, min(zs) - 1.0), (0.0, max(zs) + 1.0)), *pieces])


def _halves(cells: Cells, hatch: Sequence[HatchedArea], holes: Sequence[float]) -> list[Half]:
    return [Half(cells, sign, hatch, holes) for sign in (1.0, -1.0)]


def _hidden(drawing: Drawing, axis: Axis, cells: Cells) -> list[Piece]:
    """Hidden lines inside the closed areas that do not run straight across the axis."""
    from shapely import Point as Spot
    from shapely import unary_union

    found = [axis.placed(stroke.piece) for stroke in drawing.strokes if stroke.kind == "hidden"]
    if not found or not cells.cells:
        return []
    inside = unary_union([cell.polygon for cell in cells.cells]).buffer(0.05)
    found = [p for p in found if inside.covers(Spot(*p.start)) and inside.covers(Spot(*p.end))]
    if all(isinstance(p, Line) and abs(p.start[1] - p.end[1]) <= 2 * SNAP_MM for p in found):
        return []
    return [_onto_axis(piece) for piece in found]


def _volume(reading: Reading) -> float:
    return sum(reading.half.outline(body).volume for body in reading.half.bodies(reading.material))


def _onto_axis(piece: Piece) -> Piece:
    (r0, z0), (r1, z1) = ((0.0 if abs(r) <= SNAP_MM else r, z) for r, z in (piece.start, piece.end))
    if isinstance(piece, Line):
        return Line((r0, z0), (r1, z1))
    return Arc((r0, z0), (r1, z1), piece.centre, piece.counterclockwise)


def _halved(circle: Piece) -> list[Piece]:
    assert isinstance(circle, Arc)
    x, y = circle.centre
    start, end = (x, y - circle.radius), (x, y + circle.radius)
    return [Arc(start, end, circle.centre, True), Arc(end, start, circle.centre, True)]
