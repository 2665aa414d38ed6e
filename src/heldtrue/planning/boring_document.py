"""How to cut the jaws as a JSON document, and its JSON Schema.

Lengths in mm, torque in N m, pressure in the unit of the gauge.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from heldtrue.json_document import FORMAT, Entry, schema_of
from heldtrue.planning.boring import BorePlan, RecutPlan
from heldtrue.planning.boring_checks import ForceCheck
from heldtrue.planning.boring_cutting import BoringForces, Turned
from heldtrue.planning.jaw_solid import Solids
from heldtrue.planning.window import gauge_unit_of
from heldtrue.program.front import Program
from heldtrue.program.proof import Proof
from heldtrue.quantities import from_core
from heldtrue.tooling.bore import DEPTH_TOLERANCE_MM, FINISH_UM
from heldtrue.tooling.placing import Way
from heldtrue.tooling.recut import Skim
from heldtrue.tooling.ring import ROUND_MM, SIZE_TOLERANCE_MM

Verdict = Literal["passes", "fails", "not proven"]


class BoringPressure(Entry):
    """The gauge pressure while the jaws are cut."""

    unit: str = Field(description="that of the gauge")
    value: float = Field(description="on the gauge")
    from_: str = Field(serialization_alias="from", description="stated or advised, in words")


class WayEntry(Entry):
    """One way the jaws can stand."""

    tooth: int = Field(description="of the serration, or the position, from 1 at the axis; the same on every jaw")
    zero_mark: float = Field(description="radius of the zero marks when the jaws are cut")
    stroke: float = Field(description="from mid-stroke when the jaws are cut, outwards positive, on radius")
    opening: float = Field(description="stroke left to open, on radius")
    closing: float = Field(description="stroke left to close, on radius")
    web: float | None = Field(description="least metal between bore and bolt pocket; null without bolts in the way")
    cuts_left: int = Field(description="after this cut")
    metal: float = Field(description="to cut off per side at the mouth")
    swing_radius: float = Field(description="radius the fully open jaws turn in")
    notes: list[str] = Field(description="what to know of it")


class RefusedWay(Entry):
    """One way that does not work, and why."""

    tooth: int = Field(description="as above")
    reasons: list[str] = Field(description="in words")


class RingEntry(Entry):
    """What the jaws clamp while they are cut."""

    name: str = Field(description="as the shop calls it")
    kind: str = Field(description="ring, plug or spider")
    from_shop: bool = Field(description="false: it has to be turned first")
    outside: float = Field(description="diameter")
    inside: float = Field(description="diameter, 0 of a plug")
    width: float = Field(description="axially")
    set_to: float = Field(description="diameter the jaws bear on")
    tolerance: float = Field(description="of that diameter, both ways")
    roundness: float = Field(description="how round it must be there, and its faces parallel")
    heights: tuple[float, float] = Field(description="above the master jaws")
    groove_diameters: tuple[float, float] | None = Field(description="groove to cut in the jaw faces for it")
    groove_depth: float | None = Field(description="null without a groove")
    to_grip: float = Field(description="from the middle of the ring to the middle of the grip, axially")
    to_tool: float = Field(description="least distance to the path of the tool")
    words: str = Field(description="in words")
    tried: list[str] = Field(description="why the other rings do not do")


class NestEntry(Entry):
    """One more diameter of the bore."""

    diameter: float = Field(description="of the bore there")
    z: float = Field(
        description="height above the seat from which on it has it, to the mouth; below 0: behind the seat"
    )
    grips: bool = Field(description="does it bear on the part too?")


class DesignEntry(Entry):
    """The bore to cut."""

    side: str = Field(description="outside or inside grip")
    diameter: float = Field(description="at the seat")
    mouth_diameter: float = Field(description="at the front")
    tolerance: tuple[float, float] = Field(description="deviations of both, low and high")
    taper: float = Field(description="per side over the gripped length")
    taper_from: str = Field(description="stated or computed, in words")
    depth: float = Field(description="front of the jaws to seat")
    depth_tolerance: float = Field(description="of the depth, both ways")
    finish: float = Field(description="Ra of bore and seat [µm]")
    face_off: float = Field(description="to take off the jaw fronts first")
    faced_by_program: bool = Field(description="does the program do that?")
    land: tuple[float, float] | None = Field(description="diameters of the seat face; null without a seat")
    seat_relief: float = Field(description="how far the rest is set back behind the land")
    relief_width: float = Field(description="of the corner relief")
    relief_depth: float = Field(description="of the corner relief")
    run_in: float = Field(description="into the corner relief, from the wall [degrees]")
    mouth_chamfer: float = Field(description="at 45 degrees")
    grip_height: float = Field(description="chuck face to the middle of the grip")
    gap_open: float | None = Field(description="between pie segments, jaws open; null for other jaws")
    gap_closed: float | None = Field(description="the same, jaws closed")
    steps: list[NestEntry] = Field(description="more diameters of the bore, mouth first")
    profile: list[tuple[float, float]] = Field(description="radius and z (0 at the jaw fronts), mouth first")


class BoltEntry(Entry):
    """The jaw bolts."""

    size: str = Field(description="thread")
    strength: str = Field(description="class")
    torque_nm: float = Field(description="to set on the wrench [N m]")
    least_thread: float = Field(description="in the T-nut")
    source: str = Field(description="of the torque")


class PassEntry(Entry):
    """One kind of pass at its worst. [mm, N, N m, kW]"""

    part: str = Field(description="rough, contour, relief or finish")
    depth: float = Field(description="the deepest it may cut")
    feed: float = Field(description="per turn")
    edge: float = Field(description="length of edge that cuts")
    cutting: float = Field(description="cutting force")
    feeding: float = Field(description="feed force")
    passive: float = Field(description="passive force")
    off_ring: float = Field(description="the most that pushes one jaw off its ring, where it cuts")
    lift: float = Field(description="the most that could pull the jaw off the chuck")
    speed: float = Field(description="highest while it cuts, rev/min")
    torque_nm: float = Field(description="about the spindle")
    power_kw: float = Field(description="at the edge")


class ForceCheckEntry(Entry):
    """One thing that must stand the cut."""

    name: str = Field(description="ring, slide, tip, edge, feed, torque, power, slender, give or size")
    part: str = Field(description="which pass")
    value: float = Field(description="what is needed or reached")
    limit: float | None = Field(description="what is there or allowed; null where it is not stated")
    unit: str = Field(description="of both")
    margin: float = Field(description="limit over value; 0 where it could not be checked")
    state: str = Field(description="holds, fails, to correct, or not checked")
    source: str = Field(description="who says so")
    measure: str = Field(description="what to state where it could not be checked")


class TurnedEntry(Entry):
    """A value of the cut that was, or would have to be, lowered."""

    name: str = Field(description="pass_depth, rough_feed, finish_feed or surface_speed")
    before: float = Field(description="as asked or usual")
    after: float | None = Field(description="the largest that holds; null where none does")


class ForcesEntry(Entry):
    """The forces of the cut, each pass at its worst, and whether they hold."""

    hold: bool = Field(description="does nothing fail?")
    pass_depth: float = Field(description="of the cut")
    finish_allowance: float = Field(description="of the cut")
    rough_feed: float = Field(description="of the cut")
    finish_feed: float = Field(description="of the cut")
    surface_speed: float = Field(description="of the cut, m/min")
    passes: list[PassEntry] = Field(description="every kind of pass")
    checks: list[ForceCheckEntry] = Field(description="every check on every pass")
    lowered: list[TurnedEntry] = Field(description="usual values lowered until the cut holds")
    would_hold: list[TurnedEntry] = Field(description="where it does not hold: each value alone that would")
    together: list[TurnedEntry] = Field(description="where none alone does: all of them that would")


class FindingEntry(Entry):
    """One thing wrong with a program."""

    code: str = Field(description="what kind")
    message: str = Field(description="in words")
    line: int | None = Field(description="of the text; null where no one line is to blame")
    value: float | None = Field(description="how much")
    limit: float | None = Field(description="what is allowed")
    radius: float | None = Field(description="where")
    z: float | None = Field(description="where, from the jaw fronts")


class ProofEntry(Entry):
    """What reading the finished program back and cutting with it has shown."""

    passed: bool = Field(description="is exactly the designed bore cut, and nothing else")
    findings: list[FindingEntry] = Field(description="what is wrong")
    gouge: float = Field(description="worst cut too deep")
    left_over: float = Field(description="worst metal left where none should be")
    deepest: float = Field(description="largest depth of cut, on radius")
    top_speed: float = Field(description="rev/min")
    minutes: float = Field(description="running time, stops left out")
    tolerance: float = Field(description="how far off the bore it may be: 1 um and the rounding of coarser words")
    moves: int = Field(description="in the text")
    lines: int = Field(description="of the text")
    probed: bool = Field(description="does it call a probing cycle of the control, of which nothing is proved?")


class ProgramEntry(Entry):
    """The program: how it is cut, and its proof."""

    dialect: str = Field(description="name of the template")
    unit: str = Field(description="mm or inch, of its words")
    passes: dict[str, int] = Field(description="how many of each kind")
    cut_length: float = Field(description="at feed")
    proof: ProofEntry = Field(description="that it passed")
    text: str = Field(description="the program itself")


class SolidFileEntry(Entry):
    """One file of the cut jaws as a solid."""

    name: str = Field(description="in the folder")
    holds: str = Field(description="in words")


class SolidsEntry(Entry):
    """The cut jaws as solids, beside the program. [mm]"""

    files: list[SolidFileEntry] = Field(description="STEP of all jaws, STL of jaw 1; without those that failed")
    chord: float = Field(description="how far the triangles may lie from the jaw")
    off: float | None = Field(description="how far they do; null without triangles")
    triangles: int = Field(description="how many")
    volume: float | None = Field(description="of one jaw [mm3]; null where none could be made")
    shows: list[str] = Field(description="origin and axes, and what is in it beside the cut")
    not_in_it: list[str] = Field(description="what is on the jaws and not in the solid")
    failed: list[str] = Field(description="which file was not written, and why")


class StepEntry(Entry):
    """One step at the machine."""

    number: int = Field(description="from 1")
    name: str = Field(description="in a word or two")
    words: str = Field(description="what to do")


class BoreDocument(Entry):
    """How to cut one set of jaws."""

    format: int = Field(default=FORMAT, description="as in a plan")
    title: str = Field(description="title of the setup")
    jaw_set: str = Field(description="its number")
    can_be_cut: bool = Field(description="is there a job for a program?")
    plan_verdict: Verdict = Field(description="of the part in these jaws")
    pressure: BoringPressure = Field(description="while they are cut")
    spindle_limit: float = Field(description="rev/min")
    spindle_limit_by: str = Field(description="what decides it")
    ways: list[WayEntry] = Field(description="every way the jaws can stand, best first")
    refused_ways: list[RefusedWay] = Field(description="every other tooth, and why not")
    a_tooth_off: float | None = Field(description="run-out if one jaw stands one tooth off; null where it cannot")
    way: WayEntry | None = Field(description="the one to take, as the ring sets it")
    ring: RingEntry | None = Field(description="null where none is found")
    bore: DesignEntry | None = Field(description="null where the jaws cannot be placed")
    forces: ForcesEntry | None = Field(description="while they are cut; null without a bore or a push on the ring")
    bolts: BoltEntry = Field(description="of the jaws")
    runout: float = Field(description="to reach when they are cut")
    program: ProgramEntry | None = Field(description="null where it was not written")
    groove_program: ProgramEntry | None = Field(description="of the groove in the jaw faces; null where there is none")
    proof: ProofEntry | None = Field(description="of the program, also of one that failed and was not written")
    solids: SolidsEntry | None = Field(description="written beside the program; null where there is no folder or none")
    steps: list[StepEntry] = Field(description="at the machine, in order")
    refusals: list[str] = Field(description="what stands in the way, and what would make it possible")
    words: list[str] = Field(description="the answer")
    notes: list[str] = Field(description="what to know")
    assumed: list[str] = Field(description="what was assumed")
    cautions: list[str] = Field(description="show these wherever you show this")


class SkimEntry(Entry):
    """What one cut takes off a used set. [mm]"""

    per_side: float = Field(description="what the diameter found leaves to cut")
    least: float = Field(description="what cleans the bore")
    seat: float = Field(description="off the seat")
    cleans: bool = Field(description="does that clean the bore?")
    spare: float = Field(description="cut although it need not be")
    web: float | None = Field(description="left after it")
    cuts_left: int | None = Field(description="after it")


class RecutDocument(Entry):
    """How to cut a used set again, or why not to."""

    format: int = Field(default=FORMAT, description="as in a plan")
    title: str = Field(description="title of the setup")
    jaw_set: str = Field(description="its number")
    needed: bool = Field(description="is a cut needed at all?")
    measured: float | None = Field(description="diameter touched off on the ring")
    target: float = Field(description="diameter wanted")
    differs: list[str] = Field(description="from the record of the last cut")
    words: list[str] = Field(description="the answer")
    skim: SkimEntry | None = Field(description="null where no cut is needed or possible")
    bore: BoreDocument | None = Field(description="the cut itself; null where none is needed")
    steps: list[StepEntry] = Field(description="at the machine, in order")
    refusals: list[str] = Field(description="what stands in the way")
    cautions: list[str] = Field(description="show these wherever you show this")


def bore_document(
    plan: BorePlan, program: Program | None = None, failed: Proof | None = None, solids: Solids | None = None,
    groove: Program | None = None,
) -> BoreDocument:  # fmt: skip
    """The JSON document of a bore; ``failed``: the proof of a program that was not written; ``solids`` beside it."""
    setup, unit, placing = plan.setup, gauge_unit_of(plan.setup), plan.placing
    tight = plan.tightening
    proof = program.proof if program else failed
    return BoreDocument(
        title=setup.title, jaw_set=setup.jaws.number or "", can_be_cut=plan.can_be_cut, plan_verdict=plan.verdict,
        pressure=BoringPressure(
            unit=unit, value=from_core(plan.pressure, "pressure", unit), from_=plan.pressure_from
        ),
        spindle_limit=plan.spindle_limit, spindle_limit_by=plan.spindle_limit_by,
        ways=[_way(way) for way in placing.ways] if placing else [],
        refused_ways=[RefusedWay(tooth=one.tooth, reasons=list(one.reasons)) for one in placing.refused]
        if placing else [],
        a_tooth_off=placing.a_tooth_off if placing else None,
        way=_way(plan.way) if plan.way else None, ring=_ring(plan), bore=_design(plan),
        forces=_forces(plan.forces) if plan.forces else None,
        bolts=BoltEntry(size=tight.bolt, strength=tight.bolt_class, torque_nm=tight.torque / 1000,
                        least_thread=tight.least_thread, source=tight.source),
        runout=plan.runout,
        program=_program(program), groove_program=_program(groove),
        proof=proof_entry(proof) if proof else None, solids=_solids(solids) if solids else None,
        steps=[StepEntry(number=s.number, name=s.name, words=s.words) for s in plan.steps],
        refusals=list(plan.refusals), words=list(plan.words), notes=list(plan.notes), assumed=list(plan.assumed),
        cautions=list(plan.cautions),
    )  # fmt: skip


def recut_document(
    plan: RecutPlan, program: Program | None = None, failed: Proof | None = None, solids: Solids | None = None,
    groove: Program | None = None,
) -> RecutDocument:  # fmt: skip
    """The JSON document of a re-cut; ``failed``: the proof of a program that was not written; ``solids`` beside it."""
    return RecutDocument(
        title=plan.setup.title, jaw_set=plan.setup.jaws.number or "", needed=plan.needed, measured=plan.measured,
        target=plan.target, differs=list(plan.differs), words=list(plan.words),
        skim=_skim(plan.skim) if plan.skim else None,
        bore=bore_document(plan.bore, program, failed, solids, groove) if plan.bore else None,
        steps=[StepEntry(number=s.number, name=s.name, words=s.words) for s in plan.steps],
        refusals=list(plan.refusals), cautions=list(plan.cautions),
    )  # fmt: skip


def _program(made: Program | None) -> ProgramEntry | None:
    if made is None:
        return None
    return ProgramEntry(dialect=made.dialect, unit=made.unit, passes=made.passes, cut_length=made.cut_length,
                        proof=proof_entry(made.proof), text=made.text)  # fmt: skip


def _solids(told: Solids) -> SolidsEntry:
    return SolidsEntry(
        files=[SolidFileEntry(name=name, holds=holds) for name, holds in told.files], chord=told.chord,
        off=told.off or None, triangles=told.triangles, volume=told.volume or None, shows=list(told.shows),
        not_in_it=list(told.left_out), failed=list(told.failed),
    )  # fmt: skip


def proof_entry(proof: Proof) -> ProofEntry:
    """A proof as plain values."""
    return ProofEntry(
        passed=proof.passed,
        findings=[
            FindingEntry(
                code=f.code, message=f.message, line=f.line, value=f.value, limit=f.limit,
                radius=f.at[0] if f.at else None, z=f.at[1] if f.at else None,
            )
            for f in proof.findings
        ],
        gouge=proof.gouge, left_over=proof.left_over, deepest=proof.deepest, top_speed=proof.top_speed,
        minutes=proof.minutes, tolerance=proof.tolerance, moves=proof.moves, lines=proof.lines,
        probed=proof.probed,
    )  # fmt: skip


def bore_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the bore document."""
    return schema_of(BoreDocument)


def recut_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the re-cut document."""
    return schema_of(RecutDocument)


def _way(way: Way) -> WayEntry:
    return WayEntry(
        tooth=way.tooth, zero_mark=way.zero, stroke=way.stroke, opening=way.opening, closing=way.closing, web=way.web,
        cuts_left=way.cuts_left, metal=way.metal, swing_radius=way.turning, notes=list(way.notes),
    )  # fmt: skip


def _ring(plan: BorePlan) -> RingEntry | None:
    if plan.ring is None:
        return None
    chosen, ring, groove = plan.ring, plan.ring.ring, plan.ring.groove
    return RingEntry(
        name=ring.name, kind=ring.kind, from_shop=chosen.from_shop, outside=ring.outside, inside=ring.inside,
        width=ring.width, set_to=chosen.set_to, tolerance=SIZE_TOLERANCE_MM, roundness=ROUND_MM,
        heights=chosen.heights,
        groove_diameters=groove.diameters if groove else None, groove_depth=groove.depth if groove else None,
        to_grip=chosen.to_grip, to_tool=chosen.to_tool, words=chosen.words, tried=list(chosen.tried),
    )  # fmt: skip


def _design(plan: BorePlan) -> DesignEntry | None:
    made = plan.design
    if made is None:
        return None
    return DesignEntry(
        side=made.side, diameter=made.diameter, mouth_diameter=made.mouth_diameter, tolerance=made.tolerance,
        taper=made.taper, taper_from=plan.taper_from, depth=made.depth, depth_tolerance=DEPTH_TOLERANCE_MM,
        finish=FINISH_UM, face_off=made.face_off, faced_by_program=made.faced_by_program,
        land=made.land,
        seat_relief=made.seat_relief, relief_width=made.relief[0], relief_depth=made.relief[1],
        run_in=made.run_in, mouth_chamfer=made.mouth_chamfer, grip_height=made.grip_height, gap_open=made.gap_open,
        gap_closed=made.gap_closed,
        steps=[NestEntry(diameter=2 * one.radius, z=one.z, grips=one.grips) for one in made.steps],
        profile=list(made.profile),
    )  # fmt: skip


def _forces(forces: BoringForces) -> ForcesEntry:
    cut = forces.cutting
    return ForcesEntry(
        hold=forces.hold, pass_depth=cut.pass_depth, finish_allowance=cut.finish_allowance, rough_feed=cut.rough_feed,
        finish_feed=cut.finish_feed, surface_speed=cut.surface_speed,
        passes=[
            PassEntry(
                part=one.part, depth=one.depth, feed=one.feed, edge=one.edge, cutting=one.cutting, feeding=one.feeding,
                passive=one.passive, off_ring=max(push for push, _ in one.pushes), lift=one.lift, speed=one.speed,
                torque_nm=one.torque / 1000, power_kw=one.power / 1000,
            )
            for one in forces.passes
        ],
        checks=[_check(one) for one in forces.checks], lowered=_turned(forces.lowered),
        would_hold=_turned(forces.would_hold), together=_turned(forces.together),
    )  # fmt: skip


def _check(one: ForceCheck) -> ForceCheckEntry:
    unit, scale = {"torque": ("N m", 1000.0), "power": ("kW", 1000.0), "force": ("N", 1.0), "feed": ("mm/rev", 1.0),
                   "length": ("mm", 1.0), "ratio": ("", 1.0)}[one.kind]  # fmt: skip
    return ForceCheckEntry(
        name=one.name, part=one.part, value=one.value / scale, limit=None if one.limit is None else one.limit / scale,
        unit=unit, margin=one.margin, state=one.state, source=one.source, measure=one.measure,
    )  # fmt: skip


def _turned(ways: tuple[Turned, ...]) -> list[TurnedEntry]:
    return [TurnedEntry(name=way.knob, before=way.before, after=way.after) for way in ways]


def _skim(one: Skim) -> SkimEntry:
    return SkimEntry(per_side=one.per_side, least=one.least, seat=one.seat, cleans=one.cleans, spare=one.spare,
                     web=one.web, cuts_left=one.cuts_left)  # fmt: skip
