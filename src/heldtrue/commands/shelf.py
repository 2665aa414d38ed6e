"""The jaw shelf: find a set, see its history, record what was done with it."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

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
    typed_diameter,
    typed_quantity,
    working,
)
from heldtrue.commands.memory import By, Records, Yes, ask, memory, name_of, now
from heldtrue.commands.start import SetupName

if TYPE_CHECKING:
    from heldtrue.shop.shelf import MoveKind

shelf = typer.Typer(
    help="The jaw shelf: find a set, see its history, record what was done with it.", no_args_is_help=True
)
SetId = Annotated[str, typer.Argument(metavar="SET", help="Number of the jaw set.")]
Remark = Annotated[str, typer.Option(help="Anything to know later.")]


@shelf.command("list")
def list_sets(
    retired: Annotated[bool, typer.Option(help="The retired too.")] = False,
    as_json: AsJson = False, units: InUnits = None, records: Records = None,
) -> None:  # fmt: skip
    """Every jaw set and how it stands."""
    from heldtrue.records import JawSet
    from heldtrue.terminal.shop import show_standings

    with memory(records, create=False) as store:
        stands = [store.standing(card.id) for card in store.all(JawSet, retired=retired)]
    if as_json:
        from heldtrue.shop.documents import text_of

        print_json(text_of(stands))
        return
    show_standings(screen(), stands, units or "metric")


@shelf.command()
def find(
    setup: SetupName,
    any_style: Annotated[bool, typer.Option(help="Jaws of another style too.")] = False,
    any_material: Annotated[bool, typer.Option(help="Jaws of another material too.")] = False,
    as_json: AsJson = False, units: InUnits = None, records: Records = None,
) -> None:  # fmt: skip
    """Which jaws will do for a setup: as they are, skimmed or re-cut, the cheapest first; else which blank to take."""
    from heldtrue.shop.enter import setup_named
    from heldtrue.shop.shelf import wanted_of

    with memory(records, create=False) as store:
        _, found, _ = setup_named(store, setup)
        answer = store.find(wanted_of(found, any_style=any_style, any_material=any_material))
    if as_json:
        from heldtrue.shop.documents import text_of

        print_json(text_of(answer))
    else:
        from heldtrue.terminal.shop import show_found

        show_found(screen(), answer, units or found.units)
    raise typer.Exit(0 if answer.matches or answer.blanks else DOES_NOT_PASS)


@shelf.command()
def search(
    what: Annotated[str, typer.Argument(help='What to search for: "about 82, aluminium, last spring, machine 3".')],
    southern: Annotated[bool, typer.Option(help="Seasons of the southern half of the world.")] = False,
    as_json: AsJson = False, units: InUnits = None, records: Records = None,
) -> None:  # fmt: skip
    """Jaw sets by what somebody remembers of them."""
    from heldtrue.records import remembered

    with memory(records, create=False) as store:
        sought = remembered(what, now(), southern=southern)
        answer = store.search(sought)
    if as_json:
        from heldtrue.shop.documents import text_of

        print_json(text_of(answer))
    else:
        from heldtrue.terminal.shop import show_recalled

        show_recalled(screen(), answer, units or "metric")
    raise typer.Exit(0 if answer else DOES_NOT_PASS)


@shelf.command()
def show(jaw_set: SetId, as_json: AsJson = False, units: InUnits = None, records: Records = None) -> None:
    """One set: how it stands, and everything that happened to it."""
    with memory(records, create=False) as store:
        history = store.history(jaw_set)
    if as_json:
        from heldtrue.shop.documents import text_of

        print_json(text_of(history))
        return
    from heldtrue.terminal.shop import show_history

    show_history(screen(), history, units or "metric")


@shelf.command()
def add(
    jaw_set: SetId,
    style: Annotated[Literal["standard", "wide", "pie"], typer.Option(help="Style of the jaws.")],
    material: Annotated[str, typer.Option(help="What they are made of.")],
    serration: Annotated[str, typer.Option(help="Their teeth, as the setup file names them.")] = "",
    jaws: Annotated[int, typer.Option(help="How many jaws.")] = 3,
    place_: Annotated[str, typer.Option("--place", help="Where it lies.")] = "",
    remark: Remark = "", by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Put a new set on the shelf."""
    from heldtrue.records import SetMove
    from heldtrue.shop.shelf import new_jaw_set

    who = name_of(by)
    with memory(records) as store:
        card = new_jaw_set(jaw_set, style, material, serration=serration, jaws=jaws, remark=remark)
        moves = [SetMove(at=now(), by=who, jaw_set=jaw_set, kind="in", place=place_)] if place_ else []
        store.write(card, *moves, by=who)
    said(f"{jaw_set} is on the shelf")


@shelf.command()
def cut(
    setup: SetupName,
    diameter: Annotated[str | None, typer.Option(help="Diameter measured near the seat; else as planned.")] = None,
    error: Annotated[str | None, typer.Option(help='How far that may be off, "0.005 mm"; 0.01 mm if left out.')] = None,
    depth: Annotated[str | None, typer.Option(help="Depth as measured, jaw fronts to seat.")] = None,
    depth_error: Annotated[str | None, typer.Option(help="How far that may be off; 0.02 mm if left out.")] = None,
    measured: Annotated[str | None, typer.Option(help="Of a re-cut: the diameter touched off before.")] = None,
    remark: Remark = "", by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Record that the jaws of a setup were cut, with the bore as measured: plans and the next cut start from it."""
    from heldtrue.shop.enter import setup_named
    from heldtrue.shop.shelf import Reading, planned_cut, record_cut, with_standing

    who = name_of(by)
    with memory(records) as store:
        _, found, id = setup_named(store, setup)
        found, _ = with_standing(found, store)
        with working("recording") as say:
            say("how the jaws stand")
            touched = None if measured is None else typed_diameter("--measured", measured, found.units)
            plan = planned_cut(found, touched)

        def typed(flag: str, text: str | None) -> float | None:
            return None if text is None else typed_quantity(flag, text, "length", found.units)

        size = None if diameter is None else typed_diameter("--diameter", diameter, found.units)
        kept = record_cut(
            store, plan, who, now(), id=id, diameter=Reading(size, typed("--error", error)),
            depth=Reading(typed("--depth", depth), typed("--depth-error", depth_error)), remark=remark,
        )  # fmt: skip
    stands = kept.standing
    rows = "" if kept.number == stands.cuts_done else f"; {stands.cuts_done} of its cuts are in the records"
    said(f"{stands.jaw_set}: cut {kept.number} recorded{rows}")
    said(f"stamp every jaw with its number and: {kept.stamp}")
    for words in kept.words:
        said(words)


@shelf.command()
def steps(
    jaw_set: SetId,
    found: Annotated[str, typer.Argument(metavar="STEPS", help='What stands in the jaws: "none", or of each step its Ø '
                                         'and its height above the seat, below 0 behind it: "Ø100 25; Ø65.5 -4".')],
    why: Annotated[str, typer.Option(help="How it is known; kept with it.")],
    units: InUnits = None, by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Say which steps the last cut of a set left in its bore, where the record of it does not, or wrongly."""
    from heldtrue.errors import InputError
    from heldtrue.records import SetCut
    from heldtrue.shop.put_right import with_steps
    from heldtrue.shop.typed import typed_steps

    who, read = name_of(by), typed_steps(found, units or "metric")
    with memory(records) as store:
        last = store.standing(jaw_set).last_cut
        if last is None:
            raise InputError(f"no cut of {jaw_set} is recorded")
        row = next(one for one in store.history(jaw_set).rows if isinstance(one, SetCut) and one.id == last)
        store.write(with_steps(row, read, by=who, why=why), by=who)
    said(f"{jaw_set}: {len(read) or 'no'} step{'s' if len(read) > 1 else ''} recorded with its last cut")


@shelf.command()
def out(jaw_set: SetId, holder: Annotated[str, typer.Option(help="Who has it; you if left out.")] = "",
        remark: Remark = "", by: By = None, records: Records = None) -> None:  # fmt: skip
    """Check a set out."""
    _move(jaw_set, "out", by, records, remark=remark, holder=holder)


@shelf.command("in")
def in_(jaw_set: SetId, place_: Annotated[str, typer.Option("--place", help="Where it lies.")] = "",
        missing: Annotated[list[int] | None, typer.Option(help="Number of a jaw that is missing; repeat.")] = None,
        remark: Remark = "", by: By = None, records: Records = None) -> None:  # fmt: skip
    """Check a set back in."""
    _move(jaw_set, "in", by, records, remark=remark, place=place_, missing=tuple(missing or ()))


@shelf.command()
def condition(
    jaw_set: SetId,
    state: Annotated[Literal["good", "skim first", "scrap"], typer.Argument(help="How it is.")],
    remark: Remark = "", by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Say in what condition a set is."""
    _move(jaw_set, "condition", by, records, remark=remark, condition=state)


@shelf.command()
def photo(
    jaw_set: SetId,
    picture: Annotated[Path, typer.Argument(help="A picture of it.", exists=True, dir_okay=False)],
    remark: Remark = "", by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Keep a photo of a set."""
    from heldtrue.records import Photo, SetMove

    who, at = name_of(by), now()
    with memory(records) as store:
        made = Photo.of(picture.read_bytes(), at=at, by=who, name=picture.name)
        store.write(
            made, SetMove(at=at, by=who, jaw_set=jaw_set, kind="condition", photo=made.id, remark=remark), by=who
        )
    said(f"{jaw_set}: photo kept")


@shelf.command()
def retire(jaw_set: SetId, yes: Yes = False, by: By = None, records: Records = None) -> None:
    """Take a set off the shelf for good; its history stays."""
    from dataclasses import replace

    from heldtrue.records import JawSet
    from heldtrue.shop.enter import card_of

    who = name_of(by)
    with memory(records) as store:
        card = card_of(store, JawSet, jaw_set, "jaw set")
        ask(f"Retire {jaw_set}?", yes)
        store.write(replace(card, retired=True), by=who, why="retired")
    said(f"{jaw_set} is retired")


def _move(jaw_set: str, kind: MoveKind, by: str | None, records: str | None, **more: Any) -> None:
    from heldtrue.shop.shelf import move_of

    who = name_of(by)
    with memory(records) as store:
        store.write(move_of(store, jaw_set, kind, by=who, now=now(), **more), by=who)
        stands = store.standing(jaw_set)
    where = f"out, {stands.holder}" if stands.holder else "in"
    said(f"{jaw_set}: " + ", ".join(filter(None, [where, stands.place, stands.condition])))
