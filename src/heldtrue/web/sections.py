"""The fields of the plan page, by section: those that matter most, in the order a setter asks for them."""

from __future__ import annotations

from heldtrue.web.fields import Field, Table, bare, get

SIDES, STYLES, GREASE = ("outside", "inside"), ("standard", "wide", "pie"), ("good", "poor")
KINDS = ("turn", "face", "bore", "groove", "part_off", "drill", "thread", "tap")
YES_NO = ("yes", "no")

RUN = (
    Field("run.pressure", "Pressure", "pressure", hint="empty: advised by the plan"),
    Field("run.speed", "Spindle limit", "speed_rpm", hint="empty: enough for every cut"),
    Field("title", "Title of this setup"),
    Field("machine.name", "Machine"),
    Field("machine.max_speed", "Machine, top speed", "speed_rpm"),
    Field("limits.safety_factor", "Safety factor", "ratio", hint="empty: 2, or 4 overhung without seat or centre"),
)
PART = (
    Field("part.number", "Part number"),
    Field("part.revision", "Revision"),
    Field("part.material", "Material"),
    Field("part.mass", "Mass of the blank", "mass"),
    Field("part.surface_condition", "Gripped surface", "choice", ("ground", "turned", "raw")),
    Field("part.oily", "Oily or wet?", "yes", YES_NO),
)
GRIP = (
    Field("grip.side", "Grip", "choice", SIDES),
    Field("grip.diameter", "Gripped Ø", "length"),
    Field("grip.diameter_tolerance.0", "Ø, lower deviation", "length"),
    Field("grip.diameter_tolerance.1", "Ø, upper deviation", "length"),
    Field("grip.z.0", "Gripped from z", "length"),
    Field("grip.z.1", "to z", "length"),
    Field("grip.seat", "Seat or stop?", "yes", YES_NO),
    Field("grip.centre", "Tailstock centre?", "yes", YES_NO),
)
CHUCK = (
    Field("chuck.name", "Name"),
    Field("chuck.number", "Inventory number"),
    Field("chuck.grease", "Grease", "choice", GREASE),
    Field("chuck.jaws", "Number of jaws", "whole"),
    Field("chuck.max_draw_force", "Highest draw force", "force"),
    Field("chuck.max_grip_force", "Highest grip, all jaws", "force"),
    Field("chuck.max_speed", "Highest speed", "speed_rpm"),
    Field("chuck.jaw_travel", "Jaw travel", "length"),
    Field("chuck.actuator.pull_area", "Piston area, pull", "area"),
    Field("chuck.actuator.push_area", "Piston area, push", "area"),
    Field("chuck.actuator.max_pressure", "Highest pressure", "pressure"),
    Field("chuck.actuator.threshold_pressure", "Lost before it grips", "pressure"),
    Field("chuck.actuator.gauge", "Unit of the gauge", "choice", ("bar", "psi", "MPa", "kgf/cm2")),
)
JAWS = (
    Field("jaws.style", "Style", "choice", STYLES),
    Field("jaws.material", "Material"),
    Field("jaws.number", "Number of the set"),
    Field("jaws.mass", "Mass of one jaw", "mass"),
    Field("jaws.centroid_radius", "Axis to its centre of mass", "length"),
    Field("jaws.height", "Height of one jaw", "length"),
    Field("jaws.width", "Width of one jaw", "length"),
    Field("jaws.friction", "Friction, jaw on part", "ratio"),
    Field("jaws.bore_diameter", "Bored to Ø", "length"),
    Field("jaws.taper", "Taper, per side", "length"),
    Field("jaws.bored_pressure", "Bored at", "pressure"),
    Field("jaws.face", "Face", "choice", ("smooth", "grooved", "diamond", "serrated")),
)
FIXED = (RUN, PART, GRIP, CHUCK, JAWS)


def cut_fields(number: int) -> tuple[Field, ...]:
    """The fields of one cut, from 0."""
    at = f"cut.{number}"
    return (
        Field(f"{at}.name", "Name"), Field(f"{at}.kind", "Kind", "choice", KINDS),
        Field(f"{at}.surface", "Surface it makes"), Field(f"{at}.diameter", "at Ø", "length"),
        Field(f"{at}.z.0", "from z", "length"), Field(f"{at}.z.1", "to z", "length"),
        Field(f"{at}.depth", "Depth, per side", "length"), Field(f"{at}.feed", "Feed", "feed"),
        Field(f"{at}.speed", "Cutting speed", "surface_speed"), Field(f"{at}.finishing", "Finishing?", "yes", YES_NO),
    )  # fmt: skip


def surface_fields(table: Table, number: int) -> tuple[Field, ...]:
    """The fields of one machined surface, from 0; of a face its diameters and one z."""
    at = f"surface.{number}"
    face = bare(get(table, f"{at}.side")) == "face"
    place = (
        (Field(f"{at}.diameter.0", "from Ø", "length"), Field(f"{at}.diameter.1", "to Ø", "length"),
         Field(f"{at}.z", "at z", "length"), Field(f"{at}.flatness", "Flatness asked", "length"))
        if face else
        (Field(f"{at}.diameter", "Ø", "length"), Field(f"{at}.z.0", "from z", "length"),
         Field(f"{at}.z.1", "to z", "length"), Field(f"{at}.roundness", "Roundness asked", "length"))
    )  # fmt: skip
    return (Field(f"{at}.name", "Name"), Field(f"{at}.side", "Looks", "choice", ("outside", "inside", "face")),
            *place, Field(f"{at}.runout", "Run-out asked", "length"))  # fmt: skip


def corner_fields(outline: str, number: int) -> tuple[Field, Field]:
    """Diameter and z of one corner of ``part.profile`` or ``part.blank``, from 0."""
    at = f"{outline}.{number}"
    return Field(f"{at}.0", f"{number + 1}: Ø", "length"), Field(f"{at}.1", f"{number + 1}: z", "length")


def label_of(table: Table, path: str) -> str:
    """What the field at a path is called, with its cut, surface or corner."""
    steps = path.split(".")
    for section in FIXED:
        for field in section:
            if field.path == path:
                return field.label
    number = int(steps[1]) if len(steps) > 1 and steps[1].isdecimal() else 0
    if steps[0] == "cut":
        return next((f"cut {number + 1}, {one.label}" for one in cut_fields(number) if one.path == path), path)
    if steps[0] == "surface":
        found = surface_fields(table, number)
        return next((f"surface {number + 1}, {one.label}" for one in found if one.path == path), path)
    return f"corner {int(steps[2]) + 1}" if steps[0] == "part" and len(steps) > 2 else path
