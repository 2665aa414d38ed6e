"""What any cut has in common: the chip, the specific force, and the load cases a cut consists of.

Frame, on the part, at the tool: ``radial`` + away from the axis; ``tangential`` a magnitude that brakes the
part's rotation; ``axial`` + away from the chuck. z = 0 at the seat, and the part sticks out towards + z.
Forces in N, lengths in mm, kc in MPa, torque in N mm, angles in degrees.

The operations themselves (turn, face, drill, ...) are in ``operations``.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from heldtrue.errors import InputError
from heldtrue.mechanics.materials import Datum, WorkMaterial, require_finite, require_not_negative, require_positive

_CP = "common practice, no source"
_DIETRICH = "read: script after Dietrich/Tschaetsch, Praxis der Zerspantechnik, 11th ed."

FORCE_OVER_TABLE = Datum(
    1.25,
    "own rule: a plan is proved at a quarter over the table or more, because tables of one steel differ by 20 to 30 %",
)
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
    """What raises or lowers a cutting force besides the chip; the default edge is worn as far as edges are used.

    `rake_deg` None means no rake correction. `interrupted` is the factor itself: 1.0 for a smooth cut,
    `INTERRUPTED.most` for a broken one; the default is the smooth cut, so whoever does not know must say so.
    `speed_factor` from `speed_factor()`.
    """

    rake_deg: float | None = None
    base_rake_deg: float = 6.0
    wear: float = WEAR_UNKNOWN.most
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


def cutting_force_range(material: WorkMaterial) -> Datum:
    """kc11 [MPa] with the range a plan is to be proved over: the high end at least 1.25 times the value.

    The high ends of the tables differ by material, from 1.02 times the value up; a plan proved at 1.02 would stand
    on the luck of which table was read. The low end is the table's.

    >>> from heldtrue.mechanics.materials import work_material
    >>> kc11 = cutting_force_range(work_material("16MnCr5"))
    >>> kc11.least, kc11.value, kc11.most
    (1411, 2100, 2625.0)
    """
    kc11 = material.kc11
    high = FORCE_OVER_TABLE.value * kc11.value
    if kc11.most >= high:
        return kc11
    source = f"{kc11.source}; high end {FORCE_OVER_TABLE.value:g} times the value ({FORCE_OVER_TABLE.source})"
    return Datum(kc11.value, source, kc11.low, high)


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
    wear: float = WEAR_UNKNOWN.most,
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


def cutting_force(
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
