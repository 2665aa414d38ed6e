"""What runs in a worker process: the solves.  It keeps the last study of each draft, so that a knob takes milliseconds.

Every function takes and gives back plain data; an error on purpose comes back as ``Trouble``, never as an exception.
"""

from __future__ import annotations

import os
from collections import OrderedDict
from dataclasses import replace
from datetime import date, datetime
from time import perf_counter
from typing import TYPE_CHECKING, Any

from heldtrue.errors import HeldtrueError
from heldtrue.planning.setup import Setup
from heldtrue.web.answer import Answer
from heldtrue.web.trouble import Trouble, problems_of, told

if TYPE_CHECKING:
    from heldtrue.planning.boring import BorePlan
    from heldtrue.planning.boring_program import Attempt
    from heldtrue.planning.study import Study
    from heldtrue.records import Found
    from heldtrue.shop.repeat import Repeat
    from heldtrue.shop.shelf import CutKept, Reading
    from heldtrue.web.plan.solid_data import SolidView
    from heldtrue.web.results import CompareRow, JawsAnswer, MovedAnswer, StartAnswer

KEPT = 12
"""Studies a worker keeps; each is a few megabytes."""
KNOBS = ("run.", "jaws.friction", "jaws.taper", "jaws.bore_diameter", "grip.diameter_tolerance", "title", "limits.")
"""What a study follows at once; anything else is planned anew."""

_studies: OrderedDict[str, Study] = OrderedDict()


def begin() -> None:
    """Make a worker ready before somebody waits for it."""
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    if hasattr(os, "nice"):
        os.nice(5)  # where many ask at once, pages come before plans: nobody's typing waits for another's solve
    import ezdxf  # noqa: F401

    import heldtrue.drawing.all_pictures
    import heldtrue.part_file.dxf
    import heldtrue.part_file.step
    import heldtrue.planning.plan
    import heldtrue.web.part.work  # noqa: F401


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


@told
def shape_mesh(key: str, setup: Setup) -> SolidView | Trouble:
    """The part of a draft in three dimensions, clamped and released; made only for those who look at it."""
    from heldtrue.planning.solid import solid
    from heldtrue.planning.study import Study
    from heldtrue.web.plan.solid_data import solid_view

    began = perf_counter()
    kept = _studies.get(key)
    study = kept if kept is not None and kept.job.setup == setup else Study.of(setup)
    return replace(solid_view(setup, solid(study)), seconds=perf_counter() - began)


def knobs_turned(before: Setup, after: Setup) -> dict[str, Any] | None:
    """What changed between two setups, by path and in core units; None where more than a knob did."""
    then, now = _flat(before), _flat(after)
    changed = {path: now.get(path) for path in then.keys() | now.keys() if then.get(path) != now.get(path)}
    return changed if all(path.startswith(KNOBS) for path in changed) else None


@told
def compare_ways(setup: Setup) -> tuple[CompareRow, ...] | Trouble:
    """Every way to hold, best first."""
    from heldtrue.planning.compare import compare
    from heldtrue.web.results import compare_row

    return tuple(compare_row(way, setup) for way in compare(setup))


@told
def cut_jaws(setup: Setup, base: str | None) -> JawsAnswer | Trouble:
    """How the jaws are cut, with every file for the machine. ``base``: where a program template is looked up."""
    from heldtrue.planning.boring import bore
    from heldtrue.planning.boring_program import attempt

    plan = bore(setup)
    return _with_files(plan, attempt(plan, base), "Cutting the jaws")


def _with_files(plan: BorePlan, made: Attempt, heading: str) -> JawsAnswer:
    """A jaw cut with all that its folder holds."""
    from heldtrue.sheets.boring_folder import boring_files, solids_of
    from heldtrue.web.results import jaws_answer

    today = datetime.now().date()
    solids = solids_of(plan, made, printed=today)
    files = boring_files(plan, made, plan.setup.units, "a4", heading=heading, printed=today, solids=solids)
    return jaws_answer(plan, made, files, solids.told if solids else None)


@told
def start(records: str, setup: Setup, id: str, typed: str, by: str, step: str | None, override: str,
          now: datetime) -> StartAnswer | Trouble:  # fmt: skip
    """Decide one start and write it down."""
    from heldtrue.quantities import parse_quantity
    from heldtrue.records import open_store
    from heldtrue.shop.gate import start as decide
    from heldtrue.web.results import start_answer

    gauge = parse_quantity(typed, "pressure", setup.units)
    with open_store(records) as store:
        return start_answer(decide(store, setup, id, gauge, typed=typed, by=by, now=now, step=step,
                                   override=override))  # fmt: skip


@told
def floor_sheet_of(setup: Setup, repeat: Repeat, printed: date) -> bytes | Trouble:
    """The floor sheet as a PDF, with what the records know of an earlier run."""
    from heldtrue.planning.plan import plan
    from heldtrue.sheets.floor_sheet import floor_sheet

    return floor_sheet(plan(setup), setup.units, "a4", repeat=repeat, printed=printed)


@told
def find_jaws(
    records: str, setup: Setup, any_style: bool, any_material: bool
) -> tuple[Found, tuple[tuple[str, str, str], ...]] | Trouble:
    """The sets that will do for a setup, cheapest first; and of the others number, bore and why not, the newest 40."""
    from heldtrue.records import open_store
    from heldtrue.shop.shelf import wanted_of, why_not

    wanted = wanted_of(setup, any_style=any_style, any_material=any_material)
    with open_store(records) as store:
        found = store.find(wanted)
        return found, why_not(store, wanted, {one.standing.jaw_set for one in found.matches})


@told
def recut_jaws(setup: Setup, measured: float | None, runout: float | None, base: str | None) -> JawsAnswer | Trouble:
    """How a used set is cut again, ``measured`` on its ring; ``runout`` found there, None unread. [mm]"""
    from heldtrue.planning.boring import recut
    from heldtrue.planning.boring_program import Attempt, attempt
    from heldtrue.web.results import recut_answer

    plan = recut(setup, measured, runout=runout)
    if plan.bore is None:
        return recut_answer(plan, None)
    made = attempt(plan.bore, base) if plan.can_be_cut else Attempt(None)
    return recut_answer(plan, _with_files(plan.bore, made, "Cutting the jaws again"))


@told
def record_cut(records: str, setup: Setup, id: str, by: str, now: datetime, *, measured: float | None,
               diameter: Reading, depth: Reading, remark: str) -> CutKept | Trouble:  # fmt: skip
    """Write down that the jaws of a setup were cut as planned, with what was measured of them."""
    from heldtrue.records import open_store
    from heldtrue.shop.shelf import planned_cut
    from heldtrue.shop.shelf import record_cut as record

    plan = planned_cut(setup, measured)
    with open_store(records) as store:
        return record(store, plan, by, now, id=id, diameter=diameter, depth=depth, remark=remark)


@told
def enter_setup(records: str, setup: Setup, id: str, by: str, why: str) -> int | Trouble:
    """Keep a setup and its plan; the version it then has."""
    from heldtrue.planning.plan import plan
    from heldtrue.records import open_store
    from heldtrue.shop.enter import enter_setup as enter

    made = plan(setup)
    with open_store(records) as store:
        return enter(store, setup, by, id=id, plan=made, why=why).version


@told
def replan_for(records: str, seconds: float) -> int | Trouble:
    """Re-plan setups for about so long; how many are left then."""
    from heldtrue.records import open_store
    from heldtrue.shop.replanning.run import replan

    with open_store(records) as store:
        return replan(store, seconds=seconds).left


@told
def floor_sheet_now(records: str, id: str, now: datetime) -> bytes | Trouble:
    """The floor sheet of a setup in the records, with all that they know of it today."""
    from heldtrue.records import SetupRecord, open_setup, open_store
    from heldtrue.shop.enter import card_of
    from heldtrue.shop.from_records import with_records
    from heldtrue.shop.repeat import repeat_of

    with open_store(records) as store:
        kept = open_setup(card_of(store, SetupRecord, id, "setup").document)
        setup, _ = with_records(kept, store, now)
        repeat = repeat_of(store, id, kept)
    return floor_sheet_of(setup, repeat, now.date())


@told
def move_setup(
    records: str, setup: Setup, chuck: dict[str, object], machine: dict[str, object] | None, now: datetime
) -> MovedAnswer | Trouble:
    """What becomes of a setup on another chuck and machine."""
    from heldtrue.records import open_store
    from heldtrue.shop.moving import move_known
    from heldtrue.web.results import moved_answer

    with open_store(records) as store:
        return moved_answer(setup, move_known(store, setup, chuck, machine, now))


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
