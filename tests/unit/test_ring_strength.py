"""What a boring ring carries."""

from math import pi, tan

import pytest

from heldtrue.mechanics.closed_form import thin_ring
from heldtrue.tooling.ring_strength import SCREW_N, YIELD_MPA, Push, ring_stress, too_weak

PUSH = Push(9000.0, 3)


@pytest.mark.parametrize("jaws", [2, 3, 4, 6])
def test_pushed_in_the_middle_it_bends_as_the_closed_form_says(jaws):
    push = Push(5000.0, jaws)
    inside, outside, width = 176.0, 200.0, 15.0
    state = thin_ring(push.force, jaws, 94.0, young=210e3, inertia=width * 12.0**3 / 12)
    bending = 6 * max(state.moment_at_load, state.moment_midway) / (width * 12.0**2)
    found = ring_stress(push, 0.0, inside, outside, width)
    hoop = found - bending
    assert 0 < hoop <= push.force * max(jaws / 2 / pi, 0.5 / tan(pi / jaws) + 1e-9, 0.5) / (width * 12.0) + 1e-9


def test_round_ends_press_it_and_do_not_bend_it():
    hoop = 9000.0 * 3 / (2 * pi) / (15.0 * 12.0)
    assert ring_stress(PUSH, None, 176.0, 200.0, 15.0) == pytest.approx(hoop)
    assert ring_stress(PUSH, 0.0, 176.0, 200.0, 15.0) > 5 * hoop


def test_corners_apart_bend_it_less_than_middles():
    stresses = [ring_stress(PUSH, angle, 176.0, 200.0, 15.0) for angle in (0.0, 0.2, 0.4)]
    assert stresses == sorted(stresses, reverse=True)
    # as far apart as twice as many jaws of half the push
    six = ring_stress(Push(4500.0, 6), 0.0, 176.0, 200.0, 15.0)
    assert ring_stress(PUSH, pi / 6, 176.0, 200.0, 15.0) == pytest.approx(six, rel=0.02)


def test_what_bends_is_refused_with_its_figures_and_a_plug_is_not():
    assert "MPa, 157 are allowed; a thicker one" in too_weak("ring", PUSH, 0.0, 176.0, 200.0, 15.0)
    assert too_weak("ring", PUSH, 0.0, 130.0, 200.0, 15.0) == ""
    assert too_weak("plug", PUSH, 0.0, 0.0, 200.0, 15.0) == ""
    assert too_weak("ring", None, 0.0, 199.0, 200.0, 15.0) == ""
    assert ring_stress(PUSH, 0.0, 130.0, 200.0, 15.0) < YIELD_MPA / 1.5


def test_the_screws_of_a_spider_count_with_what_nobody_stated_of_them():
    assert too_weak("spider", Push(SCREW_N - 1, 3), 0.0, 60.0, 80.0, 14.0) == ""
    assert "on a set screw" in too_weak("spider", Push(SCREW_N + 1, 3), 0.0, 60.0, 80.0, 14.0)
