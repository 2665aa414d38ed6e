"""The next taper in words and figures, from what is known of the change."""

import pytest

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import Estimate
from heldtrue.inspection.taper import LEAST_CUT_MM, Bearing, check_seen, next_taper


def change(value, spread=0.01):
    return Estimate(value, spread / 2, value - spread, value + spread)


def test_the_tip_comes_closer_by_the_change():
    found = next_taper(Bearing("base", gap=0.10), 40.0, change(0.10))
    assert (found.change, found.change_on_diameter) == pytest.approx((0.10, 0.20))
    assert (found.per_side, found.on_diameter) == pytest.approx((0.10, 0.20))
    assert not found.stop
    assert "0.100 mm per side (0.200 mm on diameter) off at the base" in found.words
    assert "leans by 0.010 mm" in found.expected


def test_a_jaw_that_touches_at_the_tip_takes_taper_back():
    found = next_taper(Bearing("tip", gap=0.03), 40.0, change(-0.03), taper=0.05)
    assert found.per_side == pytest.approx(0.02)
    assert "base comes closer" in found.words


def test_it_stops_below_what_a_cut_can_do_and_says_what_may_be_left():
    found = next_taper(Bearing("all along"), 40.0, change(0.009, 0.02), taper=0.03)
    assert found.stop
    assert found.per_side == 0.03
    assert found.words.startswith("stop: the jaw bears all along; a change of 0.009 mm")
    assert "0.029 mm" in found.expected
    assert not next_taper(Bearing("base", gap=0.009), 40.0, change(LEAST_CUT_MM * 1.01)).stop


def test_a_taper_that_nobody_looked_at_is_the_plan_s():
    assert next_taper(None, 40.0, change(0.02)).words.startswith("by the plan, before anybody looked at the jaws")


@pytest.mark.parametrize(("seen", "words"), [
    (Bearing("middle"), "base, tip or all along"),
    (Bearing("base", gap=3.0), "gap: found 3 mm"),
    (Bearing("base", gap=0.1, touch_length=50.0), "touch length: found 50 mm"),
    (Bearing("base"), "how far the print runs"),
    (Bearing("all along", gap=0.1), "though the jaw touches all along"),
])  # fmt: skip
def test_what_cannot_be_is_refused(seen, words):
    with pytest.raises(InputError, match=words):
        check_seen(seen, 40.0)
    with pytest.raises(InputError, match="least cut: found 0 mm"):
        next_taper(Bearing("base", gap=0.1), 40.0, change(0.1), least=0.0)
