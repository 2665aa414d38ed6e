"""Writes numbered actions and says which were acknowledged: ``writer.py PLACE FROM TO ACKNOWLEDGED``; to be killed.

Action n is one write of a cut, a move and a new version of one of eight cards, all with n in them.
"""

import dataclasses
import os
import random
import sys

from shop import MANY_MACHINES, MANY_SETS, cut, day, move

from heldtrue.records.store import open_store
from heldtrue.records.things import MachineRecord


def main(place, first, last, acknowledged):
    random.seed(int(first))
    ends = os.open(acknowledged, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    with open_store(place) as store:
        for n in range(int(first), int(last)):
            jaw_set, at = random.choice(MANY_SETS), day(random.uniform(0, 200))
            machine = store.get(MachineRecord, random.choice(MANY_MACHINES))
            store.write(
                cut(jaw_set, at=at, id=f"cut-{n}", diameter=random.uniform(20, 300)),
                move("moved", jaw_set, at=at, id=f"move-{n}", place=f"shelf {n}"),
                dataclasses.replace(machine, data={"n": n, "filling": "x" * random.randrange(2000)}),
                by=f"hand {n}", why=str(n),
            )  # fmt: skip
            os.write(ends, f"{n}\n".encode())


if __name__ == "__main__":
    main(*sys.argv[1:])
