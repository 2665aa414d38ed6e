"""The next taper from feeler and bluing."""

import numpy as np
import pytest

from heldtrue.errors import InputError
from heldtrue.inspection.taper import LEAST_CUT_MM, Bearing, next_taper


def test_a_gap_at_the_tip_is_closed_by_that_much_taper():
    found = next_taper(Bearing("base", gap=0.10), 40.0)
    assert found.change == pytest.approx(0.10)
    assert found.change_on_diameter == pytest.approx(0.20)
    assert (found.per_side, found.on_diameter) == pytest.approx((0.10, 0.20))
    assert found.low < 0.10 < found.high
    assert not found.stop
    assert "0.100 mm per side (0.200 mm on diameter)" in found.words


def test_a_gap_at_the_base_takes_taper_back():
    found = next_taper(Bearing("tip", gap=0.03), 40.0, taper=0.05)
    assert found.per_side == pytest.approx(0.02)
    assert "base comes closer" in found.words


def test_the_print_says_where_the_gap_begins():
    found = next_taper(Bearing("base", gap=0.03, touch_length=10.0), 40.0)
    assert found.change == pytest.approx(0.03 * 40 / 30)


def test_a_print_without_a_gap_goes_by_the_stiffness():
    # A bed of springs leaning by m, pressed until it carries F: found here by trying, not by the formula.
    stiffness, width, length, lean = 1000.0, 30.0, 40.0, 2e-3
    x = np.linspace(0, length, 4001)
    pressed = np.array(
        [stiffness * width * np.trapezoid(np.maximum(a - lean * x, 0), x) for a in np.linspace(0, 0.08, 81)]
    )
    force = float(pressed[30])  # advance 0.03 mm: touches over 15 mm
    found = next_taper(Bearing("base", touch_length=15.0), length, force=force, width=width, stiffness=stiffness)
    assert found.change == pytest.approx(lean * length, rel=1e-3)
    assert not found.from_gap


def test_touching_all_along_stops_and_says_what_it_could_hide():
    found = next_taper(Bearing("all along"), 40.0, taper=0.04, force=5000.0, width=30.0, stiffness=1000.0)
    assert found.stop
    assert found.per_side == 0.04
    assert found.high == pytest.approx(2 * 5000.0 / (30.0 * 1000.0 * 40.0))
    assert found.low == -found.high
    assert found.words == "stop: the jaw bears all along"


def test_it_stops_below_what_a_cut_can_do():
    assert next_taper(Bearing("base", gap=0.009), 40.0, taper=0.03).stop
    assert next_taper(Bearing("base", gap=0.009), 40.0, taper=0.03).per_side == 0.03
    assert not next_taper(Bearing("base", gap=LEAST_CUT_MM * 1.01), 40.0).stop


@pytest.mark.parametrize(("seen", "more", "words"), [
    (Bearing("middle"), {}, "base, tip or all along"),
    (Bearing("base", gap=3.0), {}, "gap: found 3 mm"),
    (Bearing("base", gap=0.1, touch_length=50.0), {}, "touch length: found 50 mm"),
    (Bearing("base", touch_length=10.0), {"force": 100.0}, "width, stiffness must be given"),
    (Bearing("all along", gap=0.1), {}, "though the jaw touches all along"),
    (Bearing("base", gap=0.1), {"least": 0.0}, "least cut: found 0 mm"),
])  # fmt: skip
def test_what_cannot_be_is_refused(seen, more, words):
    with pytest.raises(InputError, match=words):
        next_taper(seen, 40.0, **more)
