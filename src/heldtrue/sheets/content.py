"""What stands on a floor sheet, in words: from a plan to plain data for the template."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import Any

from heldtrue.drawing.wording import (
    LINEAR_MM,
    OVER,
    deviation,
    dimension,
    form_length,
    gauge_unit,
    length_unit,
    other_pressure_unit,
    plain,
    value_text,
)
from heldtrue.planning.caveats import caveats_of
from heldtrue.planning.gauge_words import pressure_number, pressure_text, spelled
from heldtrue.planning.known import Known
from heldtrue.planning.result import FAILS, NOT_PROVEN, Check, Plan, PressureStep, SurfaceResult
from heldtrue.planning.setup import Cut, Surface
from heldtrue.quantities import UnitSystem, format_quantity

Content = dict[str, Any]

START_LIST = (
    "Jaws in their numbered places, bolts torqued:  ______",
    "Gauge read and written above, at or over the floor",
    "Seat and jaws blown clean, part hard on its seat",
    "Part turns free of tool and guard; spindle limit entered",
    "Door shut, low speed first, stand aside",
)
NO_SEAT = "Jaws blown clean, part set to its axial position"
RELEASE = {FAILS: "the plan fails: do not run", NOT_PROVEN: "not proven: measure before running"}
LEAST_GROUPS = ("hold: ", "grip left", "steady pressure")
"""Checks whose value must be at least their limit; of the others it must be at most."""


def floor_content(plan: Plan, system: UnitSystem, changes: Sequence[str] = ()) -> Content:
    """All texts of the sheet; ``changes``: since the last run, in words."""
    part, unit = plan.setup.part, gauge_unit(plan)
    return {
        "title": plan.setup.title or "Setup",
        "part": " ".join(filter(None, [part.number, part.revision and f"rev {part.revision}"])),
        "fields": _fields(plan, system),
        "pressure": _pressure(plan, unit, system),
        "speed": _speed(plan, system),
        "verdict": _verdict(plan),
        "checks": [_check_row(check, system, unit) for check in _worst_first(plan.checks)],
        "acceptance": [_acceptance_row(plan, surface, system) for surface in plan.surfaces],
        "assumed": [_assumed_row(known, system, unit) for known in _deciding_first(plan)],
        "measure_first": _measure_first(plan),
        "start": _start_list(plan, system),
        "notes": [*(f"changed since the last run: {words}" for words in changes), *plan.notes],
        "cautions": list(plan.cautions),
    }


def _start_list(plan: Plan, system: UnitSystem) -> list[str]:
    """What to do before the spindle turns, with the grip the plan counts on if there is a pressure to set."""
    lines = [line if plan.setup.grip.seat or "seat" not in line else NO_SEAT for line in START_LIST]
    if plan.pressure.has_window:
        least = format_quantity(plan.grip_force.static_total, "force", system)
        lines.insert(2, f"Grip gauge, all jaws:  ______  (counted on: {least})")
    return lines


def _fields(plan: Plan, system: UnitSystem) -> list[list[str]]:
    """The title block: label and text of each field."""
    setup = plan.setup
    part, chuck, jaws, grip = setup.part, setup.chuck, setup.jaws, setup.grip
    other: UnitSystem = "inch" if system == "metric" else "metric"
    unit, other_unit = length_unit(system), length_unit(other)
    low, high = min(grip.z), max(grip.z)
    end = max(corner.z for corner in part.profile)
    lower, upper = grip.diameter_tolerance
    tolerance = "" if lower == upper == 0 else f" ({deviation(upper, system)} / {deviation(lower, system)})"
    gripping = "→ jaws close ←" if grip.side == "outside" else "← jaws open →"
    held = ["on its seat" if grip.seat else "no seat", "with centre" if grip.centre else ""]
    support = ", ".join(filter(None, held))
    face = f", {jaws.face} face" if jaws.face else ""
    number = f" (no. {chuck.number})" if chuck.number else ""
    bored = f", bored Ø{dimension(jaws.bore_diameter, system)}" if jaws.bore_diameter else ""
    return [
        ["part", part.name or part.number],
        ["material", part.material],
        ["machine", setup.machine.name if setup.machine and setup.machine.name else "______________"],
        ["chuck", chuck.name + number],
        ["jaws", f"{jaws.count or chuck.jaws} {jaws.style}, {jaws.material}{face}{bored}"],
        ["grip", f"{grip.side}: {gripping}, {support}"],
        [
            f"gripped Ø, {unit} ({other_unit})",
            f"Ø{dimension(grip.diameter, system)}{tolerance} (Ø{dimension(grip.diameter, other)})",
        ],
        [
            f"gripped length / overhang, {unit}",
            f"{dimension(high - low, system)} (z {dimension(low, system)} to {dimension(high, system)})"
            f" / {dimension(max(end - high, 0.0), system)}",
        ],
    ]


def _pressure(plan: Plan, unit: str, system: UnitSystem) -> Content:
    """The pressure box: what to set, or why there is nothing to set."""
    advice = plan.pressure
    stated = plan.setup.run.pressure if plan.setup.run is not None else None
    if not advice.has_window:
        reason = advice.reason.removeprefix("no window: ")
        tried = f"Checks were made at {pressure_text(advice.used, unit)}."
        return {
            "kind": "none",
            "headline": "NO WINDOW",
            "reason": reason,
            "openers": list(advice.openers),
            "tried": tried,
            "steps": [_step_words(step, unit) for step in advice.steps],
        }
    floor, ceiling = max(s.floor for s in advice.steps), min(s.ceiling for s in advice.steps)
    if stated is not None and not floor <= stated <= ceiling:
        advised = " / ".join(pressure_text(s.recommended or 0.0, unit) for s in advice.steps)
        why = "below the floor" if stated < floor else "above the ceiling"
        return {
            "kind": "none",
            "headline": f"NOT AT {pressure_text(stated, unit)}",
            "reason": f"the pressure stated for this run is {why}; advised: {advised}",
            "openers": [],
            "tried": "",
            "steps": [_step_words(step, unit) for step in advice.steps],
        }
    return {
        "kind": "set",
        "boxes": [_pressure_box(plan, step, stated, unit, system) for step in advice.steps],
        "reason": advice.reason,
        "unit": spelled(unit),
    }


def _step_words(step: PressureStep, unit: str) -> str:
    floor = (
        f"holds from {pressure_text(step.floor, unit, 'up')} ({step.floor_by})"
        if isfinite(step.floor)
        else "never holds"
    )
    ceiling = (
        f"good up to {pressure_text(step.ceiling, unit, 'down')} ({step.ceiling_by})" if isfinite(step.ceiling) else ""
    )
    return f"{step.name}: " + ", ".join(filter(None, [floor, ceiling]))


def _pressure_box(plan: Plan, step: PressureStep, stated: float | None, unit: str, system: UnitSystem) -> Content:
    pressure = stated if stated is not None else step.recommended or 0.0
    other = other_pressure_unit(unit, system)
    shown = pressure_number(pressure, unit)
    if float(shown) < float(pressure_number(step.floor, unit, "up")):
        shown = pressure_number(pressure, unit, "up")
    bounded = isfinite(step.ceiling)
    most = [pressure_text(step.ceiling, one, "down") for one in (unit, other)] if bounded else []
    return {
        "head": step.name,
        "cuts": ", ".join(step.cuts),
        "number": shown,
        "unit": spelled(unit),
        "other": pressure_text(pressure, other),
        "how": RELEASE.get(plan.verdict, "as stated" if stated is not None else "recommended"),
        "floor": f"{pressure_text(step.floor, unit, 'up')} ({pressure_text(step.floor, other, 'up')})",
        "floor_by": step.floor_by,
        "ceiling": f"{most[0]} ({most[1]})" if bounded else "no ceiling found",
        "ceiling_by": step.ceiling_by if bounded else "",
    }


def _speed(plan: Plan, system: UnitSystem) -> Content:
    speed = plan.speed
    runs = speed.limit >= 1.0
    return {
        "number": f"S {speed.limit:.0f}" if runs else "NO SPEED",
        "unit": "rev/min" if runs else "",
        "reason": speed.reason,
        "top": f"top speed with these jaws {speed.top:.0f} rev/min ({speed.top_reason})" if speed.top >= 1 else "",
        "heaviest": _heaviest(plan, system),
    }


def _heaviest(plan: Plan, system: UnitSystem) -> str:
    """The heaviest cut the plan was checked for, with its numbers."""
    by_name = {cut.name: cut for cut in plan.setup.cuts}
    cuts = [hold for hold in plan.holds if hold.cut in by_name]
    if not cuts:
        return "no cut was checked"
    hold = max(cuts, key=lambda h: h.grip_needed if isfinite(h.grip_needed) else 1e30)
    return f"{hold.cut}: {_cut_words(by_name[hold.cut], system)}"


def _cut_words(cut: Cut, system: UnitSystem) -> str:
    unit, turn = length_unit(system), "in/rev" if system == "inch" else "mm/rev"
    words = [cut.kind.replace("_", " ")]
    if cut.diameter is not None:
        words.append(f"Ø{dimension(cut.diameter, system)}")
    for value, name in ((cut.depth, "deep"), (cut.width, "wide"), (cut.pitch, "pitch")):
        if value is not None:
            words.append(f"{dimension(value, system)} {unit} {name}")
    if cut.feed is not None:
        words.append(f"{dimension(cut.feed, system)} {turn}")
    if cut.surface_speed is not None:
        words.append(format_quantity(cut.surface_speed, "surface_speed", system))
    elif cut.speed_rpm is not None:
        words.append(f"{cut.speed_rpm:.0f} rev/min")
    return ", ".join(_unbroken(word) for word in words) + (", interrupted" if cut.interrupted else "")


def _unbroken(words: str) -> str:
    """A number and its word or unit, never parted at the end of a line."""
    return words.replace(" ", "\u00a0").replace("-", "\u2011").replace("/", "/\u2060")


def _worst_first(checks: Sequence[Check]) -> list[Check]:
    order = {FAILS: 0, NOT_PROVEN: 1}
    return sorted(checks, key=lambda check: (order.get(check.state, 2), check.margin))


def _verdict(plan: Plan) -> Content:
    """The verdict in words, with the input that decides it."""
    worst = _worst_first(plan.checks)
    if not worst:
        return {"state": plan.verdict, "words": "no check was made"}
    check = worst[0]
    bad = [c for c in worst if c.state == plan.verdict]
    where = f"{check.question} {_spare(check)}"
    decided = f"decided by {check.decided_by}" + (f" ({check.source})" if check.source else "")
    measure = f"; measure next: {check.measure}" if check.measure else ""
    if plan.verdict == FAILS:
        words = f"Do not run. {where}; {decided}{measure}."
    elif plan.verdict == NOT_PROVEN:
        words = f"Do not run before it is measured. {where}; {decided}{measure}."
        if not bad:
            reasons = [] if plan.pressure.has_window else ["there is no pressure that holds and does no harm"]
            reasons += caveats_of(plan.setup)
            words = " ".join(("Do not run.", *(f"{one[0].upper()}{one[1:]}." for one in reasons)))
    else:
        words = f"Tightest: {where}; {decided}."
    more = len(bad) - 1 if plan.verdict in (FAILS, NOT_PROVEN) else 0
    return {"state": plan.verdict, "words": words + (f" And {more} more." if more > 0 else "")}


def _spare(check: Check) -> str:
    """How far a check is from its limit, as an answer to its question."""
    if not isfinite(check.margin):
        return "Nothing limits it." if check.margin > 0 else "No."
    if check.margin >= 0:
        yes = "No" if check.question.startswith("Do the jaws leave") else "Yes"
        return f"{yes}, {check.margin:.0%} to spare"
    if _asks_for_a_least(check):
        return f"Short by {-check.margin:.0%} at the worst"
    over = 1 - check.margin
    if over > FAR_OVER:
        return "Far over the limit at the worst"
    return f"Over by {over - 1:.0%} at the worst" if over < 2 else f"{plain(over)} times the limit at the worst"


FAR_OVER = 10.0
"""Times the limit from which on digits mean nothing."""


def _asks_for_a_least(check: Check) -> bool:
    return check.name.startswith(LEAST_GROUPS)


def _check_row(check: Check, system: UnitSystem, unit: str) -> Content:
    sense = "at least" if _asks_for_a_least(check) else "at most"
    value = value_text(check.value, check.kind, system, unit)
    if check.kind == "length" and abs(check.value) > LINEAR_MM:
        value = OVER[system]
    limit = value_text(check.limit, check.kind, system, unit)
    tail = limit.rpartition(" ")[2]
    if tail and not tail[0].isdigit() and value.endswith(f" {tail}"):
        value = value.removesuffix(f" {tail}")
    source = f"{check.source}: " if check.source else ""
    return {
        "name": check.name,
        "state": check.state,
        "value": f"{value}, {sense} {limit}",
        "by": f"{source}{check.decided_by}",
    }


def _acceptance_row(plan: Plan, result: SurfaceResult, system: UnitSystem) -> list[str]:
    """Surface, what the drawing asks, what to expect clamped and released."""
    surface = next((s for s in plan.setup.surfaces if s.name == result.name), None)
    if result.side == "face":
        left = [f"flat {form_length(result.released_flatness, system)}"]
    else:
        left = [f"round {form_length(result.released_roundness, system)}"]
        if surface is not None and surface.cylindricity is not None:
            left.append(f"cyl. {form_length(result.released_cylindricity, system)}")
        left += _left_by_cut(result, system) if len(plan.surfaces) <= ROOMY_ROWS else []
    released = ", ".join(_unbroken(words) for words in left)
    return [result.name, _asked(surface, system), form_length(result.clamped_runout, system), released]


CUT_SEEN_MM = 1e-3
"""What the force of a cut leaves is said from here on."""
ROOMY_ROWS = 3
"""With more surfaces than this a row of the sheet has room for one line only."""


def _left_by_cut(result: SurfaceResult, system: UnitSystem) -> list[str]:
    """What the finishing force itself leaves, on diameter."""
    if result.cut_size <= CUT_SEEN_MM:
        return []
    sign = "+" if result.side == "outside" else "−"
    words = [f"cut: Ø {sign}{form_length(result.cut_size, system)}"]
    if result.cut_taper > CUT_SEEN_MM:
        words = [words[0].removesuffix(f" {length_unit(system)}"), f"taper {form_length(result.cut_taper, system)}"]
    return words


def _asked(surface: Surface | None, system: UnitSystem) -> str:
    if surface is None:
        return ""
    names = {"roundness": "round", "cylindricity": "cyl.", "runout": "run-out", "flatness": "flat"}
    found = [
        _unbroken(f"{word} {dimension(value, system)}")
        for name, word in names.items()
        if (value := getattr(surface, name)) is not None
    ]
    return ", ".join(found) or "nothing"


def _deciding_first(plan: Plan) -> list[Known]:
    """Assumed inputs, those that decide the tightest checks first."""
    ranks = {check.decided_by: number for number, check in reversed(list(enumerate(_worst_first(plan.checks))))}
    return sorted(plan.assumed, key=lambda known: (not known.is_open, ranks.get(known.label, len(ranks))))


def _measure_first(plan: Plan) -> str:
    known = next((known for known in _deciding_first(plan) if known.measure), None)
    return f"{known.label}: {known.measure}" if known is not None else ""


def _assumed_row(known: Known, system: UnitSystem, unit: str) -> list[str]:
    worst, best = (value_text(value, known.kind, system, unit) for value in (known.worst, known.best))
    return [known.label, f"{worst} (to {best})" if known.is_open else worst]
