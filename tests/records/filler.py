"""Writes pictures until there is no room, and says what it was told: ``filler.py PLACE limit|disk``.

``limit``: no file of this process may grow over 600,000 bytes, which needs no right to mount a small disk.
"""

import os
import resource
import sys

from shop import cut, day

from heldtrue.records.errors import RecordsError
from heldtrue.records.events import Photo
from heldtrue.records.store import open_store

LIMIT = 600_000


def main(place, how):
    done = 0
    with open_store(place) as store:
        if how == "limit":
            resource.setrlimit(resource.RLIMIT_FSIZE, (LIMIT, LIMIT))
        try:
            for n in range(400):
                picture = Photo.of(os.urandom(40_000), at=day(n / 24), by="Noor")
                store.write(picture, cut(at=day(n / 24), id=f"cut-{n}"), by="Noor")
                done += 1
        except RecordsError as error:
            sys.stdout.write(f"{error}\n{done}\n")
        else:
            sys.stdout.write(f"never full\n{done}\n")
        assert len(store.events(Photo)) == done  # what was written can still be read


if __name__ == "__main__":
    main(*sys.argv[1:])
