"""What runs in a worker process: the solves.  It keeps the last study of each draft, so that a knob takes milliseconds.

Every function takes and gives back plain data; an error on purpose comes back as ``Trouble``, never as an exception:
exceptions with several problems do not survive the way between processes.
"""

from __future__ import annotations

import os
from collections import OrderedDict
from dataclasses import dataclass, replace
from datetime import datetime
from time import perf_counter
from typing import TYPE_CHECKING, Any

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.planning.setup import Setup
from heldtrue.web.answer import Answer

if TYPE_CHECKING:
    from heldtrue.inspection.readings import Side
    from heldtrue.inspection.taper import Bearing
    from heldtrue.planning.study import Study
    from heldtrue.quantities import UnitSystem
    from heldtrue.records import Found, Standing
    from heldtrue.shop.learned import Knowledge
    from heldtrue.web.plan.solid_data import SolidView
    from heldtrue.web.results import CompareRow, JawsAnswer, MovedAnswer, StartAnswer

KEPT = 12
"""Studies a worker keeps; each is a few megabytes."""
KNOBS = ("run.", "jaws.friction", "jaws.taper", "jaws.bore_diameter", "grip.diameter_tolerance", "title", "limits.")
"""What a study follows at once; anything else is planned anew."""

_studies: OrderedDict[str, Study] = OrderedDict()


@dataclass(frozen=True)
class Trouble:
    """Why there is no answer, one sentence each."""

    problems: tuple[str, ...]


def begin() -> None:
    """Make a worker ready before somebody waits for it."""
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    if hasattr(os, "nice"):
        os.nice(5)  # where many ask at once, pages come before plans: nobody's typing waits for another's solve
    import heldtrue.drawing.all_pictures
    import heldtrue.planning.plan  # noqa: F401


def ready() -> bool:
    """Is it there? Nothing but a question."""
    return True


def plan_draft(key: str, setup: Setup, quick: bool) -> Answer:
    """The plan of a draft. ``quick``: where only a knob was turned, look with what is known of the last full study.

    A quick look has no drawings: they take longer than it does; the full plan brings them as soon as the knob rests.
    """
    from heldtrue.drawing.all_pictures import all_drawings
    from heldtrue.planning.plan import plan_study
    from heldtrue.planning.study import Study

    began = perf_counter()
    try:
        before = _studies.get(key)
        knobs = knobs_turned(before.job.setup, setup) if quick and before is not None else None
        study = Study.of(setup) if before is None or knobs is None else before.again(knobs)
        made = plan_study(study)
        drawings = all_drawings(made, setup.units) if knobs is None else {}
    except HeldtrueError as error:
        return Answer(problems=problems_of(error))
    if knobs is None:
        _studies[key] = study
        _studies.move_to_end(key)
        while len(_studies) > KEPT:
            _studies.popitem(last=False)
    from heldtrue.web.answer import answer_of

    return answer_of(made, drawings, full=knobs is None, seconds=perf_counter() - began)


def shape_mesh(key: str, setup: Setup) -> SolidView | Trouble:
    """The part of a draft in three dimensions, clamped and released; made only for those who look at it."""
    from heldtrue.planning.solid import solid
    from heldtrue.planning.study import Study
    from heldtrue.web.plan.solid_data import solid_view

    began = perf_counter()
    try:
        kept = _studies.get(key)
        study = kept if kept is not None and kept.job.setup == setup else Study.of(setup)
        return replace(solid_view(setup, solid(study)), seconds=perf_counter() - began)
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def knobs_turned(before: Setup, after: Setup) -> dict[str, Any] | None:
    """What changed between two setups, by path and in core units; None where more than a knob did."""
    then, now = _flat(before), _flat(after)
    changed = {path: now.get(path) for path in then.keys() | now.keys() if then.get(path) != now.get(path)}
    return changed if all(path.startswith(KNOBS) for path in changed) else None


def compare_ways(setup: Setup) -> tuple[CompareRow, ...] | Trouble:
    """Every way to hold, best first."""
    from heldtrue.planning.compare import compare
    from heldtrue.web.results import compare_row

    try:
        return tuple(compare_row(way, setup) for way in compare(setup))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def cut_jaws(setup: Setup, base: str | None) -> JawsAnswer | Trouble:
    """How the jaws are cut, with every file for the machine. ``base``: where a program template is looked up."""
    from heldtrue.planning.boring import bore
    from heldtrue.planning.boring_program import attempt
    from heldtrue.sheets.boring_folder import boring_files
    from heldtrue.web.results import jaws_answer

    try:
        plan = bore(setup)
        made = attempt(plan, base)
        return jaws_answer(plan, made, boring_files(plan, made, setup.units, "a4", heading="Cutting the jaws"))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def start(records: str, setup: Setup, id: str, typed: str, by: str, step: str | None, override: str,
          now: datetime) -> StartAnswer | Trouble:  # fmt: skip
    """Decide one start and write it down."""
    from heldtrue.quantities import parse_quantity
    from heldtrue.records import open_store
    from heldtrue.shop.gate import start as decide
    from heldtrue.web.results import start_answer

    try:
        gauge = parse_quantity(typed, "pressure", setup.units)
        with open_store(records) as store:
            return start_answer(decide(store, setup, id, gauge, typed=typed, by=by, now=now, step=step,
                                       override=override))  # fmt: skip
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def floor_sheet_of(setup: Setup) -> bytes | Trouble:
    """The floor sheet as a PDF."""
    from heldtrue.planning.plan import plan
    from heldtrue.sheets.floor_sheet import floor_sheet

    try:
        return floor_sheet(plan(setup), setup.units, "a4")
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def plan_json(setup: Setup) -> str | Trouble:
    """The plan as the JSON document of the command line."""
    from heldtrue.planning.document import to_json
    from heldtrue.planning.plan import plan

    try:
        return to_json(plan(setup))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def bore_json(setup: Setup) -> str | Trouble:
    """How the jaws are cut, as the JSON document of the command line."""
    from heldtrue.json_document import to_json
    from heldtrue.planning.boring import bore
    from heldtrue.planning.boring_document import bore_document
    from heldtrue.planning.boring_program import attempt

    try:
        plan = bore(setup)
        made = attempt(plan, None)
        return to_json(bore_document(plan, made.program, made.proof))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def find_jaws(
    records: str, setup: Setup, any_style: bool, any_material: bool
) -> tuple[Found, tuple[tuple[str, str, str], ...]] | Trouble:
    """The sets that will do for a setup, cheapest first; and of the others number, bore and why not, the newest 40."""
    from heldtrue.records import open_store
    from heldtrue.shop.shelf import wanted_of, why_not

    try:
        wanted = wanted_of(setup, any_style=any_style, any_material=any_material)
        with open_store(records) as store:
            found = store.find(wanted)
            return found, why_not(store, wanted, {one.standing.jaw_set for one in found.matches})
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def recut_jaws(setup: Setup, measured: float | None, runout: float, base: str | None) -> JawsAnswer | Trouble:
    """How a used set is cut again from the diameter ``measured`` on its ring, ``runout`` found there [mm]."""
    from heldtrue.planning.boring import recut
    from heldtrue.planning.boring_program import Attempt, attempt
    from heldtrue.sheets.boring_folder import boring_files
    from heldtrue.web.results import jaws_answer, recut_answer

    try:
        plan = recut(setup, measured, runout=runout)
        if plan.bore is None:
            return recut_answer(plan, None)
        made = attempt(plan.bore, base) if plan.can_be_cut else Attempt(None)
        files = boring_files(plan.bore, made, setup.units, "a4", heading="Cutting the jaws again")
        return recut_answer(plan, jaws_answer(plan.bore, made, files))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def record_cut(records: str, setup: Setup, id: str, by: str, now: datetime, *, measured: float | None,
               diameter: float | None, remark: str) -> Standing | Trouble:  # fmt: skip
    """Write down that the jaws of a setup were cut as planned; how the set then stands."""
    from heldtrue.records import open_store
    from heldtrue.shop.shelf import planned_cut
    from heldtrue.shop.shelf import record_cut as record

    try:
        plan = planned_cut(setup, measured)
        with open_store(records) as store:
            return record(store, plan, by, now, id=id, diameter=diameter, remark=remark)
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def enter_setup(records: str, setup: Setup, id: str, by: str, why: str) -> int | Trouble:
    """Keep a setup and its plan; the version it then has."""
    from heldtrue.planning.plan import plan
    from heldtrue.records import open_store
    from heldtrue.shop.enter import enter_setup as enter

    try:
        made = plan(setup)
        with open_store(records) as store:
            return enter(store, setup, by, id=id, plan=made, why=why).version
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def move_setup(setup: Setup, chuck: dict[str, object], machine: dict[str, object] | None) -> MovedAnswer | Trouble:
    """What becomes of a setup on another chuck and machine."""
    from heldtrue.shop.moving import move
    from heldtrue.web.results import moved_answer

    try:
        return moved_answer(setup, move(setup, chuck, machine))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def compare_json(setup: Setup) -> str | Trouble:
    """Every way to hold, as the JSON document of the command line."""
    from heldtrue.planning.compare import compare
    from heldtrue.planning.document import comparison_json

    try:
        return comparison_json(compare(setup), setup)
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def contact_json(setup: Setup) -> str | Trouble:
    """How the jaws bear, as the JSON document of the command line."""
    from heldtrue.planning.contact_document import contact_json as write
    from heldtrue.planning.jaw_contact import contact

    try:
        return write(contact(setup))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def recut_json(setup: Setup, measured: float | None, runout: float) -> str | Trouble:
    """How a used set is cut again, as the JSON document of the command line; lengths in mm."""
    from heldtrue.json_document import to_json
    from heldtrue.planning.boring import recut
    from heldtrue.planning.boring_document import recut_document
    from heldtrue.planning.boring_program import Attempt, attempt

    try:
        plan = recut(setup, measured, runout=runout)
        made = attempt(plan.bore, None) if plan.bore is not None and plan.can_be_cut else Attempt(None)
        return to_json(recut_document(plan, made.program, made.proof))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def move_json(setup: Setup, chuck: dict[str, object], machine: dict[str, object] | None) -> str | Trouble:
    """A setup on another chuck and machine, as the JSON document of the command line."""
    from heldtrue.shop.documents import moved_text
    from heldtrue.shop.moving import move

    try:
        return moved_text(move(setup, chuck, machine))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def indicator_json(
    setup: Setup | None, surface: str | None, side: Side | None, grip: str | None, jaws: int | None,
    table: str | None, typed: str | None, unit: str | None, system: UnitSystem, *,
    resolution: float | None, tolerance: float | None,
) -> str | Trouble:  # fmt: skip
    """What indicator readings say, as the JSON document of the command line; ``table``: CSV text; lengths in mm."""
    from heldtrue.inspection import read_readings, typed_readings
    from heldtrue.inspection.document import indicator_document
    from heldtrue.json_document import to_json
    from heldtrue.planning.result import CAUTIONS
    from heldtrue.shop.against_plan import expected, surface_of
    from heldtrue.shop.read_out import read_out

    try:
        chosen = surface_of(setup, surface, side) if setup else None
        count = jaws or ((setup.jaws.count or setup.chuck.jaws) if setup else 3)
        looks: Side = chosen.side if chosen else side or "outside"
        bare = setup.units if setup else system
        plain = "mm" if bare == "metric" else "in"
        traces = (typed_readings(typed or "", unit or plain, looks, count),) if table is None else (
            read_readings(table, bare, looks, count))  # fmt: skip
        plan = None
        if setup is not None and chosen is not None:
            states = {"free" if one.state == "free" else "clamped" for one in traces}
            plan = expected(setup, chosen, sorted(states, reverse=True))
        made = read_out(traces, count, resolution=resolution, grip_side=grip, tolerance=tolerance, setup=setup,
                        surface=chosen, plan=plan)  # fmt: skip
        beside = made.beside
        return to_json(indicator_document(
            made.results, made.found, CAUTIONS, surface=chosen.name if chosen else None, budget=made.budget,
            comparisons=beside.comparisons if beside else (), plan_words=beside.words if beside else (),
        ))  # fmt: skip
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def taper_json(setup: Setup, seen: Bearing, taper: float | None, known: Knowledge | None) -> str | Trouble:
    """The taper to cut next, as the JSON document of the command line."""
    from heldtrue.inspection.shop_documents import taper_document
    from heldtrue.json_document import to_json
    from heldtrue.shop.next_cut import next_cut

    try:
        cut = next_cut(setup, seen, taper, known)
        return to_json(taper_document(
            cut.found, title=setup.title, taper_now=cut.taper_now, by_plan=cut.by_plan, by_contact=cut.by_contact,
            plan_print=cut.plan_print, grip_length=cut.grip_length, force=cut.force, stiffness=cut.stiffness,
            base_from=cut.base_from, notes=cut.notes, cautions=cut.cautions,
        ))  # fmt: skip
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def drift_json(table: str, units: UnitSystem, limits: list[list[str]]) -> str | Trouble:
    """Sizes part after part, as the JSON document of the command line; ``table``: CSV text; limits: name, low, high."""
    from heldtrue.inspection.shop_documents import drift_document
    from heldtrue.json_document import to_json
    from heldtrue.planning.result import CAUTIONS
    from heldtrue.web import texts
    from heldtrue.web.readings.drift_read import read_parts

    try:
        parts = read_parts({"text": table, "units": units, "limits": limits})
        unknown = [name for name, *_ in limits if name not in parts.units]
        wrong = [f"limits: {name}: {words}" for (name, _), words in parts.wrong.items()]
        if unknown or wrong:
            there = ", ".join(parts.units)
            return Trouble((*(texts.API_NO_COLUMN.format(name=one, there=there) for one in unknown), *wrong))
        return to_json(drift_document(parts.found, CAUTIONS))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def learn_json(
    records: str, setup: Setup, id: str, by: str, now: datetime, units: UnitSystem, *, seen: Bearing | None = None,
    taper: float | None = None, pressure: float | None = None, force: float | None = None, readings: str | None = None,
    surface: str | None = None, remark: str = "",
) -> str | Trouble:  # fmt: skip
    """Accept what was read, if anything, and say what is known then, as the JSON document of the command line.

    Lengths in mm, ``force`` of all jaws [N], ``pressure`` [MPa]; ``readings``: of an indicator, as CSV text.
    """
    from heldtrue.inspection import read_readings
    from heldtrue.inspection.shop_documents import learned_document
    from heldtrue.json_document import to_json
    from heldtrue.planning.result import CAUTIONS
    from heldtrue.records import open_store
    from heldtrue.shop.accepting import accept_bearing, accept_grip, accept_traces, chuck_card, knowledge_of
    from heldtrue.shop.against_plan import surface_of

    try:
        with open_store(records) as store:
            card, kept = chuck_card(store, setup), list[str]()
            traces, read = None, None
            if readings is not None:  # read first: where the table is wrong nothing of the rest is kept either
                read = surface_of(setup, surface)
                traces = read_readings(readings, setup.units, read.side, setup.jaws.count or setup.chuck.jaws)
            if seen is not None:
                kept += accept_bearing(store, card, setup, seen, by, now, pressure=pressure, taper=taper, remark=remark)
            if force is not None and pressure is not None:
                kept += accept_grip(store, card, force, pressure, by, now, remark=remark)
            if traces is not None and read is not None:
                kept += accept_traces(store, setup, id, read, traces, by, now, remark=remark)
            known = knowledge_of(store, chuck_card(store, setup), setup, now)
        rows = [(one.learned, one.unit, one.words(units), [one.flag_words(f, units) for f in one.learned.flagged])
                for one in known]  # fmt: skip
        return to_json(learned_document(card.id, kept, rows, CAUTIONS))
    except HeldtrueError as error:
        return Trouble(problems_of(error))


def problems_of(error: HeldtrueError) -> tuple[str, ...]:
    """One sentence each."""
    return error.problems if isinstance(error, InputError) else (str(error),)


def _flat(setup: Setup) -> dict[str, Any]:
    """Every value by its path."""
    found: dict[str, Any] = {}

    def walk(value: Any, path: str) -> None:
        if isinstance(value, dict):
            for key, one in value.items():
                walk(one, f"{path}.{key}" if path else key)
        else:
            found[path] = value

    walk(setup.model_dump(exclude_unset=True), "")
    return found
