"""The fields of the plan page, by section: those that matter most first, the rare ones under "More".

Every path is a key of the setup file; what may be typed there is read off the setup itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from heldtrue.planning.entries import Assumptions
from heldtrue.planning.shapes import fields_of
from heldtrue.web.fields import Field, Table, bare, field_at, get, shape_at
from heldtrue.web.named_surfaces import named_surfaces


@dataclass(frozen=True)
class Section:
    """One tab: ``first`` is what a setter asks for, ``more`` by heading is closed until somebody opens it.

    ``tables``: the tables of the setup file it stands for.
    """

    name: str
    first: tuple[Field, ...]
    more: tuple[tuple[str, tuple[Field, ...]], ...]
    tables: tuple[str, ...]

    @property
    def fields(self) -> tuple[Field, ...]:
        """All of them."""
        return (*self.first, *(field for _, group in self.more for field in group))


def _fields(*rows: tuple[str, ...]) -> tuple[Field, ...]:
    """Fields of (path, label, hint)."""
    return tuple(field_at(row[0], row[1], "".join(row[2:])) for row in rows)


def _materials(kind: str) -> tuple[str, ...]:
    from heldtrue.mechanics.materials import JAW_MATERIALS, WORK_MATERIALS

    return tuple(one.name for one in (JAW_MATERIALS if kind == "jaws" else WORK_MATERIALS))


RUN = Section(
    "Run",
    _fields(
        ("run.pressure", "Pressure", "empty: advised by the plan"),
        ("run.speed", "Spindle limit", "empty: enough for every cut"),
        ("title", "Title of this setup"),
        ("machine.name", "Machine"),
        ("machine.max_speed", "Machine, top speed"),
        ("limits.safety_factor", "Safety factor", "empty: 2, not serviced 2.4; overhung, no seat nor centre: twice"),
        ("limits.safety_reason", "Why this safety factor", "needed with a safety factor"),
    ),
    (
        ("Limits", _fields(
            ("limits.holding_share", "Share of a tolerance", "empty: likely form 0.5, run-out 0.33; worst 0.8"),
            ("limits.marking_allowed", "May jaws leave marks?", "empty: no"),
        )),
        ("Machine", _fields(
            ("machine.spin_up_time", "Rest to top speed", "empty: 1 s at worst"),
            ("machine.max_swing", "Swing of the machine"),
            ("machine.power", "Spindle power", "for cutting jaws"),
            ("machine.torque", "Spindle torque, greatest", "for cutting jaws"),
            ("machine.x_travel.0", "Tool tip across, from Ø"), ("machine.x_travel.1", "across, to Ø"),
            ("machine.z_travel.0", "Tool tip along, from", "from the chuck face"),
            ("machine.z_travel.1", "along, to"),
        )),
    ),
    ("run", "title", "machine", "limits", "units", "assumptions"),
)  # fmt: skip
PART = Section(
    "Part",
    (
        *_fields(("part.number", "Part number"), ("part.revision", "Revision")),
        field_at("part.material", "Material", "type, or take one of the list", _materials("work")),
        *_fields(
            ("part.mass", "Mass of the blank", "empty: from the drawing"),
            ("part.surface_condition", "Gripped surface", "empty: worst of all"),
            ("part.oily", "Oily or wet?", "empty: oily at worst"),
        ),
    ),
    (
        ("Part", _fields(("part.name", "Name of the part"), ("part.operation", "Operation", "such as 2 of 3"),
                        ("part.program", "Part program", "with its version"), ("part.quantity", "How many parts"))),
        ("As it is loaded", _fields(
            ("part.roundness", "Gripped surface, out-of-round", "before it is gripped; empty: by how it was made"),
            ("part.holes", "Holes, slots or flats?", "that cuts run over; empty: no"),
            ("part.off_centre", "Centre of mass off the axis", "empty: by how the gripped surface was made"),
            ("part.off_centre_mass", "Lump on one side, mass", "of part or fixture"),
            ("part.off_centre_radius", "Axis to the centre of the lump"),
        )),
    ),
    ("part",),
)  # fmt: skip
GRIP = Section(
    "Grip",
    _fields(
        ("grip.side", "Grip"),
        ("grip.diameter", "Gripped Ø"),
        ("grip.diameter_tolerance.0", "Ø, lower deviation"),
        ("grip.diameter_tolerance.1", "Ø, upper deviation"),
        ("grip.z.0", "Gripped from z", "0 at the seat"),
        ("grip.z.1", "to z"),
        ("grip.seat", "Seat or stop?", "say which: not said is never proven"),
        ("grip.centre", "Tailstock centre?", "empty: no"),
    ),
    (("Seat", _fields(
        ("grip.seat_diameters.0", "Seat face, inner Ø", "empty: 3 mm wide next to the grip"),
        ("grip.seat_diameters.1", "Seat face, outer Ø"),
    )),),
    ("grip",),
)  # fmt: skip
CHUCK = Section(
    "Chuck",
    _fields(
        ("chuck.name", "Name"),
        ("chuck.number", "Inventory number"),
        ("chuck.grease", "Grease", "empty: poor at worst"),
        ("chuck.serviced", "Serviced lately?", "empty: yes with good grease or readings"),
        ("chuck.jaws", "Number of jaws", "empty: 3"),
        ("chuck.max_draw_force", "Highest draw force"),
        ("chuck.max_grip_force", "Highest grip, all jaws"),
        ("chuck.max_speed", "Highest speed"),
        ("chuck.jaw_travel", "Jaw travel"),
        ("chuck.actuator.pull_area", "Piston area, pull", "an outside grip pulls"),
        ("chuck.actuator.push_area", "Piston area, push", "an inside grip pushes"),
        ("chuck.actuator.max_pressure", "Highest pressure"),
        ("chuck.actuator.threshold_pressure", "Lost before it grips", "empty: from readings, or 1 bar"),
        ("chuck.actuator.gauge", "Unit of the gauge", "empty: bar, inch setup psi"),
        ("chuck.actuator.gauge_error", "Gauge may be off by", "either way; empty: 1.6 % of its scale"),
    ),
    (
        ("Plate", _fields(
            ("chuck.max_pressure", "Chuck, highest pressure"),
            ("chuck.actuator.name", "Cylinder, name"),
            ("chuck.actuator.least_pressure", "Lowest steady pressure", "empty: 4 bar"),
            ("chuck.reference_grip_height", "Full force up to height"),
            ("chuck.swing", "Swing over the chuck"),
            ("chuck.body_diameter", "Outside Ø of the body"),
            ("chuck.through_hole", "Ø of the hole through it"),
        )),
        ("Master jaws", _fields(
            ("chuck.master_jaw_mass", "Mass of one master jaw"),
            ("chuck.master_jaw_radius", "Axis to its centre of mass"),
            ("chuck.master_jaws.serration", "Teeth"),
            ("chuck.master_jaws.first_tooth", "Radius of the first tooth"),
            ("chuck.master_jaws.teeth", "Number of teeth"),
            ("chuck.master_jaws.positions", "Positions, tongue and groove", "radii, with ; between"),
            ("chuck.master_jaws.top_height", "Face to top of master jaw"),
            ("chuck.master_jaws.slot.0", "T-slot, inner radius"),
            ("chuck.master_jaws.slot.1", "T-slot, outer radius"),
            ("chuck.master_jaws.nut_length", "Length of a T-nut", "empty: 2 bolt diameters"),
        )),
    ),
    ("chuck",),
)  # fmt: skip
JAWS = Section(
    "Jaws",
    (
        *_fields(("jaws.style", "Style")),
        field_at("jaws.material", "Material", "type, or take one of the list", _materials("jaws")),
        *_fields(
            ("jaws.number", "Number of the set"),
            ("jaws.mass", "Mass of one jaw"),
            ("jaws.centroid_radius", "Axis to its centre of mass"),
            ("jaws.height", "Height of one jaw"),
            ("jaws.width", "Width of one jaw"),
            ("jaws.friction", "Friction, jaw on part", "empty: published tables, oily to dry"),
            ("jaws.bore_diameter", "Bored to Ø", "empty: middle of the part's Ø, ± 0.05 mm"),
            ("jaws.taper", "Taper, per side", "empty: straight"),
            ("jaws.bored_pressure", "Bored at", "empty: 0.3 to 1.1 times as used"),
            ("jaws.face", "Face", "empty: smooth"),
        ),
    ),
    (
        ("Size", _fields(
            ("jaws.count", "Number of top jaws", "empty: as the chuck"),
            ("jaws.length", "Length of one jaw"), ("jaws.gap", "Gap between pie jaws", "empty: 3 mm"),
            ("jaws.grip_height", "Chuck face to grip", "empty: from the height"),
            ("jaws.ends.0", "Zero mark to inner end", "towards the axis is negative"),
            ("jaws.ends.1", "Zero mark to outer end"), ("jaws.inner_end", "Inner end", "empty: flat"),
            ("jaws.holes", "Bolt holes", "from the zero mark, ; between"),
            ("jaws.base_tilt", "Stiffness against leaning"),
            ("jaws.base_tilt_range.0", "that stiffness, least"), ("jaws.base_tilt_range.1", "that stiffness, most"),
        )),
        ("Friction by pull tests", _fields(
            ("jaws.friction_range.0", "Friction, least found"), ("jaws.friction_range.1", "Friction, most found"),
        )),
        ("Bolts and teeth", _fields(
            ("jaws.serration", "Teeth"), ("jaws.bolt", "Bolts", "empty: M12"),
            ("jaws.bolt_class", "Class of the bolts", "empty: 12.9, inch A574"),
            ("jaws.counterbore_diameter", "Bolt pocket, Ø"), ("jaws.counterbore_depth", "Bolt pocket, depth"),
            ("jaws.web_limit", "Least metal over it", "empty: 7 mm"),
        )),
        ("Use so far", _fields(
            ("jaws.cuts_done", "How often cut", "empty: never"), ("jaws.tooth", "Stand on tooth", "from 1 at the axis"),
            ("jaws.in_order", "Each on its own master jaw?"),
            ("jaws.last_cut.diameter", "Last cut to Ø"), ("jaws.last_cut.depth", "Last cut, depth"),
            ("jaws.last_cut.diameter_error", "Ø measured within", "empty: not measured"),
            ("jaws.last_cut.depth_error", "Depth measured within", "empty: not measured"),
            ("jaws.last_cut.tooth", "Last cut on tooth"), ("jaws.last_cut.chuck", "Last cut on chuck"),
            ("jaws.last_cut.machine", "Last cut on machine"), ("jaws.last_cut.pressure", "Last cut at"),
            ("jaws.last_cut.relief_width", "Its corner relief, width"),
            ("jaws.last_cut.relief_depth", "Its corner relief, depth"),
            ("jaws.last_cut.seat_land", "Its seat, width"), ("jaws.last_cut.seat_relief", "Rest of it set back"),
        )),
        ("Cutting the jaws", _fields(
            ("boring.diameter_tolerance.0", "Bore, lower deviation"),
            ("boring.diameter_tolerance.1", "Bore, upper deviation"),
            ("boring.pass_depth", "Roughing pass, per side"), ("boring.finish_allowance", "Left to finish, per side"),
            ("boring.semi_allowance", "Of that, after the stop to measure"),
            ("boring.spring_passes", "Finish run again", "times"),
            ("boring.face", "To turn off the jaw fronts"), ("boring.deburr", "Mouth run again, against burrs?"),
            ("boring.rough_feed", "Feed, roughing"), ("boring.finish_feed", "Feed, finishing"),
            ("boring.speed", "Cutting speed"), ("boring.spindle_limit", "Spindle limit"),
            ("boring.clearance", "Tool clear of the ring by"), ("boring.seat_land", "Width of the seat"),
            ("boring.seat_relief", "Rest of the seat set back"), ("boring.relief_width", "Corner relief, width"),
            ("boring.relief_depth", "Corner relief, depth"), ("boring.mouth_chamfer", "Chamfer at the mouth"),
            ("boring.skim", "Skim of a used bore"), ("boring.seat_skim", "Skim of a used seat"),
        )),
        ("Tool that cuts them", _fields(
            ("boring.tool.name", "Tool"), ("boring.tool.number", "Station"), ("boring.tool.offset", "Offset number"),
            ("boring.tool.nose_radius", "Nose radius"), ("boring.tool.quadrant", "Side of the tip", "1 to 9"),
            ("boring.tool.lead_angle", "Lead angle", "empty: 95°"),
            ("boring.tool.insert_angle", "Insert angle", "empty: 55°"),
            ("boring.tool.bar_diameter", "Boring bar, Ø"), ("boring.tool.overhang", "Boring bar, overhang"),
            ("boring.tool.bar_material", "Bar made of", "empty: steel"),
            ("boring.tool.edge_length", "Cutting edge, length", "empty: 6 mm"),
            ("boring.tool.tip_offset", "Bar to tip, across"),
            ("boring.tool.outline", "Outline of another tool", "x z; x z; from the nose centre"),
        )),
        ("Blade for a groove in the jaw faces", _fields(
            ("boring.groove_tool.name", "Blade"), ("boring.groove_tool.number", "Station"),
            ("boring.groove_tool.offset", "Offset number"), ("boring.groove_tool.width", "Width"),
            ("boring.groove_tool.corner_radius", "Corner radius"), ("boring.groove_tool.reach", "Depth to the holder"),
            ("boring.groove_tool.diameters.0", "Plunges into full metal from Ø"),
            ("boring.groove_tool.diameters.1", "to Ø"), ("boring.groove_tool.feed", "Feed"),
        )),
    ),
    ("jaws", "boring"),
)  # fmt: skip
FIXED = (RUN, PART, GRIP, CHUCK, JAWS)
STYLES = next(field.choices for field in JAWS.first if field.path == "jaws.style")
"""The styles of soft jaws."""
LISTS = ("part.profile", "part.blank", "cut", "surface", "chuck.grip_readings", "boring.rings", "boring.steps",
         "jaws.last_cut.steps")  # fmt: skip
"""Lists that grow and shrink, by path."""
TURNING, PLACE = ("turn", "face", "bore"), ("surface", "diameter", "z.0", "z.1")
_OF_KIND = {
    "turn": ("depth", "feed"), "face": ("depth", "feed"), "bore": ("depth", "feed"), "groove": ("width", "feed"),
    "part_off": ("width", "feed"), "drill": ("feed",), "thread": ("pitch",), "tap": ("pitch",),
}  # fmt: skip
_CUT_LABELS = {
    "surface": "Surface it makes", "diameter": "at Ø", "z.0": "from z", "z.1": "to z", "depth": "Depth, per side",
    "feed": "Feed", "speed": "Cutting speed", "spindle_speed": "or spindle speed", "width": "Width of the tool",
    "pitch": "Pitch", "finishing": "Finishing?", "lead_angle": "Lead angle", "rake": "Rake angle", "wear": "Edge",
    "interrupted": "Interrupted?", "towards": "Feed towards",
}  # fmt: skip
_CUT_HINTS = {"lead_angle": "empty: 95°", "wear": "empty: worn at worst", "towards": "empty: chuck",
              "rake": "empty: no correction", "interrupted": "empty: at worst yes on a raw blank or holes"}  # fmt: skip


def cut_fields(table: Table, number: int) -> tuple[tuple[Field, ...], tuple[Field, ...]]:
    """The fields of one cut, from 0: those of its kind, and the rare ones. What it has is always there."""
    at = f"cut.{number}"
    kind = str(bare(get(table, f"{at}.kind")) or "turn")
    surfaces = tuple(str(bare(one.get("name"))) for one in bare(get(table, "surface")) or () if isinstance(one, dict))
    looks = {"turn": "outside", "bore": "inside", "face": "face"}.get(kind)
    surfaces += tuple(one.name for one in named_surfaces(table) if looks in (None, one.side))
    place = ("diameter",) if kind in ("drill", "tap") else PLACE
    first = [*place, *_OF_KIND.get(kind, ("depth", "feed")), "speed", *(("finishing",) if kind in TURNING else ())]
    rare = ["spindle_speed", "lead_angle", "rake", "wear", "interrupted", "towards"]
    rest = [key for key in _CUT_LABELS if key not in (*first, *rare)]
    first += [key for key in rest if get(table, f"{at}.{key}") is not None]
    if kind in ("drill", "tap"):
        rare += ["z.0", "z.1"]
    rare = [key for key in dict.fromkeys(rare) if key not in first]

    def made(key: str) -> Field:
        words = tuple(dict.fromkeys(one for one in surfaces if one != "None")) if key == "surface" else ()
        return field_at(f"{at}.{key}", _CUT_LABELS[key], _CUT_HINTS.get(key, ""), words)

    head = _fields((f"{at}.name", "Name"), (f"{at}.kind", "Kind"))
    return (*head, *map(made, first)), tuple(map(made, rare))


def surface_fields(table: Table, number: int) -> tuple[Field, ...]:
    """The fields of one machined surface, from 0; of a face its diameters and one z."""
    at = f"surface.{number}"
    face = bare(get(table, f"{at}.side")) == "face"
    place = (
        ((f"{at}.diameter.0", "from Ø"), (f"{at}.diameter.1", "to Ø"), (f"{at}.z", "at z"),
         (f"{at}.flatness", "Flatness asked"))
        if face else
        ((f"{at}.diameter", "Ø"), (f"{at}.diameter_tolerance.0", "Ø, lower deviation"),
         (f"{at}.diameter_tolerance.1", "Ø, upper deviation"), (f"{at}.z.0", "from z"), (f"{at}.z.1", "to z"),
         (f"{at}.roundness", "Roundness asked"), (f"{at}.cylindricity", "Cylindricity asked"))
    )  # fmt: skip
    return _fields((f"{at}.name", "Name"), (f"{at}.side", "Looks"), *place, (f"{at}.runout", "Run-out asked"))


def corner_fields(outline: str, number: int) -> tuple[Field, ...]:
    """Diameter, z, rounding and chamfer of one corner of ``part.profile`` or ``part.blank``, from 0."""
    at, n = f"{outline}.{number}", number + 1
    return _fields((f"{at}.0", f"{n}: Ø"), (f"{at}.1", f"{n}: z"), (f"{at}.2.radius", f"{n}: rounding"),
                   (f"{at}.2.chamfer", f"{n}: chamfer"))  # fmt: skip


def reading_fields(number: int) -> tuple[Field, ...]:
    """One reading of the grip gauge, from 0."""
    at = f"chuck.grip_readings.{number}"
    return _fields((f"{at}.pressure", f"{number + 1}: pressure"), (f"{at}.force", f"{number + 1}: grip, all jaws"),
                   (f"{at}.days", f"{number + 1}: days ago"),
                   (f"{at}.error", f"{number + 1}: error of the gauge, as a share"))  # fmt: skip


def ring_fields(number: int) -> tuple[Field, ...]:
    """One boring ring, from 0."""
    at, n = f"boring.rings.{number}", number + 1
    return _fields((f"{at}.name", f"{n}: stamped"), (f"{at}.kind", f"{n}: kind"), (f"{at}.outside", f"{n}: outside Ø"),
                   (f"{at}.inside", f"{n}: inside Ø"), (f"{at}.width", f"{n}: width"))  # fmt: skip


def step_fields(listed: str, number: int) -> tuple[Field, ...]:
    """One step of the bore, or one that the last cut left, from 0."""
    at, n = f"{listed}.{number}", number + 1
    found = _fields((f"{at}.diameter", f"{n}: Ø"),
                    (f"{at}.z", f"{n}: from z", "height above the seat, to the mouth; below 0: behind the seat"),
                    (f"{at}.grips", f"{n}: grips the part too?", "empty: no"))  # fmt: skip
    return found if listed == "boring.steps" else found[:2]


def assumption_fields(key: str) -> tuple[Field, ...]:
    """What a setup may state of one input, by its key of ``[assumptions]``: spread and reason, of some a range.

    They stand on the page of what to measure, and are set together: one alone is no setup.
    """
    at, unit = f"assumptions.{key}", "empty: as the table has it"
    found = _fields(
        (f"{at}.spread", "Spread"), (f"{at}.reason", "Where this comes from", "needed: a source, or who says so")
    )
    if not has_range(key):
        return found
    return (*found, *_fields((f"{at}.range.0", "Range, from", unit), (f"{at}.range.1", "Range, to", unit)))


def has_range(key: str) -> bool:
    """May this input state a range under ``[assumptions]``?"""
    table = shape_at(f"assumptions.{key}").table
    return table is not None and "range" in table.model_fields


def row_fields(table: Table, path: str, number: int) -> tuple[Field, ...]:
    """Every field of one entry of a list, from 0."""
    if path == "cut":
        first, rare = cut_fields(table, number)
        return (*first, *rare)
    if path == "surface":
        return surface_fields(table, number)
    if path == "chuck.grip_readings":
        return reading_fields(number)
    if path.endswith(".steps"):
        return step_fields(path, number)
    return ring_fields(number) if path == "boring.rings" else corner_fields(path, number)


def section_of(path: str) -> int:
    """The number of the tab a path belongs to, from 0."""
    first = path.partition(".")[0]
    return next((number for number, one in enumerate(FIXED) if first in one.tables), len(FIXED))


@lru_cache(maxsize=1)
def _labels() -> dict[str, str]:
    return {field.path: field.label for section in FIXED for field in section.fields}


def label_of(table: Table, path: str) -> str:
    """What the field at a path is called, with its cut, surface or corner."""
    if path in _labels():
        return _labels()[path]
    if f"{path}.0" in _labels():
        return _labels()[f"{path}.0"]
    if path.startswith("assumptions."):
        return _label_of_assumption(path)
    for listed in LISTS:
        if path.startswith(f"{listed}."):
            number = path.removeprefix(f"{listed}.").partition(".")[0]
            if not number.isdecimal():
                return path
            found = next(
                (one.label for one in row_fields(table, listed, int(number)) if one.path in (path, f"{path}.0")), ""
            )
            word = {"part.profile": "corner", "part.blank": "blank corner", "boring.rings": "ring",
                    "boring.steps": "step of the bore", "jaws.last_cut.steps": "step of the last cut",
                    "chuck.grip_readings": "reading"}.get(listed, listed)  # fmt: skip
            inner = found.partition(": ")[2] or found
            return f"{word} {int(number) + 1}{f', {inner}' if inner else ''}"
    return {
        "part.profile": "corners",
        "cut": "cuts",
        "surface": "surfaces",
        "boring.steps": "Steps of the bore",
        "jaws.last_cut.steps": "Steps that the last cut left",
    }.get(path, path)


def _label_of_assumption(path: str) -> str:
    """What is stated of an input: that, and which input."""
    key = path.split(".")[1]
    said = next((one.description for one in fields_of(Assumptions) if one.key == key), "")
    if not said:
        return path
    inner = next((one.label for one in assumption_fields(key) if one.path in (path, f"{path}.0")), "")
    return f"assumption, {said}" + (f", {inner}" if inner else "")
