"""A second, plain model of what really happens to a held part: one world in, margins out.

The part's frame: x out along jaw 1, z away from the chuck, z = 0 at the seat.  The tool stands at 16 angles against the
jaws in turn.  Everything is in mm, N, MPa, kg, s, rad; speeds in 1/min.

``judge_world(setup, world, pressures, spindle_limit)`` needs only the setup (dict or read), one draw, the gauge
pressure of every cut [MPa] and the spindle limit.  Its margins are relative: 0 is the very limit, -0.1 is 10 % beyond.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from math import cos, inf, pi, radians, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import GeometryError, SolverError
from heldtrue.mechanics.contact import Contact
from heldtrue.mechanics.jaw_shape import JawShape
from heldtrue.mechanics.materials import jaw_material, work_material
from heldtrue.mechanics.section import Section
from heldtrue.planning.setup import Corner, Cut, Setup, Surface
from heldtrue.tooling.jaws import usual_size

from .limit import Held, failure
from .pressed import RELIEF, SECTIONS, Jaw, Pressed, Sides, Squeeze, face_of
from .ranges import half_angle, is_today, jaw_size

Array = NDArray[np.float64]

TOOL_ANGLES = 16
GRAVITY = 9.81
PROCESS = {"turn": 1.0, "face": 1.0, "bore": 1.2, "drill": 1.2, "groove": 1.3}
"""Kienzle's factor by kind of cut: table books."""
HALF_POINT = radians(59.0)
LEAD = radians(95.0)
ALL = "every cut"
FORMS = ("roundness", "cylindricity", "runout", "flatness")
NEAR = 1e-6


@dataclass(frozen=True)
class World:
    """One draw: a value for every input that ``ranges.ranges_of`` names, core units."""

    values: Mapping[str, float]
    note: str = ""

    def __getitem__(self, name: str) -> float:
        return self.values[name]

    def with_(self, **changes: float) -> World:
        """The same world with some inputs changed."""
        return World({**self.values, **changes}, self.note)


@dataclass(frozen=True)
class Truth:
    """What happens in one world.

    ``margins``: by name, below 0 where it goes wrong; ``how``: for each cut, how the part goes first.  Names:
    ``hold: CUT``, ``hold: spin-up``, ``form: SURFACE: KIND``, ``yield: part``, ``yield: jaw``, ``plate: draw force``,
    ``plate: speed``.
    """

    margins: dict[str, float]
    how: dict[str, str] = field(default_factory=dict)

    def worst(self, start: str = "") -> tuple[str, float]:
        """Name and margin of the worst whose name begins so; ("", inf) if there is none."""
        found = [(name, margin) for name, margin in self.margins.items() if name.startswith(start)]
        return min(found, key=lambda pair: pair[1], default=("", inf))

    @property
    def wrong(self) -> tuple[str, ...]:
        """Everything that goes wrong."""
        return tuple(name for name, margin in self.margins.items() if margin < 0)


@dataclass(frozen=True)
class Pass:
    """The tool at one place of a cut: ``radius`` of the force and ``turned`` radius that sets the speed [mm], ``z``."""

    cut: Cut
    radius: float
    turned: float
    z: float
    through: bool = False


def judge_world(
    setup: Mapping[str, Any] | Setup,
    world: World,
    pressures: Mapping[str, float] | float,
    spindle_limit: float,
    *,
    elastic: bool = True,
    holds: bool = True,
) -> Truth:
    """What really happens.

    ``pressures``: on the gauge, by name of cut [MPa], or one for all; ``spindle_limit`` [1/min]; ``elastic``: False
    leaves out form and yield, ``holds``: False leaves out holding.
    Raises: ``GeometryError`` or ``SolverError`` where the part or jaw cannot be solved, ``ValueError`` for a kind of
    cut that is not modelled here.
    """
    case = case_of(setup)
    by_cut = {c.name: pressures if isinstance(pressures, int | float) else pressures[c.name] for c in case.setup.cuts}
    margins, how = _holding(case, world, by_cut, spindle_limit) if holds else ({}, {})
    margins |= _plates(case, world, by_cut, spindle_limit)
    if elastic:
        margins |= _pressed(case, world, by_cut, spindle_limit)
    return Truth(margins, how)


class Case:
    """What does not change from draw to draw of one setup."""

    def __init__(self, setup: Setup) -> None:
        unknown = {cut.kind for cut in setup.cuts} - set(PROCESS)
        if unknown:
            raise ValueError(f"not modelled here: {', '.join(sorted(unknown))}")
        self.setup = setup
        self.outside = setup.grip.side == "outside"
        self.radius = setup.grip.diameter / 2
        self.jaws = setup.jaws.count or setup.chuck.jaws
        self.half_angle = half_angle(setup)
        self.finished = _corners(setup.part.profile)
        self.blank = _corners(setup.part.blank or setup.part.profile)
        self.blank_body, self.finished_body = Section.of(self.blank), Section.of(self.finished)
        self.surfaces = {surface.name: surface for surface in setup.surfaces}
        self.passes = {cut.name: tuple(dict.fromkeys(self._passes(number))) for number, cut in enumerate(setup.cuts)}

    @cached_property
    def seat(self) -> tuple[float, float, float]:
        """z, inner and outer radius of the seat: as said, else 3 mm next to the grip, as far as the face goes."""
        stated = self.setup.grip.seat_diameters
        if stated is not None:
            return 0.0, stated[0] / 2, stated[1] / 2
        at_seat = [r for r, z in self.finished if abs(z) < NEAR] or [self.radius]
        if self.outside:
            outer = min(max(at_seat), self.radius)
            return 0.0, max(outer - 3.0, min(at_seat)), outer
        inner = max(min(at_seat), self.radius)
        return 0.0, inner, min(inner + 3.0, max(at_seat))

    def side_of(self, cut: Cut) -> str:
        """Which way the surface of a cut looks."""
        surface = self.surfaces.get(cut.surface or "")
        if surface is not None:
            return surface.side
        return {"bore": "inside", "drill": "inside", "face": "face"}.get(cut.kind, "outside")

    def place(self, cut: Cut) -> tuple[float, float, tuple[float, float]]:
        """Least and greatest radius of what a cut leaves, and its z from, to. [mm]"""
        surface = self.surfaces.get(cut.surface or "")
        z = cut.z or (surface.z if surface else (0.0, max(z for _, z in self.finished)))
        if cut.diameter is None and surface is not None and surface.diameters is not None:
            return surface.diameters[0] / 2, surface.diameters[1] / 2, z
        diameter = cut.diameter if cut.diameter is not None else surface.diameter if surface else None
        if diameter is None:
            raise ValueError(f"cut {cut.name}: no diameter")
        return (0.0 if cut.kind == "face" else diameter / 2), diameter / 2, z

    def left(self, number: int) -> float:
        """Stock that the later cuts of the same surface take off, per side. [mm]"""
        cut = self.setup.cuts[number]
        later = [c for c in self.setup.cuts[number + 1 :] if cut.surface and c.surface == cut.surface]
        return sum(c.depth or 0.0 for c in later if c.kind == cut.kind)

    def is_last(self, number: int) -> bool:
        """Does this cut leave its surface as finished?"""
        cut = self.setup.cuts[number]
        return not any(cut.surface and c.surface == cut.surface for c in self.setup.cuts[number + 1 :])

    def stock(self, number: int, side: str, span: tuple[float, float]) -> float:
        """Radius (z for a face) of the stock before a cut, over its ``span`` of z (of radius for a face). [mm]"""
        low, high = span
        if side == "face":
            found = _reach([(z, r) for r, z in self.blank], low, high)[1]
        else:
            found = _reach(self.blank, low, high)[side == "outside"]
        for earlier in range(number):
            cut = self.setup.cuts[earlier]
            inner, outer, z = self.place(cut)
            if side == "face" and cut.kind == "face":
                covers = _covers((inner, outer), span)
                found = min(found, z[0] + self.left(earlier)) if covers else found
            elif side == "outside" and cut.kind == "turn" and _covers(z, span):
                found = min(found, outer + self.left(earlier))
            elif side == "inside" and cut.kind in ("bore", "drill") and _covers(z, span):
                found = max(found, outer - self.left(earlier))
        return found

    def _passes(self, number: int) -> Iterator[Pass]:
        """First and last pass of a cut, at both ends of its travel."""
        cut = self.setup.cuts[number]
        inner, outer, z = self.place(cut)
        depth, left, side = cut.depth or 0.0, self.left(number), self.side_of(cut)
        if cut.kind == "face":
            top = max(self.stock(number, "face", (inner, outer)), z[0] + left)
            reach = max(self.stock(number, "outside", (z[0] + left, top)), outer) if top > z[0] + left else outer
            for height in (z[0] + left, top):
                yield Pass(cut, reach, reach, height)
                yield Pass(cut, inner, inner, height)
        elif cut.kind == "drill":
            bottom = min(height for _, height in self.finished)
            yield Pass(cut, 0.0, outer, z[0], z[0] <= bottom + NEAR)
        elif side == "inside":
            end = outer - left
            start = min(self.stock(number, side, z) + (depth if cut.kind == "bore" else 0.0), end)
            for height in z:
                yield Pass(cut, end, end, height)
                yield Pass(cut, start, start, height)
        else:
            end = outer + left
            start = max(self.stock(number, side, z), end + depth)
            for height in z:
                yield Pass(cut, start, start, height)
                yield Pass(cut, end, end, height)

    def hole_before(self, cut: Cut) -> float:
        """Radius of the hole a drill runs in. [mm]"""
        return self.stock(self.setup.cuts.index(cut), "inside", self.place(cut)[2])

    # --- elastic ---

    @cached_property
    def jaw(self) -> Jaw:
        """The elastic jaw."""
        jaws, (width, length, height) = self.setup.jaws, jaw_size(self.setup)
        z = self.setup.grip.z
        block = usual_size(self.setup.chuck.max_grip_force).width
        shape = JawShape(
            jaws.style, self.setup.grip.side, self.radius, self.half_angle,
            width if jaws.style == "standard" else min(block, width), length, max(height, z[1] + 8.0),
            max(height, z[1] + 8.0) - z[1], relief=RELIEF if z[0] > RELIEF else 0.0,
            nose=max(25.0, self.radius * (1 - cos(self.half_angle)) + 15.0),
        )  # fmt: skip
        material = jaw_material(jaws.material)
        return Jaw(self._face, shape, material.young.value, material.poisson.value)

    @cached_property
    def _face(self) -> Any:
        return face_of(self.setup.grip.side, self.radius, self.setup.grip.z, self.half_angle, self.jaws)

    @cached_property
    def toleranced(self) -> tuple[tuple[int, Surface], ...]:
        """Surfaces with a tolerance and the number of the cut that finishes each."""
        found = []
        for surface in self.setup.surfaces:
            asked = any(getattr(surface, kind) is not None for kind in FORMS)
            cuts = [n for n, cut in enumerate(self.setup.cuts) if cut.surface == surface.name]
            if asked and cuts:
                found.append((cuts[-1], surface))
        return tuple(found)

    def _pressed(self, corners: tuple[tuple[float, float], ...], surfaces: tuple[Sides, ...]) -> Pressed:
        work = work_material(self.setup.part.material)
        return Pressed(corners, work.young.value, work.poisson.value, self._face, self.jaw, surfaces)

    @cached_property
    def pressed_finished(self) -> Pressed:
        """The finished section in its jaws."""
        return self._pressed(self.finished, tuple(_sides(surface) for _, surface in self.toleranced))

    @cached_property
    def pressed_blank(self) -> Pressed:
        """The blank in its jaws."""
        return self._pressed(self.blank, ())


def case_of(setup: Mapping[str, Any] | Setup) -> Case:
    """The case of a setup, kept by content."""
    raw = setup.to_dict() if isinstance(setup, Setup) else setup
    return _case(json.dumps(raw, sort_keys=True))


@lru_cache(maxsize=8)
def _case(text: str) -> Case:
    return Case(Setup.from_dict(json.loads(text)))


def _corners(corners: tuple[Corner, ...]) -> tuple[tuple[float, float], ...]:
    return tuple((corner.diameter / 2, corner.z) for corner in corners)


def _sides(surface: Surface) -> Sides:
    if surface.diameters is not None:
        inner, outer = surface.diameters
        return Sides("face", tuple((float(r), surface.z[0]) for r in np.linspace(inner / 2, outer / 2, SECTIONS)))
    radius = (surface.diameter or 0.0) / 2
    return Sides(surface.side, tuple((radius, float(z)) for z in np.linspace(*surface.z, SECTIONS)))


def _reach(corners: Any, low: float, high: float) -> tuple[float, float]:
    """Least and greatest first coordinate of an outline strictly between two values of the second; else its ends."""
    low, high = low + NEAR, max(high - NEAR, low + 2 * NEAR)
    found = []
    for (a, s), (b, t) in zip(corners, [*corners[1:], corners[0]], strict=True):
        for level in (low, high):
            if min(s, t) <= level <= max(s, t) and s != t:
                found.append(a + (b - a) * (level - s) / (t - s))
        if low <= s <= high:
            found.append(a)
    return (min(found), max(found)) if found else (0.0, max(a for a, _ in corners))


def _covers(span: tuple[float, float], asked: tuple[float, float]) -> bool:
    """Does a span cover nine tenths of another?"""
    shared = min(span[1], asked[1]) - max(span[0], asked[0])
    return shared >= 0.9 * (asked[1] - asked[0])


# --- grip -------------------------------------------------------------------------------------------------------


def static_grip(setup: Setup, world: World, shown: float) -> float:
    """Total grip at rest [N] while the gauge shows a pressure [MPa]."""
    pressure, lost = shown + world["gauge_error"], world["threshold"]
    readings = setup.chuck.grip_readings or ()
    if is_today(setup):
        slopes = [r.force * (1 + world["reading_error"]) / (r.pressure - lost) for r in readings]
        slope = sum(slopes) / len(slopes)
    else:
        ratio = setup.chuck.max_grip_force / setup.chuck.max_draw_force
        slope = world["grip_share"] * ratio * piston(setup) * world["area"]
    return slope * max(pressure - lost, 0.0)


def piston(setup: Setup) -> float:
    """Area by the plate that closes the jaws: a pull closes on an outside, a push opens into an inside. [mm2]"""
    actuator = setup.chuck.actuator
    area = actuator.pull_area if setup.grip.side == "outside" else actuator.push_area
    return area or 0.0


def omega(rpm: float) -> float:
    """Angular speed [rad/s]."""
    return rpm * pi / 30


def jaws_pull(case: Case, world: World, rpm: float) -> float:
    """Centrifugal force of all jaws, total [N]: m r w^2, r in mm."""
    moment = world["jaw_mass"] * world["jaw_radius"] + world["master_mass"] * world["master_radius"]
    return case.jaws * moment * omega(rpm) ** 2 / 1000


def grip_at(case: Case, world: World, shown: float, rpm: float) -> float:
    """Total grip at speed [N]: speed opens an outside grip and tightens an inside one, by the share that arrives."""
    way = -1.0 if case.outside else 1.0
    return static_grip(case.setup, world, shown) + way * world["speed_share"] * jaws_pull(case, world, rpm)


# --- loads ------------------------------------------------------------------------------------------------------


def speed_of(cut: Cut, radius: float, limit: float) -> float:
    """Spindle speed [1/min] with the tool at a radius: the cut's own, or its cutting speed there, up to the limit."""
    if cut.speed_rpm is not None:
        return min(cut.speed_rpm, limit)
    return min(1000 * (cut.surface_speed or 0.0) / (2 * pi * max(radius, NEAR)), limit)


def cutting_force(world: World, cut: Cut, thickness: float, section: float) -> float:
    """Kienzle: kc1.1 h^-mc A with the factors of process, wear and interruption. [N]"""
    broken = world["interruption"] if world[f"interrupted: {cut.name}"] > 0.5 else 1.0
    factor = PROCESS[cut.kind] * world[f"wear: {cut.name}"] * broken
    return factor * world["kc11"] * thickness ** -world["mc"] * section


def tool_loads(case: Case, world: World, one: Pass) -> list[tuple[Array, float]]:
    """Force (radial, tangential, axial) [N] on the part at the tool, and a couple about the axis [N mm], by case.

    Tangential is negative: it brakes a part that turns the positive way.
    """
    cut = one.cut
    feed = cut.feed or 0.0
    if cut.kind == "drill":
        edge = one.turned - min(case.hole_before(cut), one.turned)
        lip = cutting_force(world, cut, feed / 2 * sin(HALF_POINT), edge * feed / 2)
        couple = -2 * lip * (2 * one.turned - edge) / 2
        lips = 2 * 0.5 * lip * sin(HALF_POINT)
        found = [(np.array([0.0, 0.0, -world["thrust"] * lips]), couple)]
        # At breakthrough the chisel edge has nothing left to push on.
        return [*found, (np.array([0.0, 0.0, world["pull"] * lips]), couple)] if one.through else found
    if cut.kind == "groove":
        force = cutting_force(world, cut, feed, feed * (cut.width or 0.0))
        out = 1.0 if case.side_of(cut) == "inside" else -1.0
        return [(np.array([out * world["feed_share"] * force, -force, 0.0]), 0.0)]
    lead = cut.lead_angle or LEAD
    force = cutting_force(world, cut, feed * sin(lead), feed * (cut.depth or 0.0))
    along = world["feed_share"] * force * sin(lead)
    across = force * (world["feed_share"] * max(cos(lead), 0.0) + world["passive_share"] * sin(lead))
    way = 1.0 if cut.towards == "tailstock" else -1.0
    if cut.kind == "face":
        return [(np.array([-along, -force, -across]), 0.0)]
    out = 1.0 if cut.kind == "bore" else -1.0
    return [(np.array([out * across, -force, way * along]), 0.0)]


def _body_loads(case: Case, world: World, held: Held, turns: Array, rpm: float, body: Section) -> Array:
    """Weight and unbalance as wrenches for each angle of the tool, (A, 6)."""
    share = body.volume / case.blank_body.volume
    mass = world["mass"] * share
    weight = turns + world["weight_angle"]
    down = mass * GRAVITY * np.column_stack([np.cos(weight), np.sin(weight), np.zeros_like(weight)])
    off = (mass * world["off_centre"] + world["lump"]) * omega(rpm) ** 2 / 1000
    angle = world["unbalance_angle"]
    force = down + off * np.array([np.cos(angle), np.sin(angle), 0.0])
    return held.about(force, np.tile([0.0, 0.0, body.centroid_z], (len(turns), 1)))


def _held(case: Case, world: World) -> Held:
    grip = case.setup.grip
    centre = max(z for _, z in case.blank) if grip.centre else None
    seat = case.seat if world["seat"] > 0.5 else None
    side, jaws = grip.side, case.jaws
    return Held(side, case.radius, grip.z, case.half_angle, jaws, world["friction"], seat, centre)


def _holding(
    case: Case, world: World, by_cut: Mapping[str, float], limit: float
) -> tuple[dict[str, float], dict[str, str]]:
    held = _held(case, world)
    turns = 2 * pi * np.arange(TOOL_ANGLES) / TOOL_ANGLES
    out = np.column_stack([np.cos(turns), np.sin(turns), np.zeros_like(turns)])
    round_ = np.column_stack([-np.sin(turns), np.cos(turns), np.zeros_like(turns)])
    loads, grips, names = [], [], []
    for cut in case.setup.cuts:
        body = case.finished_body if cut.finishing else case.blank_body
        for one in case.passes[cut.name]:
            rpm = speed_of(cut, one.turned, limit)
            rest = _body_loads(case, world, held, turns, rpm, body)
            for (radial, tangential, axial), couple in tool_loads(case, world, one):
                force = radial * out + tangential * round_ + [0.0, 0.0, axial]
                wrench = held.about(force, one.radius * out + [0.0, 0.0, one.z]) + rest
                wrench[:, 5] += couple / case.radius
                loads.append(wrench)
                grips.append(grip_at(case, world, by_cut[cut.name], rpm))
                names.append(f"hold: {cut.name}")
    for rpm in (0.0, limit):
        spin = _body_loads(case, world, held, turns, rpm, case.blank_body)
        spin[:, 5] -= spin_up_torque(case, world) / case.radius
        loads.append(spin)
        grips.append(grip_at(case, world, min(by_cut.values()), rpm))
        names.append("hold: spin-up")

    needed, motions = held.least_grip(np.concatenate(loads))
    needed, motions = needed.reshape(len(loads), -1), motions.reshape(len(loads), -1, 6)
    margins: dict[str, float] = {}
    how: dict[str, str] = {}
    for name, load, grip, need, motion in zip(names, loads, grips, needed, motions, strict=True):
        worst = int(need.argmax())
        margin = max(grip, 0.0) / need[worst] - 1 if need[worst] > 0 else inf
        if name not in margins or margin < margins[name]:
            margins[name], how[name] = float(margin), failure(motion[worst], load[worst])
    return margins, how


def spin_up_torque(case: Case, world: World) -> float:
    """Torque that brings the blank to speed [N mm]: inertia times top speed over its time."""
    machine = case.setup.machine
    top = (machine.max_speed_rpm if machine else None) or case.setup.chuck.max_speed_rpm
    inertia = case.blank_body.polar_inertia(world["mass"] / case.blank_body.volume)
    return inertia * omega(top) / world["spin_up_time"] / 1000


def _plates(case: Case, world: World, by_cut: Mapping[str, float], limit: float) -> dict[str, float]:
    chuck = case.setup.chuck
    draw = piston(case.setup) * world["area"] * (max(by_cut.values()) + world["gauge_error"])
    return {
        "plate: draw force": chuck.max_draw_force / draw - 1 if draw > 0 else inf,
        "plate: speed": chuck.max_speed_rpm / limit - 1,
    }


# --- form and yield ---------------------------------------------------------------------------------------------


def _pressed(case: Case, world: World, by_cut: Mapping[str, float], limit: float) -> dict[str, float]:
    """Form of each toleranced surface after release, and yield of part and jaw."""
    last = [n for n, cut in enumerate(case.setup.cuts) if cut.finishing] or [len(case.setup.cuts) - 1]
    finishing = min(by_cut[case.setup.cuts[n].name] for n in last)
    squeezed: dict[tuple[str, float], Contact] = {}

    def contact(pressed: Pressed, which: str, grip: float) -> Contact:
        key = which, round(grip, 3)
        if key not in squeezed:
            squeezed[key] = pressed.contact(_squeeze(case, world, grip, finishing))
        return squeezed[key]

    margins: dict[str, float] = {}
    softer = work_material(case.setup.part.material).young.value / world["part_young"]
    whole = case.pressed_finished
    for place, (number, surface) in enumerate(case.toleranced):
        cut = case.setup.cuts[number]
        for one in case.passes[cut.name][-1:]:
            grip = max(grip_at(case, world, by_cut[cut.name], speed_of(cut, one.turned, limit)), 1.0)
            shape = whole.released(contact(whole, "finished", grip), softer)[place]
            for kind, size in forms(surface, shape).items():
                name = f"form: {surface.name}: {kind}"
                margins[name] = float(getattr(surface, kind) / size - 1) if size > 0 else inf
    # At rest an outside grip presses most, at speed an inside one.
    speed = 0.0 if case.outside else limit
    stressed = [(case.pressed_blank, "blank", max(by_cut.values()))]
    finals = [by_cut[cut.name] for n, cut in enumerate(case.setup.cuts) if case.is_last(n)]
    stressed.append((whole, "finished", max(finals)))
    for pressed, which, shown in stressed:
        found = contact(pressed, which, max(grip_at(case, world, shown, speed), 1.0))
        for what, limit_, stress in (
            ("part", world["part_yield"], pressed.stress(found)),
            ("jaw", world["jaw_yield"], case.jaw.stress(found.pressure)),
        ):
            margin = limit_ / stress - 1 if stress > 0 else inf
            margins[f"yield: {what}"] = min(margins.get(f"yield: {what}", inf), float(margin))
    return margins


def _squeeze(case: Case, world: World, grip: float, finishing: float) -> Squeeze:
    """The contact of one jaw under a total grip. [N]"""
    values = world.values
    bored = values["bored_pressure"] if "bored_pressure" in values else values["bored_share"] * finishing
    # The line from pressure to grip is that of use, but the gauge's error is in the drawn pressure already.
    bored_grip = static_grip(case.setup, world.with_(gauge_error=0.0), bored)
    return Squeeze(
        force=grip / case.jaws, bored_force=bored_grip / case.jaws,
        part_radius=case.radius + world["gripped_offset"] / 2, bore_radius=case.radius + world["bored_offset"] / 2,
        taper=case.setup.jaws.taper or 0.0, lobes=world["lobes"] / 2, friction=world["clamping_friction"],
        tilt=world["base_tilt"],
        softer=work_material(case.setup.part.material).young.value / world["part_young"],
    )  # fmt: skip


def forms(surface: Surface, shape: Array) -> dict[str, float]:
    """Size of each form error the drawing asks about, from a surface (sections, angles) over half a jaw pitch. [mm]

    The shape repeats and mirrors with the jaws, so its zones are centred: peak to valley is the zone.  Run-out and
    roundness are the worst section's; cylindricity and flatness take all sections together.
    """
    by_section, everywhere = float(np.ptp(shape, axis=1).max()), float(np.ptp(shape))
    sizes = {"roundness": by_section, "runout": by_section, "cylindricity": everywhere, "flatness": everywhere}
    return {kind: size for kind, size in sizes.items() if getattr(surface, kind) is not None}


__all__ = ["Case", "GeometryError", "SolverError", "Truth", "World", "case_of", "judge_world"]
