"""Slips of typing: a value that no shop has, and what was probably meant.

Every quantity of a setup has a plausible range, wide enough for any real lathe. A value outside it is
refused with the reading that would fit: inch for mm, psi for bar, kN for N, a lost decimal point. A bare
number inside its range is still questioned where it cannot be with its neighbours but another unit
would fit; whoever means it writes the unit.
"""

from collections.abc import Iterator
from math import radians

from heldtrue.errors import InputError
from heldtrue.planning.entries import (
    Actuator,
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
    StressAssumption,
    Surface,
    Tool,
    UnitSystem,
)
from heldtrue.planning.half_section import outline_problem, volume
from heldtrue.planning.reading import Tables, label
from heldtrue.planning.shapes import fields_of
from heldtrue.quantities import bare_unit, format_quantity, from_core, spell_quantity, to_core

Range = tuple[float, float]

_TOLERANCE = (1e-4, 2.0)
_PRESSURE = (0.01, 20.0)
PLAUSIBLE: dict[type[Entry], dict[str, Range]] = {
    Corner: {
        "diameter": (0.0, 3000.0),
        "z": (-3000.0, 3000.0),
        "radius": (0.01, 500.0),
        "chamfer": (0.01, 500.0),
    },
    NotRound: {"diameters": (0.0, 3000.0), "z": (-3000.0, 3000.0)},
    Part: {
        "mass": (0.001, 20_000.0),
        "quantity": (1, 10_000_000),
        "roundness": (0.0, 5.0),
        "off_centre": (0.0, 500.0),
        "off_centre_mass": (0.0, 2000.0),
        "off_centre_radius": (0.0, 1500.0),
    },
    SectionSource: {
        **dict.fromkeys(("outside", "bore", "diameters", "neck", "hub", "collar", "bar", "tube"), (0.0, 3000.0)),
        **dict.fromkeys(("length", "lengths", "thickness", "offset", "collar_length", "bottom"), (0.0, 3000.0)),
        **dict.fromkeys(("on_diameter", "on_faces"), (0.0, 200.0)),
        "root": (0.01, 500.0),
        "seat_at": (-3000.0, 3000.0),
    },
    Surface: {
        "diameter": (0.5, 3000.0),
        "diameters": (0.0, 3000.0),
        "diameter_tolerance": (-5.0, 5.0),
        "z": (-3000.0, 3000.0),
        **dict.fromkeys(("roundness", "cylindricity", "runout", "flatness"), _TOLERANCE),
    },
    Grip: {
        "diameter": (2.0, 3000.0),
        "diameter_tolerance": (-5.0, 5.0),
        "z": (-3000.0, 3000.0),
        "seat_diameters": (0.0, 3000.0),
    },
    Actuator: {
        "pull_area": (300.0, 300_000.0),
        "push_area": (300.0, 300_000.0),
        "max_pressure": (0.2, 30.0),
        "least_pressure": (0.01, 5.0),
        "threshold_pressure": (0.0, 2.0),
        "gauge_error": (0.0, 2.0),
    },
    Chuck: {
        "jaws": (2, 12),
        "max_draw_force": (500.0, 2_000_000.0),
        "max_grip_force": (1000.0, 5_000_000.0),
        "max_speed_rpm": (50.0, 15_000.0),
        "max_pressure": (0.2, 30.0),
        "reference_grip_height": (3.0, 600.0),
        "jaw_travel": (0.3, 60.0),
        "swing": (40.0, 4000.0),
        "body_diameter": (40.0, 4000.0),
        "through_hole": (0.0, 1500.0),
        "master_jaw_mass": (0.02, 100.0),
        "master_jaw_radius": (5.0, 1500.0),
    },
    MasterJaws: {
        "first_tooth": (1.0, 1500.0),
        "teeth": (2, 500),
        "positions": (1.0, 1500.0),
        "top_height": (0.0, 300.0),
        "slot": (0.0, 1500.0),
        "nut_length": (5.0, 300.0),
    },
    GripReading: {"pressure": _PRESSURE, "force": (100.0, 5_000_000.0), "error": (0.001, 0.6)},
    Jaws: {
        "count": (2, 12),
        "width": (2.0, 1500.0),
        "length": (2.0, 1500.0),
        "height": (4.0, 800.0),
        "gap": (0.05, 100.0),
        "friction": (0.02, 1.0),
        "friction_range": (0.02, 1.0),
        "mass": (0.02, 150.0),
        "centroid_radius": (3.0, 1500.0),
        "bore_diameter": (2.0, 3000.0),
        "grip_height": (2.0, 1000.0),
        "taper": (-2.0, 2.0),
        "bored_pressure": _PRESSURE,
        "base_tilt": (1e7, 1e13),
        "base_tilt_range": (1e7, 1e13),
        "ends": (-1000.0, 1000.0),
        "holes": (-1000.0, 1000.0),
        "counterbore_diameter": (5.0, 80.0),
        "counterbore_depth": (0.0, 500.0),
        "web_limit": (1.0, 60.0),
        "cuts_done": (0, 200),
        "tooth": (1, 500),
    },
    JawCut: {
        "diameter": (2.0, 3000.0),
        "diameter_error": (0.0005, 0.1),
        "depth": (0.5, 500.0),
        "depth_error": (0.001, 0.2),
        "tooth": (1, 500),
        "pressure": _PRESSURE,
        "relief_width": (0.1, 10.0),
        "relief_depth": (0.05, 5.0),
        "seat_land": (0.5, 60.0),
        "seat_relief": (0.0, 10.0),
    },
    Machine: {
        "max_speed_rpm": (50.0, 20_000.0),
        "spin_up_time": (0.1, 120.0),
        "max_swing": (50.0, 6000.0),
        "power": (200.0, 500_000.0),
        "torque": (1_000.0, 100_000_000.0),
        "x_travel": (-3000.0, 6000.0),
        "z_travel": (-1000.0, 20_000.0),
    },
    Ring: {"outside": (3.0, 3000.0), "inside": (0.0, 3000.0), "width": (2.0, 200.0)},
    Tool: {
        "number": (1, 999),
        "offset": (1, 999),
        "nose_radius": (0.05, 12.0),
        "quadrant": (1, 9),
        "lead_angle": (radians(10.0), radians(150.0)),
        "insert_angle": (radians(20.0), radians(140.0)),
        "bar_diameter": (3.0, 200.0),
        "overhang": (5.0, 1000.0),
        "edge_length": (1.0, 60.0),
        "tip_offset": (1.0, 150.0),
    },
    GrooveBlade: {
        "number": (1, 999),
        "offset": (1, 999),
        "width": (1.0, 12.0),
        "corner_radius": (0.05, 3.0),
        "reach": (2.0, 100.0),
        "diameters": (5.0, 3000.0),
        "feed": (0.01, 0.5),
    },
    BoreStep: {"diameter": (2.0, 3000.0), "z": (-500.0, 500.0)},
    Boring: {
        "diameter_tolerance": (-1.0, 1.0),
        "pass_depth": (0.05, 10.0),
        "finish_allowance": (0.02, 2.0),
        "semi_allowance": (0.01, 2.0),
        "spring_passes": (0, 5),
        "face": (0.02, 10.0),
        "rough_feed": (0.01, 1.0),
        "finish_feed": (0.01, 1.0),
        "surface_speed": (5.0, 1500.0),
        "spindle_limit_rpm": (20.0, 10_000.0),
        "clearance": (0.5, 50.0),
        "seat_land": (0.5, 100.0),
        "seat_relief": (0.1, 10.0),
        "relief_width": (0.2, 20.0),
        "relief_depth": (0.1, 10.0),
        "mouth_chamfer": (0.05, 10.0),
        "skim": (0.05, 2.0),
        "seat_skim": (0.02, 2.0),
    },
    Limits: {"safety_factor": (1.0, 20.0), "holding_share": (0.01, 1.0)},
    StressAssumption: {"range": (1.0, 20_000.0)},
    RatioAssumption: {"range": (0.01, 10.0)},
    Run: {"pressure": _PRESSURE, "speed_rpm": (10.0, 20_000.0)},
    Cut: {
        "diameter": (0.3, 3000.0),
        "z": (-3000.0, 3000.0),
        "depth": (0.005, 25.0),
        "feed": (0.01, 2.0),
        "surface_speed": (1.0, 3000.0),
        "speed_rpm": (10.0, 20_000.0),
        "lead_angle": (radians(10.0), radians(150.0)),
        "rake": (radians(-30.0), radians(45.0)),
        "width": (0.2, 80.0),
        "pitch": (0.1, 25.0),
    },
}
_OTHER_UNITS: dict[str, tuple[str, ...]] = {
    "length": ("in", "mm", "um"),
    "area": ("cm2", "in2", "mm2"),
    "pressure": ("psi", "bar", "MPa", "kgf/cm2"),
    "force": ("kN", "N", "lbf"),
    "mass": ("lb", "kg", "g"),
    "surface_speed": ("ft/min", "m/min", "m/s"),
    "feed": ("in/rev", "mm/rev"),
    "angle": ("rad",),
    "power": ("W", "hp", "kW"),
    "torque": ("N m", "ft lbf"),
    "ratio": ("%",),
}
_ITEM_WORDS = {"grip_readings": "reading", "rings": "ring", "steps": "step", "not_round": "stretch"}
_LOST_POINTS = {"feed": (0.1, 0.01, 0.001, 10.0), "speed_rpm": (1000.0, 0.1), "ratio": (0.1, 0.01, 10.0)}


def implausible(tables: Tables) -> Iterator[str]:
    """One sentence for every value outside its plausible range."""
    for key in ("part", "grip", "chuck", "jaws", "machine", "limits", "run", "boring"):
        entry = getattr(tables, key)
        if entry is not None:
            yield from implausible_in(entry, key, tables.units)
    for key, entries in (("surface", tables.surfaces), ("cut", tables.cuts)):
        for number, one in enumerate(entries):
            if one is not None:
                yield from implausible_in(one, label(key, number, one.name), tables.units)


def implausible_in(entry: Entry, place: str, units: UnitSystem) -> Iterator[str]:
    """One sentence for every value of one table outside its plausible range; ``place``: what the table is called."""
    ranges = PLAUSIBLE.get(type(entry), {})
    for shape in fields_of(type(entry)):
        value = getattr(entry, shape.name)
        here = f"{place}: {shape.key}"
        if value is None:
            continue
        if shape.shape.table:
            yield from implausible_in(value, here, units)
        elif shape.shape.item and shape.shape.item.table:
            word = _ITEM_WORDS.get(shape.name, "corner")
            for number, one in enumerate(value):
                yield from implausible_in(one, f"{here}: {word} {number + 1}", units)
        elif shape.name in ranges:
            kind = shape.shape.kind or (shape.shape.item.kind if shape.shape.item else "")
            for one in dict.fromkeys(value if isinstance(value, tuple) else (value,)):
                if problem := _outside(one, ranges[shape.name], kind, units):
                    yield f"{here}: {problem}"


def _outside(value: float, allowed: Range, kind: str, units: UnitSystem) -> str | None:
    low, high = allowed
    if low <= value <= high:
        return None
    if not kind:
        return f"{value} is outside {low} to {high}"
    unit = bare_unit(kind, units)
    ends = " to ".join(spell_quantity(end, kind, units).removesuffix(unit).strip() for end in allowed)
    word = f"{spell_quantity(value, kind, units)} is outside {ends}{f' {unit}' if unit else ''}"
    if kind == "feed":
        word = word.replace("mm/rev is", "mm per turn is").replace("in/rev is", "in per turn is")
        word = word.removesuffix(f" {unit}")
    guess = _meant(value, allowed, kind, units)
    return f"{word}{f'; did you mean {guess}?' if guess else ''}"


def _meant(value: float, allowed: Range, kind: str, units: UnitSystem) -> str:
    """The first other reading of the number that lies in the range, as it would be typed."""
    unit = bare_unit(kind, units)
    typed = from_core(value, kind, unit) if unit else value
    by_unit = [
        f'"{typed:.7g} {other}"' if other != "%" else f'"{typed:.7g} %"'
        for other in _OTHER_UNITS.get(kind, ())
        if other != unit
        and (other != "um" or allowed == _TOLERANCE)
        and allowed[0] <= to_core(typed, kind, other) <= allowed[1]
    ]
    by_point = [
        f"{typed * factor:.7g}" for factor in _LOST_POINTS.get(kind, ()) if allowed[0] <= value * factor <= allowed[1]
    ]
    if kind == "feed" and value > allowed[1]:
        by_unit = []
    return next(iter([*by_unit, *by_point]), "")


def doubtful(tables: Tables, spelled: set[str]) -> Iterator[str]:
    """One sentence for every bare number that its neighbours contradict and another unit would explain."""
    yield from _doubtful_pressures(tables, spelled)
    yield from _doubtful_size(tables, spelled)
    yield from _doubtful_mass(tables)


def _doubtful_pressures(tables: Tables, spelled: set[str]) -> Iterator[str]:
    chuck = tables.chuck
    if not chuck:
        return
    tops = [p for p in (chuck.actuator.max_pressure, chuck.max_pressure) if p is not None]
    least = chuck.actuator.least_pressure or 0.02
    if not tops or least >= min(tops):
        return
    top, unit = min(tops), bare_unit("pressure", tables.units)
    for key, path, value in (
        ("run: pressure", "run.pressure", tables.run.pressure if tables.run else None),
        ("jaws: bored_pressure", "jaws.bored_pressure", tables.jaws.bored_pressure if tables.jaws else None),
    ):
        named = value is not None and not _PRESSURE[0] <= value <= _PRESSURE[1]
        if value is None or named or path in spelled or 0.8 * least <= value <= 1.5 * top:
            continue
        typed = from_core(value, "pressure", unit)
        for other in ("psi", "bar", "MPa"):
            if other != unit and least <= to_core(typed, "pressure", other) <= top:
                limits = " to ".join(format_quantity(p, "pressure", tables.units) for p in (least, top))
                yield (
                    f"{key}: {typed:.7g} {unit} is outside what chuck and cylinder take, {limits}; "
                    f'did you mean "{typed:.7g} {other}"? If not, write "{typed:.7g} {unit}"'
                )
                break


def _doubtful_size(tables: Tables, spelled: set[str]) -> Iterator[str]:
    """A whole part typed in the other unit: far too small, or too large, for the chuck."""
    part, chuck = tables.part, tables.chuck
    if not part or not chuck or not chuck.swing:
        return
    if any(path.startswith("part.profile.") for path in spelled):
        return
    largest = max((corner.diameter for corner in part.profile), default=0.0)
    other, factor = ("inch", 25.4) if tables.units == "metric" else ("mm", 1 / 25.4)
    odd = largest < chuck.swing / 20.0 if factor > 1.0 else largest > chuck.swing
    if odd and chuck.swing / 20.0 <= largest * factor <= chuck.swing:
        typed, swing = (spell_quantity(value, "length", tables.units) for value in (largest, chuck.swing))
        yield (
            f"part: profile: a largest diameter of {typed} does not go with a chuck that swings {swing}; "
            f"was the profile typed in {other}? If not, write its unit at a corner"
        )


def _doubtful_mass(tables: Tables) -> Iterator[str]:
    """A mass that the drawn shape cannot have: wrong unit, or radii typed as diameters."""
    part = tables.part
    if not part or part.mass is None or any(map(_broken, (part.profile, part.blank))):
        return
    from heldtrue.mechanics.materials import work_material

    try:
        density = work_material(part.material).density
    except InputError:
        return
    finished = volume(part.profile)
    least = 0.6 * density.least * finished
    most = density.most * (1.6 * volume(part.blank) if part.blank else 20.0 * finished)
    if not least <= part.mass <= most:
        drawn = density.value * (volume(part.blank) if part.blank and part.mass > most else finished)
        typed, weighs = (
            show(value, "mass", tables.units) for show, value in ((spell_quantity, part.mass), (format_quantity, drawn))
        )
        what = "blank" if part.blank and part.mass > most else "finished part"
        yield (
            f"part: mass: {typed}, but the {what} as drawn in {part.material} would weigh {weighs}; "
            "check its unit, and that the profile gives diameters, not radii"
        )


def _broken(corners: tuple[Corner, ...] | None) -> bool:
    return corners is not None and outline_problem(corners) is not None
