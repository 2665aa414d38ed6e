"""What the shop owns besides chucks and jaw sets: machines, blanks, rings, tools, and the revisions of its parts."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from heldtrue.commands.common import AsJson, print_json, said, screen, typed_quantity
from heldtrue.commands.memory import By, Records, memory, name_of, now
from heldtrue.errors import InputError

stock = typer.Typer(
    help="What the shop owns: machines, jaw blanks, boring rings, tools; and the revisions of its parts.",
    no_args_is_help=True,
)
Place = Annotated[str, typer.Option("--place", help="Where it lies.")]


@stock.command()
def machine(
    id: Annotated[str, typer.Argument(metavar="MACHINE", help="What it is called.")],
    max_speed: Annotated[float | None, typer.Option(help="Highest spindle speed, rev/min.", min=0.0)] = None,
    max_swing: Annotated[str | None, typer.Option(help='Largest diameter it turns, such as "350 mm".')] = None,
    by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Enter a lathe."""
    from heldtrue.records import MachineRecord

    swing = None if max_swing is None else typed_quantity("--max-swing", max_swing, "length", "metric")
    _keep([MachineRecord(id=id, name=id, max_speed_rpm=max_speed, max_swing=swing)], by, records)


@stock.command()
def blank(
    file: Annotated[Path, typer.Argument(help="The jaw file (TOML) of an uncut jaw.")],
    id: Annotated[str, typer.Option("--id", help="What this kind of blank is called.")],
    in_stock: Annotated[int, typer.Option(help="How many complete sets lie there.", min=0)] = 0,
    place_: Place = "", by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Enter a kind of uncut jaws, or how many sets of it are left."""
    from heldtrue.planning.hardware_file import jaws_file
    from heldtrue.shop.stock import blank_card

    _keep([blank_card(*jaws_file(file), id=id, in_stock=in_stock, place=place_)], by, records)


@stock.command()
def rings(
    file: Annotated[Path, typer.Argument(help="The ring file (TOML), with [[ring]] tables.")],
    place_: Place = "", by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Enter the boring rings of a file."""
    from heldtrue.planning.hardware_file import rings_file
    from heldtrue.shop.stock import ring_cards

    found = rings_file(file)
    try:
        cards = ring_cards(found, place=place_)
    except InputError as error:
        raise InputError(f"{file}: {error}") from None
    _keep(cards, by, records)


@stock.command()
def tool(
    file: Annotated[Path, typer.Argument(help="The tool file (TOML).")],
    place_: Place = "", by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Enter a tool that cuts jaws."""
    from heldtrue.planning.hardware_file import tool_file
    from heldtrue.shop.stock import tool_card

    found, table = tool_file(file)
    try:
        card = tool_card(found, table, place=place_)
    except InputError as error:
        raise InputError(f"{file}: {error}") from None
    _keep([card], by, records)


@stock.command()
def revision(
    part: Annotated[str, typer.Argument(metavar="PART", help="Number of the part.")],
    letter: Annotated[str, typer.Argument(metavar="REVISION", help="The new revision.")],
    changes: Annotated[str, typer.Option(help="What it changes.")] = "",
    by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Enter that a new revision of a part's drawing came in, and name the setups that still have another."""
    from heldtrue.records import PartRecord, Revision
    from heldtrue.shop.enter import card_of
    from heldtrue.shop.stock import with_old_revision

    who = name_of(by)
    with memory(records) as store:
        card_of(store, PartRecord, part, "part")
        store.write(Revision(at=now(), by=who, part=part, revision=letter, changes=changes), by=who)
        old = with_old_revision(store, part, letter)
    said(f"{part} is at revision {letter}")
    for one in old:
        said(f"- setup {one.id} still has revision {one.revision or 'none'}: check it before the next run")


@stock.command("list")
def list_stock(as_json: AsJson = False, records: Records = None) -> None:
    """Every machine, blank, ring and tool."""
    from heldtrue.shop.documents import cards_text
    from heldtrue.shop.stock import in_stock
    from heldtrue.terminal.shop import show_stock

    with memory(records, create=False) as store:
        cards = in_stock(store)
    if as_json:
        print_json(cards_text(cards))
        return
    show_stock(screen(), cards)


def _keep(cards: list[Any], by: str | None, records: str | None) -> None:
    """New cards, or new versions of those there are."""
    from heldtrue.shop.stock import over

    who = name_of(by)
    with memory(records) as store:
        store.write(*(over(store, card) for card in cards), by=who)
    said(f"{', '.join(card.id for card in cards)} in the records")
