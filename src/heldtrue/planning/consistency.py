"""Does a setup agree with itself: grip and surfaces on the part, cuts complete, jaws on the chuck?

Every check takes the tables it needs, some of which may be missing because they could not be read, and
yields one sentence per problem: the place, what was found, what would be right.
"""

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from math import asin, atan, pi
from typing import Any

from heldtrue.errors import InputError
from heldtrue.planning.entries import Actuator, Chuck, Cut, Grip, Jaws, NotRound, Part, Surface, UnitSystem
from heldtrue.planning.half_section import (
    NEAR_MM,
    Corners,
    Stretch,
    outline_problem,
    sticks_out,
    stretches,
)
from heldtrue.planning.not_round import not_round_at
from heldtrue.planning.reading import Tables, closest, label
from heldtrue.quantities import spell_quantity

_CUT_NEEDS: dict[str, tuple[str, ...]] = {
    "turn": ("depth", "feed"),
    "face": ("depth", "feed"),
    "bore": ("depth", "feed"),
    "groove": ("width", "feed"),
    "part_off": ("width", "feed"),
    "drill": ("diameter", "feed"),
    "thread": ("pitch",),
    "tap": ("diameter", "pitch"),
}
_CUT_SIDES = {"turn": "outside", "bore": "inside", "face": "face"}
ALIKE_MM = 0.0025
"""Nearer than the last digit of a drawing in inches, yet not the same: typed in two units, or a slip."""
_STOCK_SPREAD_MM = 1.0
"""A blank may be larger than drawn by about this much per side."""
_SIDE_WORDS = {"outside": "an outside surface", "inside": "an inside surface", "face": "a face"}


def disagreements(tables: Tables) -> Iterator[str]:
    """One sentence for every way in which the tables contradict each other."""
    part, grip = tables.part, tables.grip
    sound = False
    if part:
        sound = all(_sound(corners) for corners in (part.profile, part.blank))
        yield from _outlines(part, sound, tables.units)
        yield from _materials(tables)
    if part:
        for number, one in enumerate(part.not_round or ()):
            yield from _ranges(f"part: not_round {number + 1}", one, tables.units)
    if grip:
        yield from _ranges("grip", grip, tables.units)
    if part and grip and sound:
        yield from _grip_on_part(part, grip, tables.units)
    yield from _surfaces(tables, part if sound else None)
    yield from _cuts(tables, part if sound else None)
    yield from _jaws_and_chuck(tables)
    yield from _limits(tables)
    yield from _spreads(tables)
    yield from _hardware(tables)


def _sound(corners: Corners | None) -> bool:
    return corners is None or outline_problem(corners) is None


def _outlines(part: Part, sound: bool, units: UnitSystem) -> Iterator[str]:
    for key, corners in (("profile", part.profile), ("blank", part.blank)):
        if corners is None or any(corner.diameter < 0 for corner in corners):
            continue  # a diameter below 0 is named as implausible
        if problem := outline_problem(corners):
            yield f"part: {key}: {problem}"
        else:
            yield from _alike(f"part: {key}", corners, units)
    if sound and part.blank and (where := sticks_out(part.profile, part.blank)):
        yield f"part: blank: the finished part reaches outside it ({where}); a cut only takes away"


def _alike(place: str, corners: Corners, units: UnitSystem) -> Iterator[str]:
    """Neighbours that are meant to have one diameter or position, and miss it by less than a drawing can say."""
    for number, corner in enumerate(corners):
        before = corners[number - 1]
        for key in ("diameter", "z"):
            here, there = getattr(corner, key), getattr(before, key)
            if NEAR_MM < abs(here - there) <= ALIKE_MM:
                yield (
                    f"{place}: corner {number + 1}: {key}: is {1000 * abs(here - there):.2g} µm off that of corner "
                    f'{number or len(corners)}; did you mean "{_size(there, units)}"?'
                )


def _materials(tables: Tables) -> Iterator[str]:
    from heldtrue.mechanics.materials import jaw_material, work_material

    for place, owner, look_up in (("part", tables.part, work_material), ("jaws", tables.jaws, jaw_material)):
        if owner:
            try:
                look_up(owner.material)
            except InputError as error:
                yield from (f"{place}: material: {problem}" for problem in error.problems)


def _ranges(place: str, entry: Grip | Surface | Cut | NotRound, units: UnitSystem) -> Iterator[str]:
    """Ranges run from low to high."""
    single = isinstance(entry, Surface) and entry.side == "face"
    for key in ("z", "diameter_tolerance", "diameters", "seat_diameters"):
        pair = getattr(entry, key, None)
        if pair is None or (pair[0] < pair[1]) or (pair[0] == pair[1] and key == "diameter_tolerance"):
            continue
        low, high = (_size(value, units) for value in pair)
        if single and key == "z":
            if pair[0] != pair[1]:
                yield f"{place}: z: a face has one position; found {low} to {high}"
        elif pair[0] == pair[1]:
            yield f"{place}: {key}: runs from {low} to {high}, which is no length"
        else:
            yield f"{place}: {key}: runs from {low} to {high}; give the lower value first"


def _grip_on_part(part: Part, grip: Grip, units: UnitSystem) -> Iterator[str]:
    if (other := not_round_at(part, grip.side, grip.z)) is not None:
        yield (
            f"grip: z: from {_size(other.z[0], units)} to {_size(other.z[1], units)} the part is not round: "
            f"{other.what}; jaws are bored round and would bear on its corners alone. Grip a turned surface"
        )
        return
    of_part = stretches(part.profile)
    problem = _not_on(of_part, grip.side, grip.diameter, grip.z, units)
    if problem and not _spans_grooves(part, grip, of_part):
        hint = ""
        if part.blank and not _not_on(stretches(part.blank), grip.side, grip.diameter, grip.z, units):
            hint = "; the blank has it, so draw it in the profile too: the section as this operation leaves it"
        yield f"grip: {problem}{hint}"
    if grip.seat and not any(s.looks == "chuck" and abs(s.z[0]) <= NEAR_MM for s in of_part):
        faces = sorted({s.z[0] for s in of_part if s.looks == "chuck"})
        found = ", ".join(_size(z, units) for z in faces) or "nowhere"
        yield (
            "grip: seat: the part has no face towards the chuck at z = 0 to rest on "
            f"(such faces are at z = {found}); move the profile, or say that there is no seat (seat = false)"
        )


def _spans_grooves(part: Part, grip: Grip, of_part: tuple[Stretch, ...]) -> bool:
    """Does the grip begin and end on its cylinder, with only grooves between that a jaw bridges?"""
    there = [s for s in of_part if s.looks == grip.side and abs(s.diameters[0] - grip.diameter) <= NEAR_MM]
    low, high = grip.z
    ends = all(any(s.z[0] - NEAR_MM <= z <= s.z[1] + NEAR_MM for s in there) for z in (low, high))
    between = [c.diameter for c in part.profile if low + NEAR_MM < c.z < high - NEAR_MM]
    if grip.side == "outside":
        return ends and all(diameter <= grip.diameter + NEAR_MM for diameter in between)
    inside = [d for d in between if d <= grip.diameter + NEAR_MM]
    return ends and all(diameter >= grip.diameter - NEAR_MM for diameter in inside)


def _not_on(
    of_part: tuple[Stretch, ...], side: str, diameter: float, z: tuple[float, float], units: UnitSystem
) -> str | None:
    """Why there is no cylinder of that side, diameter and reach on the part; ``None`` if there is."""
    if not z[0] < z[1]:
        return None
    cylinders = [s for s in of_part if s.looks == side]
    there = [s for s in cylinders if abs(s.diameters[0] - diameter) <= NEAR_MM]
    typed = "Ø" + _size(diameter, units)
    if not there:
        other = [s for s in of_part if s.looks in ("inside", "outside") and s.looks != side]
        if any(abs(s.diameters[0] - diameter) <= NEAR_MM for s in other):
            return f"side: {typed} is an {other[0].looks} surface of the part, not an {side} one"
        near = [s.diameters[0] for s in cylinders if abs(s.diameters[0] - diameter) <= ALIKE_MM]
        hint = size_hint(diameter, [s.diameters[0] for s in cylinders], units)
        if near:
            hint = f'; did you mean "{_size(near[0], units)}"?'
        listed = _listed(cylinders, units)
        return f"diameter: the part has no {side} surface of {typed}{hint}; it has {listed}"
    if _covered(z, there):
        return None
    low, high = (_size(value, units) for value in z)
    return f"z: {low} to {high} reaches beyond the surface, which is {_listed(there, units)}"


def _covered(span: tuple[float, float], pieces: list[Stretch]) -> bool:
    """Do the pieces together cover the span without a gap?"""
    reached = span[0]
    for low, high in sorted(piece.span() for piece in pieces):
        if low <= reached + NEAR_MM:
            reached = max(reached, high)
    return reached >= span[1] - NEAR_MM and any(p.span()[0] <= span[0] + NEAR_MM for p in pieces)


def _listed(cylinders: list[Stretch], units: UnitSystem) -> str:
    if not cylinders:
        return "none on that side"
    shown = [
        f"Ø{_size(s.diameters[0], units)} from z {_size(s.z[0], units)} to {_size(s.z[1], units)}"
        for s in cylinders[:6]
    ]
    return ", ".join(shown) + (" and more" if len(cylinders) > 6 else "")


def _size(value: float, units: UnitSystem) -> str:
    return spell_quantity(value, "length", units)


def size_hint(found: float, known: list[float], units: UnitSystem) -> str:
    """What a wrong diameter was probably meant to be: a radius, twice a diameter, the other unit."""
    guesses = (
        (2.0, "is that the radius?"),
        (0.5, "is that twice the diameter?"),
        (25.4, "was it typed in inch?") if units == "metric" else (1 / 25.4, "was it typed in mm?"),
    )
    for factor, question in guesses:
        for size in known:
            if size > 0 and abs(found * factor - size) <= 2e-3 * size:
                return f" ({question} did you mean Ø{_size(size, units)}?)"
    return ""


def _surfaces(tables: Tables, part: Part | None) -> Iterator[str]:
    names = Counter(surface.name for surface in tables.surfaces if surface)
    yield from (f"surface: {count} surfaces are named '{name}'" for name, count in names.items() if count > 1)
    of_part = stretches(part.profile) if part else ()
    for number, surface in enumerate(tables.surfaces):
        if not surface:
            continue
        place = label("surface", number, surface.name)
        yield from _ranges(place, surface, tables.units)
        if surface.side == "face":
            if surface.diameter is not None or surface.diameters is None:
                yield f"{place}: diameter: a face needs its inner and outer diameter: [inner, outer]"
            elif part:
                yield from _face_on_part(place, surface.z[0], surface.diameters, of_part, tables.units)
            asked: tuple[str, ...] = ("roundness", "cylindricity", "diameter_tolerance")
        else:
            if surface.diameter is None or surface.diameters is not None:
                yield f"{place}: diameter: an {surface.side} surface needs one diameter"
            elif part and (problem := _not_on(of_part, surface.side, surface.diameter, surface.z, tables.units)):
                yield f"{place}: {problem}"
            asked = ("flatness",)
        for key in asked:
            if getattr(surface, key) is not None:
                yield f'{place}: {key}: a surface with side = "{surface.side}" has none'


def _face_on_part(
    place: str, z: float, diameters: tuple[float, float], of_part: tuple[Stretch, ...], units: UnitSystem
) -> Iterator[str]:
    if not diameters[0] < diameters[1]:
        return
    faces = [s for s in of_part if s.is_face and abs(s.z[0] - z) <= NEAR_MM]
    at = _size(z, units)
    if not faces:
        places = sorted({s.z[0] for s in of_part if s.is_face})
        found = ", ".join(_size(one, units) for one in places)
        yield f"{place}: z: the part has no face at {at}; its faces are at z = {found}"
    elif not any(_covered(diameters, [s for s in faces if s.looks == looks]) for looks in ("chuck", "tailstock")):
        low, high = (_size(value, units) for value in diameters)
        found = ", ".join(f"Ø{_size(s.diameters[0], units)} to Ø{_size(s.diameters[1], units)}" for s in faces)
        yield f"{place}: diameter: {low} to {high} reaches beyond the face at z = {at}, which is {found}"


def _cuts(tables: Tables, part: Part | None) -> Iterator[str]:
    if not tables.cuts:
        yield "there is no [[cut]] table; give at least the heaviest cut"
    names = Counter(cut.name for cut in tables.cuts if cut)
    yield from (f"cut: {count} cuts are named '{name}'" for name, count in names.items() if count > 1)
    all_known = None not in tables.surfaces
    surfaces = {surface.name: surface for surface in tables.surfaces if surface}
    for number, cut in enumerate(tables.cuts):
        if not cut:
            continue
        place = label("cut", number, cut.name)
        yield from _ranges(place, cut, tables.units)
        yield from (f"{place}: {problem}" for problem in _incomplete(cut))
        surface = surfaces.get(cut.surface) if cut.surface else None
        if cut.surface and not surface and all_known:
            known = ", ".join(f"'{name}'" for name in surfaces) or "none"
            hint = closest(cut.surface, surfaces) or f"; the surfaces are {known}"
            yield f"{place}: surface: there is no surface named '{cut.surface}'{hint}"
        if surface and (side := _CUT_SIDES.get(cut.kind, surface.side)) != surface.side:
            makes, found = _SIDE_WORDS[side], _SIDE_WORDS[surface.side]
            yield f"{place}: kind: {cut.kind} makes {makes}; '{surface.name}' is {found}"
        if part:
            yield from (f"{place}: {problem}" for problem in _cut_on_part(cut, surface, part, tables.units))
        if tables.grip and _cuts_the_grip(cut, surface, tables.grip):
            yield f"{place}: it cuts where the jaws hold; grip elsewhere, or cut this in another operation"


def _incomplete(cut: Cut) -> Iterator[str]:
    kind = cut.kind.replace("_", " ")
    for key in _CUT_NEEDS[cut.kind]:
        if getattr(cut, key) is None:
            yield f"{key} is missing; a {kind} cut needs it"
    if cut.kind not in ("drill", "tap") and cut.surface is None:
        if cut.diameter is None:
            yield "give the surface it makes, or its diameter"
        elif cut.z is None:
            yield "give the surface it makes, or its z"
    if cut.surface_speed is None and cut.speed_rpm is None:
        yield "give its speed (cutting speed) or its spindle_speed"
    elif cut.surface_speed is not None and cut.speed_rpm is not None:
        yield "speed and spindle_speed contradict each other; give one"


def _cut_on_part(cut: Cut, surface: Surface | None, part: Part, units: UnitSystem) -> Iterator[str]:
    corners = (*part.profile, *(part.blank or ()))
    largest = max(corner.diameter for corner in corners)
    lowest, highest = min(corner.z for corner in corners), max(corner.z for corner in corners)
    if cut.diameter is not None and cut.diameter > 1.5 * largest:
        typed, size = (_size(value, units) for value in (cut.diameter, largest))
        yield f"diameter: Ø{typed} is off the part, whose largest diameter is {size}"
    if cut.z is not None and (cut.z[0] > highest or cut.z[1] < lowest):
        low, high, bottom, top = (_size(v, units) for v in (*cut.z, lowest, highest))
        yield f"z: {low} to {high} is off the part, which runs from z {bottom} to {top}"
    if cut.depth is None or cut.kind not in ("turn", "bore", "face"):
        return
    room, what = _room_for_depth(cut, surface, part)
    if cut.depth >= room:
        typed, limit = (_size(value, units) for value in (cut.depth, room))
        yield f"depth: {typed} is more than {what}, {limit}"


def _room_for_depth(cut: Cut, surface: Surface | None, part: Part) -> tuple[float, str]:
    """More than this depth cannot be cut, and what it is. [mm]"""
    corners = part.blank or part.profile
    if cut.kind == "face":
        return max(c.z for c in corners) - min(c.z for c in corners), "the length of the part"
    diameter = cut.diameter if cut.diameter is not None else surface.diameter if surface else None
    if part.blank and diameter is not None:
        sizes = [corner.diameter for corner in part.blank]
        stock = (max(sizes) - diameter if cut.kind == "turn" else diameter - min(sizes)) / 2.0
        return max(stock, 0.0) + _STOCK_SPREAD_MM, "what the blank leaves to cut there"
    return max(corner.diameter for corner in corners) / 2.0, "the radius of the part"


def _cuts_the_grip(cut: Cut, surface: Surface | None, grip: Grip) -> bool:
    if cut.kind not in ("turn", "bore", "groove", "thread"):
        return False
    side = surface.side if surface else _CUT_SIDES.get(cut.kind, "outside")
    diameter = cut.diameter if cut.diameter is not None else surface.diameter if surface else None
    z = cut.z or (surface.z if surface else None)
    if side != grip.side or diameter is None or z is None or abs(diameter - grip.diameter) > NEAR_MM:
        return False
    return z[0] < grip.z[1] - NEAR_MM and grip.z[0] < z[1] - NEAR_MM


def _jaws_and_chuck(tables: Tables) -> Iterator[str]:
    grip, chuck, jaws = tables.grip, tables.chuck, tables.jaws
    if chuck:
        yield from chuck_by_itself(chuck, tables.units)
    if chuck and grip:
        key = "pull_area" if grip.side == "outside" else "push_area"
        if getattr(chuck.actuator, key) is None and chuck.grip_readings is None:
            yield f"chuck: actuator: {key} is missing; an {grip.side} grip needs it"
    if chuck and jaws and jaws.count and (jaws.count > chuck.jaws or chuck.jaws % jaws.count):
        yield f"jaws: count: {jaws.count} jaws do not go evenly on a chuck with {chuck.jaws} master jaws"
    if chuck and jaws and grip and grip.diameter > 0:
        yield from _room_for_jaws(jaws, jaws.count or chuck.jaws, grip, tables.units)
    if tables.part:
        largest = max((corner.diameter for corner in tables.part.blank or tables.part.profile), default=0.0)
        for what, swing in (
            ("this chuck, whose swing", chuck.swing if chuck else None),
            ("this machine, whose max_swing", tables.machine.max_swing if tables.machine else None),
        ):
            if swing is not None and largest > swing:
                typed, limit = _size(largest, tables.units), _size(swing, tables.units)
                yield f"part: Ø{typed} does not turn clear in {what} is {limit}"


def chuck_by_itself(chuck: Chuck, units: UnitSystem) -> Iterator[str]:
    """Do the figures of a chuck go together, whatever it holds?"""
    ratio = chuck.max_grip_force / chuck.max_draw_force if chuck.max_draw_force >= 500.0 else 1.0
    if not 0.8 <= ratio <= 6.0:
        yield (
            f"chuck: max_grip_force is {ratio:.3g} times max_draw_force; 2 to 3 is usual. "
            "Is it the total of all jaws, and both in the same unit?"
        )
    yield from _pressures(chuck.actuator, units)


def _pressures(actuator: Actuator, units: UnitSystem) -> Iterator[str]:
    """Threshold, least and highest pressure rise in that order."""
    keys = ("threshold_pressure", "least_pressure", "max_pressure")
    given = [(key, getattr(actuator, key)) for key in keys if getattr(actuator, key) is not None]
    for (low_key, low), (high_key, high) in pairwise(given):
        if low >= high:
            low_text, high_text = (spell_quantity(value, "pressure", units) for value in (low, high))
            yield f"chuck: actuator: {low_key} {low_text} is not below {high_key} {high_text}"


def _room_for_jaws(jaws: Jaws, count: int, grip: Grip, units: UnitSystem) -> Iterator[str]:
    """Do the jaws stand side by side on the gripped diameter?"""
    on = f"Ø{_size(grip.diameter, units)}"
    pointed = jaws.inner_end == "pointed" and grip.side == "outside"
    if jaws.style == "pie" or pointed:
        if jaws.gap is not None and count * jaws.gap >= pi * grip.diameter / 2.0:
            yield f"jaws: gap: {count} gaps of {_size(jaws.gap, units)} leave too little of {on} to grip"
    elif jaws.width is not None:
        if grip.side == "outside":
            half_angle = atan(jaws.width / grip.diameter)  # the corners of neighbouring noses meet
        else:
            half_angle = asin(jaws.width / grip.diameter) if 0 < jaws.width < grip.diameter else pi
        if count * half_angle > pi:
            yield f"jaws: width: {count} jaws {_size(jaws.width, units)} wide do not fit side by side on {on}"


def _limits(tables: Tables) -> Iterator[str]:
    limits = tables.limits
    if limits and limits.safety_factor is not None and limits.safety_reason is None:
        yield "limits: safety_factor: give the reason for it as safety_reason"
    if limits and limits.safety_reason is not None and limits.safety_factor is None:
        yield "limits: safety_reason: there is no safety_factor to go with it"


def _spreads(tables: Tables) -> Iterator[str]:
    """Do stated ranges hold together?"""
    part, jaws = tables.part, tables.jaws
    if part:
        for key, other in (("off_centre_mass", "off_centre_radius"), ("off_centre_radius", "off_centre_mass")):
            if getattr(part, key) is not None and getattr(part, other) is None:
                yield f"part: {other} is missing; {key} says nothing without it"
    if jaws and jaws.friction_range is not None:
        low, high = jaws.friction_range
        if not low < high:
            yield f"jaws: friction_range: {low:g} to {high:g} does not run from low to high"
        elif jaws.friction is not None and not low <= jaws.friction <= high:
            yield f"jaws: friction: {jaws.friction:g} lies outside friction_range, {low:g} to {high:g}"
    if jaws and jaws.base_tilt_range is not None:
        low, high = jaws.base_tilt_range
        if not low < high:
            yield "jaws: base_tilt_range: does not run from low to high"
        elif jaws.base_tilt is None or not low <= jaws.base_tilt <= high:
            yield "jaws: base_tilt_range: base_tilt, the likely value in it, is missing or lies outside"
    yield from _assumptions(tables)


def _assumptions(tables: Tables) -> Iterator[str]:
    """Do the shop's own ranges and spreads say something, and the right way round?"""
    for key in type(tables.assumptions).model_fields if tables.assumptions else ():
        stated = getattr(tables.assumptions, key)
        if stated is None:
            continue
        span = getattr(stated, "range", None)
        if stated.spread is None and span is None:
            yield f"assumptions: {key}: says nothing: give spread" + (", or range" if hasattr(stated, "range") else "")
        if span is not None and not span[0] < span[1]:
            yield f"assumptions: {key}: range: does not run from low to high"
    bored = tables.jaws is not None and tables.jaws.bored_pressure is not None
    if bored and tables.assumptions and tables.assumptions.bored_share is not None:
        yield "assumptions: bored_share: jaws: bored_pressure says it already; state one of them"


def _hardware(tables: Tables) -> Iterator[str]:
    """Do the tables of the shop's hardware agree with themselves?"""
    places: list[tuple[str, Any]] = [("jaws", tables.jaws), ("machine", tables.machine), ("boring", tables.boring)]
    master = tables.chuck.master_jaws if tables.chuck else None
    places.append(("chuck: master_jaws", master))
    for place, entry in places:
        for key in ("ends", "x_travel", "z_travel", "slot", "diameter_tolerance"):
            pair = getattr(entry, key, None)
            if pair is not None and not pair[0] < pair[1]:
                low, high = (_size(value, tables.units) for value in pair)
                yield f"{place}: {key}: {low} to {high} does not run from low to high"
    if master:
        needed = ("positions",) if master.serration == "tongue and groove" else ("first_tooth", "teeth")
        for key in needed:
            if not getattr(master, key):
                yield f"chuck: master_jaws: {key} is missing; {master.serration} needs it"
    for number, ring in enumerate((tables.boring.rings if tables.boring else None) or ()):
        if ring.inside is not None and ring.inside >= ring.outside:
            inside, outside = (_size(value, tables.units) for value in (ring.inside, ring.outside))
            yield f"boring: {label('ring', number, ring.name)}: inside {inside} is not below outside {outside}"
    tool = tables.boring.tool if tables.boring else None
    if tool and not tool.outline and not (tool.bar_diameter and tool.overhang):
        yield "boring: tool: give bar_diameter and overhang of a boring bar, or the outline of any other tool"
    if tool and tool.outline and len(tool.outline) < 3:
        yield f"boring: tool: outline: {len(tool.outline)} corners make no area; at least 3 are needed"
