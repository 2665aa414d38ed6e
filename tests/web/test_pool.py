"""The real worker processes: a draft keeps its worker, a knob is quick, a lost worker is replaced."""

import asyncio
import os

import pytest

from heldtrue.errors import InputError
from heldtrue.planning.plan import plan
from heldtrue.web import worker
from heldtrue.web.answer import answer_of
from heldtrue.web.desk import checked
from heldtrue.web.pool import Pool, WorkerLostError
from heldtrue.web.worker import Trouble, knobs_turned


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
    assert full.checks == expected.checks
    assert full.steps == expected.steps


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
