"""Writes the generated parts of the reference pages: cli.md, setup-file.md, plan-json.md,
safety.md and the readme.  ``make docs``.

What is said here comes from the program itself: from the commands' help, from the tables of the setup file and their
plausible ranges, from the models of the JSON documents.  Only what happens when a key is left out is written here.
"""

from __future__ import annotations

import inspect
import sys
from io import StringIO
from math import pi
from pathlib import Path
from typing import Any, Literal, get_args, get_origin, get_type_hints

sys.path.insert(0, str(Path(__file__).parent))
from between import DOCS, refresh, table, write
from typer.models import ArgumentInfo

from heldtrue.cli import app
from heldtrue.inspection import document as readings
from heldtrue.inspection import shop_documents
from heldtrue.mechanics.cutting import FORCE_OVER_TABLE, INTERRUPTED, WEAR_UNKNOWN
from heldtrue.mechanics.spin import IN_SERVICE, NEW, SAFETY, SAFETY_OVERHUNG
from heldtrue.planning import (
    boring_cutting,
    boring_document,
    contact_document,
    hardware,
    judge,
    ranges,
    way_document,
)
from heldtrue.planning import document as documents
from heldtrue.planning.boring_cutting import PASSES, SPEEDS
from heldtrue.planning.entries import (
    Actuator,
    Assumption,
    Assumptions,
    BoreStep,
    Boring,
    Chuck,
    Corner,
    Cut,
    Entry,
    Grip,
    GripReading,
    GrooveBlade,
    JawCut,
    Jaws,
    Limits,
    Machine,
    MasterJaws,
    NotRound,
    Part,
    RatioAssumption,
    Ring,
    Run,
    SectionSource,
    SetupData,
    StressAssumption,
    Surface,
    Tool,
)
from heldtrue.planning.odds import odds_document
from heldtrue.planning.result import CAUTIONS
from heldtrue.planning.shapes import FieldShape, fields_of
from heldtrue.planning.slips import PLAUSIBLE
from heldtrue.quantities import KINDS, from_core
from heldtrue.tooling import blank, bore, recut, ring
from heldtrue.tooling.grip_estimate import GAUGE_ERROR, GREASE, THRESHOLD_MPA
from heldtrue.tooling.jaws import PIE_GAP_MM

REQUIRED = "must be given"
FACTORS = (
    f"{SAFETY[NEW].value:g}, {SAFETY[IN_SERVICE].value:g} where the chuck was neither serviced nor read; "
    f"{SAFETY_OVERHUNG[NEW].value:g} and {SAFETY_OVERHUNG[IN_SERVICE].value:g} where an overhung part "
    "has neither seat nor centre"
)

LEFT_OUT: dict[type[Entry], dict[str, str]] = {
    SetupData: {
        "title": "no title",
        "surface": "no surface is checked for form",
        "cut": "refused: give at least the heaviest cut",
        "machine": "only the plate of the chuck limits the speed",
        "limits": "safety factor, shares and marking as below",
        "run": "the plan advises pressure and spindle limit",
        "boring": "usual tool, speeds and sizes, no rings",
        "assumptions": "ranges and spreads as `heldtrue assumptions` lists them",
    },
    Corner: {"radius": "a sharp corner", "chamfer": "a sharp corner"},
    Part: {
        "revision": "not shown",
        "operation": "a line to write it on, on the floor sheet",
        "program": "a line to write it on, on the floor sheet",
        "name": "not shown",
        "blank": "the part is taken as finished from the start",
        "mass": "volume of the blank times density",
        "surface_condition": "friction as on a ground surface at worst, off-centre as on a raw one",
        "oily": "oily at worst, dry at best",
        "roundness": "what its surface usually has, see ranges.md",
        "off_centre": "what its surface usually has, with holes what a raw one has, see ranges.md",
        "off_centre_mass": "no lump",
        "off_centre_radius": "needed with off_centre_mass",
        "holes": "none, but a raw or unknown surface counts as interrupted",
        "not_round": "as the drawing has it; without one every cylinder is one",
        "quantity": "no odds of a batch",
    },
    SectionSource: {
        "file": "give file, shape, bar, tube, or an allowance",
        "sha256": "the file as it is now counts; it is kept with the setup",
        "body": "asked where the file has several",
        "axis": "asked where several lines may be it",
        "units": "as the file says; asked where it does not",
        "shape": "give file, shape, bar, tube, or an allowance",
        "outside": "needed by ring, flange, sleeve, disc with hub and cup",
        "bore": "needed by ring, sleeve and cup; else solid",
        "length": "needed but by a stepped shaft",
        "diameters": "needed by a stepped shaft",
        "lengths": "needed by a stepped shaft",
        "thickness": "needed by flange and disc with hub",
        "neck": "needed by flange",
        "hub": "needed by disc with hub",
        "offset": "the disc itself seats",
        "collar": "a plain sleeve",
        "collar_length": "needed with collar",
        "bottom": "needed by cup",
        "root": "a sharp inner corner",
        "bar": "give file, shape, bar, tube, or an allowance",
        "tube": "give file, shape, bar, tube, or an allowance",
        "on_diameter": "0, with on_faces",
        "on_faces": "0, with on_diameter",
        "seat_end": "`low`",
        "seat_at": "0: the end itself sits",
        "corners": "the file is read",
    },
    Surface: {
        "diameter_tolerance": "not used; the grip takes it where it names this surface",
        "diameter": "needed for an outside or inside surface; two for a face",
        "diameters": "write diameter = [inner, outer] for a face",
        "roundness": "not checked",
        "cylindricity": "not checked",
        "runout": "not checked",
        "flatness": "not checked",
    },
    Grip: {
        "diameter_tolerance": "what its surface usually has, see ranges.md",
        "seat": "computed as false, and never proven until it is said",
        "seat_diameters": "a land 3 mm wide next to the grip",
        "centre": "false: no tailstock centre",
    },
    Chuck: {
        "number": "not shown",
        "jaws": "3",
        "max_pressure": "only the cylinder limits the pressure",
        "reference_grip_height": "the usual height of such jaws",
        "jaw_travel": "the plan does without; jaws cannot be placed",
        "swing": "not checked",
        "body_diameter": "T-nuts are not checked against the rim",
        "through_hole": "none is drawn",
        "master_jaws": "the plan does without; jaws cannot be placed",
        "master_jaw_mass": "usual mass for that chuck, 40 % more at worst",
        "master_jaw_radius": "usual radius for that chuck, 20 % more at worst",
        "grease": "unknown: good at best, poor at worst",
        "serviced": "as the grease: good counts as serviced, and so does a grip read twice that still stands",
        "grip_readings": "the plate's grip times the share for the grease",
    },
    Actuator: {
        "name": "not shown",
        "pull_area": "an outside grip needs it, or grip_readings",
        "push_area": "an inside grip needs it, or grip_readings",
        "max_pressure": "only the draw force limits the pressure",
        "least_pressure": f"{10 * ranges.LEAST_STABLE_MPA:g} bar",
        "threshold_pressure": f"from three grip_readings or more, else 0 to {10 * max(THRESHOLD_MPA):g} bar",
        "gauge": "bar in a metric file, psi in an inch file",
        "gauge_error": f"{100 * ranges.GAUGE_CLASS:g} % of the highest pressure, either way",
    },
    MasterJaws: {
        "first_tooth": "needed but for tongue and groove",
        "teeth": "needed but for tongue and groove",
        "positions": "needed for tongue and groove",
        "top_height": "level with the chuck face",
        "slot": "not checked",
        "nut_length": f"{hardware.NUT_DIAMETERS:g} bolt diameters",
    },
    NotRound: {},
    GripReading: {
        "days": "taken as old: such readings can only make plans more careful",
        "error": "taken as 5 %",
    },
    Jaws: {
        "count": "as many as the chuck has",
        "width": "usual width for that chuck; a wide jaw's is twice that",
        "length": "usual length for that chuck",
        "height": "usual height for that chuck",
        "gap": f"{PIE_GAP_MM:g} mm",
        "face": "smooth",
        "friction": "from published tables, oily to dry",
        "friction_range": f"{ranges.FRICTION_SPREAD:.0%} either way of friction",
        "mass": "from the solid that also bends, 10 % either way (40 % where a size is not given)",
        "centroid_radius": "from that solid, 10 % either way",
        "bore_diameter": "the middle of the gripped diameter's tolerance, 0.05 mm either way; "
        "a last cut within 0.1 mm of it as it was measured",
        "grip_height": "from the jaw's height",
        "taper": "bored straight",
        "bored_pressure": "0.3 to 1.1 of the pressure at which they are used",
        "base_tilt": "a third to eight times what makes tall aluminium jaws open as shops see; `heldtrue learn` "
        "finds it",
        "base_tilt_range": f"{ranges.BASE_READ_SPREAD:.0%} either way of base_tilt",
        "number": "not shown",
        "serration": "not checked against the chuck's",
        "ends": "the plan does without; jaws cannot be placed",
        "inner_end": "flat",
        "holes": "the plan does without; jaws cannot be placed",
        "bolt": hardware.BOLT,
        "bolt_class": f"{hardware.BOLT_CLASS}; A574 for inch bolts",
        "counterbore_diameter": "2 mm more than the bolt head",
        "counterbore_depth": "1 mm more than the bolt head",
        "web_limit": f"{blank.WEB_LIMIT_MM:g} mm",
        "cuts_done": "0",
        "last_cut": "a fresh blank",
        "tooth": "the best one is looked for",
        "in_order": "not known",
    },
    JawCut: {
        "diameter_error": f"not measured: {ranges.BORE_MM:g} mm either way",
        "depth": "not known: no program for a used set before it is measured",
        "depth_error": "as it stands",
        "tooth": "the tooth they stand on now",
        "chuck": "not recorded: a used set is cut again",
        "machine": "not recorded: a used set is cut again",
        "pressure": "not recorded",
        "relief_width": "as this setup would cut it; in the program metal",
        "relief_depth": "as this setup would cut it; in the program metal",
        "seat_land": "at least as wide as this setup would cut it",
        "seat_relief": "in the program metal",
        "steps": "not known: a used set is looked at first; an empty list where it has none",
    },
    BoreStep: {"grips": "no"},
    Ring: {"name": "not shown", "kind": "ring", "inside": "0"},
    Tool: {
        "name": "tool",
        "number": "1",
        "offset": "none",
        "quadrant": "4 for an outside grip, 3 for an inside grip",
        "lead_angle": f"{hardware.LEAD_DEG:g} degrees",
        "insert_angle": f"{hardware.INSERT_DEG:g} degrees",
        "bar_diameter": "give this and overhang, or outline",
        "overhang": "give this and bar_diameter, or outline",
        "bar_material": "steel",
        "edge_length": f"{hardware.EDGE_MM:g} mm",
        "tip_offset": "0.7 of the bar's diameter",
        "outline": "a boring bar",
    },
    GrooveBlade: {"name": "grooving blade", "offset": "its number", "feed": f"{boring_cutting.FINISH_FEED:g} mm"},
    Boring: {
        "groove_tool": "the groove has no program: its step says what to turn",
        "rings": "none: a ring to turn is dimensioned",
        "tool": "a boring bar of 16 mm, or a turning tool of 25 mm",
        "template": "inch where the units are inches, else neutral",
        "diameter_tolerance": f"{bore.TOLERANCE_MM:g} mm to the side that bears in the jaw's middle",
        "pass_depth": f"{PASSES[True]:g} mm in light metal, {PASSES[False]:g} mm in steel, less where that does not hold",
        "finish_allowance": f"{boring_cutting.FINISH_ALLOWANCE_MM:g} mm",
        "semi_allowance": "half of finish_allowance",
        "spring_passes": "none",
        "steps": "one diameter",
        "face": "nothing, unless an old seat lies too deep",
        "deburr": "no",
        "rough_feed": f"{boring_cutting.ROUGH_FEED:g} mm per turn, less where that does not hold",
        "finish_feed": f"{boring_cutting.FINISH_FEED:g} mm per turn, less where that does not hold",
        "speed": f"{SPEEDS[True]:g} m/min in light metal, {SPEEDS[False]:g} m/min in steel, less where that does not hold",
        "spindle_limit": "half the plates' speed, less where the push on the ring would fall under a third",
        "clearance": f"{ring.CLEARANCE_MM:g} mm",
        "seat_land": f"seat_diameters of the grip, else {bore.SEAT_LAND_MM:g} mm",
        "seat_relief": f"{bore.SEAT_RELIEF_MM:g} mm",
        "relief_width": f"{bore.RELIEF_WIDTH_MM:g} mm, more for the part's edge and the tool",
        "relief_depth": f"{bore.RELIEF_DEPTH_MM:g} mm, more for a large nose",
        "mouth_chamfer": f"{bore.MOUTH_CHAMFER_MM:g} mm",
        "skim": f"{blank.SKIM_MM:g} mm",
        "seat_skim": f"{recut.SEAT_SKIM_MM:g} mm",
    },
    Machine: {
        "name": "not shown",
        "max_speed": "only the plate of the chuck limits the speed",
        "spin_up_time": f"{ranges.SPIN_UP_S[0]:g} to {ranges.SPIN_UP_S[1]:g} s",
        "max_swing": "not checked",
        "power": "not checked while jaws are cut, and said",
        "torque": "not checked while jaws are cut, and said",
        "x_travel": "not checked",
        "z_travel": "not checked",
    },
    Limits: {
        "safety_factor": FACTORS,
        "safety_reason": "needed with a safety_factor",
        "holding_share": "likely half of a form tolerance, a third of a run-out tolerance; worst 0.8 of either",
        "marking_allowed": "false: no jaw may mark the part",
    },
    Assumption: {"spread": "as `heldtrue assumptions` lists it"},
    StressAssumption: {"spread": "as `heldtrue assumptions` lists it", "range": "as ranges.md says"},
    RatioAssumption: {"spread": "as `heldtrue assumptions` lists it", "range": "as ranges.md says"},
    Assumptions: {shape.key: "as `heldtrue assumptions` lists it" for shape in fields_of(Assumptions)},
    Run: {
        "pressure": "the plan advises it",
        "speed": "just enough that every cut can start at its own speed",
    },
    Cut: {
        "surface": "give diameter and z instead",
        "diameter": "that of the surface; a drill or tap needs its own",
        "z": "that of the surface; of a drill or tap the whole part",
        "depth": "needed for turn, face, bore; of a thread from its pitch",
        "feed": "needed but for thread and tap",
        "speed": "give this or spindle_speed",
        "spindle_speed": "give this or speed",
        "lead_angle": "95 degrees",
        "rake": "no correction",
        "width": "needed for groove and part_off",
        "pitch": "needed for thread and tap",
        "wear": f"worn at worst, {WEAR_UNKNOWN.most:g} times the force; sharp at best",
        "interrupted": "smooth, but interrupted on a raw or unknown surface or where the part has holes",
        "finishing": "false",
        "towards": "chuck",
    },
}
"""What the plan takes when an optional key is not there."""

TABLES: dict[str, type[Entry]] = {
    "top": SetupData,
    "part": Part,
    "corner": Corner,
    "section source": SectionSource,
    "not round": NotRound,
    "surface": Surface,
    "grip": Grip,
    "chuck": Chuck,
    "actuator": Actuator,
    "master jaws": MasterJaws,
    "grip reading": GripReading,
    "jaws": Jaws,
    "last cut": JawCut,
    "cut": Cut,
    "machine": Machine,
    "limits": Limits,
    "assumptions": Assumptions,
    "stress assumption": StressAssumption,
    "run": Run,
    "boring": Boring,
    "bore step": BoreStep,
    "ring": Ring,
    "tool": Tool,
    "groove tool": GrooveBlade,
}


def keys_of(entry: type[Entry]) -> str:
    """One table of the setup file as a Markdown table."""
    rows = [
        [
            f"`{shape.key}`",
            shape.description + (" (on the plate)" if shape.on_plate else ""),
            _holds(shape),
            _allowed(entry, shape),
            REQUIRED if shape.required else LEFT_OUT[entry][shape.key],
        ]
        for shape in fields_of(entry)
        if not (entry is Surface and shape.key == "diameters")
    ]
    return table(["key", "what it is", "holds", "accepted", "if left out"], rows)


def _kind(shape: FieldShape) -> str:
    return shape.shape.kind or (shape.shape.item.kind if shape.shape.item else "")


def _holds(shape: FieldShape) -> str:
    name = shape.shape.name
    if name == "choice":
        return " or ".join(f"`{choice}`" for choice in shape.shape.choices)
    if name == "table" or (name == "list" and shape.shape.item and shape.shape.item.table):
        return (
            f"table{'s' if name == 'list' else ''}, see below" if shape.key not in ("profile", "blank") else "corners"
        )
    kind = _kind(shape)
    bare = list(dict.fromkeys(unit for unit in KINDS[kind].bare.values() if unit)) if kind else []
    word = {"text": "text", "whole": "whole number", "yes_no": "true or false"}.get(name, " or ".join(bare) or "number")
    return f"[from, to] in {word}" if name == "pair" else word


def _allowed(entry: type[Entry], shape: FieldShape) -> str:
    found = PLAUSIBLE.get(entry, {}).get(shape.name)
    if found is None:
        return ""
    kind = _kind(shape)
    unit = KINDS[kind].bare["metric"] if kind else ""
    low, high = (f"{from_core(end, kind, unit) if unit else end:.8g}" for end in found)
    if kind == "angle":
        low, high = (f"{end * 180 / pi:.8g}" for end in found)
    return f"{low} to {high} {unit}".strip()


def setup_parts() -> dict[str, str]:
    return {f"keys of {name}": keys_of(entry) for name, entry in TABLES.items()}


def percent(share: float) -> str:
    return f"±{100 * share:.3g} %"


def bar(pressure: float) -> str:
    return f"{10 * pressure:.3g} bar"


def worst_cases() -> str:
    """Every input with its range when measured, stated and not stated, and the checks it moves."""
    grease = {name: f"{low:g} to {high:g}" for name, (low, high) in GREASE.items()}
    by_surface = {name: ", ".join(f"{key} {value:g}" for key, value in values.items()) for name, values in (
        ("off", ranges.OFF_CENTRE_MM), ("size", ranges.SIZE_MM), ("round", ranges.ROUND_MM))}  # fmt: skip
    practice, hold, form = ranges.PRACTICE, "hold", "form, marking, yield"
    rows = [
        ["friction, jaw on part", percent(ranges.FRICTION_SPREAD) + ", or friction_range", "published tables, oily to dry",
         f"{hold}, {form}", "manuals of two chuck makers, read; spread: " + practice],
        ["grip efficiency of the chuck", "two readings or more that agree, with the age and the grease of today: "
         f"their posterior, the gauge at {percent(GAUGE_ERROR)}; one alone only takes away",
         f"grease good {grease['good']}, poor {grease['poor']}, unknown {grease[None]}", f"{hold}, grip left, {form}",
         practice],
        ["pressure lost before the jaws grip", f"±{bar(ranges.THRESHOLD_ERROR_MPA)}",
         f"{bar(THRESHOLD_MPA[0])} to {bar(THRESHOLD_MPA[1])}, lines through the readings",
         f"{hold}, grip left, {form}", practice],
        ["piston area", percent(ranges.AREA_SPREAD), "{:g} to {:g} x greatest draw force / highest pressure".format(
            *ranges.AREA_UNKNOWN), "draw force; hold and form without readings", practice],
        ["pressure gauge", "as stated", f"{100 * ranges.GAUGE_CLASS:g} % of the highest pressure, either way",
         "all that depends on pressure", "class 1.6 of EN 837-1 (from memory)"],
        ["least steady pressure", "as stated", bar(ranges.LEAST_STABLE_MPA), "steady pressure", practice],
        ["axial seat", "as stated", "none", hold, "worst case"],
        ["state of the cutting edge", "sharp {:g} to {:g}, worn {:g} to {:g} x the force".format(*ranges.SHARP, *ranges.WORN),
         f"{WEAR_UNKNOWN.least:g} to {WEAR_UNKNOWN.most:g}", f"{hold}, under the cut", WEAR_UNKNOWN.source],
        ["interrupted cut", f"{INTERRUPTED.most:g} x the force, or none", "interrupted on a raw or unknown surface and on "
         "parts with holes, else smooth", hold, INTERRUPTED.source],
        ["specific cutting force", "table, or the shop's own range", f"low end of the table to the high end, at least {FORCE_OVER_TABLE.value:g} x "
         "its value", hold, FORCE_OVER_TABLE.source],
        ["mass and centre of mass of a top jaw", percent(ranges.MASS_SPREAD),
         f"of its solid, {percent(ranges.SOLID_SPREAD[True])} (a size not stated: {percent(ranges.SOLID_SPREAD[False])}), "
         "centre ±10 %", "hold, grip left; form of an inside grip", practice],
        ["mass and centre of mass of a master jaw", percent(ranges.MASS_SPREAD), "usual ones, {} and {}".format(
            *(percent(s) for s in ranges.MASTER_SPREAD)), "hold, grip left; form of an inside grip", practice],
        ["mass of the part", percent(ranges.PART_MASS_SPREAD[True]),
         f"volume times density, {percent(ranges.PART_MASS_SPREAD[False])}", hold, practice],
        ["centre of mass off the axis", percent(ranges.LUMP_SPREAD), f"0 to {by_surface['off']} mm", hold, practice],
        ["time to spin up", percent(ranges.SPIN_UP_SPREAD), "{:g} to {:g} s".format(*ranges.SPIN_UP_S), "spin-up", practice],
        ["tilt stiffness of the master jaws", percent(ranges.BASE_READ_SPREAD), "a third to eight times what is assumed",
         f"{form}, taper", practice],
        ["pressure at which the jaws were bored", "error of the gauge", "{:g} to {:g} of that of use".format(
            *ranges.BORED_SHARE), form, practice],
        ["diameter the jaws were bored to", f"±{ranges.BORE_READ_MM:g} mm",
         f"middle of the part's tolerance ±{ranges.BORE_MM:g} mm", form, practice],
        ["gripped diameter", "the tolerance", f"±{by_surface['size']} mm", form, practice],
        ["out-of-round of the gripped surface", "0 to as stated", f"0 to {by_surface['round']} mm", form, practice],
        ["yield strengths", "table, low to high, or the shop's own range", "the same", "marking, yield", "handbook, see `heldtrue materials`"],
    ]  # fmt: skip
    return table(["input", "stated or measured", "not stated", "moves", "source of the range"], rows)


def rules() -> str:
    """The two rules of holding and the two values of form, as figures."""
    rows = [
        ["published rule, S", FACTORS, "manual of a chuck maker, read"],
        ["worst case, against slipping", "1.25 x S/2, every range at its bad end", "own rule, see theory.md"],
        ["worst case, against tipping and lifting", "1.5 x S/2", "own rule, see theory.md"],
        ["likely form", f"{judge.SHARE_OF_FORM:.2g} of a form tolerance, {judge.SHARE_OF_RUNOUT:.2g} of a run-out tolerance",
         ranges.PRACTICE],
        ["worst form", f"{judge.WORST_SHARE:g} of the tolerance", "own rule, see theory.md"],
    ]  # fmt: skip
    return table(["rule", "asks for", "source"], rows)


def cli_parts() -> dict[str, str]:
    """Every command with its arguments and options, as its help says them."""
    assert app.registered_callback is not None
    blocks = [_command("heldtrue", app.registered_callback.callback, app.info.help)]
    for one in app.registered_commands:
        assert one.callback is not None
        blocks.append(_command(f"heldtrue {one.name or one.callback.__name__}", one.callback, one.callback.__doc__))
    for group in app.registered_groups:
        assert group.typer_instance is not None
        blocks.append(f"## heldtrue {group.name}\n\n{group.typer_instance.info.help}")
        for one in group.typer_instance.registered_commands:
            assert one.callback is not None
            name = f"heldtrue {group.name} {one.name or one.callback.__name__}"
            blocks.append("#" + _command(name, one.callback, one.callback.__doc__))
    return {"commands": "\n\n".join(blocks)}


def _command(name: str, function: Any, about: Any) -> str:
    hints = get_type_hints(function, include_extras=True)
    defaults = {key: one.default for key, one in inspect.signature(function).parameters.items()}
    rows, shape = [], [name]
    for key, default in defaults.items():
        inner, mark = get_args(hints[key])
        required = default is inspect.Parameter.empty
        if isinstance(mark, ArgumentInfo):
            word = "SETUP" if key == "setup_file" else mark.metavar or key.upper()
            shape.append(word if required else f"[{word}]")
        else:
            names = [one for one in (mark.default, *(mark.param_decls or ())) if isinstance(one, str)]
            word = names[0] if names else "--" + key.replace("_", "-")
        shown = "" if required or default in (None, False, "") else f"`{default}`"
        rows.append([f"`{word}`", _takes(inner), mark.help or "", shown])
    shape.append("[OPTIONS]" if name != "heldtrue" else "[OPTIONS] COMMAND")
    lines = [f"## {name}", "", " ".join((about or "").split()), "", "```", " ".join(shape), "```", ""]
    return "\n".join([*lines, table(["", "takes", "what it does", "default"], rows)])


def _takes(annotation: Any) -> str:
    if bool in (annotation, *get_args(annotation)):
        return ""
    for one in (annotation, *get_args(annotation)):
        if get_origin(one) is Literal:
            return " or ".join(f"`{choice}`" for choice in get_args(one))
    words = {str: "text", Path: "a path", int: "a whole number", float: "a number"}
    several = (annotation, *get_args(annotation))
    listed = [get_args(one)[0] for one in several if get_origin(one) is list]
    if listed:
        return f"{words[listed[0]]}; may be repeated"
    return next(words[one] for one in several if one in words)


MODELS = {
    "plan": documents.PlanDocument,
    "pressure": documents.Pressure,
    "step": documents.Step,
    "speed": documents.Speed,
    "grip_force": documents.Force,
    "surface": documents.SurfaceEntry,
    "lobe": documents.LobeEntry,
    "hold": documents.HoldEntry,
    "print": documents.PrintEntry,
    "answer": documents.AnswerEntry,
    "remedy": documents.RemedyEntry,
    "check": documents.CheckEntry,
    "rule": documents.RuleEntry,
    "failure": documents.FailureEntry,
    "assumed input": documents.AssumedEntry,
    "comparison": documents.ComparisonDocument,
    "way": documents.WayEntry,
    "ways": way_document.WaysDocument,
    "ranked way": way_document.WayFoundEntry,
    "dropped ways": way_document.DroppedEntry,
    "other way": way_document.OtherEntry,
    "odds": documents.OddsEntry,
    "measure": odds_document.MeasurementsDocument,
    "measurement": odds_document.MeasurementEntry,
    "measured window": odds_document.WindowEntry,
    "share": odds_document.ShareEntry,
    "pair": odds_document.PairEntry,
    "assumptions": odds_document.AssumptionsDocument,
    "assumption": odds_document.AssumptionEntry,
    "contact": contact_document.ContactDocument,
    "contact pressure": contact_document.SetPressure,
    "face print": contact_document.FacePrint,
    "taper": contact_document.TaperEntry,
    "tried taper": contact_document.TaperPrint,
    "bores": contact_document.BoresEntry,
    "bore": contact_document.BoreEntry,
    "friction": contact_document.FrictionEntry,
    "bore document": boring_document.BoreDocument,
    "boring pressure": boring_document.BoringPressure,
    "jaw way": boring_document.WayEntry,
    "refused way": boring_document.RefusedWay,
    "boring ring": boring_document.RingEntry,
    "designed bore": boring_document.DesignEntry,
    "boring forces": boring_document.ForcesEntry,
    "boring pass": boring_document.PassEntry,
    "force check": boring_document.ForceCheckEntry,
    "lowered value": boring_document.TurnedEntry,
    "jaw bolts": boring_document.BoltEntry,
    "program": boring_document.ProgramEntry,
    "proof": boring_document.ProofEntry,
    "solids": boring_document.SolidsEntry,
    "finding": boring_document.FindingEntry,
    "boring step": boring_document.StepEntry,
    "recut": boring_document.RecutDocument,
    "skim": boring_document.SkimEntry,
}

READING_MODELS = {
    "indicator": readings.IndicatorDocument,
    "trace": readings.TraceEntry,
    "estimate": readings.EstimateEntry,
    "wave": readings.WaveEntry,
    "lean": readings.LeanEntry,
    "outlier": readings.OutlierEntry,
    "gauges": readings.GaugesEntry,
    "there": readings.ThereEntry,
    "slip": readings.SlipEntry,
    "cause": readings.CauseEntry,
    "jaw": readings.JawEntry,
    "next test": readings.NextTestEntry,
    "outcome": readings.OutcomeEntry,
    "lobe comparison": readings.LobeComparisonEntry,
    "budget": readings.BudgetEntry,
    "spent": readings.SpentEntry,
    "drift": shop_documents.DriftDocument,
    "series": shop_documents.SeriesEntry,
    "piece": shop_documents.PieceEntry,
    "signal": shop_documents.SignalEntry,
    "capability": shop_documents.CapabilityEntry,
    "next taper": shop_documents.TaperDocument,
    "learned": shop_documents.LearnedDocument,
    "knowledge": shop_documents.KnowledgeEntry,
    "flagged": shop_documents.FlaggedEntry,
}

MEANING = {
    "plan.format": "goes up when a name changes its meaning or goes",
    "plan.title": "title of the setup",
    "plan.verdict": "of all checks together",
    "plan.pressure": "the pressure window",
    "plan.speed": "spindle limit and top speed",
    "plan.grip_force": "total grip of all jaws, at the highest pressure set",
    "plan.surfaces": "one for each machined surface",
    "plan.holds": "one for each cut, and the spin-up",
    "plan.prints": "how the jaws bear, for each size of the part",
    "plan.answer": "what comes first",
    "plan.checks": "every question asked",
    "plan.assumed": "every input nobody stated",
    "plan.notes": "advice that no check decides",
    "plan.cautions": "show these wherever you show a plan",
    "pressure.unit": "unit of every pressure here: that of the gauge",
    "pressure.floor": "least pressure that holds, first step",
    "pressure.ceiling": "most that does no harm, first step",
    "pressure.recommended": "what to set, first step; null where there is no window",
    "pressure.reason": "what decides floor and ceiling, or which two collide",
    "pressure.steps": "one pressure, or two (rough, finish)",
    "step.name": "`all cuts`, `rough` or `finish`",
    "step.cuts": "names of the cuts made at it",
    "step.floor": "least pressure that holds",
    "step.floor_by": "name of the check that decides it",
    "step.ceiling": "most that does no harm",
    "step.ceiling_by": "name of the check that decides it",
    "step.recommended": "what to set; null where there is no window",
    "speed.unit": "always rev/min",
    "speed.limit": "spindle limit to write",
    "speed.reason": "why this one",
    "speed.top": "highest speed with these jaws at this pressure",
    "speed.top_reason": "what decides it",
    "grip_force.static_total": "least at rest [N]",
    "grip_force.dynamic_total": "least at speed [N]",
    "grip_force.per_jaw": "least at rest, one jaw [N]",
    "grip_force.static_most": "most at rest [N]",
    "grip_force.dynamic_most": "most at speed [N]",
    "surface.name": "as in the setup file",
    "surface.side": "which way it looks",
    "surface.lobes": "waves round the part after release, the largest first by order",
    "surface.worst_fit": "the part size that is worst: smallest, middle, largest or nominal",
    "lobe.order": "waves a turn",
    "lobe.amplitude": "half of peak to valley of that wave [mm]",
    "hold.cut": "name of the cut, or `spin-up`",
    "hold.case": "which load case, and where along the part",
    "hold.failure": "`slip round`, `slip along`, `tip`, `lift` or `none`",
    "hold.factor": "what is reached of the safety factor, by the rule that leaves least; null: without limit",
    "hold.safety": "factor asked for",
    "hold.grip_needed": "total grip at rest that both rules ask for [N]; null: no grip holds it",
    "hold.speed": "at which it acts [rev/min]",
    "hold.handbook_factor": "torque and thrust against friction times grip, the second opinion; blind to tipping",
    "print.fit": "`smallest`, `middle`, `largest` or `nominal`",
    "print.part_diameter": "of the gripped surface [mm]",
    "print.bore_diameter": "of the jaws [mm]",
    "print.taper": "of the jaws over the gripped length, per side [mm]",
    "print.peak": "highest pressure of a cell [MPa]",
    "print.words": "how it bears, in words",
    "answer.words": "the one sentence under the verdict",
    "answer.measure_first": "the input whose measurement would change most, and how",
    "answer.remedies": "what would make the leading check pass, smallest change first",
    "remedy.what": "grip length, bored diameter, depth, feed, speed, centre, seat, friction, measure, wrap or jaws",
    "remedy.subject": "the cut or input that it is about",
    "remedy.was": "as it is, in core units; null where there is no figure",
    "remedy.to": "as it would have to be",
    "remedy.unit": "of both",
    "remedy.words": "in words",
    "rule.name": "`published rule` and `worst case` of a hold, `likely value` and `worst value` of a form",
    "rule.value": "what was found",
    "rule.limit": "what is allowed",
    "rule.margin": "share to spare",
    "failure.cut": "name of the cut, or `spin-up`",
    "failure.case": "which load case, and where",
    "failure.needs": "what must be carried, safety included",
    "failure.carries": "what the grip carries of it",
    "check.name": "stable within one plan: `hold: <cut>`, `roundness: <surface>`, `draw force` and so on",
    "check.question": "in words",
    "check.state": "`passes`, `fails`, or `not proven`: rests on an unknown that could flip it",
    "check.value": "what was found, by the rule that leaves least",
    "check.limit": "what is allowed",
    "check.unit": "of both",
    "check.decided_by": "the input that moves it most",
    "check.from": "where that input came from",
    "check.measure_next": "what would settle it",
    "check.detail": "more in words",
    "assumed input.name": "in words",
    "assumed input.value": "taken, the worst",
    "assumed input.other_end": "of its range, the best",
    "assumed input.unit": "of both",
    "assumed input.note": "where the number comes from",
    "assumed input.measure": "what would settle it",
    "comparison.format": "as in a plan",
    "comparison.ways": "best first",
    "way.way": "in words",
    "way.style": "of the jaws",
    "way.side": "of the grip",
    "way.jaws": "how many",
    "ways.format": "as in a plan",
    "ways.ways": "that no other beats in everything, best first",
    "ways.beaten": "worked out in full, and another is as good or better in everything",
    "ways.dropped": "not worked out in full, by surface and reason",
    "ways.looked_at": "ways and surfaces looked at",
    "ways.planned": "ways worked out in full",
    "ways.seconds": "that it took",
    "ways.cautions": "show these wherever you show ways",
    "ranked way.name": "in words",
    "ranked way.side": "of the grip",
    "ranked way.surface": "that is gripped, in words",
    "ranked way.diameter": "of it [mm]",
    "ranked way.z": "from, to [mm]",
    "ranked way.style": "of the jaws",
    "ranked way.jaws": "how many",
    "ranked way.stated": "is this the way the setup file states?",
    "ranked way.verdict": "of its plan",
    "ranked way.cost": "what the jaws cost the shop, the least first in the schema",
    "ranked way.window": "as `pressure` of a plan",
    "ranked way.what_first": "to measure before anything else; empty where it passes",
    "ranked way.why": "its weakest point, in words",
    "ranked way.needs": "what the shop must have for it",
    "dropped ways.name": "the surface, in words",
    "dropped ways.why": "in words",
    "dropped ways.count": "how many ways",
    "dropped ways.reason": "the same as a fixed word",
    "other way.kind": "mandrel, collet, face clamp, centre, steady rest or pads",
    "other way.name": "in words",
    "other way.window": "`low`, `high` and their `unit`: force in all [N], of a centre gauge pressure [MPa]; null where there is none",
    "other way.words": "one line each: what and where, forces, what is not proven, what to find out first, what to mind",
    "measure.format": "as in a plan",
    "measure.title": "title of the setup",
    "measure.verdict": "of the plan as it stands",
    "measure.measurements": "best first",
    "measure.cautions": "show these wherever you show measurements",
    "measurement.what": "in words",
    "measurement.window_now": "of the plan",
    "measured window.floor": "null where it has no bound",
    "measured window.ceiling": "null where it has no bound",
    "share.name": "of the input, a fixed word",
    "share.label": "of the input, in words",
    "share.share": "0 to 1",
    "assumptions.format": "as in a plan",
    "assumptions.title": "title of the setup",
    "assumptions.assumptions": "in the order in which they are made",
    "assumption.label": "in words",
    "assumption.low": "end of the range",
    "assumption.likely": "value in it that is expected",
    "assumption.high": "end of the range",
    "assumption.unit": "of all four",
    "assumption.source": "where the range comes from",
    "assumption.note": "where the number comes from",
    "contact.format": "as in a plan",
    "contact.title": "title of the setup",
    "contact.pressure": "what the contact was worked out at",
    "contact.taper": "the taper to cut, and what it does",
    "contact.bores": "three diameters to bore to; the shop chooses",
    "contact.notes": "what to know of this answer",
    "contact.cautions": "show these wherever you show a contact",
    "contact.part": "part number",
    "contact.revision": "drawing revision",
    "contact pressure.unit": "that of the gauge",
    "contact pressure.value": "on the gauge",
    "face print.fit": "`smallest`, `middle`, `largest` or `nominal`",
    "face print.part_diameter": "of the gripped surface [mm]",
    "face print.bore_diameter": "of the jaws [mm]",
    "face print.taper": "of the jaws over the gripped length, per side [mm]",
    "face print.peak": "highest pressure of a cell [MPa]",
    "face print.words": "how it bears, in words",
    "taper.words": "what to cut, in words",
    "tried taper.print": "of the middle part with it",
    "bores.as_set_up": "as the setup states or implies",
    "bore.bore_diameter": "to bore the jaws to [mm]",
    "bore.prints": "of smallest, middle and largest part",
    "friction.surface": "as in the setup file",
}


def reading_parts() -> dict[str, str]:
    return {f"names of {name}": _names(name, model) for name, model in READING_MODELS.items()}


def json_parts() -> dict[str, str]:
    return {f"names of {name}": _names(name, model) for name, model in MODELS.items()}


def _names(name: str, model: Any) -> str:
    rows = []
    for field, info in model.model_fields.items():
        key = info.serialization_alias or field
        rows.append([f"`{key}`", _type(info.annotation), MEANING.get(f"{name}.{key}") or info.description or ""])
    return table(["name", "holds", "meaning"], rows)


def _type(annotation: Any) -> str:
    words = {str: "text", float: "number", int: "whole number", bool: "true or false"}
    if annotation in words:
        return words[annotation]
    text = str(annotation)
    if text.startswith("typing.Literal"):
        return " or ".join(f"`{choice}`" for choice in annotation.__args__)
    if text.startswith("list["):
        inner = annotation.__args__[0]
        if str(inner).startswith("list["):
            return "rows of numbers"
        return {str: "list of text", float: "list of numbers"}.get(inner, "list")
    if text in ("float | None", "int | None"):
        return "number or null"
    if text.startswith("tuple[float, float]"):
        return "two numbers" + (" or null" if "None" in text else "")
    return "object or null" if "None" in text else "object"


def session() -> str:
    """What the first command of the readme prints, down to the table of checks."""
    from rich.console import Console

    from heldtrue import Setup, plan
    from heldtrue.terminal.plan import show_plan

    screen = Console(file=StringIO(), width=118, color_system=None, force_terminal=False)
    show_plan(screen, plan(Setup.from_toml(DOCS.parent / "examples" / "wear-ring.toml")), "metric")
    shown = screen.file.getvalue()  # type: ignore[attr-defined]
    lines = [line.rstrip() for line in shown.split("\nSurfaces")[0].splitlines()]
    return "\n".join(["```", *lines, "...", "```"])


def all_parts() -> dict[str, dict[str, str]]:
    return {
        "cli.md": cli_parts(),
        "ranges.md": {"ranges": worst_cases(), "rules": rules()},
        "setup-file.md": setup_parts(),
        "plan-json.md": json_parts(),
        "readings-json.md": reading_parts(),
        "../README.md": {"session": session()},
        "safety.md": {"cautions": "\n".join(f"- {caution}" for caution in CAUTIONS)},
    }


def main() -> None:
    for document, parts in all_parts().items():
        write(document, refresh(document, parts))


if __name__ == "__main__":
    main()
