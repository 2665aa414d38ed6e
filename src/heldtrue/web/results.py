"""Comparison, start and jaw cut as the words and numbers of their pages: plain data, made in the worker."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from heldtrue.drawing.section import draw_sketch
from heldtrue.drawing.wording import deviation, form_length
from heldtrue.planning.boring import BorePlan, RecutPlan
from heldtrue.planning.boring_program import Attempt
from heldtrue.planning.boring_words import PROBED, cutting_words, nest_words, rows
from heldtrue.planning.compare import Way
from heldtrue.planning.jaw_solid import Solids, solid_words
from heldtrue.planning.phrases import lead_words, remedy_words, step_windows
from heldtrue.planning.result import CAUTIONS, Plan
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, format_both, format_quantity
from heldtrue.sentences import in_units, sentence
from heldtrue.sheets.boring_folder import program_name
from heldtrue.shop.gate import Start
from heldtrue.shop.moving import Moved
from heldtrue.web import texts
from heldtrue.web.answer import both

MINUTE = "%Y-%m-%d %H:%M"


@dataclass(frozen=True)
class CompareRow:
    """One way to hold.

    ``form``: the largest form error [mm]; ``spans``: floor and ceiling of every pressure step [MPa]; ``changes``: what
    taking it over sets in the setup, by path; empty for the way as it is; ``sketch``: SVG, empty where there is none.
    """

    name: str
    verdict: str
    form_error: str
    window: str
    why: str
    needs: str
    changes: tuple[tuple[str, Any], ...] = ()
    form: float = 0.0
    spans: tuple[tuple[float, float], ...] = ()
    sketch: str = ""


@dataclass(frozen=True)
class StartAnswer:
    """A decision as it was recorded; ``goes``: does the spindle turn?"""

    may: bool
    goes: bool
    overridden: bool
    words: str
    reasons: tuple[str, ...]
    warnings: tuple[str, ...]
    loads: tuple[tuple[str, str, str, str], ...]
    step: str
    recorded: str
    override_reason: str
    cautions: tuple[str, ...]
    row: str


@dataclass(frozen=True)
class JawsAnswer:
    """How the jaws are cut. ``steps``: (name, words); ``files``: for the machine, by name; ``program``: their name.

    ``cutting``: depth, feeds and speed; ``forces``: their checks, as rows; ``solids``: words on the jaws as solids.
    """

    can_be_cut: bool
    words: tuple[str, ...]
    refusals: tuple[str, ...]
    numbers: tuple[tuple[str, str], ...]
    ways: tuple[tuple[str, ...], ...]
    steps: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    assumed: tuple[str, ...]
    cautions: tuple[str, ...]
    proof: str
    findings: tuple[str, ...]
    program: str
    why_no_program: str
    files: tuple[tuple[str, bytes | str], ...]
    cutting: str = ""
    forces: tuple[tuple[str, ...], ...] = ()
    solids: tuple[str, ...] = ()


def compare_row(way: Way, setup: Setup) -> CompareRow:
    """One way beside the others."""
    if way.plan is None or way.setup is None:
        return CompareRow(way.name, "cannot be", "", "", way.why, way.needs)
    system, window = setup.units, step_windows(way.plan, "; ")
    other: UnitSystem = "inch" if system == "metric" else "metric"
    form = f"{form_length(way.form_error, system)} ({form_length(way.form_error, other)})"
    return CompareRow(way.name, way.plan.verdict, form, window, _with_help(way, system), way.needs,
                      changes_to(way.setup, setup), way.form_error,
                      tuple((step.floor, step.ceiling) for step in way.plan.pressure.steps
                            if step.recommended is not None), draw_sketch(way.setup))  # fmt: skip


def _with_help(way: Way, system: UnitSystem) -> str:
    """Why a way stands where it does, and what would help first."""
    why = in_units(way.why, system)
    helps = way.plan.answer.remedies if way.plan is not None else ()
    return f"{why}; {texts.WOULD_HELP}: {remedy_words(helps[0], system)}" if helps else why


def changes_to(there: Setup, here: Setup) -> tuple[tuple[str, Any], ...]:
    """The tables in which a way differs, as they were planned; the rest of the setup stays as somebody typed it."""
    theirs, ours = there.to_dict(), here.to_dict()
    keys = dict.fromkeys((*theirs, *ours))
    return tuple((key, theirs.get(key)) for key in keys if theirs.get(key) != ours.get(key))


def start_answer(start: Start) -> StartAnswer:
    """A start as a page shows it."""
    made, row = start.decision, start.row
    loads = tuple(
        (one.name, _safety(one.factor, one.asked), f"{one.speed:.0f} rev/min", _to_speed(one.holds_to))
        for one in made.loads
    )
    changes = tuple(f"changed since the last run: {change.words}" for change in start.changes)
    return StartAnswer(
        made.may, start.goes, start.overridden, made.words, made.reasons,
        (*start.from_log, *made.warnings, *changes), loads, made.step.name,
        f"{row.by}, {row.at.astimezone():{MINUTE}}", row.override_reason, made.cautions, row.id,
    )  # fmt: skip


def _safety(factor: float, asked: float) -> str:
    """What is reached of the safety factor; nobody needs the digits of what is held a hundred times over."""
    return f"{factor:.2f} of {asked:g}" if factor < 100 else f"more than 100 of {asked:g}"


def _to_speed(speed: float) -> str:
    if not speed:
        return texts.NO_SPEED
    return f"{speed:.0f} rev/min" if isfinite(speed) else texts.ANY_SPEED


def jaws_answer(
    plan: BorePlan, made: Attempt, files: dict[str, bytes | str], solids: Solids | None = None
) -> JawsAnswer:  # fmt: skip
    """A jaw cut as a page shows it."""
    system, program = plan.setup.units, made.program
    proof = ""
    findings: tuple[str, ...] = ()
    if program is not None:
        off = in_units(sentence("{:.4f mm}", program.proof.worst_deviation), system)
        proof = (f"Read back and proved: {program.proof.moves} moves, off the bore by {off} at most, "
                 f"{program.minutes:.1f} min, up to {program.proof.top_speed:.0f} rev/min.")  # fmt: skip
        if made.groove is not None:
            own = in_units(sentence("{:.4f mm}", made.groove.proof.worst_deviation), system)
            proof += (f" The groove for the ring has a program of its own, run before the ring is there: proved, "
                      f"{made.groove.proof.moves} moves, off by {own} at most.")  # fmt: skip
        proof += f" {PROBED[0].upper()}{PROBED[1:]}." if program.proof.probed else ""
    elif made.proof is not None:
        findings = made.proof.sentences()
    return JawsAnswer(
        plan.can_be_cut, tuple(in_units(one, system) for one in plan.words), plan.refusals, _numbers(plan, system),
        _ways(plan), tuple((step.name, in_units(step.words, system)) for step in plan.steps),
        tuple(in_units(one, system) for one in plan.notes), tuple(in_units(one, system) for one in plan.assumed),
        plan.cautions, proof, findings, program_name(plan) if program is not None else "",
        "" if program is not None else made.why, tuple(files.items()),
        cutting_words(plan.forces, system) if plan.forces else "", rows(plan.forces, system) if plan.forces else (),
        tuple(in_units(one, system) for one in solid_words(solids)) if solids else (),
    )  # fmt: skip


def _numbers(plan: BorePlan, system: UnitSystem) -> tuple[tuple[str, str], ...]:
    bolt = plan.tightening
    rows = [
        ("pressure while cutting", f"{both(plan.pressure, 'pressure', system, gauge_unit_of(plan.setup))}, "
                                   f"{plan.pressure_from}"),
        ("spindle limit", f"{plan.spindle_limit:.0f} rev/min, {plan.spindle_limit_by}"),
        ("jaw bolts", f"{bolt.bolt} {bolt.bolt_class}: {format_quantity(bolt.torque, 'torque', 'metric', figures=3)} "
                      f"({format_quantity(bolt.torque, 'torque', 'inch', figures=3)}), {bolt.source}"),
    ]  # fmt: skip
    made = plan.design
    if made is None:
        return tuple(rows)
    low, high = (deviation(value, system) for value in made.tolerance)
    taper = "none" if not made.taper else f"{format_both(made.taper, 'length', system)} per side, {plan.taper_from}"
    return (
        ("bore at the seat", f"Ø{format_both(made.diameter, 'length', system)}, {high} / {low}"),
        ("at the front", f"Ø{format_both(made.mouth_diameter, 'length', system)}"),
        ("taper", in_units(taper, system)),
        ("depth", format_both(made.depth, "length", system)),
        *(("and", in_units(words, system)) for words in nest_words(plan)),
        ("corner relief", f"{format_both(made.relief[0], 'length', system)} wide, "
                          f"{format_both(made.relief[1], 'length', system)} deep"),
        *rows,
    )  # fmt: skip


def _ways(plan: BorePlan) -> tuple[tuple[str, ...], ...]:
    """Where the jaws could stand, best first: tooth, left to open, left to close, to cut per side, cuts left."""
    if plan.placing is None:
        return ()
    say = plan.setup.units
    return tuple(
        (f"{plan.placing.word} {way.tooth}",
         *("none in the way" if one is None else format_quantity(one, "length", say)
           for one in (way.opening, way.closing, way.metal, way.web)), way.cuts_words)
        for way in plan.placing.ways[:4]
    )  # fmt: skip


@dataclass(frozen=True)
class MovedAnswer:
    """A setup on another machine. ``differences``: what, here, there, blocks; ``table``: the setup there, if any."""

    force: str
    pressure_here: str
    pressure_there: str
    verdict: str
    because: str
    blocked: bool
    differences: tuple[tuple[str, str, str, bool], ...]
    why: str
    cautions: tuple[str, ...]
    table: dict[str, Any] | None


def moved_answer(setup: Setup, moved: Moved) -> MovedAnswer:
    """A move as a page shows it."""
    here = both(moved.pressure_here, "pressure", setup.units, gauge_unit_of(setup))
    force = format_both(moved.draw_force, "force", setup.units)
    differences = tuple((one.what, one.here, one.there, one.blocks) for one in moved.differences)
    if moved.setup is None or moved.plan is None or moved.pressure_there is None:
        return MovedAnswer(force, here, "", "cannot be", "", True, differences, moved.why, CAUTIONS, None)
    there = both(moved.pressure_there, "pressure", moved.setup.units, gauge_unit_of(moved.setup))
    table = moved.setup.to_dict(as_corners=True, keep_files=True)
    return MovedAnswer(force, here, there, moved.plan.verdict, _decided(moved.plan), moved.blocked,
                       differences, "", moved.plan.cautions, table)  # fmt: skip


def recut_answer(plan: RecutPlan, made: JawsAnswer | None) -> JawsAnswer:
    """A re-cut as a page shows it; ``made``: of the cut itself, None where no cut is needed or known."""
    system = plan.setup.units
    words = tuple(in_units(one, system) for one in plan.words)
    differs = tuple(in_units(one, system) for one in plan.differs) if plan.needed else ()
    refusals = tuple(in_units(one, system) for one in plan.refusals)
    wanted = [("wanted", f"Ø{format_both(plan.target, 'length', system)}")]
    if plan.measured is not None:
        wanted.append(("found on the ring", f"Ø{format_both(plan.measured, 'length', system)}"))
    if made is None:
        steps = tuple((step.name, in_units(step.words, system)) for step in plan.steps)
        return JawsAnswer(False, words, refusals, tuple(wanted), (), steps, differs, (), plan.cautions, "", (), "",
                          "" if refusals else words[0] if words else "", ())  # fmt: skip
    return replace(made, can_be_cut=plan.can_be_cut, words=(*words, *made.words), refusals=refusals,
                   numbers=(*wanted, *made.numbers), notes=(*differs, *made.notes), cautions=plan.cautions)  # fmt: skip


def _decided(plan: Plan) -> str:
    return lead_words(plan, plan.setup.units)
