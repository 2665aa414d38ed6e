"""What holds, drives and cuts while the jaws of one setup are bored: from study, layout and hardware."""

from __future__ import annotations

from dataclasses import replace

from heldtrue.mechanics.materials import work_material
from heldtrue.planning.boring_checks import STIFFER, Bar, Joint, RingRule, Stand
from heldtrue.planning.boring_cutting import KNOBS, BoringForces, asked_cutting, choose_cutting
from heldtrue.planning.boring_forces import Edge, metal_of
from heldtrue.planning.hardware import BAR_MM, OVERHANG_MM
from heldtrue.planning.holds import safety_of
from heldtrue.planning.jaw_layout import Layout
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import CHUCK_STIFFNESS, Study
from heldtrue.program.job import BoringTool
from heldtrue.tooling import bolts
from heldtrue.tooling import jaws as jaw_tooling
from heldtrue.tooling.bore import BoreDesign

SOFT_METAL_MPA = 100e3
"""Jaws with a Young's modulus under this are cut as light metal."""


def forces_of(
    study: Study, layout: Layout, made: BoreDesign, pressure: float, limit: float, runout: float | None = None
) -> BoringForces:
    """The cut of a bore with its forces judged; ``runout``: found on a used bore [mm]."""
    boring = study.job.setup.boring
    light = study.job.jaw.young.value < SOFT_METAL_MPA
    asked, usual = (asked_cutting(one, light=light, limit=limit) for one in (boring, None))
    stated = frozenset(knob for knob in KNOBS if boring is not None and getattr(boring, knob) is not None)
    return choose_cutting(stand_of(study, layout, made, pressure, runout), asked, stated, usual)


def stand_of(study: Study, layout: Layout, made: BoreDesign, pressure: float, runout: float | None = None) -> Stand:
    """What the forces of a bore are judged against; the layout must have its ring."""
    job, setup, hardware, chosen = study.job, study.job.setup, layout.hardware, layout.ring
    assert chosen is not None
    assert hardware.blank is not None
    machine, tool = setup.machine, hardware.tool
    found = runout if hardware.blank.bored is not None else 0.0
    metal = metal_of(work_material(job.jaw.key), made, tool.nose_radius, runout=found)
    stated_edge = setup.boring is not None and setup.boring.tool is not None and \
        setup.boring.tool.edge_length is not None  # fmt: skip
    low, high = made.tolerance
    return Stand(
        metal=metal, edge=Edge(tool.lead_angle, tool.nose_radius, tool.edge_length), edge_is_stated=stated_edge,
        bar=bar_of(setup, tool), joint=_joint(study, layout), safety=safety_of(job, seat=True), tolerance=high - low,
        ring_height=sum(chosen.heights) / 2,
        radial=STIFFER.value * CHUCK_STIFFNESS, tilt=job.known["jaw base"].low, rules=_rules(study, pressure),
        power=machine.power if machine else None, torque=machine.torque if machine else None,
    )  # fmt: skip


def _joint(study: Study, layout: Layout) -> Joint:
    """Top jaw on master jaw, its bolts tightened as the steps say, at the least preload that gives."""
    hardware, blank = layout.hardware, layout.hardware.blank
    assert blank is not None
    least = bolts.tightening(hardware.bolt.name, hardware.bolt_class).preload[0]
    master = jaw_tooling.usual_size(study.job.setup.chuck.max_grip_force).width
    return Joint(len(blank.holes) * least, min(blank.width, master) / 2)


def _rules(study: Study, pressure: float) -> tuple[RingRule, ...]:
    """The push of one jaw at the boring pressure, by the published rule and in the worst case."""
    job, jaws = study.job, study.job.jaws
    safety = safety_of(job, seat=True)  # a jaw stands on the chuck

    def rule(values: dict[str, float], *, worst: bool) -> RingRule:
        moment = values["jaw moment"] / jaws if job.grip_is_outside else 0.0
        return RingRule(study.least_grip(values, pressure) / jaws, moment, safety, worst)

    return rule(dict(study.holds.published), worst=False), rule(dict(study.worst), worst=True)


def bar_of(setup: Setup, tool: BoringTool) -> Bar:
    """The bar of a tool: as stated, else from its outline; unstated it is the usual one, of steel."""
    stated = setup.boring.tool if setup.boring else None
    if stated is not None and not stated.outline and stated.bar_diameter and stated.overhang:
        return _made_of(Bar(stated.bar_diameter, stated.overhang), stated.bar_material)
    if stated is None:
        usual = Bar(BAR_MM, OVERHANG_MM) if setup.grip.side == "outside" else shank_bar(tool.shank)
        return replace(usual, is_known=False)
    return _made_of(shank_bar(tool.shank), stated.bar_material)


def _made_of(bar: Bar, material: str | None) -> Bar:
    if material is None:
        return bar
    return replace(bar, material="carbide" if material == "carbide" else "steel", is_stated=True)


def shank_bar(outline: tuple[tuple[float, float], ...]) -> Bar:
    """The shank that an outline shows: it leaves the outline on its longer side, as thick as it is there. [mm]

    Thickness: least over the half that lies towards the holder, of the outline cut across.
    """
    import shapely

    shape = shapely.Polygon(outline).buffer(0)
    x0, z0, x1, z1 = shape.bounds
    along_z = z1 - z0 >= x1 - x0
    far = max(abs(x0), abs(x1))
    length = z1 if along_z else far
    way = 1.0 if x1 >= abs(x0) else -1.0
    thick = []
    for share in (0.5, 0.6, 0.7, 0.8, 0.9, 0.99):
        at = share * length
        line = [(x0 - 1, at), (x1 + 1, at)] if along_z else [(way * at, z0 - 1), (way * at, z1 + 1)]
        thick.append(shape.intersection(shapely.LineString(line)).length)
    return Bar(max(min(thick), 0.1), max(length, 1.0))
