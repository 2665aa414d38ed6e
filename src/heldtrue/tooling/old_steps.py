"""What the steps of the last cut took out of a used set where it stands now, and what the next cut leaves of them.

Lines and heights are in program coordinates: z = 0 on the front of the jaws, negative towards the chuck. [mm]
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from heldtrue.tooling.blank import Blank, Master, Point, old_bore
from heldtrue.tooling.nest import Nest

FAR_MM = 1e4
SAME_MM = 0.02
"""Radii and heights of steps this near are the same; a piece of an old step this thin beside a new cut is none."""
UNKNOWN = "it is not known whether the last cut of these jaws had steps"
JUST_ABOVE_MM = 0.01
"""An old step that would start at the new seat starts this much above it: 0 says nothing in a record."""


@dataclass(frozen=True)
class Taken:
    """A band without metal: up to ``radius`` (outside grip) or from there out, between ``low`` and ``high``.

    As it turns: what any jaw has lost counts, and so does the error of the old depth.
    """

    radius: float
    low: float
    high: float

    def box(self, out: float) -> BaseGeometry:
        """As an area."""
        ends = (-FAR_MM, self.radius) if out > 0 else (self.radius, FAR_MM)
        return shapely.box(ends[0], self.low, ends[1], self.high)


def taken(master: Master, blank: Blank, tooth: int, stroke: float, out: float) -> tuple[Taken, ...]:
    """By the steps of the last cut, with the set on ``tooth`` at ``stroke``; none where they are not known.

    ``out``: 1 for an outside grip, -1 for an inside one.
    """
    bored, found = blank.bored, []
    if bored is None or not bored.steps:
        return ()
    seat, off = -bored.depth, bored.depth_error
    for radius, z in bored.steps:
        far = old_bore(master, blank, replace(bored, radius=radius), tooth, stroke).far(out)
        found.append(Taken(far, seat + z - off, FAR_MM if z > 0 else seat + off))
    return tuple(found)


def without(body: BaseGeometry, bands: Sequence[Taken], out: float) -> BaseGeometry:
    """Metal less what the last cut took of it."""
    return body.difference(shapely.union_all([one.box(out) for one in bands])) if bands else body


def opened(profile: Sequence[Point], out: float) -> BaseGeometry:
    """All that a cut along ``profile`` takes away, from the mouth to the axis (outside grip) or to far out."""
    far = -FAR_MM if out > 0 else FAR_MM
    ends = [(far, profile[-1][1]), (far, FAR_MM), (profile[0][0], FAR_MM)]
    return shapely.Polygon([*profile, *ends]).buffer(0)


def left(
    bands: Sequence[Taken], profile: Sequence[Point], metal: Sequence[Point], out: float, depth: float
) -> tuple[Point, ...]:  # fmt: skip
    """Radius and height above the new seat of every band that reaches past the new cut.

    It is as much as may be missing: a later bore must not count on it.
    """
    stands = shapely.Polygon(metal).buffer(1e-6).difference(opened(profile, out))
    found = []
    for one in bands:
        if one.box(out).intersection(stands).buffer(-SAME_MM / 2).is_empty:
            continue
        z = one.low + depth
        found.append((one.radius, max(z, JUST_ABOVE_MM) if one.high == FAR_MM or z >= 0 else z))
    return tuple(found)


def run_as_they_are(stand: Sequence[Point], asked: Nest, radius: float, out: float, seat: float | None) -> bool:
    """Does a bore of ``radius`` with these steps in it do for a bore that asks for those of ``asked``?

    Each that is asked for is there; one more may only take metal where nothing bears.  ``stand``: radius and height
    above the seat of each that is there; ``seat``: radius to which the seat face reaches in (outside grip) or out.
    """

    def same(one: Point, other: Point) -> bool:
        return all(abs(a - b) <= SAME_MM for a, b in zip(one, other, strict=True))

    wanted = [(one.radius, one.z) for one in asked.steps]
    if not all(any(same(one, other) for other in stand) for one in wanted):
        return False
    free = not any(one.grips for one in asked.steps)
    for r, z in (one for one in stand if not any(same(one, other) for other in wanted)):
        if z > 0:
            fits = out * (r - radius) <= 0 or (free and any(one.z <= z + SAME_MM for one in asked.before))
        else:
            covered = free and any(out * (r - one.radius) <= SAME_MM for one in asked.behind)
            fits = seat is None or out * (r - seat) <= SAME_MM or covered
        if not fits:
            return False
    return True
