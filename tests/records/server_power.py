"""The power of a PostgreSQL server with our records, cut: its disk rebuilt as a cut may leave it, and started again.

The server runs over the rig of ``rig.py`` in all its processes while writers enter numbered actions and say which were
acknowledged.  A cut takes any moment of what the disk was told: what was synced stays, of the rest each write is there,
is not, or is torn at sectors, and each change of a folder that was not synced is there up to a moment of its own.
PostgreSQL has to bring itself back from that; then every acknowledged action must be there, none half, seals and chain
sound.  One cut in four is cut again while the server brings itself back.
"""

import random
import shutil
import threading
from contextlib import suppress

import psycopg
import rig
from cluster import Cluster
from shop import MANY_MACHINES
from writer import act, fill, there

from heldtrue.errors import HeldtrueError
from heldtrue.records.store import open_store

WRITERS = 2
DATABASE = "shop"
BUSY_DISK = ("shared_buffers=1MB", "max_wal_size=2MB", "min_wal_size=2MB", "checkpoint_completion_target=0.1")
"""Little memory and small logs: pages are written and written over again all the time, and checkpoints come often."""
SMALL = ("--wal-segsize=1", "--data-checksums")


def why_not():
    """Why it cannot be done here; empty if it can."""
    import cluster

    return rig.why_not() or cluster.why_not()


class Watched:
    """A server whose calls to the disk are written down."""

    def __init__(self, settings=()):
        self.server = Cluster(initdb=SMALL, options=(*BUSY_DISK, *settings))
        self.log = self.server.folder / "calls"

    def watch(self, work):
        """What the disk was told from the start of the server to when it was killed after ``work``, in order."""
        server = self.server
        self.log.unlink(missing_ok=True)
        self.log.touch()
        self.log.chmod(0o666)
        server.environment = {"LD_PRELOAD": str(rig.built()), "RIG_WATCH": str(server.data), "RIG_LOG": str(self.log)}
        try:
            work()
            if server.process.poll() is None:
                server.kill()
        finally:
            server.environment = {}
        with self.log.open("rb") as file:
            entries = rig.read_log(file)
        start = len(str(server.data)) + 1
        return [(what, path if what == "A" else path[start:], other[start:], at, data)
                for what, path, other, at, data in entries]  # fmt: skip

    def acknowledge(self, n):
        """Write down that somebody was told."""
        words = str(n).encode()
        with self.log.open("ab", buffering=0) as file:
            file.write(rig.HEAD.pack(b"A", len(words), 0, 0, 0, 0) + words)

    def put_back(self, disk):
        """The server's folder as a cut leaves it."""
        data = self.server.data
        shutil.rmtree(data)
        disk.cut(data)
        (data / "postmaster.pid").unlink(missing_ok=True)  # its number may be somebody else's now, as after a restart
        data.chmod(0o700)
        if self.server.user:
            for path in (data, *data.rglob("*")):
                shutil.chown(path, self.server.user)

    def url(self):
        return self.server.url(DATABASE)


def busy(watched, actions, seed):
    """Writers at once, and somebody who tidies up and makes checkpoints."""
    watched.server.start()
    ends, told = threading.Event(), []

    def write(first):
        dice = random.Random(f"{seed} {first}")
        with open_store(watched.url()) as store:
            for n in range(first, actions, WRITERS):
                act(store, n, dice, MANY_MACHINES[first::WRITERS])
                watched.acknowledge(n)

    def tidy():
        dice = random.Random(seed)
        with psycopg.connect(watched.url(), autocommit=True) as connection:
            while not ends.wait(dice.uniform(0, 0.3)):
                connection.execute(dice.choice(("CHECKPOINT", "VACUUM FREEZE", "ANALYZE")))

    def each(work, *given):
        try:
            work(*given)
        except Exception as error:  # noqa: BLE001  told by the thread that started it
            told.append(error)

    threads = [threading.Thread(target=each, args=(write, n)) for n in range(WRITERS)]
    tidier = threading.Thread(target=each, args=(tidy,))
    for thread in (*threads, tidier):
        thread.start()
    for thread in threads:
        thread.join()
    ends.set()
    tidier.join()
    if told:
        raise told[0]


def campaign(cuts, seed=1, actions=120, settings=()):
    """Cut the power ``cuts`` times in one busy stretch; ``settings`` of the server beside its own."""
    found = {"cuts": 0, "twice": 0, "acknowledged": 0, "calls": 0, "wrong": []}
    dice, watched = random.Random(seed), Watched(settings)
    server = watched.server
    try:
        server.sql(f"CREATE DATABASE {DATABASE}")
        fill(watched.url())
        server.shut()
        origin = server.folder / "origin"
        shutil.copytree(server.data, origin)
        entries = watched.watch(lambda: busy(watched, actions, seed))
        found["calls"] = len(entries)
        first = next(n for n, one in enumerate(entries) if one[0] == "A")
        disk, told, done = rig.Disk(origin, dice), set(), 0
        for at in sorted(dice.randint(first, len(entries)) for _ in range(cuts)):
            for what, path, other, place, data in entries[done:at]:
                if what == "A":
                    told.add(int(path))
                else:
                    disk.take(what, path, other, place, data)
            done = at
            watched.put_back(disk)
            twice = dice.random() < 0.25
            if twice:
                cut_again(watched, dice)
            found["cuts"] += 1
            found["twice"] += twice
            found["acknowledged"] += len(told)
            found["wrong"] += [f"cut after call {at} of {len(entries)}{', and again' if twice else ''}: {one}"
                               for one in started_again(watched, told)]  # fmt: skip
    finally:
        server.stop()
    return found


def cut_again(watched, dice):
    """The power cut once more, while the server brings itself back."""
    before = watched.server.folder / "before"
    shutil.rmtree(before, ignore_errors=True)
    shutil.copytree(watched.server.data, before)

    def tries():
        with suppress(AssertionError):  # whether it comes back is asked once it is left alone
            watched.server.start()

    entries = watched.watch(tries)
    disk = rig.Disk(before, dice)
    for entry in entries[: dice.randint(0, len(entries))]:
        disk.take(*entry)
    watched.put_back(disk)


def started_again(watched, told):
    """What is wrong with the records after the server brought itself back."""
    server = watched.server
    try:
        server.start()
        kept, wrong = there(watched.url())
        wrong += [f"acknowledged and lost: {n}" for n in sorted(told - kept)]
        with open_store(watched.url()) as store:
            act(store, 10**6)
    except (AssertionError, HeldtrueError) as error:
        wrong = [f"it does not come back: {str(error)[-400:]}"]
    finally:
        if server.process.poll() is None:
            server.kill()
    return wrong
