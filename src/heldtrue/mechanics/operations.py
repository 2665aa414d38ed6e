"""The operations of a lathe: the chip each cuts, and the force on the part in every state of the cut.

Frame, units and signs as in ``cutting``.  A feed or passive force can help or harm: pushing the part into its seat it
helps, pushing it through jaws without a seat it harms.  So each cut returns several load cases, and the worst counts.
"""

import math
from functools import lru_cache

from heldtrue.errors import InputError
from heldtrue.mechanics.cutting import (
    WEAR_UNKNOWN,
    ChipSection,
    CutConditions,
    CutLoad,
    LoadCase,
    chip_section,
    cutting_force,
)
from heldtrue.mechanics.materials import Datum, require_finite, require_not_negative, require_positive

_CP = "common practice, no source"

# Shares of the cutting force at a lead angle of 90 degrees. High: `_worn_rise` comes on top of it where the edge is
# worn. Low: sharp edge, 5:2:1 over 1.3.
_SCHOOL = "from memory: school rule 1 : 0.5 : 0.3; low end 5 : 2 : 1 over the wear factor"
FEED_SHARE = Datum(0.5, _SCHOOL, 0.3, 0.5)
PASSIVE_SHARE = Datum(0.3, _SCHOOL, 0.15, 0.3)
DRILL_THRUST_SHARE = Datum(0.5, "from memory: thrust of a lip is half its cutting force times sin(point/2)")
WORN_THRUST = Datum(2.0, _CP + ": feed and passive force of an edge worn to the high end, over a sharp one", 1.0, 2.0)
CHISEL_FACTOR = Datum(1.0, _CP + ": thrust of a drill with its chisel edge over that of its lips alone", 1.0, 1.5)
BREAKTHROUGH_SHARE = Datum(0.5, _CP + ": pull on the part when the drill breaks through, of its thrust")
TAP_PULL_SHARE = Datum(0.5, _CP + ": pull on the part at reversal, of the tap's tangential force")
PART_OFF_LIFT_SHARE = Datum(0.2, _CP + ": pull on the part as the web breaks, of the feed force")

_UNKNOWN_EDGE = CutConditions()
KEPT = 1024
"""Forces kept of each operation: one cut is asked about many times with the same numbers."""


def _worn_rise(wear: float) -> float:
    """What the wear that raises the cutting force by `wear` does to the shares of feed and passive force.

    Wear flattens the edge's flank, so what pushes rises faster than what cuts: linearly, from as much at a sharp edge
    to `WORN_THRUST` times as much where the cutting force stands at the high end of `WEAR_UNKNOWN`.
    """
    worn = max(wear - 1.0, 0.0) / (WEAR_UNKNOWN.most - 1.0)
    return (1.0 + (WORN_THRUST.value - 1.0) * worn) / max(wear, 1.0)


def _shares(wear: float) -> tuple[tuple[str, float, float], ...]:
    """Feed and passive share of the cutting force at a lead angle of 90 degrees: most and least."""
    rise = _worn_rise(wear)
    return (
        ("worn edge", rise * FEED_SHARE.most, rise * PASSIVE_SHARE.most),
        ("sharp edge", FEED_SHARE.least, PASSIVE_SHARE.least),
    )


def _thrust(force: float, chip: ChipSection, wear: float) -> tuple[tuple[str, float, float], ...]:
    """Feed and passive force for a worn and for a sharp edge, split by the lead angle.

    feed = s_f F sin k; passive = F (s_f max(cos k, 0) + s_p sin k): at 90 degrees the school rule, at a small
    lead angle mostly passive. Above 90 degrees the nose still pushes, so the passive share stays.
    """
    kappa = math.radians(chip.lead_angle_deg)
    sin, cos = math.sin(kappa), max(math.cos(kappa), 0.0)
    return tuple((name, f * force * sin, force * (f * cos + p * sin)) for name, f, p in _shares(wear))


def _side(side: str, allowed: tuple[str, ...]) -> str:
    if side not in allowed:
        raise InputError(f"side {side!r} is not known; it must be one of {', '.join(allowed)}")
    return side


def _along(
    kind: str, kc11: float, mc: float, chip: ChipSection, conditions: CutConditions, diameter: float,
    z: tuple[float, float], toward_chuck: bool,
) -> CutLoad:  # fmt: skip
    require_positive(diameter=diameter)
    require_finite(z_start=z[0], z_end=z[1])
    force, kc, found = cutting_force(kind, kc11, mc, chip, conditions)
    outward, way = (1.0 if kind == "bore" else -1.0), (-1.0 if toward_chuck else 1.0)
    cases = tuple(
        LoadCase(name, outward * passive, force, way * feed_force, diameter / 2.0, z)
        for name, feed_force, passive in _thrust(force, chip, conditions.wear)
    )
    return CutLoad(kind, cases, chip, kc, found)


@lru_cache(maxsize=KEPT)
def turn(
    kc11: float, mc: float, *, diameter: float, depth: float, feed: float, z: tuple[float, float],
    lead_angle_deg: float = 95.0, nose_radius: float = 0.0, toward_chuck: bool = True,
    conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Outside turning along z; `diameter` before the cut. The passive force pushes towards the axis."""
    chip = chip_section(depth, feed, lead_angle_deg, nose_radius)
    return _along("turn", kc11, mc, chip, conditions, diameter, z, toward_chuck)


@lru_cache(maxsize=KEPT)
def bore(
    kc11: float, mc: float, *, diameter: float, depth: float, feed: float, z: tuple[float, float],
    lead_angle_deg: float = 95.0, nose_radius: float = 0.0, toward_chuck: bool = True,
    conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Boring along z; `diameter` after the cut. The passive force pushes the part outward."""
    chip = chip_section(depth, feed, lead_angle_deg, nose_radius)
    return _along("bore", kc11, mc, chip, conditions, diameter, z, toward_chuck)


@lru_cache(maxsize=KEPT)
def face(
    kc11: float, mc: float, *, diameter: float, depth: float, feed: float, z: float,
    lead_angle_deg: float = 95.0, nose_radius: float = 0.0, inward: bool = True,
    conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Facing at `z`, reckoned at the outer `diameter`: feed force radial, passive force into the chuck."""
    require_positive(diameter=diameter)
    require_finite(z=z)
    chip = chip_section(depth, feed, lead_angle_deg, nose_radius)
    force, kc, found = cutting_force("turn", kc11, mc, chip, conditions)
    way = -1.0 if inward else 1.0
    cases = tuple(
        LoadCase(name, way * feed_force, force, -passive, diameter / 2.0, (z, z))
        for name, feed_force, passive in _thrust(force, chip, conditions.wear)
    )
    return CutLoad("face", cases, chip, kc, found)


@lru_cache(maxsize=KEPT)
def groove(
    kc11: float, mc: float, *, diameter: float, width: float, feed: float, z: float, side: str = "outside",
    conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Grooving outside (pushes inward), inside (outward) or into the face (into the chuck).

    `diameter` is the largest the tool touches. h = feed, b = width, process factor 1.3 (from memory).
    """
    require_positive(diameter=diameter, width=width, feed=feed)
    require_finite(z=z)
    _side(side, ("outside", "inside", "face"))
    chip = ChipSection(feed, width, width * feed, 90.0)
    force, kc, found = cutting_force("groove", kc11, mc, chip, conditions)
    out, along = {"outside": (-1.0, 0.0), "inside": (1.0, 0.0), "face": (0.0, -1.0)}[side]
    cases = tuple(
        LoadCase(name, out * share * force, force, along * share * force, diameter / 2.0, (z, z))
        for name, share, _ in _shares(conditions.wear)
    )
    return CutLoad("groove", cases, chip, kc, found)


@lru_cache(maxsize=KEPT)
def part_off(
    kc11: float, mc: float, *, diameter: float, width: float, feed: float, z: float,
    end_diameter: float = 0.0, conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Parting off from `diameter` to `end_diameter`: a groove, then a pull outward as the web breaks."""
    require_not_negative(end_diameter=end_diameter)
    if end_diameter >= diameter:
        raise InputError(f"parting ends at {end_diameter} mm, not below its start at {diameter} mm")
    load = groove(kc11, mc, diameter=diameter, width=width, feed=feed, z=z, conditions=conditions)
    worn = load.cases[0]
    lift = PART_OFF_LIFT_SHARE.value * -worn.radial
    end = LoadCase("web breaks", worn.radial, worn.tangential, lift, end_diameter / 2.0, (z, z))
    return CutLoad("part off", (*load.cases, end), load.chip, load.kc, load.findings)


@lru_cache(maxsize=KEPT)
def drill(
    kc11: float, mc: float, *, diameter: float, feed: float, z: tuple[float, float],
    core_diameter: float = 0.0, point_angle_deg: float = 118.0, through: bool = True,
    chisel_factor: float = CHISEL_FACTOR.value, conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Drilling on the axis with two lips, in solid or over a `core_diameter`; `through` adds a breakthrough.

    M = kc f (D**2 - d**2) / 8, h = f/2 sin(point/2); thrust 0.5 kc f (D - d)/2 sin(point/2) of the lips alone
    (from memory, German textbooks). `chisel_factor` times that is the thrust of the drill: 1.0, the default, where
    a seat takes the thrust or the core is wider than the chisel edge; `CHISEL_FACTOR.most` where the jaws alone
    must hold it. It adds no torque, and nothing to the pull at breakthrough, when the chisel edge is through.
    Unequal lips and a wandering start are left out.

    Raises: `InputError` for a size that is not positive, a core as wide as the drill, a chisel factor under 1.
    """
    require_positive(diameter=diameter, feed=feed)
    require_not_negative(core_diameter=core_diameter)
    require_finite(z_start=z[0], z_end=z[1])
    if core_diameter >= diameter or not 0.0 < point_angle_deg <= 180.0:
        raise InputError(f"drill {diameter} mm with core {core_diameter} mm and point {point_angle_deg} degrees")
    if not (math.isfinite(chisel_factor) and chisel_factor >= 1.0):
        raise InputError(f"chisel factor is {chisel_factor}; it must be 1 or more")
    sin = math.sin(math.radians(point_angle_deg / 2.0))
    lip = (diameter - core_diameter) / 2.0
    chip = ChipSection(feed / 2.0 * sin, lip / sin, lip * feed / 2.0, point_angle_deg / 2.0)
    force, kc, found = cutting_force("drill", kc11, mc, chip, conditions)
    moment = force * (diameter + core_diameter) / 2.0
    thrust = 2.0 * DRILL_THRUST_SHARE.value * force * sin
    cases = [LoadCase("drilling", 0.0, 0.0, -chisel_factor * thrust, 0.0, z, moment)]
    if through:
        cases.append(LoadCase("breakthrough", 0.0, 0.0, BREAKTHROUGH_SHARE.value * thrust, 0.0, z, moment))
    return CutLoad("drill", tuple(cases), chip, kc, found)


def thread_infeed(depth: float, passes: int) -> tuple[float, ...]:
    """Radial depth after each pass [mm]: a_i = depth / sqrt(n - 1) sqrt(phi_i), phi = 0.3, 1, 2 ... n - 1.

    Tool guides (from memory). One pass goes to full depth.
    """
    require_positive(depth=depth, passes=passes)
    if passes == 1:
        return (depth,)
    return tuple(depth * math.sqrt((i or 0.3) / (passes - 1)) for i in range(passes))


@lru_cache(maxsize=KEPT)
def thread(
    kc11: float, mc: float, *, diameter: float, pitch: float, z: tuple[float, float], passes: int = 6,
    depth: float | None = None, side: str = "outside", toward_chuck: bool = True, angle_deg: float = 60.0,
    conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Single-point threading, fed straight in; the pass with the largest force counts.

    Pass i cuts both flanks: h = da sin(angle/2), section tan(angle/2) (a_i**2 - a_(i-1)**2). `depth` defaults
    to 0.6134 pitch (ISO 68-1, from memory). The feed share acts radially, the passive share along the axis.
    """
    require_positive(diameter=diameter, pitch=pitch)
    require_finite(z_start=z[0], z_end=z[1])
    out = -1.0 if _side(side, ("outside", "inside")) == "outside" else 1.0
    half = math.radians(angle_deg / 2.0)
    if not 0.0 < angle_deg < 180.0:
        raise InputError(f"thread angle is {angle_deg} degrees; it must lie between 0 and 180")
    passed, best = 0.0, None
    for reached in thread_infeed(0.6134 * pitch if depth is None else depth, passes):
        area, thick = math.tan(half) * (reached**2 - passed**2), (reached - passed) * math.sin(half)
        chip = ChipSection(thick, area / thick, area, 90.0)
        force, kc, found = cutting_force("thread", kc11, mc, chip, conditions)
        if best is None or force > best[0]:
            best = force, kc, found, chip
        passed = reached
    assert best is not None
    force, kc, found, chip = best
    along = -1.0 if toward_chuck else 1.0
    cases = tuple(
        LoadCase(name, out * f * force, force, along * p * force, diameter / 2.0, z)
        for name, f, p in _shares(conditions.wear)
    )
    return CutLoad("thread", cases, chip, kc, found)


@lru_cache(maxsize=KEPT)
def tap(
    kc11: float, mc: float, *, diameter: float, pitch: float, z: tuple[float, float], flutes: int = 3,
    lead_threads: float = 4.0, conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Tapping on the axis: M = kc pitch**2 D / 8 (from memory, tool guides), and the pull when it reverses.

    h = 0.6134 pitch over the cutting edges in the lead (`flutes` times `lead_threads`, common practice).
    """
    require_positive(diameter=diameter, pitch=pitch, flutes=flutes, lead_threads=lead_threads)
    require_finite(z_start=z[0], z_end=z[1])
    thick, area = 0.6134 * pitch / (flutes * lead_threads), pitch**2 / 4.0
    chip = ChipSection(thick, area / thick, area, 90.0)
    force, kc, found = cutting_force("tap", kc11, mc, chip, conditions)
    moment = force * diameter / 2.0
    cases = (
        LoadCase("tapping", 0.0, 0.0, 0.0, 0.0, z, moment),
        LoadCase("reversal", 0.0, 0.0, TAP_PULL_SHARE.value * force, 0.0, z, -moment),
    )
    return CutLoad("tap", cases, chip, kc, found)
