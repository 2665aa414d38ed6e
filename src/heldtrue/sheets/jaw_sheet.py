"""The jaw sheet: drawing of the bored jaw and the steps at the machine, as one PDF."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from heldtrue.drawing.jaw_drawing import bored_jaw, jaw_svg, part_words
from heldtrue.planning.boring import BorePlan
from heldtrue.planning.boring_words import ROW_HEADS, cutting_words, rows
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.window import gauge_unit_of
from heldtrue.program.front import Program
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.sentences import in_units, joined, sentence
from heldtrue.sheets.paper import paper_size, pdf_of

TEMPLATE = Path(__file__).with_name("jaw_sheet.typ")


def jaw_sheet(
    plan: BorePlan, program: Program | None, system: UnitSystem = "metric", paper: str = "a4", *, heading: str = "",
    file_name: str = "", printed: date | None = None,
) -> bytes:  # fmt: skip
    """Drawing and steps of a jaw set as a PDF.

    ``file_name``: of the program; ``printed``: the day, a line to write it on where it is not given.
    Raises: ``InputError`` for a paper it does not know, or a plan that cannot be cut.
    """
    content = _content(plan, program, system, heading, file_name, printed) | {"paper": paper_size(paper)}
    return pdf_of(TEMPLATE, content, plan.setup.model_dump_json(), {"drawing": jaw_svg(bored_jaw(plan), system)})


def steps_text(plan: BorePlan, system: UnitSystem = "metric") -> str:
    """The steps at the machine as plain text, with what to know and the cautions."""
    lines = [f"{plan.setup.title or 'Jaws'}, set {plan.setup.jaws.number or 'without a number'}", ""]
    lines += [sentence("[ ] {:>2} {}: {}", step.number, step.name, step.words) for step in plan.steps]
    if plan.forces is not None:
        lines += ["", f"Forces while cutting, at their worst: {cutting_words(plan.forces, system)}"]
        lines += [f"- {name}, {part}: {value}, {limit}: {state}"
                  for name, part, value, limit, state in rows(plan.forces, system)]  # fmt: skip
    for heading, words in (("Notes", plan.notes), ("Assumed", plan.assumed), ("Cautions", plan.cautions)):
        lines += ["", heading, *(sentence("- {}", one) for one in words)] if words else []
    return in_units(joined("\n", lines), system) + "\n"


def _content(
    plan: BorePlan, program: Program | None, system: UnitSystem, heading: str, file_name: str, printed: date | None
) -> dict[str, object]:
    setup = plan.setup
    number = setup.jaws.number
    torque = format_quantity(plan.tightening.torque, "torque", system, figures=3)
    word = plan.placing.word if plan.placing else "tooth"
    length = "" if program is None else f"{program.minutes:.1f} min, {len(program.text.splitlines())} lines"
    tool = plan.hardware.tool
    nose = f"{format_quantity(tool.nose_radius, 'length', system)}, tip position {tool.quadrant}"
    return {
        "title": f"{setup.title or 'Jaws'}, jaw set {number or 'without a number'}",
        "stamp": ", ".join([part_words(plan), "printed " + ("______" if printed is None else f"{printed:%Y-%m-%d}")]),
        "heading": heading or "Cutting the jaws",
        "set": f"set {number}" if number else "set ______",
        "fields": [
            ["pressure while cutting", pressure_text(plan.pressure, gauge_unit_of(setup))],
            ["spindle limit", f"{plan.spindle_limit:.0f} rev/min"],
            [f"{word} on every jaw", str(plan.way.tooth) if plan.way else "?"],
            [f"bolts {plan.tightening.bolt} {plan.tightening.bolt_class}", torque],
            ["chuck", setup.chuck.number or setup.chuck.name],
            ["machine", setup.machine.name if setup.machine and setup.machine.name else "______"],
            ["for part", part_words(plan)],
            ["printed", "______" if printed is None else f"{printed:%Y-%m-%d}"],
            ["program", "none" if program is None else file_name or "see the folder"],
            ["length", length or "______"],
            [f"tool T{tool.number}, offset {tool.offset_number}", tool.name],
            ["nose", nose],
        ],
        "forces": {
            "words": f"Forces while cutting, at their worst: {cutting_words(plan.forces, system)}",
            "heads": list(ROW_HEADS),
            "rows": [list(row) for row in rows(plan.forces, system)],
        }
        if plan.forces
        else None,
        "warnings": [in_units(one, system) for one in plan.warnings],
        "steps": [{"number": s.number, "name": s.name, "words": in_units(s.words, system)} for s in plan.steps],
        "notes": [in_units(one, system) for one in (*plan.words, *plan.notes)],
        "assumed": [in_units(one, system) for one in plan.assumed],
        "cautions": list(plan.cautions),
    }
