"""The tests' own visits: one that does not end is given up, one that fails is seen to fail."""

import asyncio

import pytest

from web import conftest


def test_a_visit_that_does_not_end_is_given_up(monkeypatch, capfd):
    monkeypatch.setattr(conftest, "ENDS_WITHIN", 0.05)
    gone = []

    async def hangs(done):
        done.set()
        try:
            await asyncio.Event().wait()
        finally:
            gone.append(True)

    asyncio.run(conftest.ending(hangs))
    assert gone


def test_a_fault_before_the_end_is_seen(visit):
    async def steps(user, desk):
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        visit(steps)


def test_a_fault_of_the_simulation_itself_is_seen():
    async def breaks(done):
        raise KeyError("no page")

    with pytest.raises(KeyError):
        asyncio.run(conftest.ending(breaks))
