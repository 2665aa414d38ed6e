"""The tables of a setup, as frozen data in core units (mm, N, MPa, kg, s, rad).

What a key may hold in a file, and in which unit, stands in the annotations: ``Length`` is a plain
``float`` in mm once it is read. ``reading`` and ``file_schema`` walk these annotations; nothing here
knows a file or a unit system. A value that is not given is ``None``: the planner fills it with its
worst case and says so. Values marked ``OnPlate`` stand on the plate of the chuck or its cylinder.
"""

from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr

from heldtrue.planning.contrary import Contrary

Source = Literal["measured", "plate", "drawing", "handbook", "stated", "assumed"]
UnitSystem = Literal["metric", "inch"]
GaugeUnit = Literal["bar", "psi", "MPa", "kgf/cm2"]


@dataclass(frozen=True)
class Measured:
    """Marks a field as a quantity; ``kind`` is a key of ``heldtrue.quantities.KINDS``."""

    kind: str


@dataclass(frozen=True)
class FileKey:
    """The key a field has in a file, where that differs from its attribute name."""

    key: str


@dataclass(frozen=True)
class OnPlate:
    """Marks a field whose value stands on a plate of chuck or cylinder."""


Length = Annotated[float, Measured("length")]
Tilt = Annotated[float, Measured("tilt")]
Area = Annotated[float, Measured("area")]
Pressure = Annotated[float, Measured("pressure")]
Force = Annotated[float, Measured("force")]
Mass = Annotated[float, Measured("mass")]
Turning = Annotated[float, Measured("speed_rpm")]
CuttingSpeed = Annotated[float, Measured("surface_speed")]
Feed = Annotated[float, Measured("feed")]
Angle = Annotated[float, Measured("angle")]
Time = Annotated[float, Measured("time")]
Power = Annotated[float, Measured("power")]
Torque = Annotated[float, Measured("torque")]
Stress = Annotated[float, Measured("stress")]
Ratio = Annotated[float, Measured("ratio")]
LengthRange = tuple[Length, Length]
RatioRange = tuple[Ratio, Ratio]
TiltRange = tuple[Tilt, Tilt]


class Entry(BaseModel):
    """One table of the file: frozen, and no key it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)

    @classmethod
    def from_file_shape(cls, raw: Any) -> Any:
        """Bring a shorthand of the file to the table it stands for; anything else passes untouched."""
        return raw

    def to_file_shape(self, table: dict[str, Any]) -> Any:
        """Bring a table back to the shorthand people write."""
        return table


class Corner(Entry):
    """One corner of a half section. In a file: ``[diameter, z]`` or ``[diameter, z, {radius = 2}]``."""

    diameter: Length = Field(description="diameter at this corner; 0 on the axis")
    z: Length = Field(description="axial position; 0 at the seat, away from the chuck is positive")
    radius: Length | None = Field(None, description="fillet or rounding at this corner")
    chamfer: Length | None = Field(None, description="length cut off each edge at this corner")

    @classmethod
    def from_file_shape(cls, raw: Any) -> Any:
        """Read ``[diameter, z]`` and ``[diameter, z, {...}]``."""
        if isinstance(raw, list | tuple) and len(raw) in (2, 3):
            broken = raw[2] if len(raw) == 3 else {}
            if isinstance(broken, dict) and not {"diameter", "z"} & broken.keys():
                return {"diameter": raw[0], "z": raw[1], **broken}
        return raw

    def to_file_shape(self, table: dict[str, Any]) -> Any:
        """Write a list again."""
        broken = {key: value for key, value in table.items() if key not in ("diameter", "z")}
        return [table["diameter"], table["z"], *([broken] if broken else [])]


ShapeName = Literal["ring", "stepped shaft", "flange", "sleeve", "disc with hub", "cup"]


class SectionSource(Entry):
    """Where a half section comes from, instead of its corners: a file, a shape with dimensions, or stock."""

    file: str | None = Field(None, description="STEP or DXF file with the part, below the folder of this file")
    sha256: str | None = Field(None, description="SHA-256 of that file when it was last looked at")
    body: str | None = Field(None, description="which body or area of the file, where it has several")
    axis: str | None = Field(None, description="which line is the axis, where several may be it")
    units: Literal["mm", "inch"] | None = Field(None, description="unit of the drawing, where the file has none")
    shape: ShapeName | None = Field(None, description="a shape of the list, with its dimensions")
    outside: Length | None = Field(None, description="outside diameter of a shape")
    bore: Length | None = Field(None, description="bore of a shape")
    length: Length | None = Field(None, description="length over all, of a shape, a bar or a tube")
    diameters: tuple[Length, ...] | None = Field(None, description="diameters of the steps of a shaft, from the seat")
    lengths: tuple[Length, ...] | None = Field(None, description="lengths of the steps of a shaft, from the seat")
    thickness: Length | None = Field(None, description="thickness of the plate of a flange, or of a disc")
    neck: Length | None = Field(None, description="diameter of the neck of a flange")
    hub: Length | None = Field(None, description="diameter of the hub of a disc")
    offset: Length | None = Field(None, description="seat end of the hub to the disc")
    collar: Length | None = Field(None, description="diameter of the collar of a sleeve")
    collar_length: Length | None = Field(None, description="length of the collar of a sleeve")
    bottom: Length | None = Field(None, description="thickness of the bottom of a cup")
    root: Length | None = Field(None, description="radius in the inner corner of a flange, a disc or a cup")
    bar: Length | None = Field(None, description="of a blank: diameter of a bar")
    tube: LengthRange | None = Field(None, description="of a blank: outside and inside diameter of a tube")
    on_diameter: Length | None = Field(None, description="of a blank: allowance on every diameter that is not gripped")
    on_faces: Length | None = Field(None, description="of a blank: allowance on every face but the seat")
    seat_end: Literal["low", "high"] | None = Field(
        None, description="end that sits on the jaws: that of the low z of file or shape, or of the high"
    )
    seat_at: Length | None = Field(None, description="from that end to the face that sits, where they are not one")
    corners: tuple[Corner, ...] | None = Field(
        None, description="the half section as it was read from the file with this sha256"
    )


class NotRound(Entry):
    """A stretch that stands in the half section as a cylinder and is none: a hexagon, a socket, an eccentric."""

    what: str = Field(description="what it is, with its size")
    side: Literal["outside", "inside"] = Field(description="side of the material it is on")
    diameters: LengthRange = Field(description="largest circle about the axis in it, and smallest round it")
    z: LengthRange = Field(description="from, to; z = 0 at the seat")


class Part(Entry):
    """The part, as this operation leaves it, and the blank it starts from."""

    number: str = Field(description="part number on the drawing")
    revision: str = Field("", description="drawing revision")
    name: str = Field("", description="what the part is called")
    operation: str = Field("", description="which operation of the part this is, such as 2 of 3")
    program: str = Field("", description="name or number of the part program, with its version")
    material: str = Field(description="work material, by a name the material table knows")
    profile: tuple[Corner, ...] = Field(
        description="half section after this operation, corner by corner; z = 0 at the seat"
    )
    blank: tuple[Corner, ...] | None = Field(None, description="half section before this operation")
    mass: Mass | None = Field(None, description="mass of the blank as it is loaded")
    surface_condition: Literal["ground", "turned", "raw"] | None = Field(
        None, description="how the gripped surface was made"
    )
    oily: bool | None = Field(None, description="is the gripped surface oily or wet when it is loaded?")
    roundness: Length | None = Field(None, description="out-of-round that the gripped surface brings along")
    off_centre: Length | None = Field(None, description="centre of mass of the part off the spindle axis")
    off_centre_mass: Mass | None = Field(None, description="mass of a one-sided lump, of part or fixture")
    off_centre_radius: Length | None = Field(None, description="spindle axis to the centre of that lump")
    holes: bool | None = Field(None, description="do turned surfaces cross holes, slots or flats?")
    not_round: tuple[NotRound, ...] | None = Field(
        None, description="stretches of the half section that are no cylinders: hexagons, sockets, eccentrics"
    )
    quantity: int | None = Field(None, description="how many parts this run makes")


class Surface(Entry):
    """A surface this operation machines, and what the drawing asks of it."""

    name: str = Field(description="how cuts refer to this surface")
    side: Literal["outside", "inside", "face"] = Field(description="which way the surface looks")
    diameter: Length | None = Field(None, description="diameter of an outside or inside surface")
    diameters: LengthRange | None = Field(None, description="inner and outer diameter of a face")
    diameter_tolerance: LengthRange | None = Field(None, description="lower and upper deviation of the diameter")
    z: LengthRange = Field(description="from, to; for a face the one position, given twice")
    roundness: Length | None = Field(None, description="roundness tolerance, ISO 12181")
    cylindricity: Length | None = Field(None, description="cylindricity tolerance, ISO 12180")
    runout: Length | None = Field(None, description="run-out tolerance, full indicator reading")
    flatness: Length | None = Field(None, description="flatness tolerance, ISO 12781")

    @classmethod
    def from_file_shape(cls, raw: Any) -> Any:
        """For a face, ``diameter = [inner, outer]`` and ``z = 24``."""
        if not isinstance(raw, dict):
            return raw
        shaped = dict(raw)
        diameter = _bare(shaped.get("diameter"))
        if _bare(shaped.get("side")) == "face":
            if isinstance(diameter, list | tuple) and "diameters" not in shaped:
                shaped["diameters"] = shaped.pop("diameter")
            if "z" in shaped:
                shaped["z"] = _doubled(shaped["z"])
        return shaped

    def to_file_shape(self, table: dict[str, Any]) -> Any:
        """Write ``diameter`` for both, and one ``z`` for a face."""
        shaped = {("diameter" if key == "diameters" else key): value for key, value in table.items()}
        if self.side == "face" and self.z[0] == self.z[1]:
            shaped["z"] = _single(shaped["z"])
        return shaped


class Grip(Entry):
    """Where the jaws hold the part."""

    side: Literal["outside", "inside"] = Field(description="jaws close on an outside, or open into an inside")
    diameter: Length = Field(description="nominal gripped diameter")
    diameter_tolerance: LengthRange = Field((0.0, 0.0), description="lower and upper deviation of it")
    z: LengthRange = Field(description="gripped length: from, to")
    seat: bool | None = Field(True, description="the part rests axially on the jaw seat or a stop")
    seat_diameters: LengthRange | None = Field(None, description="inner and outer diameter of the seat face")
    centre: bool = Field(False, description="a tailstock centre supports the part")


class Actuator(Entry):
    """The cylinder that pulls and pushes the chuck."""

    name: str = Field("", description="what it is called")
    pull_area: Annotated[Area | None, OnPlate()] = Field(None, description="piston area when it pulls")
    push_area: Annotated[Area | None, OnPlate()] = Field(None, description="piston area when it pushes")
    max_pressure: Annotated[Pressure | None, OnPlate()] = Field(None, description="highest pressure")
    least_pressure: Annotated[Pressure | None, OnPlate()] = Field(None, description="lowest steady pressure")
    threshold_pressure: Pressure | None = Field(None, description="pressure lost before the jaws grip at all")
    gauge: GaugeUnit | None = Field(None, description="unit on the gauge the setter reads")
    gauge_error: Pressure | None = Field(None, description="how far that gauge may be off, either way")


class GripReading(Entry):
    """One reading of a grip gauge in this chuck."""

    pressure: Pressure = Field(description="gauge pressure")
    force: Force = Field(description="total static grip force, all jaws together")
    days: int | None = Field(None, description="days since it was read; not stated: taken as old")
    error: Ratio | None = Field(None, description="error of the gauge, 95 %, as a share of the reading")


SerrationName = Literal["1.5 mm x 60 deg", "3 mm x 60 deg", "1/16 in x 90 deg", "3/32 in x 90 deg", "tongue and groove"]
BoltSize = Literal["M6", "M8", "M10", "M12", "M16", "M20", "3/8-16", "1/2-13", "5/8-11", "3/4-10"]
BoltClass = Literal["8.8", "10.9", "12.9", "A574"]


class MasterJaws(Entry):
    """What the top jaws stand on. Radii are from the spindle axis, with the master jaws at mid-stroke."""

    serration: SerrationName = Field(description="pitch and angle of the teeth, or tongue and groove")
    first_tooth: Length | None = Field(None, description="radius of the first tooth, the one nearest the axis")
    teeth: int | None = Field(None, description="number of teeth")
    positions: tuple[Length, ...] | None = Field(
        None, description="of tongue and groove: radius of each position a top jaw can take"
    )
    top_height: Length | None = Field(None, description="chuck face to the top of the master jaw")
    slot: LengthRange | None = Field(None, description="radius of the inner and the outer end of the T-slot")
    nut_length: Length | None = Field(None, description="length of a T-nut along the slot")


class Chuck(Entry):
    """The chuck, its plate and its cylinder."""

    name: str = Field(description="what it is called")
    number: str = Field("", description="inventory number")
    jaws: Annotated[int, OnPlate()] = Field(3, description="number of master jaws, 2 to 12")
    max_draw_force: Annotated[Force, OnPlate()] = Field(description="highest draw force")
    max_grip_force: Annotated[Force, OnPlate()] = Field(description="highest static grip, all jaws together")
    max_speed_rpm: Annotated[Turning, FileKey("max_speed"), OnPlate()] = Field(description="highest speed")
    max_pressure: Annotated[Pressure | None, OnPlate()] = Field(None, description="highest pressure")
    reference_grip_height: Length | None = Field(
        None, description="grip height up to which the full draw force is allowed"
    )
    jaw_travel: Annotated[Length | None, OnPlate()] = Field(None, description="radial travel of a master jaw")
    swing: Length | None = Field(None, description="largest diameter that turns clear over the chuck")
    body_diameter: Length | None = Field(None, description="outside diameter of the body")
    through_hole: Length | None = Field(None, description="diameter of the hole through it")
    master_jaws: MasterJaws | None = Field(None, description="what the top jaws stand on")
    master_jaw_mass: Mass | None = Field(None, description="mass of one master jaw")
    master_jaw_radius: Length | None = Field(None, description="spindle axis to its centre of mass")
    grease: Literal["good", "poor"] | None = Field(None, description="state of the grease")
    serviced: bool | None = Field(None, description="was the chuck serviced lately?")
    grip_readings: tuple[GripReading, ...] | None = Field(None, description="readings of a grip gauge")
    actuator: Actuator = Field(description="the cylinder")

    @property
    def plate_pressure(self) -> float | None:
        """Highest pressure that chuck and cylinder take by their plates. [MPa]"""
        return min((one for one in (self.max_pressure, self.actuator.max_pressure) if one is not None), default=None)


class BoreStep(Entry):
    """One more diameter of the bore."""

    diameter: Length = Field(description="diameter of the bore there")
    z: Length = Field(
        description="from this height above the seat on, to the mouth; below 0: down to it, behind the seat"
    )
    grips: bool = Field(False, description="does it bear on the part too?")


class JawCut(Entry):
    """How a jaw set was cut last: what its tag or its record says."""

    diameter: Length = Field(description="diameter they were bored or turned to")
    diameter_error: Length | None = Field(None, description="how far that diameter may be off where it was measured")
    depth: Length | None = Field(None, description="front face of the jaws to the seat")
    depth_error: Length | None = Field(None, description="how far that depth may be off where it was measured")
    tooth: int | None = Field(None, description="tooth they stood on, from 1 at the axis")
    chuck: str = Field("", description="number of the chuck they were cut on")
    machine: str = Field("", description="machine they were cut on")
    pressure: Pressure | None = Field(None, description="gauge pressure at which they were cut")
    relief_width: Length | None = Field(None, description="axial width of their corner relief")
    relief_depth: Length | None = Field(None, description="radial depth of their corner relief")
    seat_land: Length | None = Field(None, description="width of their seat face")
    seat_relief: Length | None = Field(None, description="how far the rest of their seat is set back")
    steps: tuple[BoreStep, ...] | None = Field(
        None, description="more diameters they were bored to, as boring.steps; empty: none"
    )


class Jaws(Entry):
    """The top jaws."""

    style: Literal["standard", "wide", "pie"] = Field(description="block, wide nose, or full-circle segment")
    material: str = Field(description="jaw material, by a name the material table knows")
    count: int | None = Field(None, description="number of top jaws; as many as the chuck has if absent")
    width: Length | None = Field(None, description="tangential width of one jaw")
    length: Length | None = Field(None, description="radial length of one jaw")
    height: Length | None = Field(None, description="axial height of one jaw")
    gap: Length | None = Field(None, description="gap between two pie jaws")
    face: Literal["smooth", "grooved", "diamond", "serrated"] | None = Field(
        None, description="finish of the gripping face"
    )
    friction: Ratio | None = Field(None, description="coefficient of friction, jaw on part")
    friction_range: RatioRange | None = Field(None, description="least and greatest coefficient of friction")
    mass: Mass | None = Field(None, description="mass of one top jaw")
    centroid_radius: Length | None = Field(None, description="spindle axis to the jaw's centre of mass")
    bore_diameter: Length | None = Field(None, description="diameter the jaws are bored or turned to")
    grip_height: Length | None = Field(None, description="chuck face to the middle of the gripped length")
    taper: Length | None = Field(None, description="change of jaw radius over the gripped length, per side")
    bored_pressure: Pressure | None = Field(None, description="pressure at which the jaws were bored")
    base_tilt: Tilt | None = Field(None, description="stiffness of the master jaws against leaning")
    base_tilt_range: TiltRange | None = Field(None, description="least and greatest stiffness against leaning")
    number: str = Field("", description="number of the jaw set")
    serration: SerrationName | None = Field(None, description="pitch and angle of their teeth, or tongue and groove")
    ends: LengthRange | None = Field(
        None, description="inner and outer end of the blank, from its zero mark outwards; towards the axis is negative"
    )
    inner_end: Literal["flat", "pointed"] | None = Field(
        None, description="end towards the axis: flat, or pointed so far that neighbouring jaws can meet at the axis"
    )
    holes: tuple[Length, ...] | None = Field(
        None, description="each bolt hole from the zero mark outwards; towards the axis is negative"
    )
    bolt: BoltSize | None = Field(None, description="size of the jaw bolts")
    bolt_class: BoltClass | None = Field(None, description="strength class of the jaw bolts")
    counterbore_diameter: Length | None = Field(None, description="diameter of the pocket of a bolt head")
    counterbore_depth: Length | None = Field(None, description="depth of that pocket from the front of the blank")
    web_limit: Length | None = Field(None, description="least metal to leave between bore and bolt pocket")
    cuts_done: int | None = Field(None, description="how often the set was cut")
    last_cut: JawCut | None = Field(None, description="how the set was cut last")
    tooth: int | None = Field(None, description="tooth the zero marks stand on now, from 1 at the axis")
    in_order: bool | None = Field(None, description="does every jaw stand on the master jaw of its number?")


class Machine(Entry):
    """The lathe."""

    name: str = Field("", description="what it is called")
    max_speed_rpm: Annotated[Turning | None, FileKey("max_speed")] = Field(None, description="highest spindle speed")
    spin_up_time: Time | None = Field(None, description="time from rest to the highest speed")
    max_swing: Length | None = Field(None, description="largest diameter the machine turns")
    power: Power | None = Field(None, description="spindle power, in W once read")
    torque: Torque | None = Field(None, description="greatest torque of the spindle, in N mm once read")
    x_travel: LengthRange | None = Field(None, description="travel of a tool tip across, as diameters: from, to")
    z_travel: LengthRange | None = Field(None, description="travel of a tool tip along, from the chuck face: from, to")


class Limits(Entry):
    """What the shop allows."""

    safety_factor: Ratio | None = Field(None, description="grip over need; give a reason with it")
    safety_reason: str | None = Field(None, description="why this safety factor")
    holding_share: Ratio | None = Field(None, description="share of a drawing tolerance the holding may use")
    marking_allowed: bool = Field(False, description="may the jaws leave marks?")


class Run(Entry):
    """What the setter intends to set; absent, the planner advises it."""

    pressure: Pressure | None = Field(None, description="gauge pressure")
    speed_rpm: Annotated[Turning | None, FileKey("speed")] = Field(None, description="spindle speed limit")


SpreadKind = Literal["uniform", "loguniform", "triangular", "normal", "lognormal"]


class Assumption(Entry):
    """How an input is spread within its range, where the shop knows better than the table of assumptions."""

    spread: SpreadKind | None = Field(None, description="how the input is spread within its range")
    reason: str = Field(description="where that comes from")


class StressAssumption(Assumption):
    """The same with a range of the shop's own."""

    range: tuple[Stress, Stress] | None = Field(None, description="least and greatest value")


class RatioAssumption(Assumption):
    """The same with a range of the shop's own."""

    range: RatioRange | None = Field(None, description="least and greatest value")


class Assumptions(Entry):
    """Inputs whose range or spread the shop states itself; ``heldtrue assumptions`` lists all of them."""

    friction: Assumption | None = Field(None, description="friction, jaw on part")
    piston_area: Assumption | None = Field(None, description="piston area")
    grip_share: Assumption | None = Field(None, description="grip efficiency of the chuck")
    threshold: Assumption | None = Field(None, description="pressure lost before the jaws grip")
    gauge_error: Assumption | None = Field(None, description="error of the pressure gauge")
    wear: Assumption | None = Field(None, description="tool wear factor on cutting force")
    interruption: Assumption | None = Field(None, description="factor on the force of an interrupted cut")
    cutting_data: StressAssumption | None = Field(None, description="specific cutting force kc1.1")
    jaw_moment: Assumption | None = Field(None, description="mass times radius of all jaws")
    part_mass: Assumption | None = Field(None, description="mass of the part")
    off_centre: Assumption | None = Field(None, description="centre of mass off the axis")
    spin_up: Assumption | None = Field(None, description="time to spin up to full speed")
    jaw_base: Assumption | None = Field(None, description="tilt stiffness of the master jaws")
    bored_pressure: Assumption | None = Field(None, description="pressure at which the jaws were bored")
    bored_share: RatioAssumption | None = Field(None, description="bored pressure over that of use, where unstated")
    jaw_bore: Assumption | None = Field(None, description="diameter that the jaws were bored to")
    part_size: Assumption | None = Field(None, description="diameter of the gripped surface")
    part_roundness: Assumption | None = Field(None, description="out-of-round of the gripped surface")
    part_yield: StressAssumption | None = Field(None, description="yield strength of the part")
    jaw_yield: StressAssumption | None = Field(None, description="yield strength of the jaws")


class Ring(Entry):
    """A boring ring of the shop's: what the jaws clamp while they are cut."""

    name: str = Field("", description="what is stamped on it")
    kind: Literal["ring", "plug", "spider"] = Field("ring", description="a ring, a solid plug, or a set-screw spider")
    outside: Length = Field(description="outside diameter; of a spider the largest it can be set to")
    inside: Length | None = Field(None, description="inside diameter; of a spider the smallest it can be set to")
    width: Length = Field(description="axial width")


class Tool(Entry):
    """The tool that cuts the jaws. Positions are [x, z] from the centre of the nose, x as a radius."""

    name: str = Field("", description="what it is called")
    number: int | None = Field(None, description="station of the turret")
    offset: int | None = Field(None, description="number of its offset")
    nose_radius: Length = Field(description="radius of the nose")
    quadrant: int | None = Field(
        None, description="side of the nose the imaginary tip lies on: 1 +x +z, 2 -x +z, 3 -x -z, 4 +x -z"
    )
    lead_angle: Angle | None = Field(None, description="from the feed direction to the cutting edge")
    insert_angle: Angle | None = Field(None, description="angle of the insert's corner")
    bar_diameter: Length | None = Field(None, description="diameter of a boring bar")
    overhang: Length | None = Field(None, description="length of a boring bar outside its holder")
    bar_material: Literal["steel", "carbide"] | None = Field(None, description="what the bar or shank is made of")
    edge_length: Length | None = Field(None, description="length of the cutting edge")
    tip_offset: Length | None = Field(None, description="middle of a boring bar to the tip, across")
    outline: tuple[LengthRange, ...] | None = Field(
        None, description="corners of insert and holder round the nose centre, for any other tool"
    )


class GrooveBlade(Entry):
    """A blade for grooves in a face, which cuts the groove for a ring. Its tip is the corner next to the axis."""

    name: str = Field("", description="what it is called")
    number: int = Field(description="station of the turret")
    offset: int | None = Field(None, description="number of its offset")
    width: Length = Field(description="width of the blade")
    corner_radius: Length = Field(description="radius of its corners")
    reach: Length = Field(description="how deep it goes before the holder")
    diameters: LengthRange = Field(description="least and greatest outer diameter it may plunge into full metal")
    feed: Feed | None = Field(None, description="feed of its plunges")


class Boring(Entry):
    """How the jaws are cut, and with what."""

    rings: tuple[Ring, ...] | None = Field(None, description="the boring rings of the shop")
    tool: Tool | None = Field(None, description="the tool")
    groove_tool: GrooveBlade | None = Field(None, description="the blade for a groove that a ring may need")
    template: str | None = Field(None, description="name or path of the program template of the control")
    diameter_tolerance: LengthRange | None = Field(None, description="lower and upper deviation of the bore")
    pass_depth: Length | None = Field(None, description="depth of a roughing pass, per side")
    finish_allowance: Length | None = Field(None, description="left for the finishing pass, per side")
    semi_allowance: Length | None = Field(None, description="of that, left by the pass before the stop to measure")
    spring_passes: int | None = Field(None, description="how often the finishing pass is run again")
    steps: tuple[BoreStep, ...] | None = Field(
        None, description="more diameters of the bore, before the grip or behind the seat"
    )
    face: Length | None = Field(None, description="to turn off the jaw fronts, before the bore")
    deburr: bool | None = Field(None, description="is the mouth gone over again at the end, against burrs?")
    rough_feed: Feed | None = Field(None, description="feed of the roughing passes")
    finish_feed: Feed | None = Field(None, description="feed of the finishing pass")
    surface_speed: Annotated[CuttingSpeed | None, FileKey("speed")] = Field(None, description="cutting speed")
    spindle_limit_rpm: Annotated[Turning | None, FileKey("spindle_limit")] = Field(
        None, description="highest spindle speed while the jaws are cut"
    )
    clearance: Length | None = Field(None, description="between the path of the tool and the ring")
    seat_land: Length | None = Field(None, description="width of the face the part sits on")
    seat_relief: Length | None = Field(None, description="how far the rest of the seat is set back")
    relief_width: Length | None = Field(None, description="axial width of the corner relief")
    relief_depth: Length | None = Field(None, description="radial depth of the corner relief")
    mouth_chamfer: Length | None = Field(None, description="chamfer at the mouth of the bore")
    skim: Length | None = Field(None, description="least skim that cleans a used bore, per side")
    seat_skim: Length | None = Field(None, description="skim of a used seat")


CutKind = Literal["turn", "face", "bore", "groove", "part_off", "drill", "thread", "tap"]


class Cut(Entry):
    """One cut of this operation."""

    name: str = Field(description="what it is called")
    kind: CutKind = Field(description="what kind of cut")
    surface: str | None = Field(None, description="name of the surface it makes")
    diameter: Length | None = Field(None, description="diameter it works at; of a drill or tap, its own")
    z: LengthRange | None = Field(None, description="where along the part: from, to")
    depth: Length | None = Field(None, description="depth of cut, per side")
    feed: Feed | None = Field(None, description="feed per turn, in mm once read")
    surface_speed: Annotated[CuttingSpeed | None, FileKey("speed")] = Field(
        None, description="cutting speed, in m/min once read"
    )
    speed_rpm: Annotated[Turning | None, FileKey("spindle_speed")] = Field(None, description="spindle speed")
    lead_angle: Angle | None = Field(
        None, description="from the feed direction to the cutting edge; 90 degrees cuts a square shoulder"
    )
    rake: Angle | None = Field(None, description="rake angle of the tool")
    width: Length | None = Field(None, description="width of a grooving or parting tool")
    pitch: Length | None = Field(None, description="pitch of a thread")
    wear: Literal["sharp", "worn"] | None = Field(None, description="state of the cutting edge")
    interrupted: bool | None = Field(None, description="does the edge leave and re-enter the work every turn?")
    finishing: bool = Field(False, description="this cut leaves the finished surface")
    towards: Literal["chuck", "tailstock"] = Field("chuck", description="direction of the feed")


class SetupData(Entry):
    """All tables of one setup, and where each value came from."""

    title: str = Field("", description="what this setup is for")
    units: UnitSystem = Field(description="what bare numbers mean: mm, bar, m/min or in, psi, ft/min")
    part: Part
    surfaces: Annotated[tuple[Surface, ...], FileKey("surface")] = Field((), description="surfaces made here")
    grip: Grip
    chuck: Chuck
    jaws: Jaws
    cuts: Annotated[tuple[Cut, ...], FileKey("cut")] = Field((), description="cuts of this operation")
    machine: Machine | None = None
    limits: Limits | None = None
    run: Run | None = None
    boring: Boring | None = None
    assumptions: Assumptions | None = None

    _sources: dict[str, Source] = PrivateAttr(default_factory=dict)
    _spelled: frozenset[str] = PrivateAttr(default_factory=frozenset)
    _contrary: tuple[Contrary, ...] = PrivateAttr(default=())
    _drawn: dict[str, SectionSource] = PrivateAttr(default_factory=dict)


def _bare(raw: Any) -> Any:
    return raw["value"] if isinstance(raw, dict) and "value" in raw else raw


def _doubled(raw: Any) -> Any:
    if isinstance(raw, dict) and "value" in raw and not isinstance(raw["value"], list | tuple):
        return {**raw, "value": [raw["value"], raw["value"]]}
    return raw if isinstance(raw, list | tuple | dict) else [raw, raw]


def _single(raw: Any) -> Any:
    if isinstance(raw, dict):
        return {**raw, "value": raw["value"][0]}
    return raw[0]
