"""Setups and runs: keep a setup, record a run, see what changed since the last."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

import json
from typing import Annotated

import typer

from heldtrue.commands.common import AsJson, print_json, said, screen, typed_gauge, working
from heldtrue.commands.memory import By, Records, as_table, memory, name_of, now
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
    from heldtrue.terminal.shop import show_setups

    with memory(records, create=False) as store:
        rows = [(card, store.last_run(card.id)) for card in store.all(SetupRecord)]
    if as_json:
        print_json(json.dumps([
            {"id": card.id, "title": card.title, "part": card.part, "revision": card.revision, "version": card.version,
             "last_run": as_table(last)} for card, last in rows
        ], indent=2, ensure_ascii=False))  # fmt: skip
        return
    show_setups(screen(), rows)


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
    from heldtrue.records import RunRecord, StartDecision, since_last_run
    from heldtrue.shop.enter import enter_setup, setup_named

    who = name_of(by)
    with memory(records) as store:
        _, found, id = setup_named(store, setup)
        card = enter_setup(store, found, who, id=id, why="run")
        sets = [None if text is None else typed_gauge(option, text, gauge_unit_of(found))
                for option, text in (("--pressure", pressure), ("--finish-pressure", finish_pressure))]  # fmt: skip
        gates = store.events(StartDecision, newest=1, setup=card.id)
        planned = RunRecord(
            at=now(), by=who, setup=card.id, setup_version=card.version, machine=card.machine, chuck=card.chuck,
            jaw_set=card.jaw_set, decision=gates[0].id if gates else None, rough_pressure=sets[0],
            finish_pressure=sets[1], speed_rpm=speed, quantity=quantity, scrap=scrap, lot=lot,
            readings=dict(_reading(text) for text in reading or ()), remark=remark,
        )  # fmt: skip
        changes = tuple(one.words for one in since_last_run(store, card.id, planned))
        from dataclasses import replace

        store.write(replace(planned, changed=changes), by=who)
    said(f"run of {id} recorded{'' if gates else '; no start was decided at the gate for this setup'}")
    for words in changes:
        said(f"- changed since the last run: {words}")


@run.command()
def show(setup: SetupName, as_json: AsJson = False, records: Records = None) -> None:
    """Every run and every start of a setup, and what has changed since the last run."""
    from heldtrue.records import RunRecord, StartDecision, since_last_run
    from heldtrue.shop.enter import setup_named

    with memory(records, create=False) as store:
        card, _, id = setup_named(store, setup)
        if card is None:
            raise InputError(f"{id} is not in the records; heldtrue run enter keeps it")
        runs, gates = store.events(RunRecord, setup=card.id), store.events(StartDecision, setup=card.id)
        changes = since_last_run(store, card.id)
    if as_json:
        print_json(json.dumps({
            "setup": card.id, "version": card.version, "runs": as_table(runs), "starts": as_table(gates),
            "changes": [one.words for one in changes],
        }, indent=2, ensure_ascii=False))  # fmt: skip
        return
    from heldtrue.terminal.shop import show_runs

    show_runs(screen(), card, runs, gates, changes)


def _reading(text: str) -> tuple[str, float]:
    name, sign, value = text.partition("=")
    try:
        if not sign or not name.strip():
            raise ValueError
        return name.strip(), float(value.replace(",", "."))
    except ValueError:
        raise InputError(
            f'--reading: found "{text}"; expected a name with its unit and a number: runout_mm=0.012'
        ) from None
