"""What may happen to a shop's computer: killed, unplugged, full, not writable, crowded. On both databases."""

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from sqlalchemy.exc import OperationalError

from heldtrue.records.database import FILE_NAME
from heldtrue.records.errors import RecordsError
from heldtrue.records.events import Photo, SetCut, SetMove
from heldtrue.records.safekeeping import backup, restore
from heldtrue.records.store import open_store
from heldtrue.records.things import MachineRecord, Tag

from .shop import MANY_MACHINES, MANY_SETS, cut, day, many_cards

HERE = Path(__file__).parent
ACTIONS = 200

ON_BOTH = pytest.mark.parametrize(
    "place", ["sqlite", pytest.param("postgresql", marks=pytest.mark.long)], indirect=True
)
"""What is tried on a database on a server too, in the long run: each of these takes seconds."""


def filled(place):
    with open_store(place) as store:
        store.write(*many_cards(), by="Noor")
    return place


class Writer:
    """The program that writes, in a process of its own."""

    def __init__(self, place, first, acknowledged):
        self.acknowledged = acknowledged
        self.process = subprocess.Popen(
            [sys.executable, str(HERE / "writer.py"), str(place), str(first), str(ACTIONS), str(acknowledged)],
            stderr=subprocess.PIPE,
        )  # fmt: skip

    def done(self):
        """The actions it was told are written."""
        if not self.acknowledged.exists():
            return set()
        return {int(line) for line in self.acknowledged.read_text().splitlines()}

    def wait_for(self, count):
        end = time.monotonic() + 60
        while len(self.done()) < count and self.process.poll() is None:
            assert time.monotonic() < end, "the writer does not get on"
            time.sleep(0.002)

    def finish(self):
        _, words = self.process.communicate(timeout=60)
        assert self.process.returncode == 0, words.decode()

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.communicate()


def written(place, acknowledged):
    """Numbers of the actions that are there; none is half, none that was acknowledged is missing, all is sound."""
    with open_store(place) as store:
        assert store.check() == ()
        cuts = {int(row.id.split("-")[1]) for row in store.events(SetCut)}
        moves = {int(row.id.split("-")[1]) for row in store.events(SetMove)}
        versions = [version for card in MANY_MACHINES for version in store.versions(MachineRecord, card)]
    edits = {version.card.data["n"] for version in versions if version.card.data}
    assert cuts == moves == edits
    assert acknowledged <= cuts
    return cuts


@ON_BOTH
def test_killed_in_the_middle_of_two_hundred_writes(place, tmp_path):
    filled(place)
    acknowledged, first = tmp_path / "acknowledged", 0
    random.seed(3)
    for kill_after in (30, 120):
        writer = Writer(place, first, acknowledged)
        writer.wait_for(kill_after)
        time.sleep(random.uniform(0, 0.01))
        writer.kill()
        first = max(written(place, writer.done())) + 1
        assert kill_after <= first < ACTIONS
    writer = Writer(place, first, acknowledged)
    writer.finish()
    assert written(place, writer.done()) == set(range(ACTIONS))


@pytest.mark.long
def test_the_server_killed_in_the_middle(cluster, postgres_place, tmp_path):
    """Every process of it at once; the writer waits until it is back, and goes on as if nothing had been."""
    filled(postgres_place)
    writer = Writer(postgres_place, 0, tmp_path / "acknowledged")
    writer.wait_for(60)
    cluster.kill()
    told = writer.done()
    cluster.start()
    writer.finish()
    assert 60 <= len(told) < ACTIONS
    assert written(postgres_place, writer.done()) == set(range(ACTIONS))


def stopped(process):
    """Stop a process where it is, as a camera would: no write is going on."""
    process.send_signal(signal.SIGSTOP)
    stat = Path(f"/proc/{process.pid}/stat")
    # On a busy machine it may have come to its end before: then no write is going on either.
    while process.poll() is None and stat.read_text().rsplit(")", 1)[1].split()[0] not in "TZ":
        time.sleep(0.0005)


@pytest.mark.long
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="tells by /proc when a process has stopped")
def test_the_plug_is_pulled_at_random_moments(folder, tmp_path):
    """The files as they are at one moment, without the shared memory beside them, opened elsewhere."""
    filled(folder)
    writer, random_ = Writer(folder, 0, tmp_path / "acknowledged"), random.Random(7)
    counts = []
    for n in range(4):
        writer.wait_for(10 + n * 40)
        time.sleep(random_.uniform(0, 0.01))
        stopped(writer.process)
        told, copy, torn = writer.done(), tmp_path / f"copy{n}", tmp_path / f"torn{n}"
        for target in (copy, torn):
            target.mkdir()
            for end in ("", "-wal"):
                shutil.copy(folder / (FILE_NAME + end), target / (FILE_NAME + end))
        writer.process.send_signal(signal.SIGCONT)
        counts.append(len(written(copy, told)))
        with (torn / (FILE_NAME + "-wal")).open("r+b") as wal:  # the last blocks never got to the disk
            wal.truncate(random_.randrange(wal.seek(0, os.SEEK_END)))
        assert written(torn, set()) <= set(range(ACTIONS))
    writer.finish()
    assert counts == sorted(counts)
    assert counts[0] >= 10


@pytest.mark.long
@ON_BOTH
def test_a_back_up_while_somebody_writes(place, tmp_path, request):
    filled(place)
    writer = Writer(place, 0, tmp_path / "acknowledged")
    with open_store(place) as store:
        for n in range(2):
            writer.wait_for(20 + 60 * n)
            told = writer.done()
            copy = backup(store, tmp_path / "safe")
            restore(copy, tmp_path / f"back{n}")
            there = written(tmp_path / f"back{n}", told)
            assert there == set(range(len(there)))
    writer.finish()
    assert written(place, writer.done()) == set(range(ACTIONS))


@pytest.mark.long
@ON_BOTH
def test_twenty_writers_at_once(place):
    filled(place)
    processes, threads, actions = 2, 10, 8
    crowd = [
        subprocess.Popen(
            [sys.executable, str(HERE / "crowd.py"), str(place), f"p{n}", str(threads), str(actions)],
            stderr=subprocess.PIPE,
        )
        for n in range(processes)
    ]
    said = [one.communicate(timeout=120)[1].decode() for one in crowd]
    assert [one.returncode for one in crowd] == [0] * processes, said
    assert not any("locked" in words or "deadlock" in words for words in said)
    with open_store(place) as store:
        assert sum(store.get(MachineRecord, card).data.get("count", 0) for card in MANY_MACHINES) == 20 * actions
        assert len(store.events(SetCut)) == 20 * actions
        assert sum(store.standing(jaw_set).cuts_done for jaw_set in MANY_SETS) == 20 * actions
        assert store.check() == ()


def test_a_writer_that_does_not_end_is_waited_for_and_then_named(folder):
    filled(folder)
    blocker = sqlite3.connect(folder / FILE_NAME, isolation_level=None)
    blocker.execute("BEGIN IMMEDIATE")
    with open_store(folder, patience=0.2) as store:
        assert len(store.all(MachineRecord)) == 10  # readers do not wait
        with pytest.raises(RecordsError, match="another program is writing") as caught:
            store.write(cut(), by="Noor")
        assert "locked" not in str(caught.value)
        blocker.execute("ROLLBACK")
        blocker.close()
        store.write(cut(), by="Noor")
        assert store.standing("S-12").diameter == 82.0


def test_a_server_writer_that_does_not_end_is_waited_for_and_then_named(postgres_place):
    from heldtrue.records.database import LOCK_KEY

    filled(postgres_place)
    with open_store(postgres_place, patience=1.0) as store, store.database.engine.connect() as blocker:
        blocker.exec_driver_sql(f"SELECT pg_advisory_lock({LOCK_KEY})")
        assert len(store.all(MachineRecord)) == 10
        with pytest.raises(RecordsError, match="another program is writing"):
            store.write(cut(), by="Noor")
        blocker.exec_driver_sql(f"SELECT pg_advisory_unlock({LOCK_KEY})")
        store.write(cut(), by="Noor")
        assert store.standing("S-12").diameter == 82.0


def test_what_keeps_the_last_transaction_when_the_power_goes(folder, postgres_place):
    """Asked of the connections themselves: no test here can pull the plug of a disk."""
    with open_store(folder) as store, store.database.engine.connect() as connection:
        asked = ("synchronous", "journal_mode", "foreign_keys")
        assert [connection.exec_driver_sql(f"PRAGMA {one}").scalar() for one in asked] == [2, "wal", 1]
    with open_store(postgres_place) as store, store.database.engine.connect() as connection:
        assert connection.exec_driver_sql("SHOW synchronous_commit").scalar() == "on"


def test_a_copy_that_breaks_off_is_not_taken_up_half_way(place, tmp_path):
    """The rows that went by are gone: a second try would write the rest alone."""
    filled(tmp_path / "from")
    tried = []

    def breaks_off(rows):
        for n, row in enumerate(rows):
            if n == 20:
                tried.append(n)
                cause = sqlite3.OperationalError("the connection is lost")
                cause.sqlite_errorname = "SQLITE_BUSY"
                raise OperationalError("", {}, cause)
            yield row

    with open_store(tmp_path / "from") as from_, open_store(place, patience=1.0) as to:
        with pytest.raises(RecordsError, match="nothing was changed"):
            from_.read_rows(lambda rows: to.load_rows(breaks_off(rows)))
        assert tried == [20]
        assert to.all(MachineRecord) == ()
        from_.read_rows(to.load_rows)
        assert to.all(MachineRecord) == from_.all(MachineRecord)


def test_programs_that_start_in_a_new_folder_at_the_same_moment(tmp_path):
    script = "import sys; from heldtrue.records import Tag, open_store\nwith open_store(sys.argv[1]) as store: "
    script += "store.write(Tag(id=sys.argv[2]), by='Noor')"
    started = [
        subprocess.Popen([sys.executable, "-c", script, str(tmp_path / "new"), f"T-{n}"], stderr=subprocess.PIPE)
        for n in range(3)
    ]
    said = [one.communicate(timeout=60)[1].decode() for one in started]
    assert [one.returncode for one in started] == [0, 0, 0], said
    with open_store(tmp_path / "new") as store:
        assert len(store.all(Tag)) == 3
        assert store.check() == ()


# ---- no room, no right to write


def fills_up(place, how):
    """Write until there is no room; what was said, and how many actions were acknowledged."""
    result = subprocess.run(
        [sys.executable, str(HERE / "filler.py"), str(place), how], capture_output=True, text=True, timeout=60
    )
    assert result.returncode == 0, result.stderr
    *words, done = result.stdout.strip().splitlines()
    return "\n".join(words), int(done)


def all_there_and_sound(place, done):
    with open_store(place) as store:
        assert store.check() == ()
        assert len(store.events(Photo)) == len(store.events(SetCut)) == store.standing("S-12").cuts_done == done
        store.write(cut(at=day(100)), by="Noor")


def test_a_file_that_may_not_grow(folder):
    """A limit on the size of files, which needs no right to mount."""
    filled(folder)
    words, done = fills_up(folder, "limit")
    assert "the disk does not take" in words
    assert "nothing was changed" in words
    assert 0 < done < 400
    all_there_and_sound(folder, done)


@pytest.fixture
def small_disk():
    """A disk of a few megabytes."""
    place = Path(tempfile.mkdtemp(prefix="heldtrue-small-"))

    def mount(size):
        result = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)], capture_output=True
        )
        if result.returncode:
            pytest.skip("a small disk needs the right to mount one")
        return place

    yield mount
    subprocess.run(["umount", "--lazy", str(place)], capture_output=True)
    shutil.rmtree(place, ignore_errors=True)


def test_a_full_disk(small_disk, made_folder):
    disk = small_disk("2m")
    shop = shutil.copytree(made_folder, disk / "shop")
    filled(shop)
    words, done = fills_up(shop, "disk")
    assert "the disk is full: nothing was changed" in words
    assert 0 < done < 400
    moved = Path(tempfile.mkdtemp(prefix="heldtrue-moved-"))
    try:
        shutil.copytree(shop, moved / "shop")
        all_there_and_sound(moved / "shop", done)
    finally:
        shutil.rmtree(moved)


@pytest.mark.long
def test_a_full_disk_of_the_server(small_disk, cluster, template):
    disk = small_disk("13m")
    if cluster.user:
        shutil.chown(disk, cluster.user)
    cluster.sql(f"CREATE TABLESPACE small LOCATION '{disk}'")
    cluster.sql(f"CREATE DATABASE full_up TEMPLATE {template} TABLESPACE small")
    try:
        place = filled(cluster.url("full_up"))
        words, done = fills_up(place, "disk")
        assert "the server's disk is full: nothing was changed" in words
        assert 0 < done < 400
        with open_store(place) as store:
            assert store.check() == ()
            assert len(store.events(Photo)) == len(store.events(SetCut)) == done
    finally:
        cluster.sql("DROP DATABASE full_up WITH (FORCE)")
        cluster.sql("DROP TABLESPACE small")


def test_a_folder_that_may_not_be_written(made_folder):
    """By somebody who is not root: root may write everywhere."""
    shop = Path(tempfile.mkdtemp(prefix="heldtrue-closed-"))
    who = os.geteuid()
    try:
        shutil.copy(made_folder / FILE_NAME, shop / FILE_NAME)
        filled(shop)
        before = (shop / FILE_NAME).read_bytes()
        (shop / FILE_NAME).chmod(0o444)
        shop.chmod(0o555)
        if who == 0:
            os.seteuid(65534)
        with pytest.raises(RecordsError, match="may not be written") as caught, open_store(shop) as store:
            store.write(cut(), by="Noor")
        assert str(shop) in str(caught.value)
        with pytest.raises(RecordsError, match=r"cannot make the folder|may not be written"):
            open_store(shop / "new")
        assert (shop / FILE_NAME).read_bytes() == before
    finally:
        os.seteuid(who)
        shop.chmod(0o755)
        shutil.rmtree(shop)


def test_a_server_user_who_may_only_read(postgres_place):
    import psycopg

    filled(postgres_place)
    with psycopg.connect(postgres_place, autocommit=True) as administrator:
        administrator.execute("DROP ROLE IF EXISTS reader")
        administrator.execute("CREATE ROLE reader LOGIN")
        administrator.execute("GRANT SELECT ON ALL TABLES IN SCHEMA public TO reader")
    with open_store(postgres_place.replace("postgres@", "reader@")) as store:
        with pytest.raises(RecordsError, match=r"this user may not do that on the server .*: nothing was changed"):
            store.write(cut(), by="Noor")
        assert store.standing("S-12").cuts_done == 0
