"""How to cut the jaws, on the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from heldtrue.drawing.wording import deviation
from heldtrue.planning.boring import BorePlan, RecutPlan
from heldtrue.planning.boring_steps import Step
from heldtrue.planning.boring_words import PROBED, ROW_HEADS, cutting_words, nest_words, rows
from heldtrue.planning.jaw_solid import Solids, solid_words
from heldtrue.planning.window import gauge_unit_of
from heldtrue.program.front import Program
from heldtrue.program.proof import Proof
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.sentences import in_units, sentence
from heldtrue.terminal.lines import cautions as show_cautions
from heldtrue.terminal.lines import heading, named_rows, say
from heldtrue.terminal.plan import show_gauge, show_value

MOST_WAYS = 4


def show_bore(
    console: Console, plan: BorePlan, program: Program | None, units: UnitSystem, solids: Solids | None = None,
    groove: Program | None = None,
) -> None:  # fmt: skip
    """Print how the jaws are cut."""
    setup = plan.setup
    console.print(Text(f"{setup.title or 'Setup'}: cutting jaw set {setup.jaws.number or 'without a number'}", "bold"))
    _show_plan(console, plan, program, units, groove)
    _solids(console, solids, units)
    console.print()
    show_cautions(console, plan.cautions)


def show_recut(
    console: Console, plan: RecutPlan, program: Program | None, units: UnitSystem, solids: Solids | None = None,
    groove: Program | None = None,
) -> None:  # fmt: skip
    """Print how a used set is cut again, or why it is not."""
    setup = plan.setup
    console.print(Text(f"{setup.title or 'Setup'}: jaw set {setup.jaws.number or 'without a number'}, used", "bold"))
    target = show_value(plan.target, "length", units)
    found = "not touched off yet" if plan.measured is None else f"Ø{show_value(plan.measured, 'length', units)}"
    say(console, f"wanted Ø{target}, found on the ring: {found}")
    for words in plan.differs if plan.needed else ():
        say(console, f"- {in_units(words, units)}")
    for words in plan.words:
        say(console, in_units(words, units), bold=True)
    if plan.needed and plan.measured is None:
        say(console, "first put the jaws on the ring, touch off a diameter and give it with --measured: until then "
                      "these numbers are the record's, and there is no program", bold=True)  # fmt: skip
    if plan.bore is None:
        _refuse(console, plan.refusals, units)
        _steps(console, plan.steps, units)
    else:
        _show_plan(console, plan.bore, program, units, groove)
    _solids(console, solids, units)
    console.print()
    show_cautions(console, plan.cautions)


def _show_plan(
    console: Console, plan: BorePlan, program: Program | None, units: UnitSystem, groove: Program | None
) -> None:
    _refuse(console, plan.refusals, units)
    for words in () if plan.refusals else plan.words:
        say(console, in_units(words, units))
    _ways(console, plan, units)
    if plan.design is not None:
        console.print(_numbers(plan, program, units, groove))
    _forces(console, plan, units)
    _steps(console, plan.steps, units)
    for name, lines in (("Notes", plan.notes), ("Assumed", plan.assumed)):
        if lines:
            heading(console, name)
            for words in lines:
                say(console, f"- {in_units(words, units)}")


def _solids(console: Console, told: Solids | None, units: UnitSystem) -> None:
    """What was written of the jaws as solids, and what is not in it."""
    if told is None:
        return
    heading(console, "The jaws as solids")
    for words in solid_words(told):
        say(console, f"- {in_units(words, units)}", bold=words in told.failed)


def _refuse(console: Console, refusals: tuple[str, ...], units: UnitSystem) -> None:
    for words in refusals:
        console.print(Text.assemble(("cannot be cut: ", "bold red"), in_units(words, units)), soft_wrap=True)


def _numbers(plan: BorePlan, program: Program | None, units: UnitSystem, groove: Program | None) -> Table:
    made = plan.design
    assert made is not None
    low, high = (deviation(value, units) for value in made.tolerance)
    unit = "in" if units == "inch" else "mm"
    taper = "none" if not made.taper else f"{deviation(made.taper, units)} {unit} per side"
    seat = "none"
    if made.land is not None:
        seat = " to ".join(f"Ø{show_value(value, 'length', units)}" for value in made.land)
    rows = [
        ("bore at the seat", f"Ø{show_value(made.diameter, 'length', units)} {high}/{low}"),
        ("at the front", f"Ø{show_value(made.mouth_diameter, 'length', units)}"),
        ("taper", f"{taper} ({in_units(plan.taper_from, units)})"),
        ("depth, seat land", f"{show_value(made.depth, 'length', units)}, {seat}"),
        *(("and", in_units(words, units)) for words in nest_words(plan)),
        ("corner relief", f"{show_value(made.relief[0], 'length', units)} wide, "
                          f"{show_value(made.relief[1], 'length', units)} deep"),
        ("pressure while cutting", f"{show_gauge(plan.pressure, gauge_unit_of(plan.setup))} ({plan.pressure_from})"),
        ("spindle limit", f"{plan.spindle_limit:.0f} rev/min ({plan.spindle_limit_by})"),
        ("jaw bolts", f"{plan.tightening.bolt} {plan.tightening.bolt_class}: "
                      f"{format_quantity(plan.tightening.torque, 'torque', units, figures=3)} "
                      f"({plan.tightening.source})"),
    ]  # fmt: skip
    if program is not None:
        rows.append(("program", _program_words(program, units, plan.setup.units)))
    if groove is not None:
        rows.append(("groove for the ring", _program_words(groove, units, plan.setup.units)))
    return named_rows(rows)


def _program_words(program: Program, units: UnitSystem, setup: UnitSystem) -> str:
    proof = program.proof
    passes = ", ".join(f"{number} {name}" for name, number in program.passes.items())
    own = "inch" if setup == "inch" else "mm"
    unit = "inches" if program.unit == "inch" else "millimetres"
    unit += "" if program.unit == own else ", though the setup is not: its template says so"
    off, most = _off(proof, units)
    return (
        f"proved: read back, {proof.moves} moves, off by {off} "
        f"at most (allowed {most}); in {unit}, template {program.dialect}; "
        f"{passes} passes, {program.minutes:.1f} min, up to {proof.top_speed:.0f} rev/min"
        f"{f'; {PROBED}' if proof.probed else ''}"
    )


def _forces(console: Console, plan: BorePlan, units: UnitSystem) -> None:
    """What the cut needs and what is there, the pass of each that leaves least."""
    if plan.forces is None:
        return
    heading(console, f"Forces while cutting, at their worst: {cutting_words(plan.forces, units)}")
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ROW_HEADS:
        table.add_column(name)
    for row in rows(plan.forces, units):
        table.add_row(*row)
    console.print(table)


def show_proof(console: Console, name: str, proof: Proof, dialect: str, units: UnitSystem, plan: BorePlan) -> None:
    """Whether a program is proved, else every line that is wrong and why; then what speaks against the cut."""
    _proof(console, name, proof, dialect, units)
    for words in plan.warnings:
        say(console, in_units(words, units), bold=True)
    show_cautions(console, plan.cautions)


def _off(proof: Proof, units: UnitSystem) -> tuple[str, str]:
    """How far the shape came out off, and how far it may."""
    off, most = (in_units(sentence("{:.4f mm}", value), units) for value in (proof.worst_deviation, proof.tolerance))
    return off, most


def _proof(console: Console, name: str, proof: Proof, dialect: str, units: UnitSystem) -> None:
    if proof.passed:
        console.print(Text(f"{name}: proved", style="bold"), soft_wrap=True)
        off, most = _off(proof, units)
        if proof.probed:
            say(console, PROBED, bold=True)
        say(console, f"{proof.lines} lines, {proof.moves} moves by the template {dialect}; off the bore by {off} at "
                     f"most, allowed {most}; {proof.minutes:.1f} min, up to {proof.top_speed:.0f} rev/min")  # fmt: skip
        say(console, "with the wear offset at zero, the tool as in the setup, and nothing else in the machine")
        return
    console.print(Text(f"{name}: NOT proved, do not run it", style="bold red"), soft_wrap=True)
    for words in proof.sentences():
        say(console, f"- {in_units(words, units)}")


def _ways(console: Console, plan: BorePlan, units: UnitSystem) -> None:
    """The other places the jaws could stand."""
    placing = plan.placing
    if placing is None or len(placing.ways) < 2:
        return
    heading(console, f"Where the jaws could stand, at mid-stroke, best first ({len(placing.ways)} ways work)")
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in (placing.word, "left to open", "left to close", "to cut per side", "web over bolts", "cuts left"):
        table.add_column(name, justify="right")
    for way in placing.ways[:MOST_WAYS]:
        lengths = [way.opening, way.closing, way.metal, way.web]
        texts = ["none in the way" if one is None else show_value(one, "length", units) for one in lengths]
        table.add_row(str(way.tooth), *texts, way.cuts_words)
    console.print(table)


def _steps(console: Console, steps: tuple[Step, ...], units: UnitSystem) -> None:
    if not steps:
        return
    heading(console, "At the machine")
    for step in steps:
        say(console, f"{step.number:>2} {step.name}: {in_units(step.words, units)}")
