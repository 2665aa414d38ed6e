"""Whether a tool can make a finished line at all: its ends, its corners, and the holder beside it.

x runs in the cutting direction.  Each raises GeometryError in words that say what would help. [mm]
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from heldtrue.errors import GeometryError
from heldtrue.program.geometry import Piece
from heldtrue.program.job import BoringJob, Point
from heldtrue.program.nose import main_edge
from heldtrue.program.target import BEYOND_MM, corners, finished_area, mirrored, run_in, run_out, turning


def refuse_ends(job: BoringJob, line: list[Point], metal: BaseGeometry) -> None:
    """The finished line leads into the metal from outside, and out of it again."""
    if _runs_in_metal(line[-1], run_out(line), metal):
        x, z = job.finished[-1]
        raise GeometryError(f"the finished line ends inside the metal at x {x:g}, z {z:g}; lead it out of the jaw")
    x, z = job.finished[0]
    if _runs_in_metal(line[0], run_in(line), metal):
        raise GeometryError(f"the finished line starts inside the metal at x {x:g}, z {z:g}; start it at the face")
    straight_down = run_in(line) == (0.0, 1.0)
    if straight_down and turning([(line[0][0], line[0][1] + 1.0), *line[:2]])[0] > 1e-3:
        raise GeometryError(
            f"the finished line starts too flat at x {x:g}, z {z:g}: the nose cannot run in along it; let its "
            "first piece fall by 10 degrees or more towards the chuck"
        )


def refuse_corners(line: list[Point], radius: float, side: int) -> None:
    """Every inside corner has room for the round of the nose."""
    for corner in corners(line, radius):
        if corner.room < radius * (1 - 1e-9) and corner.left > 1e-3:
            x, z = side * corner.at[0], corner.at[1]
            raise GeometryError(
                f"a nose of {radius:g} mm does not fit the corner at x {x:.3f}, z {z:.3f}: "
                f"the largest that does is {corner.room:.3f} mm; take a smaller nose or a wider relief"
            )


def refuse_holder(job: BoringJob, side: int, finish: list[Piece]) -> None:
    """Edge and holder stay out of the finished metal with the nose anywhere on the finish line."""
    must, _, _ = finished_area(job, 1e-4)
    shank = shapely.Polygon(mirrored(job.tool.shank, side))
    if not shank.is_valid:
        raise GeometryError(f"the outline of tool {job.tool.number} crosses itself")
    start, end = main_edge(job.tool, side)
    edge = shapely.Polygon([(0.0, 0.0), (side * start[0], start[1]), (side * end[0], end[1])])
    radius = job.tool.nose_radius
    sharp_tip = shapely.box(0.0, -radius, radius, 0.0)  # an outline drawn to it sticks out beyond the round nose
    shank = shapely.union_all([shank.difference(sharp_tip), edge])
    shapely.prepare(must)
    for piece in finish:
        for share in np.linspace(0, 1, max(2, min(9, int(piece.length)))):
            at = piece.at(float(share))
            here = translate(shank, *at)
            if must.intersects(here) and here.intersection(must).buffer(-1e-3).area > 0:
                raise GeometryError(
                    f"edge, insert or holder of tool {job.tool.number} do not fit: they touch the finished jaw with "
                    f"the nose at x {side * at[0]:.3f}, z {at[1]:.3f}; take a slimmer tool or a wider, flatter relief"
                )


def _runs_in_metal(end: Point, way: Point, metal: BaseGeometry) -> bool:
    """Whether the line's end, followed on, meets metal."""
    start = (end[0] + 1e-3 * way[0], end[1] + 1e-3 * way[1])
    beyond = (start[0] + BEYOND_MM * way[0], start[1] + BEYOND_MM * way[1])
    return bool(shapely.LineString([start, beyond]).intersection(metal).length > 1e-3)
