"""What stands behind the pages: an answer is always the answer to what is typed."""

import asyncio
from types import SimpleNamespace

import pytest

from heldtrue.errors import InputError
from heldtrue.records import ChuckRecord, GaugeReading, JawSet
from heldtrue.web import desk as module
from heldtrue.web import texts, worker
from heldtrue.web.desk import now
from heldtrue.web.drafts import Drafts
from heldtrue.web.fields import field_at
from heldtrue.web.sections import RUN
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES

PRESSURE = RUN.first[0]


@pytest.fixture
def live(desk):
    desk.drafts.new("wear-ring", open_example(EXAMPLES, "wear-ring"))
    return desk.live("wear-ring")


def test_only_the_newest_of_many_changes_is_planned(desk, live):
    async def steps():
        for text in ("9", "9.1", "9.2", "9.3", "9.4"):
            await desk.edit(live, PRESSURE, text)
        await live.task

    asyncio.run(steps())
    assert live.answer.stated[0] == "9.4 bar"
    assert live.answer.full
    assert len(desk.pool.asked) <= 4


def test_a_quick_look_is_followed_by_the_full_plan(desk, live, monkeypatch):
    monkeypatch.setattr(module, "CALM", 0.0)

    async def steps():
        desk.solve(live)
        await live.task
        await desk.edit(live, PRESSURE, "9")
        await live.task

    asyncio.run(steps())
    quick = [arguments[2] for name, arguments in desk.pool.asked if name == "plan_draft"]
    assert quick == [True, True, False]
    assert live.answer.full


def test_a_fault_of_ours_never_leaves_the_answer_before(desk, live, monkeypatch):
    async def breaks(*_, **__):
        raise ZeroDivisionError

    async def steps():
        desk.solve(live)
        await live.task
        assert live.answer.verdict == "passes"
        monkeypatch.setattr(desk.pool, "run", breaks)
        await desk.edit(live, PRESSURE, "9")
        await live.task

    asyncio.run(steps())
    assert live.answer.problems == (texts.FAILED,)
    assert live.answer.verdict == ""


@pytest.mark.long
def test_who_saves_second_sees_what_the_other_saved(desk, live):
    other = Drafts(desk.drafts.folder)
    theirs = other.get("wear-ring")
    theirs.edit(PRESSURE, "20")
    other.save(theirs)
    told = []
    live.watchers.add(told.append)

    async def steps():
        with pytest.raises(InputError, match="Somebody else"):
            await desk.edit(live, PRESSURE, "10")
        assert live.draft.table["run"] == {"pressure": "20"}
        assert told[-2:] == ["fields", "solving"] or "fields" in told[1:]
        await desk.edit(live, PRESSURE, "10")
        await live.task

    asyncio.run(steps())
    assert live.answer.stated[0] == "10.0 bar"


def test_what_the_records_know_is_taken_in_and_said(desk, live):
    desk.store.write(ChuckRecord(id="CH-04", name="chuck", gauge="bar"), by="Noor")
    for pressure, force in ((1.0, 20e3), (2.0, 42e3), (2.5, 53e3)):
        desk.store.write(GaugeReading(at=now(), by="Noor", chuck="CH-04", pressure=pressure, force=force), by="Noor")

    async def steps():
        desk.solve(live)
        await live.task

    asyncio.run(steps())
    assert any("reading" in words for words in live.answer.from_log)


def test_an_old_comparison_is_not_kept_for_a_new_setup(desk, live, monkeypatch):
    asked = asyncio.Event()

    async def slow(*_, **__):
        asked.set()
        await desk.edit(live, PRESSURE, "9")
        return ("rows",)

    async def steps():
        run = desk.pool.run
        monkeypatch.setattr(desk.pool, "run", slow)
        task = asyncio.create_task(desk.compare(live))
        await asked.wait()
        monkeypatch.setattr(desk.pool, "run", run)
        await task
        await live.task

    asyncio.run(steps())
    assert live.ways is None


def test_what_another_typed_meanwhile_is_shown_not_overwritten(desk, live):
    async def steps():
        first = live.draft.state(PRESSURE)
        assert await desk.edit(live, PRESSURE, "20", base=first) is None
        found = await desk.edit(live, PRESSURE, "10", base=first)
        assert found.theirs == "20"
        assert found.when is not None
        assert '"20"' in found.words("10")
        assert live.draft.table["run"] == {"pressure": "20"}
        assert await desk.edit(live, PRESSURE, "20 bar", base=first) is None, "the same is no conflict"
        assert await desk.edit(live, PRESSURE, "10", base=live.draft.state(PRESSURE)) is None
        await live.task

    asyncio.run(steps())
    assert live.draft.table["run"] == {"pressure": "10"}


def test_another_program_that_changed_another_field_costs_no_typing(desk, live):
    other = Drafts(desk.drafts.folder)
    theirs = other.get("wear-ring")
    theirs.edit(field_at("title", "Title"), "theirs")
    other.save(theirs)

    async def steps():
        assert await desk.edit(live, PRESSURE, "10", base=live.draft.state(PRESSURE)) is None
        await live.task

    asyncio.run(steps())
    assert live.draft.table["title"] == "theirs"
    assert live.draft.table["run"] == {"pressure": "10"}
    again = Drafts(desk.drafts.folder).get("wear-ring")
    assert (again.table["title"], again.table["run"]) == ("theirs", {"pressure": "10"})


def test_another_program_that_changed_the_same_field_is_a_conflict(desk, live):
    other = Drafts(desk.drafts.folder)
    theirs = other.get("wear-ring")
    theirs.edit(PRESSURE, "20")
    other.save(theirs)

    async def steps():
        found = await desk.edit(live, PRESSURE, "10", base=live.draft.state(PRESSURE))
        assert found is not None
        assert found.theirs == "20"
        await live.task

    asyncio.run(steps())
    assert live.draft.table["run"] == {"pressure": "20"}


def test_a_quick_look_does_not_say_fails_of_what_is_only_not_proven(wear_ring):
    worker._studies.clear()
    worker.plan_draft("ring", wear_ring, True)
    states = {}
    for pressure in (1.0, 2.4, 0.02):
        setup = wear_ring.with_(pressure=pressure)
        quick, full = (worker.plan_draft("ring", setup, look) for look in (True, False))
        assert (quick.full, full.full) == (False, True)
        worker.plan_draft("ring", wear_ring, False)
        states[pressure] = quick.verdict, full.verdict
        assert quick.checks[0].state == quick.verdict
    assert states[1.0] == ("not proven", "not proven")
    assert states[2.4] == ("not proven", "fails"), "that it fails at its best only the full plan knows"
    assert states[0.02] == ("fails", "fails"), "of what holds nothing it says so at once"


def test_what_the_shelf_says_against_the_jaws_goes_into_the_comparison(desk, live, monkeypatch):
    asked = []
    monkeypatch.setattr(worker, "compare_ways", lambda setup: asked.append(setup) or ())
    number = live.draft.setup().jaws.number
    asyncio.run(desk.compare(live))
    desk.store.write(JawSet(id=number, style="wide", material="6061-T6"), by="Noor")
    live.ways = None
    asyncio.run(desk.compare(live))
    before, after = asked
    assert before.contrary == ()
    assert any(
        f"the style of jaw set {number} is wide by the shelf, pie in the setup" in one.words for one in after.contrary
    )


def test_ways_are_looked_for_with_the_setup_as_it_was_typed(desk, live, monkeypatch):
    """What the records know of its chuck is not true of the others that are looked at."""
    asked = []
    monkeypatch.setattr(
        module, "ways_step", lambda _, stated, *__: asked.append(stated) or SimpleNamespace(doing="", search=b"")
    )
    monkeypatch.setattr(module, "with_records", lambda setup, *_: (setup.with_({"title": "with records"}), ()))
    asyncio.run(desk.find_ways(live, lambda _: None))
    assert asked == [live.draft.setup()]
