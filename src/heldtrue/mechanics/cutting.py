"""The forces of one cut on the part, and where they act.

Frame, on the part, at the tool: ``radial`` + away from the axis; ``tangential`` a magnitude that brakes the
part's rotation; ``axial`` + away from the chuck. z = 0 at the seat, and the part sticks out towards + z.
Forces in N, lengths in mm, kc in MPa, torque in N mm, angles in degrees.

A feed or passive force can help or harm: pushing the part into its seat it helps, pushing it through jaws
without a seat it harms. So each cut returns several load cases, and the worst of them counts.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from heldtrue.errors import InputError
from heldtrue.mechanics.materials import Datum, require_finite, require_not_negative, require_positive

_CP = "common practice, no source"
_DIETRICH = "read: script after Dietrich/Tschaetsch, Praxis der Zerspantechnik, 11th ed."

WEAR_UNKNOWN = Datum(1.3, _DIETRICH + ": worn edge, 30 % rise; 1.3 to 1.5 from memory", 1.0, 1.5)
INTERRUPTED = Datum(1.5, "low end from memory: Soviet fixture handbooks (Anserov), K3 = 1.2; the rest " + _CP, 1.2, 1.5)
BASE_RAKE_DEG: Mapping[str, Datum] = MappingProxyType(
    {"steel": Datum(6.0, _DIETRICH), "iron": Datum(2.0, _DIETRICH), "aluminium": Datum(0.0, _DIETRICH)}
)
RAKE_PER_DEGREE = Datum(
    0.010, "quoted: Vargas et al., Procedia CIRP 82, 2019, 455-460: 0.010 and 0.015 are in use", 0.010, 0.015
)
PROCESS_FACTOR: Mapping[str, Datum] = MappingProxyType(
    {
        "turn": Datum(1.0, "from memory: Dietrich/Tschaetsch, outside turning"),
        "bore": Datum(1.2, "from memory: Dietrich/Tschaetsch, boring"),
        "drill": Datum(1.2, "from memory: Dietrich/Tschaetsch, drilling"),
        "groove": Datum(1.3, "from memory: Dietrich/Tschaetsch, grooving and parting"),
        "thread": Datum(1.3, _CP + ": taken as grooving"),
        "tap": Datum(1.3, _CP + ": taken as grooving"),
    }
)
# Shares of the cutting force at a lead angle of 90 degrees. High: worn edge. Low: sharp edge, 5:2:1 over 1.3.
_SCHOOL = "from memory: school rule 1 : 0.5 : 0.3; low end 5 : 2 : 1 over the wear factor"
FEED_SHARE = Datum(0.5, _SCHOOL, 0.3, 0.5)
PASSIVE_SHARE = Datum(0.3, _SCHOOL, 0.15, 0.3)
DRILL_THRUST_SHARE = Datum(0.5, "from memory: thrust of a lip is half its cutting force times sin(point/2)")
BREAKTHROUGH_SHARE = Datum(0.5, _CP + ": pull on the part when the drill breaks through, of its thrust")
TAP_PULL_SHARE = Datum(0.5, _CP + ": pull on the part at reversal, of the tap's tangential force")
PART_OFF_LIFT_SHARE = Datum(0.2, _CP + ": pull on the part as the web breaks, of the feed force")

THIN_CHIP = Datum(0.1, "quoted: Horvath, Acta Polytechnica Hungarica 12(7), 2015, 109-128: h above 0.1 mm")
VERY_THIN_CHIP = Datum(0.01, "quoted: Biro, Czampa, Szalay, Period. Polytech. Mech. 59(1), 2015: zone border")
LEAST_SLENDERNESS = Datum(4.0, "quoted: Horvath, Acta Polytechnica Hungarica 12(7), 2015: b/h above 4")
MC_RANGE = Datum(0.2, "own sanity rule: tables print mc or 1 - mc, and mc lies between 0.1 and 0.5", 0.1, 0.5)


@dataclass(frozen=True, slots=True)
class Finding:
    """Something about a result that a reader must know: a code, a sentence, the value and the limit."""

    code: str
    message: str
    value: float
    limit: float


@dataclass(frozen=True, slots=True)
class ChipSection:
    """Undeformed chip: thickness h, width b [mm], section A [mm2], and the lead angle that made them."""

    thickness: float
    width: float
    area: float
    lead_angle_deg: float


@dataclass(frozen=True, slots=True)
class SpecificForce:
    """Specific cutting force [MPa] with what is to be said about it."""

    value: float
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class CutConditions:
    """What raises or lowers a cutting force besides the chip; the defaults stand on the safe side.

    `rake_deg` None means no rake correction. `interrupted` is the factor itself: 1.0 for a smooth cut,
    `INTERRUPTED` for a broken one. `speed_factor` from `speed_factor()`.
    """

    rake_deg: float | None = None
    base_rake_deg: float = 6.0
    wear: float = WEAR_UNKNOWN.value
    speed_factor: float = 1.0
    interrupted: float = 1.0

    def __post_init__(self) -> None:
        require_positive(wear_factor=self.wear, speed_factor=self.speed_factor)
        require_finite(rake=self.rake_deg or 0.0, base_rake=self.base_rake_deg)
        if not (math.isfinite(self.interrupted) and self.interrupted >= 1.0):
            raise InputError(f"interrupted-cut factor is {self.interrupted}; it must be 1 or more")


@dataclass(frozen=True, slots=True)
class LoadCase:
    """One state of a cut: the force on the part at `radius`, anywhere from z[0] to z[1].

    `couple` [N mm] is a torque without a side force, as of a drill on the axis; it brakes when positive.
    """

    name: str
    radial: float
    tangential: float
    axial: float
    radius: float
    z: tuple[float, float]
    couple: float = 0.0

    @property
    def torque(self) -> float:
        """Torque about the axis [N mm] that brakes the part."""
        return self.tangential * self.radius + self.couple


@dataclass(frozen=True, slots=True)
class CutLoad:
    """All load cases of one cut, and what it was reckoned from."""

    kind: str
    cases: tuple[LoadCase, ...]
    chip: ChipSection
    kc: float  # MPa, all factors in
    findings: tuple[Finding, ...]


def speed_factor(surface_speed_m_min: float) -> float:
    """Factor of the cutting speed on kc: 2.023/v**0.153 below 100 m/min, 1.380/v**0.07 above.

    From memory: Dietrich/Tschaetsch, Praxis der Zerspantechnik; for turning steel at about 20 to 600 m/min.
    """
    require_positive(surface_speed_m_min=surface_speed_m_min)
    v = surface_speed_m_min
    return 2.023 / math.pow(v, 0.153) if v < 100.0 else 1.380 / math.pow(v, 0.07)


def surface_speed(diameter: float, speed_rpm: float) -> float:
    """Surface speed [m/min] of a diameter [mm] at a spindle speed [1/min]: pi d n / 1000."""
    require_not_negative(diameter=diameter, speed_rpm=speed_rpm)
    return math.pi * diameter * speed_rpm / 1000.0


def cutting_power_kw(tangential: float, surface_speed_m_min: float, efficiency: float = 1.0) -> float:
    """Power [kW] of a cutting force [N] at a surface speed [m/min]: F v / 60000 / efficiency."""
    require_not_negative(tangential=tangential, surface_speed_m_min=surface_speed_m_min)
    require_positive(efficiency=efficiency)
    return tangential * surface_speed_m_min / 60_000.0 / efficiency


def chip_section(depth: float, feed: float, lead_angle_deg: float, nose_radius: float = 0.0) -> ChipSection:
    """Undeformed chip of an edge at `lead_angle_deg` (kappa, edge against feed): h = f sin k, b = a / sin k.

    A nose radius is met by the chord of the engaged edge (Colwell's equivalent edge, from memory), which
    thins the chip and turns its thrust to the passive side; the section a * f stays.
    """
    require_positive(depth=depth, feed=feed)
    require_not_negative(nose_radius=nose_radius)
    if not 0.0 < lead_angle_deg < 180.0:
        raise InputError(f"lead angle is {lead_angle_deg} degrees; it must lie between 0 and 180")
    kappa = math.radians(lead_angle_deg)
    if nose_radius:
        height = nose_radius * (1.0 - math.cos(kappa))
        if depth <= height:
            along = math.sqrt(depth * (2.0 * nose_radius - depth))
        else:
            along = nose_radius * math.sin(kappa) + (depth - height) / math.tan(kappa)
        kappa = math.atan2(depth, along)
    sin = math.sin(kappa)
    return ChipSection(feed * sin, depth / sin, depth * feed, math.degrees(kappa))


def chip_findings(chip: ChipSection) -> tuple[Finding, ...]:
    """Findings on a chip too thick for its width; its thickness is judged by `specific_cutting_force`."""
    slenderness = chip.width / chip.thickness
    if slenderness >= LEAST_SLENDERNESS.value:
        return ()
    limit = LEAST_SLENDERNESS.value
    text = f"chip {slenderness:.3g} times as wide as thick; the force law was measured above {limit:g} times"
    return (Finding("stout-chip", text, slenderness, limit),)


def rake_factor(rake_deg: float, base_rake_deg: float) -> float:
    """Factor of the rake on kc: 1 - c (rake - base), with the c of those in use that gives more force."""
    require_finite(rake=rake_deg, base_rake=base_rake_deg)
    more = rake_deg - base_rake_deg
    factor = 1.0 - (RAKE_PER_DEGREE.least if more > 0.0 else RAKE_PER_DEGREE.most) * more
    if factor <= 0.0:
        raise InputError(f"rake {rake_deg} degrees against {base_rake_deg} leaves no cutting force; check the rake")
    return factor


def specific_cutting_force(
    kc11: float,
    mc: float,
    chip_thickness: float,
    *,
    rake_deg: float | None = None,
    base_rake_deg: float = 6.0,
    wear: float = WEAR_UNKNOWN.value,
    speed_factor: float = 1.0,
    process_factor: float = 1.0,
) -> SpecificForce:
    """Specific cutting force kc = K_rake K_v K_wear K_process kc11 h**-mc [MPa].

    Kienzle, VDI-Z 94 (1952) 299-305, and Kienzle and Victor, Werkstattstechnik 47 (1957) 224-225 (quoted in a
    survey of force constants); factors as in Dietrich/Tschaetsch (read in a script after it). Measured for
    h from 0.1 mm up; a thinner chip is reckoned by the same law, never cut off at the border, and says so.
    """
    require_positive(kc11=kc11, chip_thickness=chip_thickness, wear=wear, speed_factor=speed_factor)
    require_positive(process_factor=process_factor)
    if not 0.0 <= mc < 1.0:
        raise InputError(f"mc is {mc}; it must lie between 0 and 1, and tables give {MC_RANGE.low} to {MC_RANGE.high}")
    found: list[Finding] = []
    if not MC_RANGE.least <= mc <= MC_RANGE.most:
        limit = MC_RANGE.least if mc < MC_RANGE.least else MC_RANGE.most
        found.append(Finding("odd-mc", f"mc {mc} is unusual; is it 1 - mc?", mc, limit))
    for code, border in (("very-thin-chip", VERY_THIN_CHIP), ("thin-chip", THIN_CHIP)):
        if chip_thickness < border.value:
            text = f"chip {chip_thickness:.3g} mm thick: kc is extrapolated below {border.value} mm"
            found.append(Finding(code, text, chip_thickness, border.value))
            break
    factor = wear * speed_factor * process_factor
    if rake_deg is not None:
        factor *= rake_factor(rake_deg, base_rake_deg)
    return SpecificForce(factor * kc11 * math.pow(chip_thickness, -mc), tuple(found))


_UNKNOWN_EDGE = CutConditions()
_THRUST = (
    ("worn edge", FEED_SHARE.most, PASSIVE_SHARE.most),
    ("sharp edge", FEED_SHARE.least, PASSIVE_SHARE.least),
)


def _cutting_force(
    kind: str, kc11: float, mc: float, chip: ChipSection, conditions: CutConditions
) -> tuple[float, float, tuple[Finding, ...]]:
    """Cutting force [N] with the interruption in it, kc [MPa] and findings."""
    specific = specific_cutting_force(
        kc11,
        mc,
        chip.thickness,
        rake_deg=conditions.rake_deg,
        base_rake_deg=conditions.base_rake_deg,
        wear=conditions.wear,
        speed_factor=conditions.speed_factor,
        process_factor=PROCESS_FACTOR[kind].value,
    )
    force = specific.value * chip.area * conditions.interrupted
    return force, specific.value, specific.findings + chip_findings(chip)


def _thrust(force: float, chip: ChipSection) -> tuple[tuple[str, float, float], ...]:
    """Feed and passive force for a worn and for a sharp edge, split by the lead angle.

    feed = s_f F sin k; passive = F (s_f max(cos k, 0) + s_p sin k): at 90 degrees the school rule, at a small
    lead angle mostly passive. Above 90 degrees the nose still pushes, so the passive share stays.
    """
    kappa = math.radians(chip.lead_angle_deg)
    sin, cos = math.sin(kappa), max(math.cos(kappa), 0.0)
    return tuple((name, f * force * sin, force * (f * cos + p * sin)) for name, f, p in _THRUST)


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
    force, kc, found = _cutting_force(kind, kc11, mc, chip, conditions)
    outward, way = (1.0 if kind == "bore" else -1.0), (-1.0 if toward_chuck else 1.0)
    cases = tuple(
        LoadCase(name, outward * passive, force, way * feed_force, diameter / 2.0, z)
        for name, feed_force, passive in _thrust(force, chip)
    )
    return CutLoad(kind, cases, chip, kc, found)


def turn(
    kc11: float, mc: float, *, diameter: float, depth: float, feed: float, z: tuple[float, float],
    lead_angle_deg: float = 95.0, nose_radius: float = 0.0, toward_chuck: bool = True,
    conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Outside turning along z; `diameter` before the cut. The passive force pushes towards the axis."""
    chip = chip_section(depth, feed, lead_angle_deg, nose_radius)
    return _along("turn", kc11, mc, chip, conditions, diameter, z, toward_chuck)


def bore(
    kc11: float, mc: float, *, diameter: float, depth: float, feed: float, z: tuple[float, float],
    lead_angle_deg: float = 95.0, nose_radius: float = 0.0, toward_chuck: bool = True,
    conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Boring along z; `diameter` after the cut. The passive force pushes the part outward."""
    chip = chip_section(depth, feed, lead_angle_deg, nose_radius)
    return _along("bore", kc11, mc, chip, conditions, diameter, z, toward_chuck)


def face(
    kc11: float, mc: float, *, diameter: float, depth: float, feed: float, z: float,
    lead_angle_deg: float = 95.0, nose_radius: float = 0.0, inward: bool = True,
    conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Facing at `z`, reckoned at the outer `diameter`: feed force radial, passive force into the chuck."""
    require_positive(diameter=diameter)
    require_finite(z=z)
    chip = chip_section(depth, feed, lead_angle_deg, nose_radius)
    force, kc, found = _cutting_force("turn", kc11, mc, chip, conditions)
    way = -1.0 if inward else 1.0
    cases = tuple(
        LoadCase(name, way * feed_force, force, -passive, diameter / 2.0, (z, z))
        for name, feed_force, passive in _thrust(force, chip)
    )
    return CutLoad("face", cases, chip, kc, found)


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
    force, kc, found = _cutting_force("groove", kc11, mc, chip, conditions)
    out, along = {"outside": (-1.0, 0.0), "inside": (1.0, 0.0), "face": (0.0, -1.0)}[side]
    cases = tuple(
        LoadCase(name, out * share * force, force, along * share * force, diameter / 2.0, (z, z))
        for name, share, _ in _THRUST
    )
    return CutLoad("groove", cases, chip, kc, found)


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


def drill(
    kc11: float, mc: float, *, diameter: float, feed: float, z: tuple[float, float],
    core_diameter: float = 0.0, point_angle_deg: float = 118.0, through: bool = True,
    conditions: CutConditions = _UNKNOWN_EDGE,
) -> CutLoad:  # fmt: skip
    """Drilling on the axis with two lips, in solid or over a `core_diameter`; `through` adds a breakthrough.

    M = kc f (D**2 - d**2) / 8, h = f/2 sin(point/2); thrust 0.5 kc f (D - d)/2 sin(point/2) without the
    chisel edge (from memory, German textbooks). Unequal lips and a wandering start are left out.
    """
    require_positive(diameter=diameter, feed=feed)
    require_not_negative(core_diameter=core_diameter)
    require_finite(z_start=z[0], z_end=z[1])
    if core_diameter >= diameter or not 0.0 < point_angle_deg <= 180.0:
        raise InputError(f"drill {diameter} mm with core {core_diameter} mm and point {point_angle_deg} degrees")
    sin = math.sin(math.radians(point_angle_deg / 2.0))
    lip = (diameter - core_diameter) / 2.0
    chip = ChipSection(feed / 2.0 * sin, lip / sin, lip * feed / 2.0, point_angle_deg / 2.0)
    force, kc, found = _cutting_force("drill", kc11, mc, chip, conditions)
    moment = force * (diameter + core_diameter) / 2.0
    thrust = 2.0 * DRILL_THRUST_SHARE.value * force * sin
    cases = [LoadCase("drilling", 0.0, 0.0, -thrust, 0.0, z, moment)]
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
        force, kc, found = _cutting_force("thread", kc11, mc, chip, conditions)
        if best is None or force > best[0]:
            best = force, kc, found, chip
        passed = reached
    assert best is not None
    force, kc, found, chip = best
    along = -1.0 if toward_chuck else 1.0
    cases = tuple(LoadCase(n, out * f * force, force, along * p * force, diameter / 2.0, z) for n, f, p in _THRUST)
    return CutLoad("thread", cases, chip, kc, found)


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
    force, kc, found = _cutting_force("tap", kc11, mc, chip, conditions)
    moment = force * diameter / 2.0
    cases = (
        LoadCase("tapping", 0.0, 0.0, 0.0, 0.0, z, moment),
        LoadCase("reversal", 0.0, 0.0, TAP_PULL_SHARE.value * force, 0.0, z, -moment),
    )
    return CutLoad("tap", cases, chip, kc, found)
