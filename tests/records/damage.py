"""Bytes of a records file changed by a failing disk, and what of it is seen: ``damaged`` does it, ``seen`` looks.

What counts is what is read back: a byte that nobody reads may change.  So a damaged file is sound only where every row
still comes back as it was.
"""

import random
import shutil
from collections import Counter

from heldtrue.errors import HeldtrueError
from heldtrue.records.database import FILE_NAME
from heldtrue.records.store import open_store


def everything(place):
    """Every row as it reads, and how every set stands."""
    from sqlalchemy import select

    from heldtrue.records.seals import sealed_tables

    with open_store(place) as store:
        return store.database.read(
            lambda c: {table.name: [tuple(row) for row in c.execute(select(table).order_by(*table.primary_key))]
                       for table in sealed_tables()}
        )  # fmt: skip


def damaged(content, dice):
    """Some bytes changed: one bit, one byte, a few in a row, or a sector lost."""
    content = bytearray(content)
    at = dice.randrange(len(content))
    how = dice.choice(("bit", "byte", "some", "sector"))
    if how == "bit":
        content[at] ^= 1 << dice.randrange(8)
    elif how == "byte":
        content[at] = dice.randrange(256)
    elif how == "some":
        for n in range(at, min(at + 16, len(content))):
            content[n] = dice.randrange(256)
    else:
        at -= at % 512
        content[at : at + 512] = bytes(512)
    return bytes(content), f"{how} at {at}"


def campaign(folder, scratch, count, seed=1):
    """Damage the file of a folder ``count`` times: how often it was found, by what, and what was missed in words."""
    dice = random.Random(seed)
    whole, right = (folder / FILE_NAME).read_bytes(), everything(folder)
    found, missed = Counter(), []
    for _ in range(count):
        content, how = damaged(whole, dice)
        if content == whole:
            found["not changed"] += 1
            continue
        shutil.rmtree(scratch, ignore_errors=True)
        scratch.mkdir()
        (scratch / FILE_NAME).write_bytes(content)
        try:
            try:
                with open_store(scratch, create=False) as store:
                    findings = store.check()
            except HeldtrueError:
                found["found on opening"] += 1
                continue
            if findings:
                found["found by the check"] += 1
                continue
            same = everything(scratch) == right
        except Exception as error:  # noqa: BLE001  a traceback is what is looked for
            missed.append(f"{how}: {type(error).__name__}: {error}")
            continue
        found["nothing read differently" if same else "missed"] += 1
        if not same:
            missed.append(f"{how}: reads differently and is called sound")
    return {"damaged": count, **found, "wrong": missed}


def filled(folder):
    """A folder with a shop of some hundred rows in one file of a few hundred kilobytes."""
    from shop import cards, cut, day, move

    from heldtrue.records.events import Photo
    from heldtrue.records.safekeeping import backup

    with open_store(folder / "made") as store:
        store.write(*cards(), by="Noor")
        for n in range(60):
            store.write(cut(at=day(n)), move("moved", at=day(n), place=f"shelf {n}"), by="Noor", why="x" * n)
        store.write(Photo.of(bytes(range(256)) * 150, at=day(1), by="Noor"), by="Noor")
        copy = backup(store, folder / "copies")
    shop = folder / "shop"
    shop.mkdir()
    copy.rename(shop / FILE_NAME)
    return shop
