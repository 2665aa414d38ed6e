"""The jaws of a cut as a solid: what the program leaves of them, and in words what no solid of them can show.

Core units; the frame is that of ``heldtrue.mechanics.cut_jaw``, whose zero is the program's.
"""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.errors import GeometryError
from heldtrue.mechanics.cut_jaw import BEYOND_MM, CutJaw, Turned
from heldtrue.mechanics.jaw_shape import Bolt
from heldtrue.planning.boring import BorePlan
from heldtrue.planning.hardware import Hardware
from heldtrue.program.job import Point
from heldtrue.program.target import run_in
from heldtrue.sentences import sentence
from heldtrue.tooling.blank import Blank, Master, OldBore, old_bore
from heldtrue.tooling.bore import old_line
from heldtrue.tooling.jaws import PIE, WIDE
from heldtrue.tooling.placing import Way
from heldtrue.tooling.ring import RingChoice
from heldtrue.tooling.serration import TONGUE_AND_GROOVE

CHORD_MM = 0.01
"""How far triangles may lie from the jaw where nothing is asked."""
CHORD_RANGE_MM = (0.0005, 1.0)
"""Finer needs more figures than an STL file has, coarser shows no relief."""
FRAME = (
    "lengths in mm; origin on the spindle axis, on the front face of the jaws",
    "+z along the spindle axis, away from the chuck: z as in the boring program",
    "+x outwards along the middle of jaw 1, +y to its left as seen from the tailstock",
)
"""Origin and axes, in words that go into the file as well: plain ASCII."""


@dataclass(frozen=True)
class Solids:
    """What was written of the jaws as solids.

    ``files``: names with what each holds; ``chord``: how far triangles may lie from the jaw, ``off``: how far they do
    [mm], 0 without them; ``triangles``: how many; ``volume`` of one jaw [mm3]; ``shows``: where it stands, what is in
    it; ``left_out``: what is not; ``failed``: which file was not written, and why.
    """

    files: tuple[tuple[str, str], ...]
    chord: float
    off: float
    triangles: int
    volume: float
    shows: tuple[str, ...]
    left_out: tuple[str, ...]
    failed: tuple[str, ...] = ()


def cut_jaw_of(plan: BorePlan) -> CutJaw:
    """The jaw that the program of a plan leaves. Raises: ``GeometryError`` for a plan with nothing to cut."""
    if plan.job is None or plan.ring is None:
        raise GeometryError("there is no cut, so there is no jaw to show")
    return cut_jaw(plan.job.finished, plan.job.grip, plan.hardware, plan.ring)


def cut_jaw(finished: tuple[Point, ...], side: str, hardware: Hardware, ring: RingChoice) -> CutJaw:
    """The jaw that stands as a ring sets it, cut to a finished line: of a ``side`` "outside" or "inside"."""
    blank, master, way = hardware.blank, hardware.master, ring.way
    assert blank is not None
    assert master is not None
    out = 1.0 if side == "outside" else -1.0
    far = 2 * way.outline.greatest_radius
    turned = [Turned(_taken_off(finished, out, far))]
    if blank.bored is not None:
        turned[:0] = [_old_cut(blank, master, way, out, far), *_old_steps(blank, master, way, out, far)]
    if ring.groove is not None:
        inner, outer = (diameter / 2 for diameter in ring.groove.diameters)
        deep = -ring.groove.depth
        turned.append(Turned(((inner, deep), (outer, deep), (outer, BEYOND_MM), (inner, BEYOND_MM))))
    wide, deep = blank.pocket
    bolts = tuple(Bolt(way.zero + hole, hardware.bolt.hole, wide, deep) for hole in blank.holes)
    return CutJaw(master.jaws, way.outline, blank.height, tuple(turned), bolts)


def _taken_off(finished: tuple[Point, ...], out: float, far: float) -> tuple[Point, ...]:
    """All that lies on the air side of the finished line, closed: to the axis, or ``far`` out for an inside grip."""
    (x0, z0), (x1, z1) = finished[-2:]
    if abs(z1 - z0) > 1e-9 or out * (x1 - x0) > 0:
        raise GeometryError(f"the finished line ends at x {x1:g}, z {z1:g} without leading out of the jaw across")
    # The mouth goes on past the front of the jaws as the tool comes in: along its chamfer.
    along = run_in([(out * x, z) for x, z in finished])
    x, z = finished[0]
    above = (x + out * along[0] * (BEYOND_MM - z) / along[1], BEYOND_MM)
    end = 0.0 if out > 0 else far
    return (above, *finished[:-1], (end, z1), (end, BEYOND_MM))


def _old_cut(blank: Blank, master: Master, way: Way, out: float, far: float) -> Turned:
    """What the last cut took away, where the set stands now, as far as it is recorded."""
    assert blank.bored is not None
    end = 0.0 if out > 0 else far
    as_cut = OldBore(blank.bored.radius, 0.0, 0.0)
    line = old_line(blank.bored, as_cut, end, out)
    off = old_bore(master, blank, blank.bored, way.tooth, way.stroke).off
    return Turned(((blank.bored.radius, BEYOND_MM), *line, (end, BEYOND_MM)), off)


def _old_steps(blank: Blank, master: Master, way: Way, out: float, far: float) -> list[Turned]:
    """The steps of that cut, as far as they are recorded."""
    assert blank.bored is not None
    end, seat = 0.0 if out > 0 else far, -blank.bored.depth
    off = old_bore(master, blank, blank.bored, way.tooth, way.stroke).off
    lows = [(radius, seat + z) for radius, z in blank.bored.steps or ()]
    # What lies above a step is air up to the front, also of one behind the seat.
    return [Turned(((end, low), (radius, low), (radius, BEYOND_MM), (end, BEYOND_MM)), off) for radius, low in lows]


def shows(plan: BorePlan) -> tuple[str, ...]:
    """Where the solid stands and what is in it that the program does not cut."""
    design, blank, ring = plan.design, plan.hardware.blank, plan.ring
    if design is None or blank is None or ring is None:
        return ()
    words = [*FRAME, "jaws count counter-clockwise as seen from the tailstock; they stand as they are clamped on the "
             "boring ring, the bore as the program leaves it with the wear offset at zero"]  # fmt: skip
    if design.face_off > 0 and not design.faced_by_program:
        words.append(
            sentence("the fronts are faced, {:.3g mm} off: the steps say so, the program does not", design.face_off)
        )
    if ring.groove is not None:
        cut_by = (
            "its own program cuts it" if plan.groove and plan.groove.work else "the steps say so, the program does not"
        )
        words.append(f"the groove for the ring is in it: {cut_by}")
    if blank.bored is not None:
        words.append("what the last cut took away is in it as far as it is recorded")
    if blank.holes and _sizes_are_assumed(plan):
        hole, (wide, deep) = plan.hardware.bolt.hole, blank.pocket
        words.append(
            sentence(
                "bolt holes of {:.4g mm} with pockets of {:.4g mm}, {:.4g mm} deep, are assumed in "
                "part: places are stated, not every size",
                hole,
                wide,
                deep,
            )
        )
    return tuple(words)


def left_out(plan: BorePlan) -> tuple[str, ...]:
    """What is on the jaws and not in the solid."""
    setup, blank, job = plan.setup, plan.hardware.blank, plan.job
    if blank is None or job is None:
        return ()
    master = setup.chuck.master_jaws
    serration = setup.jaws.serration or (master.serration if master else "")
    under = "tongue or groove (keyway)" if serration == TONGUE_AND_GROOVE else "serration (teeth)"
    words = [f"{under} under the jaw: its underside is flat"]
    if not blank.holes:
        words.append("bolt holes: none are stated")
    words.append(sentence("rounds that the tool's nose of {:g mm} leaves in inside corners", job.tool.nose_radius))
    if blank.style == WIDE:
        words.append("the neck of a wide jaw: it is as wide all along as at its nose")
    if blank.style == PIE:
        words.append("ends of the segments that are no arcs about the spindle axis")
    if blank.bored is not None and blank.bored.relief is None:
        words.append("the corner relief of the last cut: it is not recorded")
    if blank.bored is not None and blank.bored.seat is None:
        words.append("what was set back beside the last seat face: it is not recorded")
    return (*words, "edges broken by hand, threads, marks, and whatever else the setup does not state")


def solid_words(told: Solids) -> tuple[str, ...]:
    """What was written, what was not, what is in it and what is not, line by line; lengths in mm."""
    words = [*told.failed, *(f"{name}: {holds}" for name, holds in told.files)]
    if told.triangles:
        words.append(
            sentence(
                "{} triangles, off the jaw by {:.4f mm} at most (asked {:g mm})", told.triangles, told.off, told.chord
            )
        )
    if told.files:
        words += [*told.shows, *(sentence("not in it: {}", one) for one in told.left_out)]
    return tuple(words)


def _sizes_are_assumed(plan: BorePlan) -> bool:
    jaws = plan.setup.jaws
    return None in (jaws.bolt, jaws.counterbore_diameter, jaws.counterbore_depth)
