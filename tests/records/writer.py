"""Writes numbered actions and says which were acknowledged: ``writer.py PLACE FROM TO ACKNOWLEDGED``; to be killed.

Action n is one write of a cut, a move and a new version of one of eight cards, all with n in them.
"""

import dataclasses
import os
import random
import sys

from shop import MANY_MACHINES, MANY_SETS, cut, day, many_cards, move

from heldtrue.records.events import SetCut, SetMove
from heldtrue.records.store import open_store
from heldtrue.records.things import MachineRecord


def act(store, n, dice=random, machines=MANY_MACHINES):
    """Action ``n``."""
    jaw_set, at = dice.choice(MANY_SETS), day(dice.uniform(0, 200))
    machine = store.get(MachineRecord, dice.choice(machines))
    store.write(
        cut(jaw_set, at=at, id=f"cut-{n}", diameter=dice.uniform(20, 300)),
        move("moved", jaw_set, at=at, id=f"move-{n}", place=f"shelf {n}"),
        dataclasses.replace(machine, data={"n": n, "filling": "x" * dice.randrange(2000)}),
        by=f"hand {n}", why=str(n),
    )  # fmt: skip


def fill(place):
    """The cards that the actions are about."""
    with open_store(place) as store:
        store.write(*many_cards(), by="bench")


def there(place):
    """Numbers of the actions that are in the records, and what is not as it must be."""
    with open_store(place) as store:
        wrong = [f"{one.where}: {one.words}" for one in store.check()]
        cuts = {int(row.id.split("-")[1]) for row in store.events(SetCut)}
        moves = {int(row.id.split("-")[1]) for row in store.events(SetMove)}
        versions = [one for card in MANY_MACHINES for one in store.versions(MachineRecord, card)]
    edits = {one.card.data["n"] for one in versions if one.card.data}
    return cuts, wrong + ([] if cuts == moves == edits else ["half an action"])


def main(place, first, last, acknowledged):
    random.seed(int(first))
    ends = os.open(acknowledged, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    with open_store(place) as store:
        for n in range(int(first), int(last)):
            act(store, n)
            os.write(ends, f"{n}\n".encode())


if __name__ == "__main__":
    main(*sys.argv[1:])
