"""A full disk: whoever looks goes on looking, whoever writes is told in words, and nothing typed is lost."""

import asyncio
import errno
import os
import socket
import subprocess
import sys
import time
from contextlib import closing, suppress
from urllib.request import urlopen

import pytest

from heldtrue.errors import InputError, StorageError
from heldtrue.files import write_all
from heldtrue.records import MachineRecord, open_store
from heldtrue.web import texts
from heldtrue.web.access.accounts import Accounts
from heldtrue.web.drafts import Drafts
from heldtrue.web.readings.store import Benches
from heldtrue.web.sections import RUN
from heldtrue.web.sources import open_example
from heldtrue.web.spare_room import ROOM, SPARE, keep_spare, make_way
from web.in_process import EXAMPLES

PRESSURE = RUN.first[0]
PASSWORD = "seven green lathes"


@pytest.fixture
def no_room(monkeypatch):
    """No file can be written."""

    def full(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    return monkeypatch


def test_a_file_that_finds_no_room_is_told_from_a_wrong_name(tmp_path, no_room):
    with pytest.raises(StorageError, match="no space left"):
        write_all({tmp_path / "plan.json": "x"})
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(InputError) as caught:
        write_all({tmp_path / "nowhere" / "plan.json": "x"})
    assert not isinstance(caught.value, StorageError)


def test_what_is_typed_on_a_full_disk_is_planned_kept_and_saved_later(desk, no_room):
    no_room.undo()
    desk.drafts.new("wear-ring", open_example(EXAMPLES, "wear-ring"))
    live = desk.live("wear-ring")

    async def steps():
        no_room.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(OSError(errno.ENOSPC, "no space left on device")))
        for text in ("9", "9.5"):
            with pytest.raises(StorageError):
                await desk.edit(live, PRESSURE, text)
        await live.task
        assert live.answer.stated[0] == "9.5 bar"
        no_room.undo()
        await desk.edit(live, PRESSURE, "9.6")
        await live.task

    asyncio.run(steps())
    assert Drafts(desk.drafts.folder).get("wear-ring").table["run"] == {"pressure": "9.6"}


def test_a_new_setup_that_could_not_be_written_leaves_its_name_free(tmp_path, no_room):
    drafts = Drafts(tmp_path / "drafts")
    with pytest.raises(StorageError):
        drafts.new("wear-ring", {})
    no_room.undo()
    assert drafts.ids() == []
    assert drafts.new("wear-ring", {}).id == "wear-ring"


def test_readings_on_a_full_disk_are_saved_later(tmp_path, no_room):
    benches = Benches(tmp_path / "readings")
    bench = benches.get("_own", {"text": ""})
    with pytest.raises(StorageError):
        benches.save(bench)
    no_room.undo()
    benches.save(bench)
    benches.save(bench)
    assert texts.SAVED_ELSEWHERE
    assert Benches(tmp_path / "readings").get("_own", {}).typed.version == 2


def test_a_damaged_draft_is_named_and_hides_no_other(visit):
    async def steps(user, desk):
        desk.drafts.new("wear-ring", open_example(EXAMPLES, "wear-ring"))
        good = (desk.drafts.folder / "wear-ring.json").read_text()
        damaged = {"a-list": good.replace('"table": {', '"table": [], "was": {', 1), "deep": "[" * 100_000,
                   "number": "7", "text": good.replace('"pending": {}', '"pending": "no"')}  # fmt: skip
        for name, content in damaged.items():
            (desk.drafts.folder / f"{name}.json").write_text(content)
        await user.open("/")
        await user.should_see("Wear ring, second side")
        for name in damaged:
            await user.should_see(f"{name}.json cannot be read")
            await user.open(f"/plan/{name}")
            await user.should_see("cannot be read")
            await user.open("/")

    visit(steps)


# Started on a full disk


@pytest.fixture
def small_disk(tmp_path):
    """A disk of its own, 8 MB, with the records of a shop that shares its app, and then without any room."""
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=8m", "tmpfs", str(disk)], capture_output=True).returncode:
        pytest.skip("a small disk needs the right to mount one")
    try:
        with closing(Accounts(disk / "shop")) as accounts:
            accounts.add("Noor", "administer", PASSWORD, by="Noor")
        with open_store(disk / "shop") as store:
            store.write(MachineRecord(id="lathe 7"), by="Noor")
        yield disk
    finally:
        subprocess.run(["umount", "--lazy", str(disk)], capture_output=True)


def fill_up(disk):
    with suppress(OSError), (disk / "photos").open("ab", buffering=0) as file:
        while True:
            file.write(b"x" * 4096)


def test_room_is_given_up_once_and_refused_in_words_then(small_disk):
    shop = small_disk / "shop"
    assert not make_way(shop)
    keep_spare(shop)
    fill_up(small_disk)
    assert make_way(shop)
    with closing(Accounts(shop)) as accounts, open_store(shop) as store:
        assert accounts.of_login(accounts.log_in("Noor", "10.0.0.7")).role == "administer"
        assert [one.id for one in store.all(MachineRecord)] == ["lathe 7"]
    fill_up(small_disk)
    with pytest.raises(InputError, match=r"the disk of .* is full .* make at least 1 MB of room"):
        make_way(shop)
    (small_disk / "photos").unlink()
    assert not make_way(shop)
    keep_spare(shop)
    assert (shop / SPARE).stat().st_size == ROOM
    with open_store(shop) as store:
        assert store.check() == ()


@pytest.mark.long
def test_a_shared_app_starts_again_on_a_full_disk(small_disk):
    """Killed, the disk filled by somebody else, and started again: it answers, and says what it lacks."""
    shop = small_disk / "shop"
    keep_spare(shop)
    fill_up(small_disk)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = [sys.executable, "-m", "heldtrue", "app", "--share", "--address", "127.0.0.1", "--port", str(port),
             "--no-show", "--records", str(shop)]  # fmt: skip
    plain = {name: text for name, text in os.environ.items() if not name.startswith(("PYTEST", "NICEGUI"))}
    app = subprocess.Popen(words, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True, env=plain)
    try:
        for _ in range(600):
            assert app.poll() is None, app.stderr.read()
            with suppress(OSError), urlopen(f"http://127.0.0.1:{port}/login", timeout=5) as answer:
                page = answer.read().decode()
                break
            time.sleep(0.1)
        assert "Log in" in page
    finally:
        app.terminate()
        _, said = app.communicate(timeout=60)
    assert "used its spare room to start" in said
