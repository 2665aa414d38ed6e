"""What stands in the title block of a floor sheet, and what the records add to it: in words."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import segno

from heldtrue.drawing.wording import deviation, dimension, length_unit
from heldtrue.planning.caveats import SEAT_UNSAID, caveats_of
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.result import Plan
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.records import RunRecord, StartDecision
from heldtrue.shop.repeat import Repeat
from heldtrue.tooling.bolts import tightening

BY_HAND = "______________"
"""Where nobody has said it: a line to write it on."""


def fields(plan: Plan, system: UnitSystem, repeat: Repeat) -> list[list[str]]:
    """Label and text of each field, row by row of four."""
    setup = plan.setup
    part, chuck, jaws = setup.part, setup.chuck, setup.jaws
    face = f", {jaws.face} face" if jaws.face else ""
    return [
        ["part", part.name or part.number],
        ["material", part.material],
        ["machine", setup.machine.name if setup.machine and setup.machine.name else BY_HAND],
        ["chuck", chuck.name + (f" (no. {chuck.number})" if chuck.number else "")],
        ["operation", part.operation or "_____ of _____"],
        ["part program, version", part.program or BY_HAND],
        ["jaw set", jaws.number or BY_HAND],
        [f"{_tooth_word(setup)} on every jaw", _tooth(setup, repeat)],
        ["jaws", f"{jaws.count or chuck.jaws} {jaws.style}, {jaws.material}{face}"],
        [f"jaws bored, {length_unit(system)}", _bored(setup, system, repeat)],
        ["bored at", _bored_at(setup, repeat)],
        ["jaw bolts", _bolts(setup, system)],
        ["grip", _grip(setup)],
        *_gripped(setup, system),
        ["setup, version", _setup(repeat)],
    ]


def last_run(run: RunRecord | None, unit: str) -> str:
    """The last run and what came of it; empty where the records have none."""
    if run is None:
        return ""
    pressures = [pressure_text(one, unit) for one in (run.rough_pressure, run.finish_pressure) if one is not None]
    found = [
        f"{run.at:%Y-%m-%d}, {run.by}",
        f"set {' / '.join(pressures)}" if pressures else "",
        "" if run.speed_rpm is None else f"S {run.speed_rpm:.0f}",
        f"{run.quantity} good, {run.scrap} scrap",
        f"lot {run.lot}" if run.lot else "",
        *(f"{name.replace('_', ' ')} {value:g}" for name, value in run.readings.items()),
        run.remark,
    ]
    return ", ".join(filter(None, found))


def code_of(setup: Setup, repeat: Repeat) -> dict[str, str] | None:
    """The code to scan and what it leads to: the setup in the records, else its jaw set; None for neither."""
    known = bool(repeat.version)
    number = repeat.setup if known else setup.jaws.number
    if not number:
        return None
    out = BytesIO()
    segno.make(number, error="q", micro=False).save(out, kind="svg", border=1, xmldecl=False, svgns=True, unit="mm")
    return {"picture": out.getvalue().decode(), "words": f"{'setup' if known else 'jaw set'} {number}"}


def _tooth_word(setup: Setup) -> str:
    master = setup.chuck.master_jaws
    return "position" if master is not None and master.serration == "tongue and groove" else "tooth"


def _tooth(setup: Setup, repeat: Repeat) -> str:
    last, cut = setup.jaws.last_cut, repeat.cut
    now = setup.jaws.tooth or (last.tooth if last else None) or (cut.tooth if cut else None)
    return "______" if now is None else str(now)


def _bored(setup: Setup, system: UnitSystem, repeat: Repeat) -> str:
    """What the jaws measure: as stated, else as they were cut last."""
    last, cut = setup.jaws.last_cut, repeat.cut
    found = setup.jaws.bore_diameter or (last.diameter if last else None) or (cut.diameter if cut else None)
    if found is None:
        return "Ø ____________"
    depth = (cut.depth if cut else None) or (last.depth if last else None)
    return f"Ø{dimension(found, system)}" + (f", {dimension(depth, system)} deep" if depth else "")


def _bored_at(setup: Setup, repeat: Repeat) -> str:
    last, cut = setup.jaws.last_cut, repeat.cut
    found = setup.jaws.bored_pressure or (last.pressure if last else None) or (cut.pressure if cut else None)
    when = f", {cut.at:%Y-%m-%d}" if cut else ""
    return ("______ " + gauge_unit_of(setup) if found is None else pressure_text(found, gauge_unit_of(setup))) + when


def _bolts(setup: Setup, system: UnitSystem) -> str:
    """Size, class and torque of the jaw bolts; no torque for a class that nobody has stated: it would be a guess."""
    size, grade = setup.jaws.bolt, setup.jaws.bolt_class
    if size is None:
        return "______  torque ______"
    if grade is None:
        return f"{size} class ____ torque ____"
    torque = tightening(size, grade).torque
    other: UnitSystem = "inch" if system == "metric" else "metric"
    here, there = (format_quantity(torque, "torque", one, figures=3) for one in (system, other))
    return f"{size} {grade}: {here} ({there})".replace("N m", "N\u00a0m").replace("ft lbf", "ft\u00a0lbf")


def _grip(setup: Setup) -> str:
    grip = setup.grip
    gripping = "→ jaws close ←" if grip.side == "outside" else "← jaws open →"
    seat = "on its seat" if grip.seat else "no seat"
    if SEAT_UNSAID in caveats_of(setup):
        seat = "seat not said"
    return f"{grip.side}: {gripping}, {', '.join(filter(None, [seat, 'with centre' if grip.centre else '']))}"


def _gripped(setup: Setup, system: UnitSystem) -> list[list[str]]:
    """Gripped diameter, length and overhang."""
    grip = setup.grip
    other: UnitSystem = "inch" if system == "metric" else "metric"
    unit, other_unit = length_unit(system), length_unit(other)
    low, high = min(grip.z), max(grip.z)
    end = max(corner.z for corner in setup.part.profile)
    lower, upper = grip.diameter_tolerance
    tolerance = "" if lower == upper == 0 else f" ({deviation(upper, system)} / {deviation(lower, system)})"
    return [
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


def _setup(repeat: Repeat) -> str:
    return f"{repeat.setup}, version {repeat.version}" if repeat.version else "not saved yet"


def override_words(row: StartDecision | None) -> str:
    """Who started it although it must not be, when and why; empty where nobody did."""
    return "" if row is None else f"{row.at:%Y-%m-%d}, {row.by}: {row.override_reason}"


def repeat_content(plan: Plan, repeat: Repeat) -> dict[str, Any]:
    """The last run, a start against the answer, and every change since the run, in words; empty where there is none."""
    changes = repeat.changes[1:] if repeat.last is not None else ()
    return {"last": last_run(repeat.last, gauge_unit_of(plan.setup)), "changes": list(changes),
            "override": override_words(repeat.override)}  # fmt: skip
