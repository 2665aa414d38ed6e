"""The chuck's log: plates, grip readings, grease."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from heldtrue.commands.common import (
    DOES_NOT_PASS,
    AsJson,
    InUnits,
    print_json,
    said,
    screen,
)
from heldtrue.commands.memory import By, Records, memory, name_of, now
from heldtrue.errors import InputError

if TYPE_CHECKING:
    from heldtrue.records import ChuckRecord, Store

chuck = typer.Typer(help="The chuck's log: plates, grip readings, grease.", no_args_is_help=True)
ChuckId = Annotated[str, typer.Argument(metavar="CHUCK", help="Inventory number of the chuck.")]


@chuck.command()
def add(
    file: Annotated[Path, typer.Argument(help="The chuck file (TOML).")],
    id: Annotated[str | None, typer.Option("--id", help="Its inventory number; that of the file if left out.")] = None,
    machine: Annotated[str | None, typer.Option(help="Machine it stands on.")] = None,
    grease_days: Annotated[int | None, typer.Option(help="Days between two greasings.", min=1)] = None,
    by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Enter a chuck from its file, or a new version of its card."""
    from heldtrue.planning.hardware_file import chuck_table
    from heldtrue.planning.toml_file import read_toml
    from heldtrue.shop.stock import chuck_cards

    who = name_of(by)
    number = id or str(read_toml(file).get("number") or "")
    if not number:
        raise InputError(f"{file} has no number: give one with --id")
    table = chuck_table(file, number=number)
    with memory(records) as store:
        store.write(*chuck_cards(store, number, table, machine=machine, grease_days=grease_days), by=who)
    said(f"chuck {number} is in the records")


@chuck.command("list")
def list_chucks(as_json: AsJson = False, records: Records = None) -> None:
    """Every chuck and what its log says."""
    from heldtrue.records import ChuckRecord
    from heldtrue.shop.chuck_log import chuck_state

    with memory(records, create=False) as store:
        states = [chuck_state(store, card, now()) for card in store.all(ChuckRecord)]
    if as_json:
        from heldtrue.shop.documents import text_of

        print_json(text_of(states))
        return
    from heldtrue.terminal.shop import show_chucks

    show_chucks(screen(), states)


@chuck.command()
def gauge(
    chuck_id: ChuckId,
    pressure: Annotated[str, typer.Option(help='What the pressure gauge showed, such as "20 bar".')],
    force: Annotated[str, typer.Option(help='Grip of all jaws together, such as "62 kN".')],
    device: Annotated[str, typer.Option(help="Which grip gauge.")] = "",
    remark: Annotated[str, typer.Option(help="Anything to know later.")] = "",
    by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Enter one reading of a grip gauge, chuck at rest."""
    from heldtrue.records import ChuckRecord, GaugeReading
    from heldtrue.shop.enter import card_of
    from heldtrue.shop.typed import typed_grip_reading

    who = name_of(by)
    with memory(records) as store:
        card = card_of(store, ChuckRecord, chuck_id, "chuck")
        try:
            read, grip = typed_grip_reading(pressure, force, card)
        except InputError as error:
            raise InputError(f"--{error}") from error
        store.write(
            GaugeReading(at=now(), by=who, chuck=card.id, device=device, remark=remark, pressure=read, force=grip),
            by=who,
        )
        _show(store, card)


@chuck.command()
def grease(
    chuck_id: ChuckId, what: Annotated[str, typer.Option(help="Which grease.")] = "", by: By = None,
    records: Records = None,
) -> None:  # fmt: skip
    """Enter that a chuck was greased."""
    from heldtrue.records import ChuckRecord, Greasing
    from heldtrue.shop.enter import card_of

    who = name_of(by)
    with memory(records) as store:
        card = card_of(store, ChuckRecord, chuck_id, "chuck")
        store.write(Greasing(at=now(), by=who, chuck=card.id, grease=what), by=who)
        _show(store, card)


@chuck.command()
def withdraw(
    chuck_id: ChuckId,
    entry: Annotated[str, typer.Argument(help="Number of the entry in heldtrue chuck log, from 1 for the oldest.")],
    why: Annotated[str, typer.Option(help="What was wrong; kept with the entry.")],
    by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Take a grip reading back that was entered wrong; both rows stay in the history."""
    from heldtrue.records import ChuckRecord
    from heldtrue.shop.chuck_log import chuck_state
    from heldtrue.shop.enter import card_of
    from heldtrue.shop.put_right import taken_back

    who = name_of(by)
    with memory(records) as store:
        card = card_of(store, ChuckRecord, chuck_id, "chuck")
        rows = chuck_state(store, card, now()).readings
        number = int(entry) if entry.isdecimal() else 0
        if not 1 <= number <= len(rows):
            there = f"1 to {len(rows)}" if rows else "none"
            raise InputError(
                f"chuck {card.id} has no reading {entry}; there are: {there} (heldtrue chuck log {card.id})"
            )
        store.write(taken_back(rows[number - 1], by=who, why=why), by=who)
        _show(store, card)


@chuck.command()
def log(chuck_id: ChuckId, as_json: AsJson = False, units: InUnits = None, records: Records = None) -> None:
    """Readings of a chuck, the line through them, whether the grip has fallen, when grease is due."""
    from heldtrue.records import ChuckRecord
    from heldtrue.shop.chuck_log import chuck_state
    from heldtrue.shop.enter import card_of

    with memory(records, create=False) as store:
        state = chuck_state(store, card_of(store, ChuckRecord, chuck_id, "chuck"), now())
    if as_json:
        from heldtrue.shop.documents import text_of

        print_json(text_of(state))
    else:
        from heldtrue.terminal.shop import show_chuck

        show_chuck(screen(), state, units)
    raise typer.Exit(DOES_NOT_PASS if state.fallen or (state.grease_due and state.grease_due < now()) else 0)


def _show(store: Store, card: ChuckRecord) -> None:
    from heldtrue.shop.chuck_log import chuck_state
    from heldtrue.terminal.shop import show_chuck

    show_chuck(screen(), chuck_state(store, card, now()), None)
