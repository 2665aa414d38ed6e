"""The job of a setup on the other chucks of the shop: how else could it be held with what is there."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from heldtrue.errors import HeldtrueError
from heldtrue.planning.inputs import prepare
from heldtrue.planning.setup import Setup
from heldtrue.planning.way_space import not_of_chuck, not_of_set
from heldtrue.records import ChuckRecord, MachineRecord, Store
from heldtrue.shop.chuck_card import chuck_on_card, plate_table
from heldtrue.shop.enter import known_card
from heldtrue.shop.from_records import with_records
from heldtrue.shop.identity import look_of

MOST_KINDS = 4
"""Kinds of chucks that are looked at besides the stated one: each is a whole search of its own."""
NOT_LOOKED_AT = f"not looked at: {MOST_KINDS} kinds of chucks are, those of this machine first, then what grips most"
OF_ITS_BLANK = ("serration", "ends", "holes", "bolt", "bolt_class", "counterbore_diameter", "counterbore_depth",
                "web_limit")  # fmt: skip
"""What is stated of a blank and is not true of one with other teeth."""


def on_other_chucks(setup: Setup, store: Store, now: datetime) -> dict[str, Setup | str]:
    """The job on every other kind of chuck that the shop has in use, by number, with all that the records know of it.

    ``setup``: as its file has it, without what the records know of its own chuck: that is not true of others.
    Of chucks with the same plate on the same machine the one that surely grips most today; kinds of the job's own
    machine first, then those that grip most, ``MOST_KINDS`` at the most.  No jaw set is named in them, and no pressure
    is stated.  In words why, of a chuck that cannot take the job, or is not looked at.
    """
    best: dict[tuple[str, ...], tuple[float, str, Setup]] = {}
    refused: dict[str, Setup | str] = {}
    for card in _in_use(setup, store):
        try:
            there = with_records(_on(card, setup, store), store, now)[0]
            grip = _sure_grip(there)
        except HeldtrueError as error:
            refused[card.id] = str(error)
            continue
        kind = _kind(there)
        if kind not in best or grip > best[kind][0]:
            best[kind] = (grip, card.id, there)
    ranked = sorted(best.values(), key=lambda one: (_machine(one[2]) != _machine(setup), -one[0], one[1]))
    found: dict[str, Setup | str] = {number: there for _, number, there in ranked[:MOST_KINDS]}
    return found | {number: NOT_LOOKED_AT for _, number, _ in ranked[MOST_KINDS:]} | refused


def _in_use(setup: Setup, store: Store) -> Iterator[ChuckRecord]:
    """Every chuck of the shop with a plate, but for the stated one."""
    stated = look_of(setup.chuck.number)
    for card in store.all(ChuckRecord):
        if not card.retired and plate_table(card) and look_of(card.id) != stated:
            yield card


def _on(card: ChuckRecord, setup: Setup, store: Store) -> Setup:
    """The job on a chuck, as far as its card goes. Raises: ``InputError``."""
    gone = {**not_of_set(setup), **not_of_chuck(setup)}
    plate = chuck_on_card(card)
    teeth = plate.master_jaws.serration if plate is not None and plate.master_jaws is not None else None
    if teeth != setup.jaws.serration:
        gone |= dict.fromkeys(f"jaws.{name}" for name in OF_ITS_BLANK)
    if setup.stated_pressure is not None:
        gone["run.pressure"] = None
    table: dict[str, Any] = setup.with_(gone).to_dict()
    table["chuck"] = plate_table(card)
    if card.machine and card.machine != _machine(setup):
        table["machine"] = _machine_table(known_card(store, MachineRecord, card.machine), card.machine)
    return Setup.from_dict(table)


def _machine_table(card: MachineRecord | None, name: str) -> dict[str, object]:
    """What is known of another machine, in the shape of the setup file."""
    most, swing = (card.max_speed_rpm, card.max_swing) if card is not None else (None, None)
    known = {"max_speed": most, "max_swing": None if swing is None else f"{swing} mm"}
    return {"name": name, **{key: value for key, value in known.items() if value is not None}}


def _machine(setup: Setup) -> str:
    return setup.machine.name if setup.machine else ""


def _kind(setup: Setup) -> tuple[str, ...]:
    """What makes two chucks one kind: plates, master jaws and machine; not their numbers, state and readings."""
    own = {"name", "number", "grease", "serviced", "grip_readings"}
    return repr(setup.chuck.model_dump(exclude=own)), _machine(setup)


def _sure_grip(setup: Setup) -> float:
    """The least that a chuck gives today at the highest pressure of its plates; nothing where that is not known. [N]

    Raises: ``InputError`` for a job that it cannot take.
    """
    job, pressure = prepare(setup), setup.chuck.plate_pressure
    if pressure is None:
        return 0.0
    return job.static_grip(job.at_pressure(job.known.worst(), pressure, least=True), pressure)
