"""Setups and runs: keep a setup, record a run, see what changed since the last."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

from typing import Annotated

import typer

from heldtrue.commands.common import AsJson, print_json, said, screen, typed_gauge, working
from heldtrue.commands.memory import By, Records, memory, name_of, now
from heldtrue.commands.start import SetupName
from heldtrue.errors import InputError

run = typer.Typer(
    help="Setups and runs: keep a setup, record a run, see what changed since the last.", no_args_is_help=True
)
Remark = Annotated[str, typer.Option(help="Anything to know next time.")]


@run.command()
def enter(
    setup: SetupName, why: Annotated[str, typer.Option(help="What changed in it, and why.")] = "", by: By = None,
    records: Records = None,
) -> None:  # fmt: skip
    """Keep a setup and its plan; a new version where it has changed."""
    from heldtrue.shop.enter import enter_setup, setup_named

    who = name_of(by)
    with memory(records) as store:
        old, found, id = setup_named(store, setup)
        with working("planning"):
            from heldtrue.planning.plan import plan

            made = plan(found)
        card = enter_setup(store, found, who, id=id, plan=made, why=why)
    changed = old is None or card.version != old.version
    said(f"{id}: version {card.version}{'' if changed else ', unchanged'}; the plan {made.verdict}")


@run.command("list")
def list_setups(as_json: AsJson = False, records: Records = None) -> None:
    """Every setup, with its last run."""
    from heldtrue.records import SetupRecord
    from heldtrue.shop.documents import setups_text
    from heldtrue.terminal.shop import show_setups

    with memory(records, create=False) as store:
        if as_json:
            print_json(setups_text(store))
            return
        rows = [(card, store.last_run(card.id)) for card in store.all(SetupRecord)]
        replanned = {one.setup: one for one in store.replanned()}
    show_setups(screen(), rows, replanned)


@run.command()
def add(
    setup: SetupName,
    pressure: Annotated[str | None, typer.Option(help="Pressure set for roughing, or for the whole job.")] = None,
    finish_pressure: Annotated[str | None, typer.Option(help="Pressure set for the finish, if another.")] = None,
    speed: Annotated[float | None, typer.Option(help="Spindle limit set, rev/min.", min=0.0)] = None,
    quantity: Annotated[int, typer.Option(help="Good parts.", min=0)] = 0,
    scrap: Annotated[int, typer.Option(help="Scrapped parts.", min=0)] = 0,
    lot: Annotated[str, typer.Option(help="Lot of the material.")] = "",
    reading: Annotated[
        list[str] | None, typer.Option(help='What was measured, as "runout_mm=0.012"; repeat.')
    ] = None,
    remark: Remark = "", by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Record a run: what was set, what came of it, what was different."""
    from heldtrue.planning.window import gauge_unit_of
    from heldtrue.shop.enter import setup_named
    from heldtrue.shop.runs import RunMade, record_run

    who = name_of(by)
    with memory(records) as store:
        _, found, id = setup_named(store, setup)
        sets = [None if text is None else typed_gauge(option, text, gauge_unit_of(found))
                for option, text in (("--pressure", pressure), ("--finish-pressure", finish_pressure))]  # fmt: skip
        made = RunMade(sets[0], sets[1], speed, quantity, scrap, lot,
                       dict(_reading(text) for text in reading or ()), remark)  # fmt: skip
        row = record_run(store, found, id, made, by=who, now=now())
    said(f"run of {id} recorded{'' if row.decision else '; no start was decided at the gate for this setup'}")
    for words in row.changed:
        said(f"- changed since the last run: {words}")


@run.command()
def show(setup: SetupName, as_json: AsJson = False, records: Records = None) -> None:
    """Every run and every start of a setup, and what has changed since the last run."""
    from heldtrue.records import RunRecord, StartDecision, since_last_run
    from heldtrue.shop.documents import setup_text
    from heldtrue.shop.enter import setup_named

    with memory(records, create=False) as store:
        card, _, id = setup_named(store, setup)
        if card is None:
            raise InputError(f"{id} is not in the records; heldtrue run enter keeps it")
        if as_json:
            print_json(setup_text(store, card.id))
            return
        runs, gates = store.events(RunRecord, setup=card.id), store.events(StartDecision, setup=card.id)
        changes = since_last_run(store, card.id)
    from heldtrue.terminal.shop import show_runs

    show_runs(screen(), card, runs, gates, changes)


def _reading(text: str) -> tuple[str, float]:
    from heldtrue.shop.typed import typed_reading

    try:
        return typed_reading(text)
    except InputError as error:
        raise InputError(f"--reading: {error}") from None
