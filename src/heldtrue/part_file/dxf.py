"""A turned part from a DXF drawing: both halves or one, with or without a centre line, hatched or not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from hashlib import sha256
from io import StringIO
from typing import Any

from heldtrue.errors import GeometryError, InputError
from heldtrue.part_file.cells import SNAP_MM
from heldtrue.part_file.choices import ChoiceNeededError, Choices, Option
from heldtrue.part_file.dxf_axis import Axis, axis_of, centre_lines, on_axis
from heldtrue.part_file.dxf_hatch import take_hatch_lines
from heldtrue.part_file.dxf_readings import material_of
from heldtrue.part_file.dxf_strokes import Drawing, drawing_of
from heldtrue.part_file.dxf_views import View, views_of
from heldtrue.part_file.surfaces import surfaces_of
from heldtrue.part_file.turned_part import NotTurned, TurnedPart
from heldtrue.sentences import sentence

LARGEST_BYTES = 10_000_000
"""A drawing of one part has a hundredth of it."""
HEADER_UNITS = {1: ("inch", 25.4), 2: ("feet", 304.8), 4: ("mm", 1.0), 5: ("cm", 10.0), 6: ("m", 1000.0),
                9: ("thousandths of an inch", 0.0254), 13: ("µm", 0.001), 14: ("dm", 100.0)}  # fmt: skip
"""$INSUNITS of the header, its word, and mm per unit."""
MOST_TRIED = 8
"""Lines that may be the axis, each tried before anybody is asked: a question without a good answer is none."""
STATED_UNITS = {"mm": 1.0, "inch": 25.4}
LARGEST_MM, SMALLEST_MM = 3000.0, 0.5
"""A part larger or smaller than that was drawn in another unit than the header says."""


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
    kinds = [stroke.kind for stroke in drawing.strokes] + [kind for _, kind in drawing.circles]
    if "visible" not in kinds:
        raise InputError(f"there is no visible line in the model space{_counted(drawing)}")
    take_hatch_lines(drawing)
    views = views_of(drawing)
    try:
        axis, how = axis_of(drawing, views, unit, choices.axis)
    except ChoiceNeededError as asked:
        tried = (_gives_more(name, content, replace(choices, axis=one.id)) for one in asked.options)
        if len(asked.options) <= MOST_TRIED and not any(tried):
            raise InputError("no line encloses an area beside any line that may be the axis; a closed outline is needed"
                             ) from asked  # fmt: skip
        raise
    notes.append(f"Axis: {how} ({axis.id(unit)}).")
    lines = centre_lines(drawing, views)
    chosen = on_axis(axis, views, lines)
    holes = [r for one in lines if abs(r := axis.place(one.axis.foot)[0]) > SNAP_MM and _along(one.axis, axis)]
    reading, more = material_of(drawing, axis, chosen, holes, choices)
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


def _gives_more(name: str, content: bytes, choices: Choices) -> bool:
    """Does an answer lead to a part, or to the next question? Else it is not worth asking."""
    try:
        _read(name, content, choices)
    except ChoiceNeededError:
        return True
    except (GeometryError, InputError):
        return False
    return True


def _document(content: bytes) -> Any:
    if not content.strip():
        raise InputError("the file is empty")
    if len(content) > LARGEST_BYTES:
        raise InputError(f"larger than {LARGEST_BYTES // 1_000_000} MB; give a drawing of this part alone")
    if content[:4] == b"AC10":
        raise InputError("this is a DWG file; save the drawing as DXF")
    if content[18:22] == b"\r\n\x1a\x00":
        raise InputError("this is a binary DXF file; save the drawing as a text (ASCII) DXF")
    is_whole = content.rstrip(b"\0\x1a \t\r\n").endswith(b"EOF")
    if b"SECTION" not in content or (is_whole and b"ENTITIES" not in content):
        raise InputError("this is not a DXF drawing; a text with SECTION and ENTITIES was expected")
    if not is_whole:
        raise InputError("the drawing is cut off: its last line, EOF, is missing")
    import ezdxf

    try:
        text = content.decode(_encoding(content), errors="replace")
        return ezdxf.read(StringIO(text, newline=None))  # lines end as the system ends them that wrote the file
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


def _holes(axis: Axis, views: Sequence[View], chosen: Sequence[View]) -> list[NotTurned]:
    """Circles of the side view, and those of an end view that are not about the axis."""
    found = []
    for view in views:
        outer = view.from_the_end
        for circle in view.circles:
            size = sentence("Ø{:.4g mm}", 2 * circle.radius)
            if view in chosen and outer is None:
                r, z = axis.place(circle.centre)
                found.append(
                    NotTurned("hole across the axis", size, sentence("Ø{:.4g [mm]}, z {:.4g [mm]}", 2 * abs(r), z))
                )
            elif outer is not None:
                x, y = (a - b for a, b in zip(circle.centre, outer.centre, strict=True))
                if (off := (x * x + y * y) ** 0.5) > 0.01:
                    found.append(NotTurned("hole along the axis", size, sentence("on Ø{:.4g [mm]}", 2 * off)))
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


def _along(one: Axis, other: Axis) -> bool:
    return abs(one.direction[0] * other.direction[1] - one.direction[1] * other.direction[0]) < 1e-3


def _short(error: Exception) -> str:
    text = " ".join(str(error).split()) or type(error).__name__
    return "".join(c if c.isprintable() else "?" for c in text)[:120]
