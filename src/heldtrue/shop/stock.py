"""What the shop owns besides jaw sets: cards of blanks, rings, tools and chucks from their files. Lengths in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TypeVar

from heldtrue.errors import InputError
from heldtrue.planning.entries import Jaws, Ring, Tool
from heldtrue.records import BlankRecord, ChuckRecord, MachineRecord, RingRecord, SetupRecord, Store, ToolRecord
from heldtrue.records.things import Thing
from heldtrue.shop.enter import card_of, known_card
from heldtrue.shop.typed import plain

C = TypeVar("C", bound=Thing)


def blank_card(jaws: Jaws, table: dict[str, Any], *, id: str, in_stock: int, place: str) -> BlankRecord:
    """A kind of uncut jaw."""
    length = None if jaws.ends is None else jaws.ends[1] - jaws.ends[0]
    return BlankRecord(
        id=id, style=jaws.style, material=jaws.material, serration=jaws.serration or "", width=jaws.width,
        length=jaws.length or length, height=jaws.height, in_stock=in_stock, place=place, data=table,
    )  # fmt: skip


def ring_cards(found: Sequence[Ring], *, place: str) -> list[RingRecord]:
    """Boring rings. Raises: ``InputError`` for one without a name."""
    nameless = [number for number, one in enumerate(found, 1) if not one.name]
    if nameless:
        raise InputError(f"ring {nameless[0]} has no name: what has none cannot be found again")
    return [RingRecord(id=one.name, name=one.name, kind=one.kind, outside=one.outside, inside=one.inside,
                       width=one.width, place=place) for one in found]  # fmt: skip


def tool_card(tool: Tool, table: dict[str, Any], *, place: str) -> ToolRecord:
    """A tool that cuts jaws. Raises: ``InputError`` for one without a name."""
    if not tool.name:
        raise InputError("the tool has no name: what has none cannot be found again")
    return ToolRecord(id=tool.name, name=tool.name, nose_radius=tool.nose_radius, place=place, data=table)


def chuck_cards(
    store: Store, number: str, table: dict[str, Any], *, machine: str | None, grease_days: int | None,
) -> tuple[Thing, ...]:  # fmt: skip
    """A chuck from the table of its plate, new or over the card there is, after a machine nobody knew yet."""
    new: list[Thing] = []
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
    return (*new, card)


def in_stock(store: Store) -> list[Thing]:
    """Every machine, blank, ring and tool."""
    kinds: tuple[type[Thing], ...] = (MachineRecord, BlankRecord, RingRecord, ToolRecord)
    return [one for kind in kinds for one in store.all(kind)]


def over(store: Store, card: C) -> C:
    """The card as a new version of the one there is, or as a new card."""
    old = known_card(store, type(card), card.id)
    return card if old is None else replace(card, version=old.version)


def taken(store: Store, blank: str, sets: int) -> BlankRecord:
    """The card of a blank after complete sets were taken, or put back with a minus, not written yet.

    Raises: ``InputError`` where fewer are there.
    """
    card = card_of(store, BlankRecord, blank, "blank")
    if card.in_stock < sets:
        raise InputError(f"blank {blank}: {card.in_stock} there, {sets} cannot be taken")
    return replace(card, in_stock=card.in_stock - sets)


def with_old_revision(store: Store, part: str, letter: str) -> tuple[SetupRecord, ...]:
    """The setups of a part that were made for another revision of its drawing."""
    return tuple(one for one in store.all(SetupRecord) if one.part == part and one.revision != letter)
