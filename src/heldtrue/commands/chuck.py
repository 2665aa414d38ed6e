"""The chuck's log: plates, grip readings, grease."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from heldtrue.commands.common import (
    DOES_NOT_PASS,
    AsJson,
    InUnits,
    print_json,
    said,
    screen,
    typed_gauge,
    typed_quantity,
)
from heldtrue.commands.memory import By, Records, as_table, memory, name_of, now
from heldtrue.errors import InputError

if TYPE_CHECKING:
    from heldtrue.records import ChuckRecord, Store

chuck = typer.Typer(help="The chuck's log: plates, grip readings, grease.", no_args_is_help=True)
MOST_OVER_PLATE = 1.5
"""A grip gauge does not read more than this share of the plate: then it is a slip, or the unit is another."""
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
    from dataclasses import replace

    from heldtrue.planning.hardware_file import chuck_table
    from heldtrue.planning.toml_file import read_toml
    from heldtrue.records import ChuckRecord, MachineRecord
    from heldtrue.shop.enter import known_card

    who = name_of(by)
    number = id or str(read_toml(file).get("number") or "")
    if not number:
        raise InputError(f"{file} has no number: give one with --id")
    table = chuck_table(file, number=number)
    with memory(records) as store:
        new = []
        if machine and known_card(store, MachineRecord, machine) is None:
            new.append(MachineRecord(id=machine, name=machine))
        card = ChuckRecord(
            id=number, name=plain(table.get("name"), ""), machine=machine, jaws=int(plain(table.get("jaws"), 3)),
            serration=plain(plain(table.get("master_jaws"), {}).get("serration"), ""),
            gauge=plain(plain(table.get("actuator"), {}).get("gauge"), ""), grease_days=grease_days, data=table,
        )  # fmt: skip
        old = known_card(store, ChuckRecord, number)
        if old is not None:
            card = replace(card, version=old.version, machine=machine or old.machine,
                           grease_days=grease_days or old.grease_days)  # fmt: skip
        store.write(*new, card, by=who)
    said(f"chuck {number} is in the records")


@chuck.command("list")
def list_chucks(as_json: AsJson = False, records: Records = None) -> None:
    """Every chuck and what its log says."""
    from heldtrue.records import ChuckRecord
    from heldtrue.shop.chuck_log import chuck_state

    with memory(records, create=False) as store:
        states = [chuck_state(store, card, now()) for card in store.all(ChuckRecord)]
    if as_json:
        print_json(json.dumps(as_table(states), indent=2, ensure_ascii=False))
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

    who = name_of(by)
    with memory(records) as store:
        card = card_of(store, ChuckRecord, chuck_id, "chuck")
        system: Literal["metric", "inch"] = "inch" if card.gauge == "psi" else "metric"
        grip = _grip(force, system, card)
        store.write(GaugeReading(
            at=now(), by=who, chuck=card.id, device=device, remark=remark,
            pressure=typed_gauge("--pressure", pressure, card.gauge or "bar"),
            force=grip,
        ), by=who)  # fmt: skip
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
def log(chuck_id: ChuckId, as_json: AsJson = False, units: InUnits = None, records: Records = None) -> None:
    """Readings of a chuck, the line through them, whether the grip has fallen, when grease is due."""
    from heldtrue.records import ChuckRecord
    from heldtrue.shop.chuck_log import chuck_state
    from heldtrue.shop.enter import card_of

    with memory(records, create=False) as store:
        state = chuck_state(store, card_of(store, ChuckRecord, chuck_id, "chuck"), now())
    if as_json:
        print_json(json.dumps(as_table(state), indent=2, ensure_ascii=False))
    else:
        from heldtrue.terminal.shop import show_chuck

        show_chuck(screen(), state, units)
    raise typer.Exit(DOES_NOT_PASS if state.fallen or (state.grease_due and state.grease_due < now()) else 0)


def _grip(typed: str, system: Literal["metric", "inch"], card: ChuckRecord) -> float:
    """A grip as typed [N]: with its unit, and nothing the chuck could never do."""
    if not any(letter.isalpha() for letter in typed):
        raise InputError(f'--force: found "{typed}"; give its unit, such as "{typed.strip()} kN"')
    grip = typed_quantity("--force", typed, "force", system)
    most = plain(card.data.get("max_grip_force"), None)
    if grip <= 0:
        raise InputError(f'--force: found "{typed}"; a grip is above 0')
    if isinstance(most, str) and grip > MOST_OVER_PLATE * typed_quantity("plate", most, "force", system):
        raise InputError(f'--force: found "{typed}"; the plate of {card.id} promises {most} at the most')
    return grip


def plain(value: Any, otherwise: Any) -> Any:
    """A value of a file without the word where it came from."""
    if value is None:
        return otherwise
    return value["value"] if isinstance(value, dict) and set(value) == {"value", "from"} else value


def _show(store: Store, card: ChuckRecord) -> None:
    from heldtrue.shop.chuck_log import chuck_state
    from heldtrue.terminal.shop import show_chuck

    show_chuck(screen(), chuck_state(store, card, now()), None)
