"""The page of the whole catalogue, and re-planning that goes on by itself."""

import asyncio
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from conftest import example, planned
from nicegui import ui

from heldtrue.records import Greasing, ReplanSeen, SetupRecord
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.replanning.run import replan
from heldtrue.web import texts
from heldtrue.web.replanner import keep_replanned
from web.in_process import until


def fallen(desk):
    """A job that was planned, and a chuck that has been greased too long ago since."""
    enter_setup(desk.store, example("winch-shaft"), "Noor", id="winch-shaft", plan=planned("winch-shaft"))
    long_ago = datetime.now(UTC) - timedelta(days=30)
    desk.store.write(Greasing(at=long_ago, by="Noor", chuck="CH-02"), by="Noor")


def shown(user, mark):
    return "".join(str(one.content) for one in user.find(marker=mark).elements)


def test_it_says_what_may_no_longer_start_and_why(visit):
    async def steps(user, desk):
        fallen(desk)
        await user.open("/catalogue")
        await user.should_see(texts.NOTHING_TURNED)
        assert texts.CATALOGUE_NEW.format(first=1) in shown(user, "stopped")
        assert "not-proven" in shown(user, "stopped"), "what nobody has planned is no good news"
        user.find(marker="replan").click()
        await until(lambda: "1 of 1 may no longer start" in shown(user, "stopped"), "re-planned")
        await user.should_see(marker="sheet-winch-shaft")
        assert "not proven" in "".join(str(one.content) for one in user.find(ui.html).elements)
        user.find(marker="sheet-winch-shaft").click()
        await user.should_see(marker="print-link")

    visit(steps)


def test_looked_at_it_is_gone_from_the_page(visit):
    async def steps(user, desk):
        fallen(desk)
        replan(desk.store)
        await user.open("/catalogue")
        await user.should_see(marker="seen-winch-shaft")
        user.find(marker="name").type("Noor")
        user.find(marker="seen-winch-shaft").click()
        await until(lambda: desk.store.events(ReplanSeen), "written")
        await until(lambda: "0 of 1 may no longer start" in shown(user, "stopped"), "shown")
        assert [one.by for one in desk.store.events(ReplanSeen)] == ["Noor"]

    visit(steps)


def test_what_cannot_be_planned_and_what_never_passed_is_no_good_news(visit):
    async def steps(user, desk):
        enter_setup(desk.store, example("winch-shaft").with_({"cuts.0.feed": 0.6}), "Noor", id="heavy")
        replan(desk.store)
        await user.open("/catalogue")
        await until(lambda: texts.CATALOGUE_REFUSED.format(refused=1) in shown(user, "stopped"), "shown")
        assert "heavy: " in shown(user, "failed")
        card = desk.store.get(SetupRecord, "heavy")
        desk.store.write(replace(card, document={**card.document, "content": {}}), by="Noor")
        replan(desk.store)
        await user.open("/catalogue")
        await until(lambda: texts.CATALOGUE_FAILED.format(failed=1) in shown(user, "stopped"), "shown")
        assert "not-proven" in shown(user, "stopped")
        assert texts.NOT_PLANNABLE in shown(user, "failed")

    visit(steps)


def test_it_re_plans_by_itself_once_for_each_entry(visit):
    async def steps(user, desk):
        fallen(desk)
        await user.open("/catalogue")
        task = asyncio.create_task(keep_replanned(desk, every=0.05))
        asked = lambda: sum(name == "replan_for" for name, _ in desk.pool.asked)  # noqa: E731
        try:
            await until(lambda: desk.store.replanned(), "re-planned")
            await asyncio.sleep(0.5)
            assert asked() == 1
            desk.store.write(Greasing(at=datetime.now(UTC), by="Noor", chuck="CH-02"), by="Noor")
            await until(lambda: desk.store.replanned()[0].verdict == "passes", "re-planned after the entry")
            await asyncio.sleep(0.3)
            assert asked() == 2
            assert not task.done()
        finally:
            task.cancel()

    visit(steps)


@pytest.mark.parametrize("mark", ["replan"])
def test_who_may_only_look_plans_nothing(mark, visit):
    async def steps(user, desk):
        fallen(desk)
        await user.open("/catalogue")
        desk.require = refuse
        user.find(marker=mark).click()
        await asyncio.sleep(0.2)
        assert desk.store.replanned() == ()

    visit(steps)


def refuse(role):
    from heldtrue.errors import InputError

    raise InputError(f"may not {role}")
