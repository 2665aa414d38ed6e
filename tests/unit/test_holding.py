from math import cos, inf, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heldtrue.mechanics.holding import LIFT, SLIP_ALONG, SLIP_ROUND, TIP, Grip, Wrench, holding, limit_at


def grip(**changed):
    base = {
        "side": "outside",
        "radius": 50.0,
        "z": (2.0, 27.0),
        "half_angle": radians(15),
        "jaws": 3,
        "friction": 0.15,
    }
    return Grip(**{**base, **changed})


TURNING = Wrench.at((40, 0, 60), (-700, -2400, -900))


def test_pure_torque_is_friction_times_grip_times_radius():
    h = holding(grip(), Wrench((0, 0, 0), (0, 0, 96_000.0)))
    assert h.required(1.0) == pytest.approx(96_000 / 50 / 0.15, rel=1e-5)
    assert h.failure == SLIP_ROUND


def test_pure_pull_is_friction_times_grip_and_the_seat_does_not_help():
    for seat in (None, (0.0, 30.0, 45.0)):
        h = holding(grip(seat=seat), Wrench((0, 0, 900.0), (0, 0, 0)))
        assert h.required(1.0) == pytest.approx(6000.0, rel=1e-5)
        assert h.failure == SLIP_ALONG


def test_push_into_the_seat_is_without_limit_and_without_a_seat_it_slips():
    push = Wrench((0, 0, -900.0), (0, 0, 0))
    assert holding(grip(seat=(0.0, 30.0, 45.0)), push).factor == inf
    assert holding(grip(), push).required(1.0) == pytest.approx(6000.0, rel=1e-5)


def test_torque_and_pull_share_the_friction_circle():
    """sqrt((Fc dz/d)^2 + Fa^2)/mu = 14310.8 N (Fc 2400, dz 80, d 100, Fa 960, mu 0.15; statics)."""
    h = holding(grip(), Wrench((0, 0, 960.0), (0, 0, 96_000.0)))
    assert h.required(1.0) == pytest.approx(14_310.8, rel=1e-4)


def test_long_overhang_tips_and_a_centre_stops_it():
    side = Wrench.at((10, 0, 200), (0, -2400, 0))
    free, held = holding(grip(), side), holding(grip(centre=220.0), side)
    assert free.failure == TIP
    assert held.factor > 3 * free.factor


def test_side_force_in_the_middle_of_the_grip_lifts():
    assert holding(grip(friction=0.05), Wrench.at((0, 0, 14.5), (1000.0, 0, 0))).failure == LIFT


def test_tipping_limit_of_two_jaws_by_hand():
    """Two jaws, no friction to speak of, side force across both: the couple is what the rings of points can give.

    Points stand 3/8 of the grip length from its middle; all of the grip on one side at the front and on the other at
    the back gives the couple grip/2 times 3/4 of the length.
    """
    g = grip(jaws=2, friction=1e-6, half_angle=radians(1), z=(0.0, 40.0))
    h = limit_at(g, Wrench((0, 0, 0), (0.0, 1000.0, 0.0)), 0.0)
    assert h.factor * 1000.0 == pytest.approx(0.5 * 30.0, rel=1e-3)
    assert h.failure == TIP


def test_inside_grip_mirrors_the_outside_grip():
    torque = Wrench((0, 0, 0), (0, 0, 96_000.0))
    assert holding(grip(side="inside"), torque).factor == pytest.approx(holding(grip(), torque).factor, rel=1e-6)


def test_the_worst_angle_is_the_worst():
    g = grip()
    every = [limit_at(g, TURNING, a).factor for a in np.linspace(0, 2 * pi / 3, 9)[:-1]]
    assert holding(g, TURNING).factor == pytest.approx(min(every), rel=1e-9)
    assert limit_at(g, TURNING, 0.3).factor == pytest.approx(limit_at(g, TURNING, 0.3 + 2 * pi / 3).factor, rel=1e-6)


def test_longer_grip_and_more_friction_never_hold_less():
    assert (
        holding(grip(z=(2.0, 40.0)), Wrench.at((40, 0, 90), (0, -2400, 0))).factor
        > holding(grip(z=(2.0, 27.0)), Wrench.at((40, 0, 90), (0, -2400, 0))).factor
    )
    assert holding(grip(friction=0.2), TURNING).factor > holding(grip(), TURNING).factor


@settings(max_examples=25, deadline=None)
@given(st.floats(0.05, 20.0), st.floats(100.0, 1e6))
def test_factor_is_linear_in_grip_and_falls_with_the_load(scale, total):
    g = grip()
    one, many = limit_at(g, TURNING, 0.2), limit_at(g, TURNING.scaled(scale), 0.2)
    assert many.factor * scale == pytest.approx(one.factor, rel=1e-5)
    assert one.under(2 * total) == pytest.approx(2 * one.under(total), rel=1e-12)
    assert one.under(one.required(2.0)) == pytest.approx(2.0, rel=1e-12)


def test_forces_found_by_hand_for_one_wrench():
    w = Wrench.at((40, 0, 60), (-700, -2400, -900))
    assert w.moment == pytest.approx((2400 * 60, -700 * 60 + 900 * 40, -2400 * 40))
    t = w.turned(0.4)
    assert t.force[0] == pytest.approx(-700 * cos(0.4) + 2400 * sin(0.4))
    assert (w + w).force == pytest.approx(w.scaled(2.0).force)


def test_no_load_is_no_limit_and_no_friction_is_refused():
    assert holding(grip(), Wrench((0, 0, 0), (0, 0, 0))).factor == inf
    with pytest.raises(ValueError, match="friction"):
        holding(grip(friction=0.0), TURNING)
