"""Several threads of one process that all want the same cards: ``crowd.py PLACE NAME THREADS ACTIONS``.

Every action counts one up on a card somebody else may have in hand, and adds a cut to the history of one set.
"""

import dataclasses
import random
import sys
import threading

from shop import MANY_MACHINES, MANY_SETS, cut, day

from heldtrue.records.errors import ConflictError
from heldtrue.records.store import open_store
from heldtrue.records.things import MachineRecord


def count_one_up(store, who, n):
    while True:
        card = store.get(MachineRecord, random.choice(MANY_MACHINES))
        more = dataclasses.replace(card, data={"count": card.data.get("count", 0) + 1})
        row = cut(random.choice(MANY_SETS), at=day(n / 24), id=f"{who}-{n}")
        try:
            store.write(more, row, by=who)
        except ConflictError:
            continue
        return


def main(place, name, threads, actions):
    failures = []

    def work(who):
        try:
            for n in range(int(actions)):
                count_one_up(store, who, n)
        except BaseException as error:
            failures.append(error)
            raise

    with open_store(place) as store:
        crowd = [threading.Thread(target=work, args=(f"{name}.{n}",)) for n in range(int(threads))]
        for one in crowd:
            one.start()
        for one in crowd:
            one.join()
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main(*sys.argv[1:])
