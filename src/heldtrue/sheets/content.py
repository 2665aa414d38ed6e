"""What stands on a floor sheet, in words: from a plan to plain data for the template."""

from __future__ import annotations

import re
from datetime import date
from math import isfinite
from typing import Any

from heldtrue.drawing.wording import (
    dimension,
    form_length,
    length_unit,
    other_pressure_unit,
    value_text,
)
from heldtrue.planning.caveats import SEAT_UNSAID, caveats_of
from heldtrue.planning.gauge_words import pressure_number, pressure_text, spelled
from heldtrue.planning.known import Known
from heldtrue.planning.odds.odds_words import ODDS_NOTE, is_seen, likeliest_words
from heldtrue.planning.phrases import (
    LINEAR_MM,
    OVER,
    lead_words,
    likely_and_worst,
    measure_words,
    named_end,
    remedy_words,
    spare_words,
    window_words,
)
from heldtrue.planning.result import FAILS, FORM, IN_SHORT, NOT_PROVEN, PASSES, Check, Plan, PressureStep, SurfaceResult
from heldtrue.planning.setup import Cut, Surface
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.sheets.title_block import code_of, fields, repeat_content
from heldtrue.shop.repeat import Repeat

Content = dict[str, Any]
NEVER_RUN = Repeat()
"""What is known of a setup without records."""

START_LIST = (
    "Jaws in their numbered places, bolts torqued:  ______",
    "Gauge read and written above, at or over the floor",
    "Seat and jaws blown clean, part hard on its seat",
    "Part turns free of tool and guard; spindle limit entered",
    "Door shut, low speed first, stand aside",
)
NO_SEAT = "Jaws blown clean, part set to its axial position"
RELEASE = {FAILS: "the plan fails: do not run", NOT_PROVEN: "not proven: measure before running"}


def floor_content(plan: Plan, system: UnitSystem, repeat: Repeat = NEVER_RUN, printed: date | None = None) -> Content:
    """All texts of the sheet; ``repeat``: what the records know; ``printed``: the day, None to write it on."""
    part, unit = plan.setup.part, gauge_unit_of(plan.setup)
    return {
        "title": plan.setup.title or "Setup",
        "part": " ".join(filter(None, [part.number, part.revision and f"rev {part.revision}"])),
        "fields": fields(plan, system, repeat),
        "code": code_of(plan.setup, repeat),
        "repeat": repeat_content(plan, repeat),
        "printed": "" if printed is None else f"{printed:%Y-%m-%d}",
        "pressure": _pressure(plan, unit, system),
        "speed": _speed(plan, system),
        "verdict": _verdict(plan, system),
        "checks": [_check_row(check, system, unit) for check in plan.answer.ranked],
        "odds": _odds(plan),
        "acceptance": [_acceptance_row(plan, surface, system) for surface in plan.surfaces],
        "assumed": [_assumed_row(known, system, unit) for known in plan.answer.open_inputs],
        "measure_first": measure_words(plan.answer.measure_first),
        "start": _start_list(plan, system),
        "notes": list(plan.notes),
        "cautions": list(plan.cautions),
        "caution": IN_SHORT,
    }


def _odds(plan: Plan) -> list[str]:
    """The odds, and what they are worth.

    Small odds of a plan that does not pass are left out: beside a machine they would read as leave to run.
    """
    said = likeliest_words(plan)
    if not said or (plan.verdict != PASSES and not any(is_seen(check.odds) for check in plan.checks)):
        return []
    return [f"{said}.", ODDS_NOTE]


def _start_list(plan: Plan, system: UnitSystem) -> list[str]:
    """What to do before the spindle turns, with the grip the plan counts on if there is a pressure to set."""
    seated = plan.setup.grip.seat and SEAT_UNSAID not in caveats_of(plan.setup)
    lines = [line if seated or "seat" not in line else NO_SEAT for line in START_LIST]
    if plan.pressure.has_window:
        least = format_quantity(plan.grip_force.static_total, "force", system)
        at = f" at {pressure_text(_highest(plan), gauge_unit_of(plan.setup))}" if len(plan.pressure.steps) > 1 else ""
        lines.insert(2, f"Grip gauge, all jaws:  ______  (counted on: {least}{at})")
    return lines


def _highest(plan: Plan) -> float:
    """The highest pressure set, at which the grip counted on is worked out. [MPa]"""
    steps = (step.recommended for step in plan.pressure.steps)
    return plan.pressure.used if plan.setup.stated_pressure is not None else max(p for p in steps if p is not None)


def _pressure(plan: Plan, unit: str, system: UnitSystem) -> Content:
    """The pressure box: what to set, or why there is nothing to set."""
    advice = plan.pressure
    stated = plan.setup.stated_pressure
    if not advice.has_window:
        reason = _kept_together(window_words(advice, unit))
        tried = f"Checks were made at {_tried(plan, unit)}."
        return {
            "kind": "none",
            "headline": "NO WINDOW",
            "reason": reason,
            "openers": [_kept_together(remedy_words(one, system)) for one in plan.answer.remedies],
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
        "warning": _release(plan),
        "reason": window_words(advice, unit),
        "unit": spelled(unit),
    }


def _tried(plan: Plan, unit: str) -> str:
    """The pressures that the checks were made at, as far as the plan says."""
    advice = plan.pressure
    used = pressure_text(advice.used, unit)
    if len(advice.steps) == 1 or plan.setup.stated_pressure is not None:
        return used
    later = (f"{pressure_text(s.recommended, unit)} ({s.name})" for s in advice.steps[1:] if s.recommended is not None)
    return ", ".join([f"{used} ({advice.steps[0].name})", *later])


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
        "how": _release(plan) or ("as stated" if stated is not None else "recommended"),
        "floor": f"{pressure_text(step.floor, unit, 'up')} ({pressure_text(step.floor, other, 'up')})",
        "floor_by": step.floor_by,
        "ceiling": f"{most[0]} ({most[1]})" if bounded else "no ceiling found",
        "ceiling_by": step.ceiling_by if bounded else "",
    }


def _whole_words(words: str) -> str:
    """The words, none parted at its hyphen."""
    return words.replace("-", "\u2011")


def _release(plan: Plan) -> str:
    """Why the pressure is not to be used yet; empty where it is."""
    leading = plan.answer.leading
    if plan.verdict == NOT_PROVEN and (leading is None or leading.state == PASSES):
        return "not proven: see below"
    return RELEASE.get(plan.verdict, "")


def _speed(plan: Plan, system: UnitSystem) -> Content:
    speed = plan.speed
    runs = speed.limit >= 1.0
    checked = next((check.value for check in plan.checks if check.name == "speed"), speed.limit)
    label = "SPINDLE LIMIT"
    if plan.pressure.has_window:
        label += ", written in the program"
    elif runs and speed.limit >= checked - 0.5:
        label += " the checks were made at"
    return {
        "label": label,
        "number": f"S {speed.limit:.0f}" if runs else "NO SPEED",
        "unit": "rev/min" if runs else "",
        "reason": _whole_words(speed.reason),
        "top": f"top speed with these jaws {speed.top:.0f} rev/min ({_whole_words(speed.top_reason)})"
        if speed.top >= 1
        else "",
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


def _verdict(plan: Plan, system: UnitSystem) -> Content:
    """The verdict in words: what happens first, and what to do."""
    lead, leading = lead_words(plan, system), plan.answer.leading
    first = measure_words(plan.answer.measure_first)
    if plan.verdict == PASSES:
        words = f"{lead}."
    elif plan.verdict == NOT_PROVEN and leading is not None and leading.state != PASSES:
        words = f"Do not run before it is measured. {lead}." + (f" Measure first: {first}." if first else "")
    else:
        words = f"Do not run. {lead}."
    return {"state": plan.verdict, "words": _kept_together(words)}


def _kept_together(words: str) -> str:
    """The words with no number parted from its unit at the end of a line."""
    for unit in ("N m", "ft lbf"):
        words = words.replace(f" {unit}", f" {_unbroken(unit)}")
    return re.sub(rf"(?<=\d) (?=(?:{UNITS})\b)", "\u00a0", words)


UNITS = "N|kN|mm|in|lbf|ft|bar|psi|MPa|kgf|ksi|rev"
"""Units that stand after a number in a verdict."""


def _check_row(check: Check, system: UnitSystem, unit: str) -> Content:
    sense = "at least" if check.least else "at most"
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
        "spare": spare_words(check),
        "by": f"{source}{check.decided_by}",
    }


def _acceptance_row(plan: Plan, result: SurfaceResult, system: UnitSystem) -> list[str]:
    """Surface, what the drawing asks, what to expect clamped and released."""
    surface = next((s for s in plan.setup.surfaces if s.name == result.name), None)
    left = _left(plan, result, system)
    if result.side != "face":
        left += _left_by_cut(result, system)
    return [result.name, _asked(surface, system), form_length(result.clamped_runout, system), ", ".join(left)]


def _left(plan: Plan, result: SurfaceResult, system: UnitSystem) -> list[str]:
    """Form after release: likely to worst of every tolerance asked, one entry for those alike; else what is likely."""
    by_value: dict[str, list[str]] = {}
    for check in plan.checks:
        tolerance = check.name.partition(":")[0]
        if check.group == FORM and check.subject == result.name and tolerance in SHORT:
            names = by_value.setdefault(_from_to(*likely_and_worst(check), system), [])
            names += [] if SHORT[tolerance] in names else [SHORT[tolerance]]
    if by_value:
        return [f"{_unbroken(' and '.join(names))} {MAY_BREAK}{_unbroken(value)}" for value, names in by_value.items()]
    if result.side == "face":
        return [_unbroken(f"flat {form_length(result.released_flatness, system)}")]
    return [_unbroken(f"round {form_length(result.released_roundness, system)}")]


def _from_to(likely: float, worst: float, system: UnitSystem) -> str:
    """Two form errors, the unit once."""
    first, last = form_length(likely, system), form_length(worst, system)
    if first == last:
        return first
    unit = f" {length_unit(system)}"
    return f"{first.removesuffix(unit)} to {last}"


MAY_BREAK = "\u200b"
"""A place where a line may end: none may before the point that an inch number begins with."""
SHORT = {"roundness": "round", "cylindricity": "cyl.", "runout": "run-out", "flatness": "flat"}
"""Tolerances as a row has room for."""


CUT_SEEN_MM = 1e-3
"""What the force of a cut leaves is said from here on."""


def _left_by_cut(result: SurfaceResult, system: UnitSystem) -> list[str]:
    """What the finishing force itself leaves, on diameter."""
    if result.cut_size <= CUT_SEEN_MM:
        return []
    sign = "+" if result.side == "outside" else "−"
    words = [f"cut: Ø {sign}{form_length(result.cut_size, system)}"]
    if result.cut_taper > CUT_SEEN_MM:
        words = [words[0].removesuffix(f" {length_unit(system)}"), f"taper {form_length(result.cut_taper, system)}"]
    return [_unbroken(one) for one in words]


def _asked(surface: Surface | None, system: UnitSystem) -> str:
    if surface is None:
        return ""
    found = [
        _unbroken(f"{word} {dimension(value, system)}")
        for name, word in SHORT.items()
        if (value := getattr(surface, name)) is not None
    ]
    return ", ".join(found) or "nothing"


def _assumed_row(known: Known, system: UnitSystem, unit: str) -> list[str]:
    worst, best = (named_end(known, v) or value_text(v, known.kind, system, unit) for v in (known.worst, known.best))
    return [known.label, f"{worst} (to {best})" if known.is_open else worst]
