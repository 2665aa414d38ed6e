"""What other ways to hold a part are said to be: every sentence about them, for people who set up the machine."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import ceil, floor, isfinite, log10

from heldtrue.planning.other_way import (
    BULL_CENTRE,
    CENTRE,
    CLAMP_FORCE,
    COLLAPSE,
    COLLET,
    FACE,
    FLAT_SEAT,
    MANDREL,
    NOT_COMPUTED,
    PADS,
    PLATE,
    RESTS,
    RING,
    SEGMENTS,
    SIDEWAYS,
    SIZE_SHIFT,
    SLEEVE,
    SLITS,
    STATIONS,
    STEADY,
    STOP_FACE,
    STRAPS,
    TAILSTOCK,
    TAPER,
    TOOL_FORCE,
    TOOL_RANGE,
    TOOL_ROUND,
    TOOL_SPEED,
    UNDER_CUT,
    Fact,
    ForceStep,
    OtherWay,
)
from heldtrue.planning.phrases import check_words
from heldtrue.planning.result import PASSES
from heldtrue.quantities import UnitSystem, bare_unit, format_quantity, from_core

FIGURES = 3
EXACT = 1e-9
UNITS: dict[str, dict[UnitSystem, str]] = {
    "force": {"metric": "kN", "inch": "lbf"}, "stress": {"metric": "MPa", "inch": "psi"},
    "pressure": {"metric": "bar", "inch": "psi"},
}  # fmt: skip
SEEN_MM = 5e-4
"""A size that changes by less is not worth a line."""

NAMES = {
    (MANDREL, TAPER): "Expanding mandrel on a taper", (MANDREL, SLEEVE): "Mandrel with a sleeve under oil",
    (COLLET, TAPER): "Collet on a taper", (COLLET, SLEEVE): "Chuck with a sleeve under oil",
}  # fmt: skip
PRESSES = {TAPER: "segments", SLEEVE: "sleeve"}
ALONE = {CENTRE: "The same jaws with a tailstock centre", STEADY: "Steady rest", PADS: "Soft or spring pads"}


def other_words(way: OtherWay, units: UnitSystem = "metric") -> tuple[str, ...]:
    """One way in lines: what and where, the force, what is not proven, what to find out first, what to mind."""
    lines = [f"{name_words(way, units)}: {way.state if way.is_computed else 'not computed'}"]
    lines += [_step_words(way, step, units) for step in way.steps]
    if len(way.steps) > 1 and way.window is not None:
        lines.append("Two forces: rough, stop, release, clamp again lower, finish.")
    lines += [_sentence(check_words(check, units, "bar")) + f" Decided by {check.decided_by}."
              for check in way.checks if check.state != PASSES]  # fmt: skip
    first = [said for fact in way.needs if (said := _fact(fact, units))]
    if first:
        lines.append(f"First: {'; '.join(first)}.")
    lines += [_sentence(said) for fact in way.notes if (said := _fact(fact, units))]
    return tuple(lines)


def name_words(way: OtherWay, units: UnitSystem) -> str:
    """What holds the part, and where."""
    if way.surface is None:
        return ALONE[way.kind]
    where = way.surface
    unit = bare_unit("length", units)
    inner, outer, low, high = (f"{from_core(x, 'length', unit):.4g}" for x in (*where.diameters, *where.z))
    if way.kind == FACE:
        by = "Ring clamp" if way.stations == RING else f"{way.stations} clamps"
        return f"{by} {way.means} on the face at z {low}, Ø{inner} to {outer} {unit}"
    return f"{NAMES[way.kind, way.means]}, {where.side} Ø{outer}, z {low} to {high} {unit}"


def _step_words(way: OtherWay, step: ForceStep, units: UnitSystem) -> str:
    """The window of one step, the floor rounded up and the ceiling down."""
    what = {FACE: "Clamping force", CENTRE: "Gauge pressure"}.get(way.kind, "Radial grip")
    least, most = _ends(step, 1.0, way.measure, units)
    when = "" if step.name == "all cuts" else f" to {step.name}"
    if not step.is_open:
        harm = f"'{step.floor_by}' needs {least}, '{step.ceiling_by}' allows {most}"
        return f"No force{when} holds and does no harm: {harm}."
    total = " in all" if way.measure == "force" else ""
    pressure = ""
    if way.area > 0:
        pressure = f", {' to '.join(_ends(step, way.area, 'stress', units))} on the surface"
    return f"{what}{when}: {least} to {most}{total}{pressure}. Ends: '{step.floor_by}', '{step.ceiling_by}'."


def _rounded(value: float, kind: str, units: UnitSystem, *, up: bool) -> str:
    """A value with three figures, rounded to the safe side."""
    if not isfinite(value) or value <= 0:
        return "no force" if value <= 0 else "any force"
    unit = UNITS[kind][units]
    number = from_core(value, kind, unit)
    step = 10.0 ** (floor(log10(number)) - FIGURES + 1)
    return f"{(ceil if up else floor)(number / step * (1 + (-EXACT if up else EXACT))) * step:.10g} {unit}"


def _ends(step: ForceStep, area: float, kind: str, units: UnitSystem) -> tuple[str, str]:
    """Floor and ceiling of a step, over an area."""
    return _rounded(step.floor / area, kind, units, up=True), _rounded(step.ceiling / area, kind, units, up=False)


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def _fact(fact: Fact, units: UnitSystem) -> str:
    """One thing to know or mind; empty where there is nothing to say."""
    said = "" if fact.value is None else format_quantity(fact.value, fact.kind, units)
    if fact.code in (TOOL_FORCE, CLAMP_FORCE) and fact.value is not None:
        said = _rounded(fact.value, fact.kind, units, up=True)
    if fact.code == SIZE_SHIFT:
        ends = [format_quantity(abs(x), "length", units) for x in (fact.value, fact.most) if x is not None]
        said = " to ".join(ends)
    return "".join(_WORDS[fact.code](fact, said))


def _size(fact: Fact, said: str) -> Iterator[str]:
    """``said``: size at the least force, and at the most."""
    most = fact.value if fact.most is None else fact.most
    if most is not None and abs(most) >= SEEN_MM:
        larger = "larger" if most > 0 else "smaller"
        yield f"'{fact.subject}' comes off {said} {larger} on diameter, by the force: offset the tool, repeat the force"


def _range(fact: Fact, said: str) -> Iterator[str]:
    spread = f"diameters vary by {said}" if said else "measure the surface: how far its diameter varies is not stated"
    yield f"expansion range of the {fact.subject} ({spread})"


def _stations(fact: Fact, _: str) -> Iterator[str]:
    if fact.value == RING:
        yield "a whole ring presses, as evenly as part, ring and plate are flat"
    elif fact.value == 3:
        yield "three rests bear whatever the flatness of part and plate"
    else:
        yield f"{fact.value:.0f} rests must be level: shim until all bear"


def _named(fact: Fact, said: str) -> Iterator[str]:
    if fact.subject == STEADY:
        yield f"the part stands {said} out of the jaws"
    elif fact.subject == PADS:
        yield f"the wall behind the grip is {said}: pads spread the force of a jaw; how much is not known"


_WORDS: dict[str, Callable[[Fact, str], Iterator[str] | str]] = {
    TOOL_FORCE: lambda fact, said: (
        f"read the plate of the {fact.subject}: greatest radial force, at least {said}, and how it is set"
    ),
    TOOL_RANGE: _range,
    TOOL_SPEED: lambda fact, said: f"highest speed of the {fact.subject}, at least {said}",
    TOOL_ROUND: lambda fact, _: f"indicate the {fact.subject}: its own out-of-round goes into the part",
    STOP_FACE: lambda fact, _: f"a stop face on the {fact.subject} for the seat of the part",
    PLATE: lambda _fact, _: "a flat plate on the spindle, indicated true, open where a tool comes through",
    CLAMP_FORCE: lambda fact, said: (
        f"a way to set the force (torque wrench, washer that shows it): {said} {fact.subject}"
    ),
    RESTS: lambda _fact, said: f"a rest straight below what is pressed, on Ø{said}",
    BULL_CENTRE: lambda _fact, said: f"a plug or a bull centre for the hole Ø{said} in the end",
    TAILSTOCK: lambda _fact, _: "a tailstock and a true centre hole in the end of the part",
    SIZE_SHIFT: _size,
    COLLAPSE: lambda _fact, said: (
        f"only in stiff segments that stay round: free to bulge (oil sleeve, soft pads) the ring falls in at {said}"
    ),
    SEGMENTS: lambda fact, said: (
        f"speed moves up to {said} of the grip: the mass of the {PRESSES[fact.subject]} is not known, "
        "the heaviest usual is taken"
    ),
    SLITS: lambda _fact, _: "assumed: no slit so wide that the wall bends into it, and segments that move alike",
    SIDEWAYS: lambda _fact, _: "oil presses the same all round, so friction alone carries side force and tipping",
    UNDER_CUT: lambda _fact, _: "not computed: how far part and tool give way under the cut",
    STATIONS: _stations,
    STRAPS: lambda fact, said: f"clamps come {fact.subject} and stand {said} over the face: check the path of the tool",
    FLAT_SEAT: lambda _fact, _: "clean and flat seat: a chip or a bow under a clamp bends the part",
    NOT_COMPUTED: _named,
}
