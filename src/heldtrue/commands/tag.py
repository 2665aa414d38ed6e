"""Labels for jaw sets."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from heldtrue.commands.common import InUnits, check_file, said, write
from heldtrue.commands.memory import By, Records, memory, name_of, now
from heldtrue.errors import InputError

tag = typer.Typer(help="Labels for jaw sets, with a code to scan.", no_args_is_help=True)
Size = Annotated[str, typer.Option(help="Width x height of a label in mm.")]
Pdf = Annotated[Path, typer.Option("--pdf", help="Write the labels to this PDF file, a page each.")]


@tag.command("print")
def print_(
    jaw_set: Annotated[str, typer.Argument(metavar="SET", help="Number of the jaw set.")],
    pdf: Pdf, size: Size = "50x25", units: InUnits = None, records: Records = None,
) -> None:  # fmt: skip
    """A label for the set and one for each jaw."""
    from heldtrue.records import JawSet
    from heldtrue.sheets.jaw_tag import jaw_tags
    from heldtrue.shop.enter import card_of
    from heldtrue.shop.shelf import limits_of, part_of

    wanted = _size(size)
    check_file(pdf)
    with memory(records, create=False) as store:
        card_of(store, JawSet, jaw_set, "jaw set")
        stands = store.standing(jaw_set)
        pressure, gauge, speed = limits_of(store, jaw_set)
        part = part_of(store, jaw_set)
    made = jaw_tags(stands, units or "metric", wanted, pressure=pressure, gauge=gauge, speed_rpm=speed, part=part)
    write({pdf: made})


@tag.command()
def blank(
    pdf: Pdf,
    count: Annotated[int, typer.Option(help="How many.", min=1, max=500)] = 12,
    size: Size = "50x25", by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Labels with numbers alone, to stick on first and link to a set later."""
    from heldtrue.sheets.jaw_tag import blank_tags
    from heldtrue.shop.tags import new_labels

    who, wanted = name_of(by), _size(size)
    check_file(pdf)
    with memory(records) as store:
        cards = new_labels(store, count, now())
        ids = [card.id for card in cards]
        made = blank_tags(ids, wanted)
        store.write(*cards, by=who)
    write({pdf: made})
    said(f"{ids[0]} to {ids[-1]}; heldtrue tag link TAG SET once one is stuck on")


@tag.command()
def link(
    tag_id: Annotated[str, typer.Argument(metavar="TAG", help="Number on the label.")],
    jaw_set: Annotated[str, typer.Argument(metavar="SET", help="Number of the jaw set it is stuck on.")],
    by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Say on which set a pre-printed label is stuck."""
    from heldtrue.shop.tags import stuck_on

    who = name_of(by)
    with memory(records) as store:
        store.write(stuck_on(store, tag_id, jaw_set), by=who)
    said(f"{tag_id} is on {jaw_set}")


def _size(text: str) -> tuple[float, float]:
    from heldtrue.shop.typed import typed_size

    try:
        return typed_size(text)
    except InputError as error:
        raise InputError(f"--size: {error}") from None
