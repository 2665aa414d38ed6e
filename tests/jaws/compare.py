"""One drawn job answered by the program and looked at by the plain model: where do they differ?

New sets and used ones; the program for the control only where asked for, for it takes seconds.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import shapely

from heldtrue.errors import GeometryError, HeldtrueError, InputError, ProofError
from heldtrue.planning.boring_cutting import asked_cutting, left_to_finish
from heldtrue.planning.boring_program import boring_job
from heldtrue.planning.boring_stand import SOFT_METAL_MPA
from heldtrue.planning.boring_steps import Facts
from heldtrue.planning.inputs import prepare
from heldtrue.planning.jaw_layout import lay_out, lay_out_used
from heldtrue.program.front import program
from heldtrue.tooling import bolts

from .draw import drawn
from .plain import PlainCut, PlainJaw, after, bears_round, deepest_pass, neighbours_meet, swept, touched_first

NEAR = 0.01
"""How near two figures must be that both models know exactly. [mm]"""
POINTS = 0.06
"""How near where the plain model only has points."""
SLACK_BEARING = 0.6


@dataclass
class Looked:
    """What became of the drawn jobs, and where the two models differ."""

    outcomes: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


def look_at(seed: int, looked: Looked, *, used: bool, proved: bool) -> None:
    """One seed."""
    try:
        setup = drawn(seed)
        job = prepare(setup)
    except HeldtrueError as error:
        _refused(looked, seed, "no setup", str(error))
        return
    layout, cut = lay_out(job), None
    if used and not layout.refusals:
        setup, job, layout, cut = _cut_before(seed, setup, job, layout)
    design = None
    if not layout.refusals:
        try:
            design = layout.design(0.0)
        except GeometryError as error:
            _refused(looked, seed, "no bore", str(error))
            return
    if design is None:
        _refused(looked, seed, "not placed", "; ".join(layout.refusals))
        return
    jaw = _plain(setup, layout)
    looked.outcomes["laid out, used" if cut else "laid out"] += 1
    looked.wrong += [f"seed {seed}: {words}" for words in _geometry(setup, job, layout, design, jaw, cut)]
    if proved:
        _program(seed, looked, setup, job, layout, design, jaw, cut)


def _refused(looked, seed, what, words):
    looked.outcomes[what] += 1
    if not words.strip() or "Traceback" in words or "inf" in words.split():
        looked.wrong.append(f"seed {seed}: refused without a reason: {words!r}")


def _plain(setup, layout):
    """The jaw as it stands on paper in the setup."""
    jaws, blank = setup.jaws, layout.hardware.blank
    return PlainJaw(
        setup.chuck.jaws, jaws.style == "pie", jaws.inner_end == "pointed", jaws.width or 0.0, jaws.gap or 0.0,
        jaws.ends[0], jaws.ends[1], blank.height,
    )  # fmt: skip


def _cut_before(seed, setup, job, layout):
    """The same set, cut once before for something of nearly that size: as its tag says, and touched off on its ring."""
    dice, master = random.Random(seed + 7), layout.hardware.master
    outside = setup.grip.side == "outside"
    tooth = layout.ring.way.tooth + dice.choice([0, -3, -2, 2, 3, 4])
    tooth = min(max(tooth, 1), len(master.zeros))
    out = 1 if outside else -1
    stroke = dice.uniform(-0.15, 0.15) * master.travel
    off = layout.ring.way.zero - master.zeros[tooth - 1] - stroke
    radius = job.bore_radius - out * dice.uniform(0.2, 0.9) - off  # its middle then stands just inside the new bore
    deep = round(setup.grip.z[1] - dice.uniform(0.0, 0.6), 2)
    cut = PlainCut(outside, radius, max(deep, 2.0), master.zeros[tooth - 1] + stroke)
    if not len(cut.wall(_plain(setup, layout), layout.ring.way.zero)):
        return setup, job, layout, None  # no such blank was ever cut so
    record = {"diameter": 2 * radius, "depth": cut.depth, "tooth": tooth, "chuck": "CH-1", "steps": []}
    again = setup.with_({"jaws.last_cut": record, "jaws.tooth": layout.ring.way.tooth})
    job = prepare(again)
    stands, _ = lay_out_used(job, None)
    if stands.ring is None:
        return again, job, stands, cut
    way = stands.ring.way
    jaw = _plain(again, layout)
    found = touched_first(jaw, way.zero, cut)
    return again, job, lay_out_used(job, 2 * found)[0], cut


def _geometry(setup, job, layout, design, jaw, cut):
    way, chosen = layout.ring.way, layout.ring
    outside, face_off = setup.grip.side == "outside", design.face_off
    if face_off and cut:
        cut = PlainCut(cut.outside, cut.radius, cut.depth - face_off, cut.zero)
    cloud = swept(jaw, way.zero, cut)
    body = shapely.Polygon(design.metal)
    out = ~shapely.contains_xy(body.buffer(NEAR), cloud)
    if out.any():
        r, z = cloud[out][0]
        yield f"a point of the jaws at radius {r:.3f}, z {z:.2f} is not in the metal of the program"
    reach, told = (cloud[:, 0].min(), cloud[:, 0].max()), (body.bounds[0], body.bounds[2])
    if not np.allclose(reach, told, atol=POINTS + 0.3 * jaw.pie):
        yield f"metal from {told[0]:.3f} to {told[1]:.3f}, points from {reach[0]:.3f} to {reach[1]:.3f}"
    yield from _bore(setup, job, layout, design, jaw, cut, cloud)
    yield from _ring(chosen, jaw, way, outside, setup)
    opened = _turned(jaw, way.zero, way.opening).max()
    if abs(opened - way.turning) > NEAR or opened > setup.chuck.swing / 2 + NEAR:
        yield f"the open jaws turn in {opened:.3f}, told {way.turning:.3f}, swing {setup.chuck.swing / 2}"
    meet = neighbours_meet(jaw, way.zero - way.closing)
    if meet > NEAR + 0.5 * jaw.pie * abs(way.stroke):
        yield f"closed by {way.closing:.3f}, neighbours stand {meet:.3f} in each other"


def _turned(jaw, zero, moved):
    points = jaw.plan_points(zero)
    return np.hypot(points[:, 0] + zero + moved, points[:, 1])


def _bore(setup, job, layout, design, jaw, cut, cloud):
    way, outside, radius = layout.ring.way, setup.grip.side == "outside", design.diameter / 2
    here = cloud[cloud[:, 1] > -design.depth + design.relief[0]] if cut is None else cloud[cloud[:, 1] > -cut.depth]
    first = here[:, 0].min() if outside else here[:, 0].max()
    depth = (radius - first) if outside else (first - radius)
    if abs(depth - way.metal) > POINTS + 0.3 * jaw.pie:
        yield f"{depth:.3f} to cut, told {way.metal:.3f}"
    bears = bears_round(jaw, way.zero, radius)
    if radius * bears < radius * job.half_angle - SLACK_BEARING:
        yield f"bears over {2 * radius * bears:.2f}, planned {2 * radius * job.half_angle:.2f}"
    if cut is not None:
        wall = cut.wall(jaw, way.zero)
        away = np.hypot(wall[:, 0] + way.zero, wall[:, 1])
        left = radius - away.max() if outside else away.min() - radius
        if left < 0.2 - POINTS:
            yield f"only {left:.3f} comes off the old bore somewhere"


def _ring(chosen, jaw, way, outside, setup):
    stub = _turned(jaw, way.zero, 0.0)
    if chosen.groove is None:
        reach = stub.min() if outside else stub.max()
        if abs(reach - chosen.set_to / 2) > POINTS + 0.3 * jaw.pie:
            yield f"the jaws reach {reach:.3f} at the ring, which is {chosen.set_to / 2:.3f}"
    if not outside and chosen.groove is None and chosen.ring.outside / 2 > setup.chuck.swing / 2 + NEAR:
        yield "the ring turns in more than the chuck clears"


def _program(seed, looked, setup, job, layout, design, jaw, cut):
    hardware, chosen = layout.hardware, layout.ring
    tight, left = bolts.tightening("M12", "12.9"), left_to_finish(setup.boring)
    facts = Facts(setup, 1.0, 400.0, layout.placing, chosen, design, tight, 0.02, "tool", left)
    cutting = asked_cutting(setup.boring, light=job.jaw.young.value < SOFT_METAL_MPA, limit=400.0)
    work = boring_job(setup, hardware, design, facts, cutting)
    try:
        made = program(work)
    except (GeometryError, ProofError, InputError) as error:
        looked.outcomes["proof failed" if isinstance(error, ProofError) else "no path"] += 1
        _refused(looked, seed, "no program", str(error))
        return
    looked.outcomes["proved"] += 1
    moves = [(one.rapid, one.piece.start, one.piece.end) for one in made.moves]
    outside = setup.grip.side == "outside"
    if cut is not None:
        cut = PlainCut(cut.outside, cut.radius, cut.depth - design.face_off, cut.zero)
    nose, front = work.tool.nose_radius, work.face_off
    deepest, rapid = deepest_pass(jaw, chosen.way.zero, cut, outside, moves, design.depth, nose, front)
    looked.wrong += [f"seed {seed}: {words}" for words in _left(setup, design, jaw, chosen, cut, moves, work)]
    if deepest > work.cutting.pass_depth + POINTS:
        looked.wrong.append(f"seed {seed}: a pass {deepest:.3f} mm deep, {work.cutting.pass_depth:.3f} were asked")
    if rapid > POINTS:
        looked.wrong.append(f"seed {seed}: a rapid {rapid:.3f} mm deep in metal")
    near = _tool_to_ring(work, made.moves)
    if near < chosen.to_tool - 0.01:
        looked.wrong.append(f"seed {seed}: the tool comes within {near:.3f} of the ring, told {chosen.to_tool:.3f}")


def _left(setup, design, jaw, chosen, cut, moves, work):
    """What nose and edge never passed of what was to go, and what they passed of what was to stay, steps by hand."""
    outside, seat, steps = setup.grip.side == "outside", -design.depth, setup.boring.steps or ()
    out, front, tool = (1 if outside else -1), work.face_off, work.tool
    lowest = seat + min([one.z for one in steps if one.z < 0], default=0.0)
    points, gone = after(jaw, chosen.way.zero, cut, outside, moves, tool, 1.0 - lowest, front)
    r, z = points.T
    bore = np.full(len(points), design.diameter / 2)
    for one in sorted(steps, key=lambda one: one.z):
        there = z > seat + one.z if one.z > 0 else (z < seat) & (z > seat + one.z)
        bore[there] = one.diameter / 2
    inside = (z > lowest) & (out * (bore - r) > 0)
    wanted = (z > 0) | inside
    # Corner relief, taper, chamfers, set-back and rounds are for the proof itself: this looks further off.
    sure = np.abs(r - bore) > design.relief[1] + 2 * tool.nose_radius + design.mouth_chamfer
    for level in (0.0, seat, lowest, *(seat + one.z for one in steps)):
        sure &= np.abs(z - level) > 0.2 + 2 * tool.nose_radius + design.seat_relief
    sure |= z > 0.05
    sure &= shapely.contains_xy(shapely.Polygon(work.metal), points)  # as the cloud of points has it, see above
    for what, wrong in (("stays", sure & wanted & ~gone), ("is gone", sure & ~wanted & gone)):
        if wrong.any():
            yield f"what lies at radius {r[wrong][0]:.2f}, z {z[wrong][0]:.2f} {what} (bore {bore[wrong][0]:.2f})"


def _tool_to_ring(work, moves):
    """Least distance of insert, holder and nose from the ring, on the whole way of the tool."""
    ring = shapely.Polygon(next(one.outline for one in work.keep_out if one.name == "ring"))
    radius = work.tool.nose_radius
    shape = shapely.union_all([shapely.Polygon(work.tool.shank), shapely.Point(0, 0).buffer(radius)])
    side = 1 if work.grip == "outside" else -1
    least = np.inf
    for one in moves:
        for share in (0.0, 0.5, 1.0):
            x, z = one.piece.at(share)
            here = shapely.affinity.translate(shape, x - side * radius, z + radius)
            least = min(least, here.distance(ring))
    return least
