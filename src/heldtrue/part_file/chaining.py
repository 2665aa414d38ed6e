"""From loose edges to the pieces of one outline, each as long as it can be."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from heldtrue.errors import GeometryError
from heldtrue.part_file.cells import SNAP_MM
from heldtrue.part_file.outline import Arc, Line, Piece, Point, as_one


def cleaned(piece: Piece, sign: float) -> Piece:
    """The piece at r >= 0, its ends rounded to 1e-9 mm, on the axis where they are next to it."""

    def at(p: Point) -> Point:
        r = 0.0 if abs(p[0]) <= SNAP_MM else sign * p[0]
        return round(r, 9), round(p[1], 9)

    if isinstance(piece, Line):
        return Line(at(piece.start), at(piece.end))
    turns = piece.counterclockwise if sign > 0 else not piece.counterclockwise
    return Arc(at(piece.start), at(piece.end), (sign * piece.centre[0], piece.centre[1]), turns)


def chained(pieces: Sequence[Piece]) -> list[Piece]:
    """The pieces one after another."""
    at: dict[Point, list[Piece]] = defaultdict(list)
    for piece in pieces:
        at[piece.start].append(piece)
        at[piece.end].append(piece)
    for (r, z), both in at.items():
        if len(both) != 2:
            raise GeometryError(f"{len(both)} lines of it meet at Ø{2 * r:.5g}, z {z:.5g}")
    walked, here = [pieces[0]], pieces[0].end
    while here != pieces[0].start:
        one, other = at[here]
        following = other if one is walked[-1] or one == walked[-1].reversed else one
        following = following if following.start == here else following.reversed
        walked.append(following)
        here = following.end
    if len(walked) != len(pieces):
        raise GeometryError("it has an island inside")
    return walked


def straightened(pieces: list[Piece]) -> list[Piece]:
    """Neighbours on one straight line or one circle become one piece."""
    made: list[Piece] = []
    for piece in pieces:
        whole = as_one(made[-1], piece) if made else None
        if whole is None:
            made.append(piece)
        else:
            made[-1] = whole
    if len(made) > 2 and (whole := as_one(made[-1], made[0])) is not None:
        made[0] = whole
        made.pop()
    return made
