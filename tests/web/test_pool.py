"""The real worker processes: a draft keeps its worker, a knob is quick, a lost worker is replaced."""

import asyncio
import os
import threading
import time
from dataclasses import fields, is_dataclass
from time import monotonic

import pytest
from conftest import longer

from heldtrue.errors import InputError
from heldtrue.planning.plan import plan
from heldtrue.web import worker
from heldtrue.web.answer import answer_of
from heldtrue.web.desk import checked
from heldtrue.web.pool import MOST_WAITING, Pool, PoolBusyError, WorkerHungError, WorkerLostError
from heldtrue.web.worker import Trouble, knobs_turned


def rounded(value):
    """Another process may add in another order: the last bits of a number are not the answer's."""
    if is_dataclass(value):
        return type(value)(**{one.name: rounded(getattr(value, one.name)) for one in fields(value)})
    if isinstance(value, tuple):
        return tuple(map(rounded, value))
    return float(f"{value:.9g}") if isinstance(value, float) else value


def test_a_knob_is_answered_from_the_last_study_and_then_in_full(wear_ring):
    async def asking():
        pool = Pool(1)
        try:
            first = await pool.run("a", worker.plan_draft, "a", wear_ring, True)
            quick = await pool.run("a", worker.plan_draft, "a", wear_ring.with_(pressure=0.9), True)
            full = await pool.run("a", worker.plan_draft, "a", wear_ring.with_(pressure=0.9), False)
        finally:
            pool.close()
        return first, quick, full

    first, quick, full = asyncio.run(asking())
    assert (first.full, quick.full, full.full) == (True, False, True)
    assert first.verdict == "passes"
    assert quick.verdict == full.verdict == "not proven"
    expected = answer_of(plan(wear_ring.with_(pressure=0.9)), {}, full=True, seconds=0.0)
    assert rounded(full.checks) == rounded(expected.checks)
    assert rounded(full.steps) == rounded(expected.steps)


def test_a_lost_worker_is_said_and_replaced():
    async def asking():
        pool = Pool(1)
        try:
            with pytest.raises(WorkerLostError):
                await pool.run("a", os._exit, 1)
            return await pool.run("a", worker.ready)
        finally:
            pool.close()

    assert asyncio.run(asking()) is True


def hung(pool_of, then):
    async def asking():
        pool = pool_of()
        try:
            return await then(pool)
        finally:
            began = monotonic()
            pool.close()
            assert monotonic() - began < 30.0, "a worker that hangs holds up the end of the server"

    return asyncio.run(asking())


@pytest.mark.parametrize("key", ["a", *longer("")], ids=["draft", "nobody's"])
def test_a_hung_worker_has_an_end_and_the_next_question_a_new_worker(key):
    async def then(pool):
        first = await pool.run(key, os.getpid)
        pool.limit = pool.long_limit = 1.0
        with pytest.raises(WorkerHungError, match="1 s"):
            await pool.run(key, time.sleep, 600.0)
        pool.limit = pool.long_limit = 60.0
        assert await pool.run(key, os.getpid) != first

    hung(lambda: Pool(1), then)


@pytest.mark.long
def test_nobody_waits_for_the_hung_question_of_another():
    async def then(pool):
        await asyncio.gather(*(pool.run(key, worker.ready) for key in ("a", "b", "c", "")))
        stuck = [asyncio.create_task(pool.run(key, time.sleep, 600.0)) for key in ("a", "")]
        await asyncio.sleep(0.1)
        async with asyncio.timeout(60.0):
            assert await pool.run("a", worker.ready) is True, "the draft of another that has the same worker"
            assert await pool.run("", worker.ready) is True
        assert not any(one.done() for one in stuck)
        for one in stuck:
            one.cancel()
        await asyncio.wait(stuck)

    hung(lambda: Pool(2, patience=0.1), then)


@pytest.mark.long
def test_who_gives_up_ends_the_work():
    async def then(pool):
        first = await pool.run("a", os.getpid)
        task = asyncio.create_task(pool.run("a", time.sleep, 600.0))
        await asyncio.sleep(0.2)
        task.cancel()
        await asyncio.wait({task})
        assert task.cancelled()
        second = await pool.run("a", os.getpid)
        assert second != first
        waiting = [asyncio.create_task(pool.run("a", time.sleep, 600.0)) for _ in range(2)]
        await asyncio.sleep(0.2)
        waiting[1].cancel()  # whoever only waited for a turn takes nobody's away
        await asyncio.wait({waiting[1]})
        await asyncio.sleep(0.2)
        assert not waiting[0].done()
        waiting[0].cancel()
        await asyncio.wait(waiting)

    hung(lambda: Pool(1, patience=600.0), then)


def test_a_flood_of_questions_is_told_to_come_again():
    async def then(pool):
        many = [asyncio.create_task(pool.run("a", time.sleep, 600.0)) for _ in range(MOST_WAITING + 1)]
        await asyncio.sleep(0.3)
        with pytest.raises(PoolBusyError):
            await pool.run("a", worker.ready)
        for one in many:
            one.cancel()
        await asyncio.wait(many)
        assert await pool.run("a", worker.ready) is True

    hung(lambda: Pool(1), then)


def test_what_a_worker_raises_comes_back_and_the_worker_stays():
    async def then(pool):
        first = await pool.run("a", os.getpid)
        with pytest.raises(ZeroDivisionError):
            await pool.run("a", divmod, 1, 0)
        with pytest.raises(RuntimeError, match="pickle"):
            await pool.run("a", threading.Lock)
        assert await pool.run("a", os.getpid) == first

    hung(lambda: Pool(1), then)


def test_only_knobs_are_quick(wear_ring):
    assert knobs_turned(wear_ring, wear_ring) == {}
    assert set(knobs_turned(wear_ring, wear_ring.with_(pressure=0.9))) == {"run.pressure"}
    assert set(knobs_turned(wear_ring.with_(pressure=0.9), wear_ring)) == {"run.pressure"}
    assert set(knobs_turned(wear_ring, wear_ring.with_({"jaws.friction": 0.1}))) == {"jaws.friction"}
    assert knobs_turned(wear_ring, wear_ring.with_({"jaws.style": "wide"})) is None
    assert knobs_turned(wear_ring, wear_ring.with_({"part.material": "C45"})) is None
    assert knobs_turned(wear_ring, wear_ring.with_({"cuts.1.depth": 2.0})) is None


def test_trouble_keeps_every_problem():
    with pytest.raises(InputError) as caught:
        checked(Trouble(("one", "two")))
    assert caught.value.problems == ("one", "two")


def test_a_quick_look_never_becomes_what_the_next_one_rests_on(wear_ring):
    worker._studies.clear()
    worker.plan_draft("a", wear_ring, True)
    full = worker._studies["a"]
    assert not worker.plan_draft("a", wear_ring.with_(pressure=0.9), True).full
    assert worker._studies["a"] is full
    assert worker.plan_draft("a", wear_ring.with_(pressure=0.9), False).full
    assert worker._studies["a"] is not full
