"""What stands on the card of a chuck: its plate, and apart from it what readings have taught."""

from __future__ import annotations

from heldtrue.planning.entries import Chuck
from heldtrue.planning.hardware_file import chuck_from
from heldtrue.records import ChuckRecord

LEARNED = "learned"
"""Where the rows of what was learned stand on a card: they are no plate."""
OF_ITS_DAY = ("grease", "serviced", "grip_readings")
"""What a setup file said of a chuck on the day it was entered: no plate either, and not true of another day or job."""


def plate_table(card: ChuckRecord) -> dict[str, object]:
    """The plate in the shape of a chuck file, as any setup can take it in; empty where the card has none.

    With the number of the card, so that the log of the chuck is asked.
    """
    plate = {key: value for key, value in card.data.items() if key != LEARNED and key not in OF_ITS_DAY}
    return {**plate, "number": card.id} if plate else {}


def chuck_on_card(card: ChuckRecord) -> Chuck | None:
    """The chuck of the card [core units]; None without a plate. Raises: ``InputError`` for one nobody can read."""
    table = plate_table(card)
    return chuck_from({"units": "metric", **table}, f"card of chuck {card.id}")[0] if table else None
