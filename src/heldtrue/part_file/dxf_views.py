"""The views on a drawing: lines that hang together, without the frame of the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heldtrue.part_file.cells import SNAP_MM, bounds, touching
from heldtrue.part_file.dxf_strokes import Drawing
from heldtrue.part_file.outline import Arc, Line, Piece

Box = tuple[float, float, float, float]
"""Least x, least y, most x, most y. [mm]"""


@dataclass(frozen=True)
class View:
    """Lines and circles that hang together, and all that stands inside them."""

    pieces: tuple[Piece, ...]
    circles: tuple[Arc, ...]
    box: Box

    @property
    def from_the_end(self) -> Arc | None:
        """The largest circle, where it is the whole outline: the part seen along its axis."""
        largest = max(self.circles, key=lambda one: one.radius, default=None)
        if largest is None:
            return None
        off = max(abs(a - b) for a, b in zip(bounds(largest), self.box, strict=True))
        return largest if off <= 0.01 + 1e-3 * largest.radius else None


def views_of(drawing: Drawing) -> list[View]:
    """The visible lines and circles by what hangs together; a view inside another is part of it."""
    pieces = [stroke.piece for stroke in drawing.strokes if stroke.kind == "visible"]
    pieces += [arc for arc, kind in drawing.circles if kind == "visible"]
    groups = [[pieces[n] for n in group] for group in touching(pieces)]
    boxed = sorted(((around(group), group) for group in groups), key=lambda one: -_area(one[0]))
    frame = _frame(boxed, drawing)
    found: list[tuple[Box, list[Piece]]] = []
    for box, group in boxed:
        if group is frame:
            drawing.left_out["line of the sheet's frame"] += len(group)
            continue
        outer = next((one for one in found if _inside(box, one[0])), None)
        if outer is None:
            found.append((box, group))
        else:
            outer[1].extend(group)
    return [
        View(tuple(p for p in group if not _full(p)), tuple(p for p in group if isinstance(p, Arc) and _full(p)), box)
        for box, group in found
    ]


def around(pieces: Sequence[Piece]) -> Box:
    """The box round pieces."""
    boxes = [bounds(piece) for piece in pieces]
    return min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes)


def _frame(boxed: Sequence[tuple[Box, list[Piece]]], drawing: Drawing) -> list[Piece] | None:
    """The largest group, where it is a rectangle round all else that no centre line crosses."""
    centres = [s.piece for s in drawing.strokes if s.kind == "centre" and isinstance(s.piece, Line)]
    if len(boxed) < 2 or not centres:
        return None
    box, group = boxed[0]
    if not all(_inside(other, box) for other, _ in boxed[1:]) or not all(isinstance(p, Line) for p in group):
        return None
    ends = [p for line in centres for p in (line.start, line.end)]
    return group if all(box[0] < x < box[2] and box[1] < y < box[3] for x, y in ends) and len(group) <= 8 else None


def _area(box: Box) -> float:
    return (box[2] - box[0] + SNAP_MM) * (box[3] - box[1] + SNAP_MM)


def _inside(box: Box, outer: Box) -> bool:
    return box[0] >= outer[0] and box[1] >= outer[1] and box[2] <= outer[2] and box[3] <= outer[3]


def _full(piece: Piece) -> bool:
    return isinstance(piece, Arc) and piece.start == piece.end
