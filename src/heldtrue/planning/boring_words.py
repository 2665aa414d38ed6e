"""What the checks of the forces say, in words, for a setter."""

from __future__ import annotations

from typing import TYPE_CHECKING

from heldtrue.mechanics.boring_bar import USUAL_SLENDERNESS
from heldtrue.planning.boring_checks import (
    EDGE,
    FAILS,
    FEED,
    GIVE,
    HOLDS,
    NOT_CHECKED,
    POWER,
    RING,
    SIZE,
    SLENDER,
    SLIDE,
    TIP,
    TO_CORRECT,
    TORQUE,
    Bar,
    ForceCheck,
    deciding,
)
from heldtrue.planning.boring_cutting import BoringForces, Turned
from heldtrue.planning.boring_forces import PassForce
from heldtrue.planning.boring_steps import step_words
from heldtrue.planning.hardware import say_in
from heldtrue.quantities import UnitSystem, format_quantity

if TYPE_CHECKING:
    from heldtrue.planning.boring import BorePlan

PROBED = ("it calls the control's own probing cycle instead of the stop to measure: the call is proved, what the cycle "
          "does is not")  # fmt: skip
NAMES = {
    RING: "push of a jaw on its ring",
    SLIDE: "top jaw slides on its master jaw",
    TIP: "top jaw tips off its master jaw",
    EDGE: "cutting edge in the metal",
    FEED: "feed for this nose",
    TORQUE: "spindle torque",
    POWER: "spindle power",
    SLENDER: "bar, overhang in diameters",
    GIVE: "bar gives way",
    SIZE: "bore too small or large by the bar",
}
PARTS = {"face": "facing the fronts", "rough": "roughing", "contour": "pass along the line", "relief": "corner relief",
         "finish": "finish", "groove": "the groove for the ring"}  # fmt: skip
STATES = {
    HOLDS: "holds",
    FAILS: "DOES NOT HOLD",
    TO_CORRECT: "measure and correct",
    NOT_CHECKED: "NOT CHECKED: state {measure}",
}
KNOB_WORDS = {
    "pass_depth": ("passes {} deep", "length"),
    "rough_feed": ("a roughing feed of {}", "feed"),
    "finish_feed": ("a finishing feed of {}", "feed"),
    "surface_speed": ("a cutting speed of {}", "surface_speed"),
}
_FAIL_WORDS = {
    RING: "{part} pushes a jaw off its ring: {value} of push is needed on each jaw, {limit} is there",
    SLIDE: "{part} pushes the top jaw sideways: {value} is needed, the bolts hold {limit}",
    TIP: "{part} tips the top jaw off its master jaw: {value} is needed, the bolts hold {limit}",
    EDGE: "{part} cuts with {value} of edge; at most {limit} of this one may cut",
    FEED: "{part} feeds {value}; at most {limit} with this nose",
    TORQUE: "{part} needs {value} of spindle torque; the machine has {limit}",
    POWER: "{part} needs {value} of spindle power; the machine has {limit}",
    SLENDER: "the bar stands {value} diameters out; at most {limit} for what it is made of",
    GIVE: "{part} bends the bar by {value}, more than the {limit} that may be left to the next pass",
}


def value_words(value: float, kind: str, units: UnitSystem) -> str:
    """A value of a check with its unit."""
    return f"{value:.3g}" if kind == "ratio" else format_quantity(value, kind, units)


def refusals(forces: BoringForces, bar: Bar, units: UnitSystem) -> tuple[str, ...]:
    """Why the jaws cannot be cut like this, and with what they could; nothing where everything holds."""
    worst = deciding(forces.failing)
    found = []
    for check in worst:
        assert check.limit is not None
        one = next(one for one in forces.passes if one.part == check.part)
        part = f"{PARTS[check.part]} {_length(one.depth, units)} deep at {_feed(one.feed, units)}"
        values = {"value": value_words(check.value, check.kind, units),
                  "limit": value_words(check.limit, check.kind, units)}  # fmt: skip
        found.append(_FAIL_WORDS[check.name].format(part=part, **values))
    return (*found, _what_holds(forces, worst, bar, units)) if found else ()


def plunge_refusals(one: PassForce, checks: tuple[ForceCheck, ...], units: UnitSystem) -> tuple[str, ...]:
    """Why the groove cannot be plunged like this; nothing where everything holds."""
    part = f"{PARTS[one.part]}, a blade {_length(one.depth, units)} wide at {_feed(one.feed, units)}, "
    return tuple(
        part + _FAIL_WORDS[check.name].format(
            part="", value=value_words(check.value, check.kind, units),
            limit=value_words(check.limit or 0.0, check.kind, units)).strip()
        + "; take a narrower blade (boring.groove_tool.width) or a lower feed"
        for check in checks if check.state == FAILS
    )  # fmt: skip


def plunge_notes(checks: tuple[ForceCheck, ...], units: UnitSystem) -> tuple[str, ...]:
    """What could not be checked of the groove."""
    return tuple(
        f"not checked: {NAMES[check.name]} for {PARTS[check.part]}: it needs "
        f"{value_words(check.value, check.kind, units)}; state {check.measure}"
        for check in checks if check.state == NOT_CHECKED
    )  # fmt: skip


def _what_holds(forces: BoringForces, failing: tuple[ForceCheck, ...], bar: Bar, units: UnitSystem) -> str:
    """Which one value alone would do, else which together."""
    alone = [_knob(way, units) for way in forces.would_hold if way.after is not None]
    if alone:
        return f"what holds, everything else as it is: {', or '.join(alone)}"
    if forces.together:
        return f"what holds: {', with '.join(_knob(way, units) for way in forces.together)}"
    shorter = [length for check in failing if (length := overhang_that_holds(check, bar)) is not None]
    if shorter:
        return (f"no depth or feed holds with this bar: {_length(bar.diameter, units)} thick it may stand "
                f"{_length(min(shorter), units)} out, or take a thicker one")  # fmt: skip
    return "no depth, feed or speed holds with this tool, pressure and machine"


def overhang_that_holds(check: ForceCheck, bar: Bar) -> float | None:
    """How far the bar may stand out for a check of it to hold, the cut as it is; None for another check. [mm]"""
    if check.limit is None or check.name not in (SLENDER, GIVE):
        return None
    return float(bar.overhang * (check.limit / check.value) ** (1.0 if check.name == SLENDER else 1 / 3))


ROW_HEADS = ("check", "worst in", "needed or reached", "there or allowed", "")


def rows(forces: BoringForces, units: UnitSystem) -> tuple[tuple[str, str, str, str, str], ...]:
    """Every check with the pass that leaves least, under ``ROW_HEADS``."""
    return tuple(
        (NAMES[check.name], PARTS[check.part], value_words(check.value, check.kind, units),
         "not stated" if check.limit is None else value_words(check.limit, check.kind, units),
         STATES[check.state].format(measure=check.measure))
        for check in deciding(forces.checks)
    )  # fmt: skip


def cutting_words(forces: BoringForces, units: UnitSystem) -> str:
    """Depth, feeds and speed of the cut."""
    one = forces.cutting
    return (
        f"{_length(one.pass_depth, units)} a pass at {_feed(one.rough_feed, units)}, "
        f"{_length(one.finish_allowance, units)} left for the finish at {_feed(one.finish_feed, units)}, "
        f"{format_quantity(one.surface_speed, 'surface_speed', units)}"
    )


def off_by_bar(forces: BoringForces) -> float | None:
    """How far off the bore may come by the bar, on diameter; None where that is within its tolerance. [mm]"""
    return next((check.value for check in forces.checks if check.state == TO_CORRECT), None)


def notes(forces: BoringForces, bar: Bar, units: UnitSystem) -> tuple[str, ...]:
    """What was lowered, what could not be checked, and what to measure."""
    found = [
        f"{_knob(way, units)} instead of {_value(way, way.before, units)}, which is usual: more does not hold"
        for way in forces.lowered
    ]  # fmt: skip
    for check in deciding(forces.checks):
        needs = value_words(check.value, check.kind, units)
        if check.state == NOT_CHECKED:
            needs = f"{PARTS[check.part]} {'needs' if check.kind in ('torque', 'power') else 'comes to'} {needs}"
            found.append(f"not checked: {NAMES[check.name]}: {needs}; state {check.measure}")
        elif check.state == TO_CORRECT:
            found.append(f"the bar gives way at the finish: the bore comes up to {needs} off on diameter before the "
                         "offset is corrected")  # fmt: skip
    usual = USUAL_SLENDERNESS[bar.material]
    if bar.is_known and bar.slenderness > usual.value:
        said = "" if bar.is_stated else ", taken as steel"
        found.append(f"the bar stands {bar.slenderness:.3g} diameters out{said}, over the usual {usual.value:g}: "
                     "it may chatter in the interrupted cut; clamp it shorter")  # fmt: skip
    return tuple(found)


def _knob(way: Turned, units: UnitSystem) -> str:
    assert way.after is not None
    return KNOB_WORDS[way.knob][0].format(_value(way, way.after, units))


def _value(way: Turned, value: float, units: UnitSystem) -> str:
    return format_quantity(value, KNOB_WORDS[way.knob][1], units)


def _length(value: float, units: UnitSystem) -> str:
    return format_quantity(value, "length", units)


def _feed(value: float, units: UnitSystem) -> str:
    return format_quantity(value, "feed", units)


def nest_words(plan: BorePlan) -> tuple[str, ...]:
    """The other diameters of a bore, mouth first."""
    made, say = plan.design, say_in(plan.setup)
    if made is None:
        return ()
    return tuple(step_words(one, made.depth, say, say(2 * one.radius)) for one in made.steps)
