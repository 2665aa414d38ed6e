"""The gate before every start, and a setup on another machine."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from heldtrue.commands.common import DOES_NOT_PASS, AsJson, print_json, screen, typed_gauge, working
from heldtrue.commands.memory import By, Records, memory, name_of, now, remembered
from heldtrue.errors import InputError

if TYPE_CHECKING:
    from heldtrue.planning.setup import Setup

SetupName = Annotated[
    str, typer.Argument(metavar="SETUP", help="A setup file (TOML), or the id of a setup in the records.")
]


def start(
    setup: SetupName,
    gauge: Annotated[
        str,
        typer.Option(help='What the gauge shows, such as "170 psi"; a bare number is in its unit.'),
    ],
    by: By = None,
    step: Annotated[
        str | None,
        typer.Option(help="Which pressure step, where there are two: rough or finish; else the first."),
    ] = None,
    override: Annotated[str, typer.Option(help="Start although it must not: the reason, kept with your name.")] = "",
    as_json: AsJson = False,
    records: Records = None,
) -> None:
    """May the spindle start with what the gauge shows? Recorded with name and time."""
    from heldtrue.planning.window import gauge_unit_of
    from heldtrue.shop.enter import setup_named

    who = name_of(by)
    with memory(records) as store:
        _, found, id = setup_named(store, setup)
        pressure = typed_gauge("--gauge", gauge, gauge_unit_of(found), found.chuck.plate_pressure)
        with working("gate") as say:
            from heldtrue.shop.gate import start as decide

            say("part, jaws and grip at that pressure")
            made = decide(store, found, id, pressure, typed=gauge, by=who, now=now(), step=step, override=override)
    if as_json:
        from heldtrue.shop.documents import start_text

        print_json(start_text(made))
    else:
        from heldtrue.terminal.shop import show_start

        show_start(screen(), made)
    raise typer.Exit(0 if made.goes else DOES_NOT_PASS)


def move(
    setup: SetupName,
    chuck: Annotated[str, typer.Option(help="The other chuck: its file (TOML), or its id in the records.")],
    machine: Annotated[str | None, typer.Option(help="Name of the other machine.")] = None,
    max_speed: Annotated[float | None, typer.Option(help="Its highest spindle speed, rev/min.")] = None,
    as_json: AsJson = False,
    records: Records = None,
) -> None:
    """The same setup on another machine: same draw force, pressure on that gauge, every difference that matters."""
    found, table = _setup(setup, records), _chuck(chuck, records)
    there = None
    if machine is not None or max_speed is not None:
        there = {"name": machine or "", **({"max_speed": max_speed} if max_speed is not None else {})}
    with working("moving") as say:
        from heldtrue.shop.moving import move as make_move

        say("planning it on both")
        made = make_move(found, table, there, known=lambda setup: remembered(setup, records, silent=True))
    if as_json:
        from heldtrue.shop.documents import moved_text

        print_json(moved_text(made))
    else:
        from heldtrue.terminal.shop import show_moved

        show_moved(screen(), found, made)
    passes = not made.blocked and made.plan is not None and made.plan.verdict == "passes"
    raise typer.Exit(0 if passes else DOES_NOT_PASS)


def _setup(what: str, records: str | None) -> Setup:
    """A setup from its file, or from the records by its id."""
    from heldtrue.planning.setup import Setup
    from heldtrue.shop.enter import setup_named

    if Path(what).suffix == ".toml":
        return Setup.from_toml(what)
    with memory(records, create=False) as store:
        return setup_named(store, what)[1]


def _chuck(what: str, records: str | None) -> dict[str, object]:
    """The table of a chuck from its file, or from its card."""
    from heldtrue.planning.hardware_file import chuck_table
    from heldtrue.records import ChuckRecord
    from heldtrue.shop.chuck_card import plate_table
    from heldtrue.shop.enter import card_of

    if Path(what).suffix == ".toml":
        return chuck_table(what)
    with memory(records, create=False) as store:
        table = plate_table(card_of(store, ChuckRecord, what, "chuck"))
    if not table:
        raise InputError(f"the card of chuck {what} has no plate: give its file instead")
    return table
