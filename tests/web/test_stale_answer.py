"""MAY START stands only for as long as everything it rests on is as it was."""

import asyncio
from datetime import timedelta

import pytest
from conftest import longer

from heldtrue.records import ChuckRecord, GaugeReading, Greasing, JawSet, SetCut, SetMove, StartDecision
from heldtrue.records.errors import RecordsError
from heldtrue.shop import basis as basis_module
from heldtrue.shop.basis import basis_of
from heldtrue.web import start as page
from heldtrue.web import texts, worker
from heldtrue.web.desk import now
from heldtrue.web.drafts import Drafts
from heldtrue.web.sections import RUN
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES, until

PRESSURE = RUN.first[0]


@pytest.fixture
def setup(desk):
    desk.drafts.new("wear-ring", open_example(EXAMPLES, "wear-ring"), own_files=True)
    return desk.live("wear-ring").draft.setup()


def only(user, mark):
    """The element of the page, also while nobody can see it."""
    (found,) = [one for one in user.client.elements.values() if mark in one._markers]
    return found


async def green(user, desk):
    """A page with MAY START on it."""
    desk.drafts.new("wear-ring", open_example(EXAMPLES, "wear-ring"), own_files=True)
    await user.open("/start/wear-ring")
    await user.should_see(marker="ask-start")
    await user.should_see(marker="ask-start", retries=100)
    only(user, "name").value = "Noor"
    only(user, "gauge").value = "10,5"
    user.find(marker="ask-start").click()
    await until(lambda: texts.MAY in only(user, "gate").content)
    return desk.live("wear-ring")


def blanked(user):
    return only(user, "gate").content == ""


async def grip_reading(desk, live):
    chuck = live.draft.setup().chuck.number
    desk.store.write(GaugeReading(at=now(), by="Kim", chuck=chuck, pressure=1.0, force=9e3), by="Kim")


async def scrap(desk, live):
    number = live.draft.setup().jaws.number
    desk.store.write(SetMove(at=now(), by="Kim", jaw_set=number, kind="condition", condition="scrap"), by="Kim")


async def cut_again(desk, live):
    number = live.draft.setup().jaws.number
    desk.store.write(SetCut(at=now(), by="Kim", jaw_set=number, kind="re-cut", side="inside", diameter=139.0,
                            depth=20.0, bore_steps=()), by="Kim")  # fmt: skip


async def another_window(desk, live):
    await desk.change(live, {"run.pressure": "9 bar"}, "another window")


async def another_program(desk, live):
    other = Drafts(desk.drafts.folder)
    theirs = other.get("wear-ring")
    theirs.edit(PRESSURE, "9")
    other.save(theirs)


async def thrown_away(desk, live):
    await asyncio.to_thread(desk.drafts.remove, "wear-ring")


@pytest.mark.parametrize(
    "happens",
    [
        grip_reading,
        scrap,
        *longer(another_program, cut_again, another_window, thrown_away),
    ],
    ids=lambda one: one.__name__,
)
def test_the_green_goes_when_what_it_rests_on_changes(visit, happens):
    async def steps(user, desk):
        live = await green(user, desk)
        await asyncio.sleep(2.5 * page.LOOKED_AT)
        assert texts.MAY in only(user, "gate").content, "nothing has changed yet"
        await happens(desk, live)
        await until(lambda: blanked(user), "the old answer stays")
        await until(lambda: only(user, "gone").content, "nobody says why")

    visit(steps)


def test_the_green_goes_when_the_grease_falls_due(visit, monkeypatch):
    async def steps(user, desk):
        live = await green(user, desk)
        number = live.draft.setup().chuck.number
        desk.store.write(Greasing(at=now(), by="Kim", chuck=number, grease="grease"), by="Kim")
        await until(lambda: blanked(user))
        user.find(marker="ask-start").click()
        await until(lambda: texts.MAY in only(user, "gate").content)
        late = now() + timedelta(days=60)
        monkeypatch.setattr(page, "now", lambda: late)
        await until(lambda: blanked(user), "the grease is due, the green stays")

    visit(steps)


def test_a_setup_changed_while_it_was_decided_gets_no_answer(visit, monkeypatch):
    async def steps(user, desk):
        live = await green(user, desk)
        decide = worker.start

        def slow(*arguments):
            made = decide(*arguments)
            asyncio.run_coroutine_threadsafe(another_window(desk, live), loop).result(20)
            return made

        loop = asyncio.get_running_loop()
        monkeypatch.setattr(worker, "start", slow)
        user.find(marker="ask-start").click()
        await until(lambda: live.draft.table.get("run") == {"pressure": "9 bar"})
        await until(lambda: only(user, "gone").content)
        await asyncio.sleep(0.5)
        assert blanked(user), "this is the answer for the setup before"

    visit(steps)


def test_what_another_program_saved_is_what_is_decided_next(visit):
    async def steps(user, desk):
        live = await green(user, desk)
        await another_program(desk, live)
        await until(lambda: blanked(user))
        user.find(marker="ask-start").click()
        await until(lambda: texts.MAY in only(user, "gate").content, "asked again there is no answer")
        assert live.draft.table["run"] == {"pressure": "9"}
        (last,) = desk.store.events(StartDecision, setup="wear-ring", newest=1)
        assert last.setup_version == 2, "the setup before was decided"

    visit(steps)


def test_the_green_goes_when_the_records_cannot_be_read(visit, monkeypatch):
    async def steps(user, desk):
        await green(user, desk)

        def broken(*_):
            raise RecordsError("the disk is gone")

        monkeypatch.setattr(page, "basis_of", broken)
        await until(lambda: blanked(user))
        await until(lambda: "the disk is gone" in only(user, "gone").content)

    visit(steps)


def test_a_basis_names_what_has_changed(desk, setup):
    desk.store.write(ChuckRecord(id=setup.chuck.number, name="chuck"), by="Noor")
    desk.store.write(JawSet(id=setup.jaws.number, style="pie", material="6061-T6"), by="Noor")
    before = basis_of(setup, desk.store, now())
    assert before.changes(basis_of(setup, desk.store, now())) == ()
    assert "setup" in before.changes(basis_of(setup.with_(pressure=0.9), desk.store, now()))
    desk.store.write(GaugeReading(at=now(), by="Kim", chuck=setup.chuck.number, pressure=1.0, force=9e3), by="Kim")
    after = basis_of(setup, desk.store, now())
    assert "chuck_log" in before.changes(after)
    worn = SetMove(at=now(), by="Kim", jaw_set=setup.jaws.number, kind="condition", condition="scrap")
    desk.store.write(worn, by="Kim")
    assert "jaw_history" in after.changes(basis_of(setup, desk.store, now()))


def test_a_reading_taken_back_is_a_change(desk, setup):
    desk.store.write(ChuckRecord(id=setup.chuck.number, name="chuck"), by="Noor")
    reading = GaugeReading(at=now(), by="Kim", chuck=setup.chuck.number, pressure=1.0, force=9e3)
    (first,) = desk.store.write(reading, by="Kim")
    before = basis_of(setup, desk.store, now())
    taken = GaugeReading(at=first.at, by="Kim", chuck=setup.chuck.number, pressure=1.0, force=9e3, corrects=first.id,
                         withdrawn=True)  # fmt: skip
    desk.store.write(taken, by="Kim")
    assert "chuck_log" in before.changes(basis_of(setup, desk.store, now()))


def test_every_part_of_a_basis_has_a_name():
    assert set(texts.BASIS) == set(basis_module.Basis.__dataclass_fields__)
