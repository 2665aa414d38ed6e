"""No question without an end: what takes long says so, can be stopped, and is given up in the end, in words."""

import asyncio

from heldtrue.web import start as start_page
from heldtrue.web import texts
from heldtrue.web.pool import PoolBusyError, WorkerHungError
from heldtrue.web.sources import open_example
from web.in_process import until


def element(user, mark):
    """The element of the page, also while nobody can see it."""
    (found,) = [one for one in user.client.elements.values() if mark in one._markers]
    return found


def never(desk, monkeypatch, *works):
    """Let such questions hang."""
    run, stopped = desk.pool.run, []

    async def hangs(key, work, *arguments, **more):
        if work.__name__ not in works:
            return await run(key, work, *arguments, **more)
        try:
            await asyncio.sleep(600.0)
        except asyncio.CancelledError:
            stopped.append(work.__name__)
            raise

    monkeypatch.setattr(desk.pool, "run", hangs)
    return stopped


def begun(desk):
    desk.drafts.new("wear-ring", open_example(desk.examples, "wear-ring"), own_files=True)


def test_a_plan_that_hangs_can_be_stopped(visit, monkeypatch):
    async def steps(user, desk):
        begun(desk)
        stopped = never(desk, monkeypatch, "plan_draft")
        await user.open("/plan/wear-ring")
        stop = element(user, "busy-stop")
        await until(lambda: stop.visible)
        assert "Working it out" in element(user, "busy").text
        user.find(marker="busy-stop").click()
        await until(lambda: texts.STOPPED in element(user, "answer").content)
        assert stopped == ["plan_draft"]
        assert not stop.visible
        monkeypatch.undo()
        await desk.change(desk.live("wear-ring"), {"run.pressure": "9 bar"}, "again")
        await until(lambda: desk.live("wear-ring").answer.verdict)

    visit(steps)


def test_a_change_right_after_a_stop_is_planned(desk, monkeypatch):
    begun(desk)
    live = desk.live("wear-ring")

    async def steps():
        never(desk, monkeypatch, "plan_draft")
        desk.solve(live)
        await asyncio.sleep(0.1)
        desk.stop(live)
        monkeypatch.undo()
        await desk.change(live, {"run.pressure": "9 bar"}, "at once")
        await until(lambda: live.answer is not None and live.answer.verdict)
        await live.task

    asyncio.run(steps())
    assert live.answer.stated[0] == "9.0 bar"


def test_a_start_that_hangs_can_be_stopped_and_asked_again(visit, monkeypatch):
    async def steps(user, desk):
        begun(desk)
        await user.open("/start/wear-ring")
        await user.should_see(marker="ask-start")
        await user.should_see(marker="ask-start", retries=100)
        element(user, "name").value = "Noor"
        element(user, "gauge").value = "10,5"
        stopped = never(desk, monkeypatch, "start")
        user.find(marker="ask-start").click()
        await until(lambda: element(user, "busy-stop").visible)
        assert texts.SOLVING in element(user, "busy").text
        user.find(marker="busy-stop").click()
        await until(lambda: stopped)
        await user.should_see(texts.STOPPED)
        assert element(user, "gate").content == ""
        monkeypatch.undo()
        user.find(marker="ask-start").click()
        await until(lambda: texts.MAY in element(user, "gate").content)

    visit(steps)


def test_comparing_can_be_stopped(visit, monkeypatch):
    async def steps(user, desk):
        begun(desk)
        never(desk, monkeypatch, "compare_ways")
        await user.open("/compare/wear-ring")
        await until(lambda: element(user, "busy-stop").visible)
        user.find(marker="busy-stop").click()
        await user.should_see(texts.STOPPED)

    visit(steps)


def test_what_has_no_line_of_its_own_is_said_as_well(visit, monkeypatch):
    async def steps(user, desk):
        begun(desk)
        never(desk, monkeypatch, "floor_sheet_of")
        await user.open("/plan/wear-ring")
        await user.should_see(marker="sheet", retries=100)
        user.find(marker="sheet").click()
        await user.should_see(texts.SOLVING, retries=30)

    visit(steps)


def test_a_start_page_opens_although_its_plan_was_stopped(visit, monkeypatch):
    async def steps(user, desk):
        begun(desk)
        never(desk, monkeypatch, "plan_draft")
        live = desk.live("wear-ring")
        opening = asyncio.create_task(user.open("/start/wear-ring"))
        await until(lambda: live.task is not None)
        desk.stop(live)
        await opening
        await user.should_see(marker="ask-start", retries=100)

    visit(steps)


def test_a_start_page_opens_although_its_plan_hangs(visit, monkeypatch):
    async def steps(user, desk):
        begun(desk)
        monkeypatch.setattr(start_page, "OPENS_WITHIN", 0.1)
        never(desk, monkeypatch, "plan_draft")
        await user.open("/start/wear-ring")
        await user.should_see(marker="ask-start")
        await user.should_see(marker="ask-start", retries=30)
        await user.should_see(texts.PLANNED_ANEW)
        assert list(element(user, "step").options) == []
        desk.stop(desk.live("wear-ring"))
        monkeypatch.undo()
        await desk.change(desk.live("wear-ring"), {"run.pressure": "9 bar"}, "again")
        await until(lambda: list(element(user, "step").options), "the steps come with the plan")

    visit(steps)


def test_the_api_says_what_took_too_long(visit, monkeypatch):
    async def steps(user, desk):
        raised = [WorkerHungError("it took too long"), PoolBusyError("too many")]

        async def run(*_, **__):
            raise raised.pop(0)

        monkeypatch.setattr(desk.pool, "run", run)
        table = open_example(desk.examples, "wear-ring")
        for status, words in ((504, "it took too long"), (503, "too many")):
            answer = await user.http_client.post("/api/plan", json=table)
            assert (answer.status_code, answer.json()["error"]["problems"]) == (status, [words])

    visit(steps)
