"""Sentences made of the judge's values: one place, for terminal, sheet, page and JSON.

Every function takes the unit system; nothing reads a sentence back.
"""

from __future__ import annotations

from math import floor, isfinite, log10

from heldtrue.planning.caveats import caveat_words
from heldtrue.planning.gauge_words import pressure_text, spelled
from heldtrue.planning.holds import is_spin_up
from heldtrue.planning.known import Known
from heldtrue.planning.result import (
    FAILS,
    FORM,
    HOLD,
    LEFT,
    LIKELY_VALUE,
    PASSES,
    STEADY,
    Check,
    Failure,
    Plan,
    PressureAdvice,
    PressureStep,
    Remedy,
)
from heldtrue.planning.way_space import WayToTry
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, bare_unit, format_quantity, from_core

MODES = {
    "slip round": "turns in the jaws", "slip along": "slides along the jaws", "tip": "tips out of the jaws",
    "lift": "lifts off the jaws", "none": "stays in",
}  # fmt: skip
CARRIED = {"slip round": "torque", "slip along": "axial force", "tip": "tilting moment", "lift": "side force"}
FAR = 9.99
"""Margins beyond this share have no meaning in digits."""
LINEAR_MM = 1.0
"""Above this a part gives so much that it is no longer the part: digits of a linear answer mean nothing."""
OVER: dict[UnitSystem, str] = {"metric": "over 1 mm", "inch": "over .040 in"}
SEEN_MM = 1e-4
UNDER: dict[UnitSystem, str] = {"metric": "under 0.0001 mm", "inch": "under .000004 in"}
"""Below what an indicator sees digits mean nothing."""


def spare_words(check: Check) -> str:
    """How far a check is from its limit."""
    margin = check.margin
    if not isfinite(margin) or margin > FAR:
        return "ample" if margin > 0 else "not at all"
    if margin >= 0:
        return f"{margin:.0%} to spare"
    if check.group in (HOLD, LEFT, STEADY):
        return f"short by {-margin:.0%}"
    return "far over the limit" if margin < -FAR else f"{-margin:.0%} over the limit"


def failure_words(failure: Failure, units: UnitSystem) -> str:
    """What happens first, and what is carried against what is needed."""
    where = f" at z = {_say(failure.reach, 'length', units)}" if failure.radius > 0 else ""
    needs, carries = (_say(value, failure.kind, units) for value in (failure.needs, failure.carries))
    what = CARRIED.get(failure.mode, "load")
    doing = _doing(failure.cut)
    return f"the part {MODES[failure.mode]} {doing}{where}: {what} carried {carries}, needed {needs} with safety"


def _doing(load: str) -> str:
    """When a load, a cut or the spin-up, acts."""
    return "while it spins up" if is_spin_up(load) else f"during '{load}'"


def check_words(check: Check, units: UnitSystem, gauge: str) -> str:
    """What one check found, in one sentence without a full stop."""
    if check.group == HOLD and check.failure is not None:
        if check.state == PASSES:
            return f"'{check.subject}' is held, {spare_words(check)}"
        if check.failure.carries >= check.failure.needs:
            grip, needed = (_say(v, "force", units) for v in (check.value, check.limit))
            return f"speed takes too much of the grip {_doing(check.subject)}: {grip} at rest, {needed} needed"
        return failure_words(check.failure, units)
    if check.group == LEFT:
        left = f"{check.value:.0%} of the grip is" if check.value > 0 else "no grip is"
        return f"{left} left at speed, {check.limit:.0%} {'asked' if check.state == PASSES else 'needed'}"
    value, limit = (_found(v, check.kind, units, gauge) for v in (check.value, check.limit))
    what = f"{check.name} {value}, {'at least' if check.least else 'at most'} {limit}"
    return what if check.state == PASSES else f"{what}: {spare_words(check)}"


def lead_words(plan: Plan, units: UnitSystem) -> str:
    """The one sentence under the verdict: what happens first, or what is tightest."""
    check = plan.answer.leading
    gauge = gauge_unit_of(plan.setup)
    if check is None:
        return "no check was made"
    if check.state != PASSES:
        alike = plan.answer.alike
        what = ("fails" if alike == 1 else "fail") if check.state == FAILS else "not proven"
        more = f"; {alike} more {what}" if alike else ""
        said = check_words(check, units, gauge)
        sure = "" if check.state == FAILS else f"; decided by {check.decided_by} ({check.source})"
        return f"{said[0].upper()}{said[1:]}{sure}{more}"
    if plan.answer.caveats:
        said = "; ".join(caveat_words(plan.setup))
        return f"{said[0].upper()}{said[1:]}"
    if not plan.pressure.has_window:
        said = window_words(plan.pressure, gauge)
        return f"{said[0].upper()}{said[1:]}"
    return f"Tightest: {check.name}, {spare_words(check)}; decided by {check.decided_by} ({check.source})"


def named_end(known: Known, value: float) -> str:
    """An end of an input that is a word and no number; empty for a number."""
    return "" if known.name != "seat" else "a seat" if value > 0 else "no seat"


def measure_words(known: Known | None) -> str:
    """What to measure first."""
    return "" if known is None else f"{known.label}: {known.measure}" if known.measure else known.label


def window_words(advice: PressureAdvice, gauge: str) -> str:
    """Why the pressure is what it is, or why there is none."""
    if advice.has_window:
        if len(advice.steps) == 2:
            return ("two pressures: roughing needs more than the finish may have; rough, stop, release, clamp again "
                    "lower, finish")  # fmt: skip
        step = advice.steps[0]
        return f"between '{step.floor_by}' and '{step.ceiling_by}'"
    closed = [step for step in advice.steps if step.recommended is None]
    return "; ".join(_closed_words(step, gauge) for step in closed)


def _closed_words(step: PressureStep, gauge: str) -> str:
    floor, ceiling = floor_text(step.floor, gauge), ceiling_text(step.ceiling, gauge)
    if step.floor > step.ceiling:
        return f"no pressure for {step.name}: '{step.floor_by}' needs {floor}, '{step.ceiling_by}' allows {ceiling}"
    ends = " to ".join(f"{from_core(end, 'pressure', gauge):.4g}" for end in (step.floor, step.ceiling))
    return f"the window for {step.name} is narrower than this gauge can be read: {ends} {spelled(gauge)}"


def step_windows(plan: Plan, between: str = " / ") -> str:
    """The pressure window of every step of a plan, in the unit of its gauge."""
    gauge = gauge_unit_of(plan.setup)
    return between.join(
        "no window" if step.recommended is None
        else f"{floor_text(step.floor, gauge)} to {ceiling_text(step.ceiling, gauge)}"
        for step in plan.pressure.steps
    )  # fmt: skip


def needs_words(way: WayToTry) -> str:
    """What somebody must get or mount for a way to hold; empty for the stated chuck."""
    if way.chuck:
        return f"chuck {way.chuck}" + (f", which stands on {way.machine}" if way.machine else "")
    if not way.needs_chuck:
        return ""
    return f"a chuck with {way.jaws} jaws; same plate figures taken, its own grip not measured"


def floor_text(pressure: float, gauge: str) -> str:
    """A least pressure as it is said: rounded up in the unit of the gauge."""
    return pressure_text(pressure, gauge, "up") if isfinite(pressure) else "more than any pressure"


def ceiling_text(pressure: float, gauge: str) -> str:
    """A most pressure as it is said: rounded down in the unit of the gauge."""
    return pressure_text(pressure, gauge, "down") if isfinite(pressure) else "any pressure"


def remedy_words(remedy: Remedy, units: UnitSystem) -> str:
    """One change that would help, with its figure."""
    # A bore is cut to the last place of a micrometer.
    say = format_quantity if remedy.what == "bored diameter" else _say
    was, to = (None if v is None or not remedy.kind else say(v, remedy.kind, units) for v in (remedy.was, remedy.to))
    return {
        "grip length": f"grip {to} long instead of {was}",
        "depth": f"'{remedy.subject}' {to} deep instead of {was}",
        "feed": f"'{remedy.subject}' at a feed of {to} instead of {was}",
        "speed": f"'{remedy.subject}' at {to} instead of {was}",
        "bored diameter": f"jaws bored to Ø{to} instead of Ø{was}",
        "centre": "a tailstock centre",
        "seat": "a seat under the part",
        "friction": f"a pull test that shows friction of {to} or more",
        "measure": f"a measurement: {remedy.subject}",
        "wrap": "more wrap: pie jaws bored to the part (heldtrue ways gives the figures)",
        "jaws": "six jaws instead of "
        + (f"{remedy.was:.0f}" if remedy.was else "these")
        + " (heldtrue ways gives the figures)",
    }[remedy.what]


def likely_and_worst(check: Check) -> tuple[float, float]:
    """Likely and worst value of a form check. [mm]"""
    likely = next(rule for rule in check.rules if rule.name == LIKELY_VALUE)
    worst = next(rule for rule in check.rules if rule.name != LIKELY_VALUE)
    return likely.value, worst.value


def form_words(check: Check, units: UnitSystem) -> str:
    """Likely and worst form of one tolerance."""
    if check.group != FORM:
        return ""
    likely, worst = likely_and_worst(check)
    return f"likely {_found(likely, 'length', units)}, worst {_found(worst, 'length', units)}"


def _found(value: float, kind: str, units: UnitSystem, gauge: str = "") -> str:
    """A value that was worked out: a form without digits that mean nothing."""
    return (kind == "length" and off_scale(value, units)) or _say(value, kind, units, gauge)


def off_scale(value: float, units: UnitSystem) -> str:
    """What a form [mm] is said to be where its digits mean nothing; empty where they do."""
    if not isfinite(value) or SEEN_MM <= abs(value) <= LINEAR_MM:
        return ""
    return UNDER[units] if abs(value) < SEEN_MM else OVER[units]


def _say(value: float, kind: str, units: UnitSystem, gauge: str = "") -> str:
    if not isfinite(value):
        return "no limit" if value > 0 else "nothing"
    if kind == "pressure" and gauge:
        return pressure_text(value, gauge)
    if kind == "ratio":
        return f"{value:.3g}"
    if kind == "length":
        return _length(value, units)
    return format_quantity(float(f"{value:.3g}"), kind, units)


def _length(value: float, units: UnitSystem) -> str:
    """A length to three figures; a small one as everywhere."""
    unit = bare_unit("length", units)
    number = from_core(value, "length", unit)
    places = 0 if number == 0 else max(2 - floor(log10(abs(number))), 0)
    if places >= (4 if units == "inch" else 3):
        return format_quantity(value, "length", units)
    text = f"{float(f'{number:.3g}'):.{places}f} {unit}"
    return text.replace("0.", ".", 1) if units == "inch" and text.startswith("0.") else text
