"""What the API asks of a worker process: the JSON documents of the command line."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from heldtrue.planning.setup import Setup
from heldtrue.web.trouble import Trouble, told

if TYPE_CHECKING:
    from heldtrue.inspection.causes import Made
    from heldtrue.inspection.readings import Side
    from heldtrue.inspection.taper import Bearing
    from heldtrue.quantities import UnitSystem
    from heldtrue.shop.learned import Knowledge
    from heldtrue.shop.learned_force import CutRead
    from heldtrue.shop.part_cause import Parts
    from heldtrue.shop.replanning.run import Which
    from heldtrue.shop.taught import Taught


@told
def plan_json(setup: Setup) -> str | Trouble:
    """The plan as the JSON document of the command line."""
    from heldtrue.planning.document import to_json
    from heldtrue.planning.plan import plan

    return to_json(plan(setup))


@told
def bore_json(setup: Setup) -> str | Trouble:
    """How the jaws are cut, as the JSON document of the command line."""
    from heldtrue.json_document import to_json
    from heldtrue.planning.boring import bore
    from heldtrue.planning.boring_document import bore_document
    from heldtrue.planning.boring_program import attempt

    plan = bore(setup)
    made = attempt(plan, None)
    return to_json(bore_document(plan, made.program, made.proof, groove=made.groove))


@told
def compare_json(setup: Setup) -> str | Trouble:
    """Every way to hold, as the JSON document of the command line."""
    from heldtrue.planning.compare import compare
    from heldtrue.planning.document import comparison_json

    return comparison_json(compare(setup), setup)


@told
def ways_json(records: str, stated: Setup, most: int, now: datetime) -> str | Trouble:
    """The ways to hold that nobody beats, ``most`` worked out in full, as the JSON document of the command line.

    ``stated``: the setup without what the records know.
    """
    from heldtrue.planning.way_document import ways_json as write
    from heldtrue.planning.ways import ways
    from heldtrue.records import open_store
    from heldtrue.shop.from_records import with_records
    from heldtrue.shop.other_chucks import on_other_chucks
    from heldtrue.shop.way_costs import costs_on

    with open_store(records) as store:
        setup, chucks = with_records(stated, store, now)[0], on_other_chucks(stated, store, now)
        return write(ways(setup, cost=costs_on(store), chucks=chucks, most=most))


@told
def measure_json(setup: Setup) -> str | Trouble:
    """Which measurement pays, as the JSON document of the command line."""
    from heldtrue.planning.odds.odds_document import measurements_json
    from heldtrue.planning.odds.what_to_measure import what_to_measure

    made = what_to_measure(setup)
    return measurements_json(made.plan, made.found, made.pair, made.decided)


@told
def assumptions_json(setup: Setup) -> str | Trouble:
    """Every input with its range and spread, as the JSON document of the command line."""
    from heldtrue.planning.inputs import prepare
    from heldtrue.planning.odds.assumptions import assumptions_of
    from heldtrue.planning.odds.odds_document import assumptions_json as write
    from heldtrue.planning.window import gauge_unit_of

    return write(setup.title, assumptions_of(prepare(setup)), gauge_unit_of(setup))


@told
def contact_json(setup: Setup) -> str | Trouble:
    """How the jaws bear, as the JSON document of the command line."""
    from heldtrue.planning.contact_document import contact_json as write
    from heldtrue.planning.jaw_contact import contact

    return write(contact(setup))


@told
def recut_json(setup: Setup, measured: float | None, runout: float | None) -> str | Trouble:
    """How a used set is cut again, as the JSON document of the command line; lengths in mm."""
    from heldtrue.json_document import to_json
    from heldtrue.planning.boring import recut
    from heldtrue.planning.boring_document import recut_document
    from heldtrue.planning.boring_program import Attempt, attempt

    plan = recut(setup, measured, runout=runout)
    made = attempt(plan.bore, None) if plan.bore is not None and plan.can_be_cut else Attempt(None)
    return to_json(recut_document(plan, made.program, made.proof, groove=made.groove))


@told
def move_json(
    records: str, setup: Setup, chuck: dict[str, object], machine: dict[str, object] | None, now: datetime
) -> str | Trouble:
    """A setup on another chuck and machine, as the JSON document of the command line."""
    from heldtrue.records import open_store
    from heldtrue.shop.documents import moved_text
    from heldtrue.shop.moving import move_known

    with open_store(records) as store:
        return moved_text(move_known(store, setup, chuck, machine, now))


@told
def replan_json(records: str, which: Which, seconds: float) -> str | Trouble:
    """What a re-plan of some setups turned, as the JSON document of the command line; ``seconds`` for full plans."""
    from heldtrue.records import open_store
    from heldtrue.shop.replanning.document import replan_json as write
    from heldtrue.shop.replanning.run import replan

    with open_store(records) as store:
        return write(replan(store, which, seconds=seconds))


@told
def indicator_json(
    setup: Setup | None, surface: str | None, side: Side | None, grip: str | None, jaws: int | None,
    table: str | None, typed: str | None, unit: str | None, system: UnitSystem, *,
    resolution: float | None, tolerance: float | None, made: Made = "", taught: Taught | None = None, dial: str = "",
) -> str | Trouble:  # fmt: skip
    """What indicator readings say, as the JSON document of the command line; ``table``: CSV text; lengths in mm."""
    from heldtrue.inspection import read_readings, typed_readings
    from heldtrue.inspection.document import indicator_document
    from heldtrue.json_document import to_json
    from heldtrue.planning.result import CAUTIONS
    from heldtrue.shop.against_plan import expected, surface_of
    from heldtrue.shop.read_out import read_out

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
    read = read_out(traces, count, resolution=resolution, grip_side=grip, tolerance=tolerance, setup=setup,
                    surface=chosen, plan=plan, made=made, taught=taught, dial=dial)  # fmt: skip
    beside = read.beside
    return to_json(indicator_document(
        read.results, read.found, CAUTIONS, surface=chosen.name if chosen else None, budget=read.budget,
        comparisons=beside.comparisons if beside else (), plan_words=beside.words if beside else (),
    ))  # fmt: skip


@told
def taper_json(
    setup: Setup, seen: Bearing | None, taper: float | None, known: Knowledge | None, parts: Parts | None
) -> str | Trouble:
    """The taper to cut next, as the JSON document of the command line."""
    from heldtrue.shop.next_cut import next_cut
    from heldtrue.shop.taper_document import taper_text

    return taper_text(next_cut(setup, seen, taper, known, parts))


@told
def drift_json(table: str, units: UnitSystem, limits: list[list[str]]) -> str | Trouble:
    """Sizes part after part, as the JSON document of the command line; ``table``: CSV text; limits: name, low, high."""
    from heldtrue.inspection.shop_documents import drift_document
    from heldtrue.json_document import to_json
    from heldtrue.planning.result import CAUTIONS
    from heldtrue.web import texts
    from heldtrue.web.readings.drift_read import read_parts

    parts = read_parts({"text": table, "units": units, "limits": limits})
    unknown = [name for name, *_ in limits if name not in parts.units]
    wrong = [f"limits: {name}: {words}" for (name, _), words in parts.wrong.items()]
    if unknown or wrong:
        there = ", ".join(parts.units)
        return Trouble((*(texts.API_NO_COLUMN.format(name=one, there=there) for one in unknown), *wrong))
    return to_json(drift_document(parts.found, CAUTIONS))


@told
def learn_json(
    records: str, setup: Setup, id: str, by: str, now: datetime, units: UnitSystem, *, seen: Bearing | None = None,
    taper: float | None = None, pressure: float | None = None, force: float | None = None, readings: str | None = None,
    surface: str | None = None, remark: str = "", cut: CutRead | None = None, dial: str = "",
    again: str | None = None, unit: str | None = None,
) -> str | Trouble:  # fmt: skip
    """Accept what was read, if anything, and say what is known then, as the JSON document of the command line.

    Lengths in mm, ``force`` of all jaws [N], ``pressure`` [MPa]; ``readings``: of an indicator, as CSV text; ``again``:
    places read again, in ``unit``.
    """
    from heldtrue.inspection import read_readings
    from heldtrue.inspection.repeats import typed_repeats
    from heldtrue.inspection.shop_documents import learned_document
    from heldtrue.json_document import to_json
    from heldtrue.planning.result import CAUTIONS
    from heldtrue.records import open_store
    from heldtrue.shop.accepting import accept_bearing, accept_grip, accept_traces, chuck_card, knowledge_of
    from heldtrue.shop.against_plan import surface_of
    from heldtrue.shop.learned_force import accept_force
    from heldtrue.shop.learned_repeat import accept_study, dial_key

    study = None if again is None else typed_repeats(again, unit or ("mm" if setup.units == "metric" else "in"))
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
        if cut is not None:
            kept += accept_force(store, card, setup, cut, by, now)
            card = chuck_card(store, setup)
        if study is not None:
            found, division = study
            kept += accept_study(store, chuck_card(store, setup), found, dial_key(dial, division), by, now)
        if traces is not None and read is not None:
            kept += accept_traces(store, setup, id, read, traces, by, now, remark=remark, dial=dial)
        known = knowledge_of(store, chuck_card(store, setup), setup, now)
    rows = [(one.learned, one.unit, one.words(units), [one.flag_words(f, units) for f in one.learned.flagged])
            for one in known]  # fmt: skip
    return to_json(learned_document(card.id, kept, rows, CAUTIONS))
