"""A full disk: whoever looks goes on looking, whoever writes is told in words, and nothing typed is lost."""

import asyncio
import errno
import os

import pytest

from heldtrue.errors import InputError, StorageError
from heldtrue.files import write_all
from heldtrue.web import texts
from heldtrue.web.drafts import Drafts
from heldtrue.web.readings.store import Benches
from heldtrue.web.sections import RUN
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES

PRESSURE = RUN.first[0]


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
