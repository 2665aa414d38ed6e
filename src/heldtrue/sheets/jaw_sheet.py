"""The jaw sheet: drawing of the bored jaw and the steps at the machine, as one PDF."""

from __future__ import annotations

import json
from pathlib import Path

from heldtrue.drawing.jaw_drawing import bored_jaw, jaw_svg
from heldtrue.drawing.wording import in_units
from heldtrue.errors import InputError
from heldtrue.planning.boring import BorePlan
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.window import gauge_unit_of
from heldtrue.program.front import Program
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.sheets.floor_sheet import KNOWN_LETTERS, PAPERS

TEMPLATE = Path(__file__).with_name("jaw_sheet.typ")


def jaw_sheet(
    plan: BorePlan, program: Program | None, system: UnitSystem = "metric", paper: str = "a4", *, heading: str = ""
) -> bytes:
    """Drawing and steps of a jaw set as a PDF.

    Raises: ``InputError`` for a paper it does not know, or a plan that cannot be cut.
    """
    import typst

    if paper not in PAPERS:
        raise InputError(f"paper {paper!r} is not known; known are {', '.join(PAPERS)}")
    width, height = PAPERS[paper]
    content = json.dumps(_content(plan, program, system, heading) | {"paper": {"width": width, "height": height}})
    letters = plan.setup.model_dump_json()
    made = typst.compile(
        TEMPLATE.read_bytes(), format="pdf",
        ignore_system_fonts=not any(ord(one) > KNOWN_LETTERS for one in json.loads(json.dumps(letters))),
        sys_inputs={"content": content, "drawing": jaw_svg(bored_jaw(plan), system)}, timestamp=0,
    )  # fmt: skip
    return bytes(made)


def steps_text(plan: BorePlan, system: UnitSystem = "metric") -> str:
    """The steps at the machine as plain text, with what to know and the cautions."""
    lines = [f"{plan.setup.title or 'Jaws'}, set {plan.setup.jaws.number or 'without a number'}", ""]
    lines += [f"[ ] {step.number:>2} {step.name}: {step.words}" for step in plan.steps]
    for heading, words in (("Notes", plan.notes), ("Assumed", plan.assumed), ("Cautions", plan.cautions)):
        lines += ["", heading, *(f"- {one}" for one in words)] if words else []
    return in_units("\n".join(lines), system) + "\n"


def _content(plan: BorePlan, program: Program | None, system: UnitSystem, heading: str) -> dict[str, object]:
    setup = plan.setup
    number = setup.jaws.number
    torque = format_quantity(plan.tightening.torque, "torque", system, figures=3)
    word = plan.placing.word if plan.placing else "tooth"
    cut = "no program" if program is None else f"{program.minutes:.1f} min, {len(program.text.splitlines())} lines"
    return {
        "title": f"{setup.title or 'Jaws'}, jaw set {number or 'without a number'}",
        "heading": heading or "Cutting the jaws",
        "set": f"set {number}" if number else "set ______",
        "fields": [
            ["pressure while cutting", pressure_text(plan.pressure, gauge_unit_of(setup))],
            ["spindle limit", f"{plan.spindle_limit:.0f} rev/min"],
            [f"{word} on every jaw", str(plan.way.tooth) if plan.way else "?"],
            [f"bolts {plan.tightening.bolt} {plan.tightening.bolt_class}", torque],
            ["chuck", setup.chuck.number or setup.chuck.name],
            ["machine", setup.machine.name if setup.machine and setup.machine.name else "______"],
            ["for", setup.part.number],
            ["program", cut],
        ],
        "warnings": [one for one in plan.notes if one.startswith("the plan of the part")],
        "steps": [{"number": s.number, "name": s.name, "words": in_units(s.words, system)} for s in plan.steps],
        "notes": [in_units(one, system) for one in (*plan.words, *plan.notes)],
        "assumed": [in_units(one, system) for one in plan.assumed],
        "cautions": list(plan.cautions),
    }
