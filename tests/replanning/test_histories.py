"""Short histories; ``bench/histories.py`` tells long ones."""

import pytest
from conftest import longer

from heldtrue.shop.replanning import state
from heldtrue.shop.replanning.shortcut import Shortcut

from .history import KEPT, History, jobs


@pytest.fixture
def history(tmp_path, request):
    made = History(jobs(), tmp_path / "records", getattr(request, "param", 1), KEPT)
    yield made
    made.close()


@pytest.mark.parametrize(("history", "steps"), longer((1, 12), (2, 12), (3, 12)), indirect=["history"])
def test_every_setup_stands_as_a_fresh_full_plan_of_it_does(history, steps):
    for _ in range(steps):
        assert history.step() == "", history.told
    assert history.seen["shortened"] > 0
    assert history.seen["stopped"] > 0


@pytest.mark.long
def test_a_state_without_the_log_of_the_chuck_is_found(history, monkeypatch):
    """The must-fail: does the second path see what a digest leaves out?"""
    monkeypatch.setattr(state, "log_marks", lambda store, card, now: ())
    assert any(history.step() for _ in range(12))
    assert history.seen["stand as passing where the plan does not"] > 0


@pytest.mark.long
def test_limits_that_always_hold_are_found(history, monkeypatch):
    monkeypatch.setattr(Shortcut, "floors", lambda self, asked: [dict.fromkeys(one.full.steps, 0.1) for one in asked])
    assert any(history.step() for _ in range(12))
    assert history.seen["stand as passing where the plan does not"] > 0
