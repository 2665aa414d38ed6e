import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heldtrue.errors import InputError
from heldtrue.mechanics import spin

JAWS = [spin.SpinningMass(0.65, 70.0, 3), spin.SpinningMass(0.45, 60.0, 3)]  # top jaws, master jaws
force = st.floats(1e3, 1e6)
moment = st.floats(1.0, 1e3)
speed = st.floats(1.0, 1e4)


def test_worked_chuck():
    """Own computation of the VDI 3106 form."""
    total = spin.static_moment(JAWS)
    assert total == pytest.approx(217.5, rel=1e-12)
    load = spin.centrifugal_force(total, 3000)
    assert load == pytest.approx(21466.4, abs=0.05)
    outside = spin.grip_at_speed(60_000, load, "outside")
    inside = spin.grip_at_speed(60_000, load, "inside")
    assert (outside.holding, outside.distorting) == pytest.approx((38533.6, 60_000), abs=0.05)
    assert (inside.holding, inside.distorting) == pytest.approx((60_000, 81466.4), abs=0.05)
    assert spin.speed_at_share_left(60_000, total) == pytest.approx(4095.2, abs=0.05)
    assert spin.permissible_speed(80_000, total, 14310.8, "outside") == pytest.approx(3655.2, abs=0.05)
    assert spin.required_grip_at_rest(14310.8, load, 2.4) == pytest.approx(85865.3, abs=0.3)


def test_elastic_grip_change():
    """Own derivation: 7155.5 N per jaw on a clamp of 216 and a ring of 259 N/um."""
    assert spin.elastic_grip_change(7155.5, 216_000, 259_000) == pytest.approx(3901.6, abs=0.1)
    assert spin.elastic_grip_change(7155.5, 0.0, 259_000) == 7155.5
    assert spin.elastic_grip_change(7155.5, 216_000, 1e15) == pytest.approx(7155.5, rel=1e-6)


@given(moment, speed, st.floats(1.1, 5.0))
def test_centrifugal_force_goes_with_the_square_of_speed(total, rpm, factor):
    once = spin.centrifugal_force(total, rpm)
    assert spin.centrifugal_force(total, factor * rpm) == pytest.approx(factor**2 * once, rel=1e-9)
    assert spin.centrifugal_force(factor * total, rpm) == pytest.approx(factor * once, rel=1e-9)


@given(force, st.floats(0, 1e6))
def test_bracket_stands_on_the_safe_side(static, load):
    for side in ("outside", "inside"):
        grip = spin.grip_at_speed(static, load, side)
        assert grip.holding <= static <= grip.distorting
        assert grip.distorting - grip.holding == pytest.approx(load, abs=1e-6)
        assert grip.share_left == pytest.approx(grip.holding / static)


def test_grip_that_has_let_go_is_negative_not_zero():
    assert spin.grip_at_speed(10_000, 12_500, "outside").holding == -2500


@given(force, moment, st.floats(0.0, 0.95))
def test_speed_at_share_left_leaves_that_share(static, total, share):
    rpm = spin.speed_at_share_left(static, total, share)
    left = spin.grip_at_speed(static, spin.centrifugal_force(total, rpm), "outside").share_left
    assert left == pytest.approx(share, abs=1e-9)


@given(force, moment, st.floats(0.01, 0.4))
def test_permissible_speed_and_required_grip_are_inverse(static, total, share):
    cut = share * static
    rpm = spin.permissible_speed(static, total, cut, "outside")
    load = spin.centrifugal_force(total, rpm)
    assert spin.required_grip_at_rest(cut, load, 1.5) == pytest.approx(static, rel=1e-9)


def test_permissible_speed_edges():
    assert spin.permissible_speed(10_000, 200, 10_000, "outside") == 0.0
    assert spin.permissible_speed(10_000, 200, 10_000, "inside") == 0.0
    assert spin.permissible_speed(30_000, 200, 10_000, "inside") == math.inf
    assert spin.permissible_speed(30_000, 0.0, 10_000, "outside") == math.inf


@pytest.mark.parametrize(
    ("cut", "load", "safety", "grip"),
    [(10_000, 0, 2.0, 22_500),  # at rest, or inside: 1.5 x 1.5 is more than 2
     (10_000, 0, 2.4, 24_000),
     (10_000, 4_000, 2.0, 28_500),  # 1.5 (15 + 4) kN against 2 (10 + 4) kN
     (10_000, 6_000, 2.0, 32_000),  # 1.5 (15 + 6) kN against 2 (10 + 6) kN
     (0, 6_000, 2.4, 14_400),
     (0, 0, 2.0, 0)],
)  # fmt: skip
def test_grip_at_rest_is_the_larger_of_both_forms(cut, load, safety, grip):
    assert spin.required_grip_at_rest(cut, load, safety) == pytest.approx(grip, rel=1e-12)


@given(st.floats(0, 1e6), st.floats(0, 1e6), st.floats(1.0, 5.0), st.floats(0.1, 10.0))
def test_grip_at_rest_goes_with_the_forces_and_never_falls_with_one_of_them(cut, load, safety, k):
    once = spin.required_grip_at_rest(cut, load, safety)
    assert spin.required_grip_at_rest(k * cut, k * load, safety) == pytest.approx(k * once, rel=1e-9)
    assert spin.required_grip_at_rest(cut + 1.0, load, safety) > once + 0.999 * min(safety, 2.25)
    assert spin.required_grip_at_rest(cut, load + 1.0, safety) > once + 0.999 * 1.5


def test_safety_factors_grow_with_the_need_and_have_a_source():
    for table in (spin.SAFETY, spin.SAFETY_OVERHUNG):
        assert table[spin.IN_SERVICE].value == pytest.approx(1.2 * table[spin.NEW].value)
        assert all("read" in datum.source for datum in table.values())
    assert spin.SAFETY_OVERHUNG[spin.NEW].value == 2 * spin.SAFETY[spin.NEW].value


def test_unbalance():
    """Own computation."""
    assert spin.unbalance_force(3.0, 1.0, 3000) == pytest.approx(296.1, abs=0.05)
    assert spin.permissible_eccentricity(6.3, 3000) == pytest.approx(0.020054, abs=1e-6)
    assert spin.permissible_unbalance(6.3, 30, 3000) == pytest.approx(0.6016, abs=5e-5)
    assert spin.permissible_unbalance(16, 100, 1000) == pytest.approx(15.279, abs=5e-4)
    assert spin.unbalance_force(30, spin.permissible_eccentricity(6.3, 3000), 3000) == pytest.approx(59.38, abs=0.01)


@given(st.floats(0.1, 50), st.floats(1, 200), st.floats(0.01, 0.99))
def test_ring_inertia_adds_up_to_the_disc(mass, outer, share):
    """A disc is a ring and the disc that fits in it."""
    inner, core = share * outer, mass * share**2
    ring = spin.ring_inertia(mass - core, outer, inner)
    assert ring + spin.ring_inertia(core, inner) == pytest.approx(spin.ring_inertia(mass, outer), rel=1e-9)


def test_spin_up_torque():
    # 10 kg disc of 100 mm radius to 1500/min in 1 s: 0.05 kg m2 * 157.08 rad/s2 = 7.854 N m
    torque = spin.spin_up_torque(spin.ring_inertia(10, 100), spin.angular_speed(1500))
    assert torque == pytest.approx(7853.98, abs=0.01)
    assert spin.spin_up_torque(50_000, -spin.angular_speed(1500)) == pytest.approx(-torque)


@pytest.mark.parametrize(
    "call",
    [lambda: spin.grip_at_speed(1e4, 1e3, "outsde"), lambda: spin.grip_at_speed(-1e4, 1e3, "outside"),
     lambda: spin.centrifugal_force(-1, 100), lambda: spin.angular_speed(float("nan")),
     lambda: spin.SpinningMass(-0.1, 10), lambda: spin.speed_at_share_left(1e4, 200, 1.5),
     lambda: spin.required_grip_at_rest(-1, 1e3, 2), lambda: spin.required_grip_at_rest(1e4, -1, 2),
     lambda: spin.required_grip_at_rest(1e4, 1e3, 0.9), lambda: spin.required_grip_at_rest(1e4, 1e3, math.nan),
     lambda: spin.ring_inertia(1, 10, 10), lambda: spin.permissible_eccentricity(0, 100)],
)  # fmt: skip
def test_impossible_input_raises(call):
    with pytest.raises(InputError):
        call()
