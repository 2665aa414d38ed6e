"""A turned part from a DXF drawing: both halves or one, with or without a centre line, hatched or not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from io import StringIO
from typing import Any

from heldtrue.errors import InputError
from heldtrue.part_file.cells import SNAP_MM, Cells, bounds, cells_of
from heldtrue.part_file.choices import ChoiceNeededError, Choices, Option
from heldtrue.part_file.dxf_axis import Axis, View, axis_of, centre_lines, on_axis, views_of
from heldtrue.part_file.dxf_section import Half, beyond, open_ends
from heldtrue.part_file.dxf_strokes import Drawing, drawing_of
from heldtrue.part_file.outline import Arc, Line, Piece
from heldtrue.part_file.surfaces import surfaces_of
from heldtrue.part_file.turned_part import NotTurned, TurnedPart

LARGEST_BYTES = 10_000_000
"""A drawing of one part has a hundredth of it."""
HEADER_UNITS = {1: ("inch", 25.4), 2: ("feet", 304.8), 4: ("mm", 1.0), 5: ("cm", 10.0), 6: ("m", 1000.0),
                9: ("thousandths of an inch", 0.0254), 13: ("µm", 0.001), 14: ("dm", 100.0)}  # fmt: skip
"""$INSUNITS of the header, its word, and mm per unit."""
STATED_UNITS = {"mm": 1.0, "inch": 25.4}
LARGEST_MM, SMALLEST_MM = 3000.0, 0.5
"""A part larger or smaller than that was drawn in another unit than the header says."""


@dataclass(frozen=True)
class _Reading:
    """One way to read the drawing: the half that counts, and its material."""

    half: Half
    material: frozenset[int]


def read_dxf(name: str, content: bytes, choices: Choices) -> TurnedPart:
    """The half section that a DXF drawing shows; lengths in mm.

    ``name`` is only said again in messages; nothing of the file is executed or fetched.

    Raises: ``ChoiceNeededError`` where unit, axis or material is left open; ``InputError`` for all that is no drawing
    of a turned part.
    """
    try:
        return _read(name, content, choices)
    except ChoiceNeededError as error:
        raise ChoiceNeededError(error.question, error.options, f"{name}: {error}") from error
    except InputError as error:
        raise InputError(*(f"{name}: {problem}" for problem in error.problems)) from error


def _read(name: str, content: bytes, choices: Choices) -> TurnedPart:
    document = _document(content)
    unit, notes = _unit(document, choices)
    try:
        drawing = drawing_of(document, unit)
    except (InputError, MemoryError, KeyboardInterrupt):
        raise
    except Exception as error:  # the library raises whatever a broken entity makes it stumble over
        raise InputError(f"an entity cannot be read: {_short(error)}") from error
    if not any(stroke.kind == "visible" for stroke in drawing.strokes):
        raise InputError(f"there is no visible line in the model space{_counted(drawing)}")
    views = views_of(drawing)
    axis, how = axis_of(drawing, views, unit, choices.axis)
    notes.append(f"Axis: {how} ({axis.id(unit)}).")
    lines = centre_lines(drawing, views)
    chosen = on_axis(axis, views, lines)
    holes = [r for one in lines if abs(r := axis.place(one.axis.foot)[0]) > SNAP_MM and _along(one.axis, axis)]
    reading, more = _material(drawing, axis, chosen, holes, choices)
    outline = reading.half.outline(reading.material)
    low, high = outline.z
    size = max(high - low, 2 * max(r for r, _ in outline.polygon(0.1)))
    if choices.units is None and not SMALLEST_MM <= size <= LARGEST_MM:
        raise _unit_question(f"by its header the part would be {size:.4g} mm large")
    notes += more + _left_out(drawing, views, chosen)
    return TurnedPart(
        source=name, digest=sha256(content).hexdigest(), outline=outline, surfaces=surfaces_of(outline),
        not_turned=(*reading.half.filled, *_holes(axis, views, chosen)),
        axis_origin=(*axis.foot, 0.0), axis_direction=(*axis.direction, 0.0), notes=tuple(notes),
    )  # fmt: skip


def _document(content: bytes) -> Any:
    if not content.strip():
        raise InputError("the file is empty")
    if len(content) > LARGEST_BYTES:
        raise InputError(f"larger than {LARGEST_BYTES // 1_000_000} MB; give a drawing of this part alone")
    if content[:4] == b"AC10":
        raise InputError("this is a DWG file; save the drawing as DXF")
    if content[18:22] == b"\r\n\x1a\x00":
        raise InputError("this is a binary DXF file; save the drawing as a text (ASCII) DXF")
    if b"SECTION" not in content or b"ENTITIES" not in content:
        raise InputError("this is not a DXF drawing; a text with SECTION and ENTITIES was expected")
    if b"EOF" not in content[-200:]:
        raise InputError("the drawing is cut off: its last line, EOF, is missing")
    import ezdxf

    try:
        return ezdxf.read(StringIO(content.decode(_encoding(content), errors="replace")))
    except (MemoryError, KeyboardInterrupt):
        raise
    except Exception as error:  # the library raises whatever a broken file makes it stumble over
        raise InputError(f"not a readable DXF drawing: {_short(error)}") from error


def _encoding(content: bytes) -> str:
    """UTF-8 where it is that; else the usual one byte for one letter, which only names of layers need."""
    try:
        content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


def _unit(document: Any, choices: Choices) -> tuple[float, list[str]]:
    """mm per drawing unit, and what is to be said of it."""
    code = document.header.get("$INSUNITS", 0)
    known = HEADER_UNITS.get(code if isinstance(code, int) else 0)
    if choices.units is not None:
        stated = STATED_UNITS[choices.units]
        if known and known[1] != stated:
            return stated, [f"The header says {known[0]}; read as {choices.units}, as you said."]
        return stated, [f"Read in {choices.units}, as you said."]
    if known is None:
        raise _unit_question("the header does not say in which unit it is drawn")
    return known[1], [f"Drawn in {known[0]}, by its header."]


def _unit_question(why: str) -> ChoiceNeededError:
    options = (Option("mm", "drawn in millimetres"), Option("inch", "drawn in inches"))
    return ChoiceNeededError("units", options, f"{why}; say mm or inch")


def _material(
    drawing: Drawing, axis: Axis, views: Sequence[View], holes: Sequence[float], choices: Choices
) -> tuple[_Reading, list[str]]:
    visible = [axis.placed(piece) for view in views for piece in view.pieces]
    around = [circle for view in views for circle in view.circles]
    cells = _cells(visible, axis, around)
    hidden = _hidden(drawing, axis, cells)
    hatch = _hatched(drawing, axis)
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
        readings = [_Reading(half, half.by_hatch()) for half in shaded]
        others = [_Reading(half, half.whole()) for half in halves if half not in shaded]
        notes.append("The hatched areas are the material.")
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
) -> list[_Reading]:  # fmt: skip
    """Solid, or open between the lines along the axis; asked where that is not the same."""
    solid = [_Reading(half, half.whole()) for half in halves]
    lined = halves
    if hidden:
        lined = [half for half in _halves(_cells([*visible, *hidden], axis, around), None, holes) if half.numbers]
    open_ = [_Reading(half, found) for half in lined if (found := half.by_lines()) is not None]
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


def _agreed(readings: Sequence[_Reading], others: Sequence[_Reading]) -> _Reading:
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
                mine.filled.append(NotTurned("recess on one side", f"{z1 - z0:.4g} mm along, {r1 - r0:.4g} mm deep",
                                             f"Ø{2 * r0:.4g} to Ø{2 * r1:.4g}, z {z0:.4g} to {z1:.4g}"))  # fmt: skip
        mine.filled += [one for one in theirs.filled if one not in mine.filled]
    return first


def _one_body(reading: _Reading, wanted: Sequence[str]) -> _Reading:
    bodies = reading.half.bodies(reading.material)
    if len(bodies) == 1:
        return reading
    ids = [f"area {number}" for number in range(1, len(bodies) + 1)]
    picked = [body for id_, body in zip(ids, bodies, strict=True) if id_ in wanted]
    if picked:
        return _Reading(reading.half, picked[0])
    options = []
    for id_, body in zip(ids, bodies, strict=True):
        r0, z0, r1, z1 = reading.half.region(body).bounds
        options.append(Option(id_, f"Ø{2 * r0:.4g} to Ø{2 * r1:.4g}, z {z0:.4g} to {z1:.4g}"))
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


def _halves(cells: Cells, hatch: Any, holes: Sequence[float]) -> list[Half]:
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


def _hatched(drawing: Drawing, axis: Axis) -> Any:
    """All hatched areas in (r, z), or ``None``."""
    if not drawing.hatched:
        return None
    from shapely import Polygon, unary_union

    areas = []
    for loops in drawing.hatched:
        area = Polygon()
        for loop in loops:
            area = area.symmetric_difference(Polygon([axis.place(p) for p in loop]).buffer(0))
        areas.append(area)
    return unary_union(areas)


def _holes(axis: Axis, views: Sequence[View], chosen: Sequence[View]) -> list[NotTurned]:
    """Circles of the side view, and those of an end view that are not about the axis."""
    found = []
    for view in views:
        outer = view.from_the_end
        for circle in view.circles:
            size = f"Ø{2 * circle.radius:.4g} mm"
            if view in chosen and outer is None:
                r, z = axis.place(circle.centre)
                found.append(NotTurned("hole across the axis", size, f"Ø{2 * abs(r):.4g}, z {z:.4g}"))
            elif outer is not None:
                x, y = (a - b for a, b in zip(circle.centre, outer.centre, strict=True))
                if (off := (x * x + y * y) ** 0.5) > 0.01:
                    found.append(NotTurned("hole along the axis", size, f"on Ø{2 * off:.4g}"))
    return found


def _left_out(drawing: Drawing, views: Sequence[View], chosen: Sequence[View]) -> list[str]:
    apart = sum(len(view.pieces) for view in views if view not in chosen and view.from_the_end is None)
    phantom = sum(stroke.kind == "phantom" for stroke in drawing.strokes)
    hidden = sum(stroke.kind == "hidden" for stroke in drawing.strokes)
    counts = {**drawing.left_out, "line apart from the view": apart, "phantom line": phantom, "hidden line": hidden}
    notes = [f"Left out: {count} × {kind}." for kind, count in sorted(counts.items()) if count]
    if drawing.chorded:
        notes.append(f"{drawing.chorded} splines and ellipses are chords that stand off by 1 µm at most.")
    return notes


def _counted(drawing: Drawing) -> str:
    found = {**drawing.left_out}
    for stroke in drawing.strokes:
        found[f"{stroke.kind} line"] = found.get(f"{stroke.kind} line", 0) + 1
    listed = ", ".join(f"{count} × {kind}" for kind, count in sorted(found.items()) if count)
    return f"; found only {listed}" if listed else ""


def _volume(reading: _Reading) -> float:
    return sum(reading.half.outline(body).volume for body in reading.half.bodies(reading.material))


def _along(one: Axis, other: Axis) -> bool:
    return abs(one.direction[0] * other.direction[1] - one.direction[1] * other.direction[0]) < 1e-3


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


def _short(error: Exception) -> str:
    text = " ".join(str(error).split()) or type(error).__name__
    return "".join(c if c.isprintable() else "?" for c in text)[:120]
