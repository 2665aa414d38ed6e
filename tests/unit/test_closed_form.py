import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heldtrue.errors import GeometryError, InputError, SolverError
from heldtrue.mechanics import closed_form as cf

STEEL = {"young": 210_000.0, "poisson": 0.3}
ALUMINIUM = {"young": 68_900.0, "poisson": 0.33}


def ring(load, loads, pad_degrees, inner, outer, width, *, radius, material=STEEL, **more):
    angles = more.pop("angles", [0.0, math.pi / loads])
    return cf.annulus_displacement(
        load,
        loads,
        math.radians(pad_degrees),
        inner,
        outer,
        width,
        radius=radius,
        angles=angles,
        **material,
        **more,
    )


def test_lame_external_pressure():
    """Own computation of the exact formula."""
    bore, rim = (cf.lame_tube(40, 50, r, external=10, **STEEL) for r in (40, 50))
    assert (bore.hoop_stress, rim.hoop_stress) == pytest.approx((-55.556, -45.556), abs=5e-4)
    assert (bore.displacement, rim.displacement) == pytest.approx((-0.0105820, -0.0101323), abs=1e-7)
    assert (bore.radial_stress, rim.radial_stress) == pytest.approx((0.0, -10.0), abs=1e-9)


def test_lame_internal_pressure():
    """Own computation of the exact formula."""
    bore = cf.lame_tube(20, 40, 20, internal=50, **STEEL)
    assert bore.hoop_stress == pytest.approx(83.333, abs=5e-4)
    assert bore.displacement == pytest.approx(0.0093651, abs=1e-7)


@given(st.floats(1, 80), st.floats(1.01, 5), st.floats(0, 1), st.floats(-50, 50))
def test_equal_pressure_in_and_out_is_plain_compression(inner, ratio, share, pressure):
    outer = inner * ratio
    radius = min(inner + share * (outer - inner), outer)
    state = cf.lame_tube(inner, outer, radius, external=pressure, internal=pressure, **STEEL)
    assert state.hoop_stress == pytest.approx(-pressure, abs=1e-7)
    assert state.displacement == pytest.approx(-pressure * 0.7 * radius / 210_000, abs=1e-9)


@pytest.mark.parametrize(
    ("loads", "at_load", "midway", "moment_load", "moment_mid"),
    [(2, 0.0743892, 0.0683099, 0.318310, 0.181690), (3, 0.0159386, 0.0142568, 0.188790, 0.099885),
     (4, 0.0060793, 0.0053862, 0.136620, 0.070487), (6, 0.0016818, 0.0014798, 0.088904, 0.045070),
     (12, 0.0002020, 0.0001770, 0.043834, 0.021992)],
)  # fmt: skip
def test_thin_ring_unit_values(loads, at_load, midway, moment_load, moment_mid):
    """Own computation, agreeing with a Fourier series to 7 digits."""
    state = cf.thin_ring(1.0, loads, 1.0, young=1.0, inertia=1.0)
    assert (-state.at_load, state.midway) == pytest.approx((at_load, midway), abs=6e-8)
    assert (state.moment_at_load, state.moment_midway) == pytest.approx((moment_load, moment_mid), abs=6e-7)
    assert state.peak_to_valley == pytest.approx(at_load + midway, abs=1.2e-7)


@pytest.mark.parametrize("loads", [2, 3, 4, 6, 12])
def test_thin_ring_is_the_sum_of_its_harmonics(loads):
    """A second way: amplitude N P R**3/(pi E I (n**2 - 1)**2) at n = N, 2N, 3N ..."""
    n = loads * np.arange(1, 4000)
    amplitude = loads / (math.pi * (n**2.0 - 1) ** 2)
    state = cf.thin_ring(1.0, loads, 1.0, young=1.0, inertia=1.0)
    assert -state.at_load == pytest.approx(amplitude.sum(), rel=1e-7)
    assert -state.midway == pytest.approx((amplitude * np.cos(n * math.pi / loads)).sum(), rel=1e-7)


@given(st.integers(2, 12), st.floats(1.1, 4))
def test_thin_ring_scales(loads, k):
    base = cf.thin_ring(100, loads, 50, young=2e5, inertia=1000)
    assert cf.thin_ring(100 * k, loads, 50, young=2e5, inertia=1000).at_load == pytest.approx(k * base.at_load)
    assert cf.thin_ring(100, loads, 50 * k, young=2e5, inertia=1000).midway == pytest.approx(k**3 * base.midway)
    assert cf.thin_ring(100, loads, 50, young=2e5 * k, inertia=1000).midway == pytest.approx(base.midway / k)
    assert cf.thin_ring(100, loads, 50, young=2e5, inertia=1000 * k).at_load == pytest.approx(base.at_load / k)


def test_thick_ring_regression():
    """Own computation of Roark's corrections."""
    state = cf.thick_ring(5000, 3, 40, 50, 25, **STEEL)
    assert (state.at_load, state.midway) == pytest.approx((-0.021306, 0.014275), abs=6e-7)
    assert (state.moment_at_load, state.moment_midway) == pytest.approx((42035.6, 22916.3), abs=0.06)


@pytest.mark.parametrize("loads", [2, 3, 6])
def test_thick_ring_turns_into_the_thin_one(loads):
    thick = cf.thick_ring(10, loads, 499.5, 500.5, 10, **STEEL)
    thin = cf.thin_ring(10, loads, 500, young=210_000, inertia=10 / 12)
    assert thick.at_load == pytest.approx(thin.at_load, rel=3e-4)
    assert thick.midway == pytest.approx(thin.midway, rel=3e-4)
    assert thick.moment_at_load == pytest.approx(thin.moment_at_load, rel=3e-4)


@pytest.mark.parametrize(
    ("args", "material", "bore", "rim"),
    [((5000, 3, 1, 40, 50, 25), STEEL, (-20.348, 13.939), (-21.610, 14.009)),
     ((5000, 3, 10, 40, 50, 25), STEEL, (-19.295, 13.380), (-19.372, 13.452)),
     ((5000, 3, 50, 40, 50, 25), STEEL, (-5.796, 1.611), (-5.695, 1.746)),
     ((2500, 6, 10, 40, 50, 25), STEEL, (-2.958, -1.179), (-2.960, -1.055)),
     ((500, 3, 5, 47, 50, 25), STEEL, (-77.269, 67.904), (-77.261, 67.911)),
     ((3000, 3, 15, 52, 60, 30), ALUMINIUM, (-92.634, 76.074), (-92.478, 76.214)),
     ((2000, 3, 8, 25, 30, 20), STEEL, (-16.873, 12.678), (-16.913, 12.714))],
)  # fmt: skip
def test_annulus_regression(args, material, bore, rim):
    """Own computation; a first, separate program gave the same digits."""
    inner, outer = args[3], args[4]
    assert 1e3 * ring(*args, radius=inner, material=material) == pytest.approx(bore, abs=1e-3)
    assert 1e3 * ring(*args, radius=outer, material=material) == pytest.approx(rim, abs=1e-3)


def test_full_wrap_has_no_lobes_and_is_lame():
    angles = np.linspace(0, math.pi / 3, 7)
    u = ring(5000, 3, 60, 40, 50, 25, radius=40, angles=angles)
    pressure = 5000 / (2 * 50 * 25 * math.sin(math.pi / 3))
    assert u == pytest.approx([cf.lame_tube(40, 50, 40, external=pressure, **STEEL).displacement] * 7, rel=1e-9)


@pytest.mark.parametrize(("loads", "inner", "outer", "pad"), [(3, 40, 50, 10), (6, 20, 60, 12), (2, 47, 50, 30)])
def test_betti_bore_and_rim_answer_each_other(loads, inner, outer, pad):
    """The same pad force: the rim moved by pads in the bore mirrors the bore moved by pads on the rim."""
    angles = np.linspace(0, math.pi / loads, 5)
    on_rim = ring(1000, loads, pad, inner, outer, 20, radius=inner, angles=angles)
    in_bore = ring(1000, loads, pad, inner, outer, 20, radius=outer, angles=angles, side="inside")
    assert in_bore == pytest.approx(-on_rim, rel=1e-9, abs=1e-12)


def test_annulus_third_harmonic_turns_into_the_thin_ring():
    """Ratio to the thin ring's three-lobe amplitude by mean radius over wall; own computation."""
    for slimness, ratio in ((225, 1.00003), (9, 1.0215), (3, 1.183)):
        inner, outer, pad = 45 - 22.5 / slimness, 45 + 22.5 / slimness, math.radians(1)
        angles = np.linspace(0, 2 * math.pi / 3, 600, endpoint=False)
        u = ring(1, 3, 1, inner, outer, 1, radius=inner, angles=angles)
        third = 2 * np.mean(u * np.cos(3 * angles))
        wall = outer - inner
        thin = 3 * 45**3 / (math.pi * 210_000 * wall**3 / 12 * 64) * math.sin(3 * pad) / (3 * math.sin(pad))
        assert -third / thin == pytest.approx(ratio, abs=0.0006 if slimness < 5 else 6e-5)


@given(st.floats(1.1, 5))
def test_annulus_scales(k):
    base = ring(1000, 3, 10, 40, 50, 25, radius=40)
    assert ring(1000 * k, 3, 10, 40, 50, 25, radius=40) == pytest.approx(k * base)
    assert ring(1000, 3, 10, 40, 50, 25 * k, radius=40) == pytest.approx(base / k)
    softer = {"young": 210_000 / k, "poisson": 0.3}
    assert ring(1000, 3, 10, 40, 50, 25, radius=40, material=softer) == pytest.approx(k * base)
    assert ring(1000, 3, 10, 40 * k, 50 * k, 25, radius=40 * k) == pytest.approx(base)  # size alone changes nothing


def test_annulus_refuses_a_short_series_and_overlapping_pads():
    with pytest.raises(SolverError, match="more harmonics"):
        ring(5000, 3, 0.2, 40, 50, 25, radius=50, harmonics=20)
    with pytest.raises(GeometryError, match="overlap"):
        ring(5000, 3, 61, 40, 50, 25, radius=50)
    with pytest.raises(GeometryError, match="not in the wall"):
        ring(5000, 3, 10, 40, 50, 25, radius=39)
    with pytest.raises(InputError, match="at least 2"):
        ring(5000, 1, 10, 40, 50, 25, radius=40)


def hertz(force, length, r1, r2, one=STEEL, two=STEEL):
    return cf.hertz_line(
        force, length, r1, r2,
        young_1=one["young"], poisson_1=one["poisson"], young_2=two["young"], poisson_2=two["poisson"],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("contact", "half_width", "pressure"),
    [(hertz(10_000, 20, 25, math.inf), 0.371395, 857.07), (hertz(10_000, 25, 50, -51), 3.35491, 75.903),
     (hertz(5_000, 25, 50, math.inf, ALUMINIUM), 0.468876, 271.55)],
)  # fmt: skip
def test_hertz_regression(contact, half_width, pressure):
    """Own computation."""
    assert contact.half_width == pytest.approx(half_width, rel=2e-5)
    assert contact.peak_pressure == pytest.approx(pressure, rel=2e-5)
    assert contact.max_shear == pytest.approx(0.3 * pressure, rel=2e-5)
    assert contact.shear_depth == pytest.approx(0.786 * half_width, rel=2e-5)


@given(st.floats(10, 1e5), st.floats(5, 200), st.floats(1.05, 10), st.booleans())
def test_hertz_pressure_carries_the_force(force, radius, ratio, hollow):
    contact = hertz(force, 10, radius, -ratio * radius if hollow else ratio * radius)
    assert math.pi / 2 * contact.peak_pressure * contact.half_width * 10 == pytest.approx(force, rel=1e-9)
    four = hertz(4 * force, 10, radius, -ratio * radius if hollow else ratio * radius)
    assert four.peak_pressure == pytest.approx(2 * contact.peak_pressure, rel=1e-9)


@pytest.mark.parametrize("hollow", [-50.0, -49.0, 0.0, math.nan])
def test_hertz_refuses_a_hollow_not_larger_than_the_part(hollow):
    with pytest.raises(GeometryError):
        hertz(1000, 10, 50, hollow)


def test_jaw_lean_regression():
    """Own computation."""
    lean = cf.cantilever_jaw(10_000, 50, 30, 40, **STEEL)
    assert (lean.bending, lean.shear, lean.tip) == pytest.approx((0.0124008, 0.0061905, 0.0185913), abs=6e-8)
    assert lean.slope == pytest.approx(0.372024e-3, abs=6e-10)
    soft = cf.cantilever_jaw(10_000, 50, 30, 40, **ALUMINIUM)
    assert (soft.bending, soft.shear) == pytest.approx((0.037796, 0.019303), abs=6e-7)
    cowper = cf.cantilever_jaw(10_000, 50, 30, 40, shear_coefficient=13 / 15.3, **STEEL)
    assert cowper.shear == pytest.approx(0.0060714, abs=6e-8)


@given(st.floats(1.1, 4))
def test_jaw_lean_scales(k):
    base, tall = (cf.cantilever_jaw(1000, 50 * h, 30, 40, **STEEL) for h in (1, k))
    assert (tall.bending, tall.shear, tall.slope) == pytest.approx(
        (k**3 * base.bending, k * base.shear, k**2 * base.slope)
    )
    deep = cf.cantilever_jaw(1000, 50, 30, 40 * k, **STEEL)
    assert (deep.bending, deep.shear) == pytest.approx((base.bending / k**3, base.shear / k))


def test_grip_regression():
    """Own computation."""
    assert cf.required_grip(2400 * 40, 960, 100, 0.15) == pytest.approx(14310.8, abs=0.05)
    assert cf.required_grip(120_000, 0, 100, 0.15) == pytest.approx(16_000, abs=0.05)
    assert cf.required_grip(120_000, 5143, 100, 0.15) == pytest.approx(37_836, abs=1)
    assert cf.handbook_grip_per_jaw(2400 * 40, 3, 100, 0.16) == pytest.approx(10_000)
    assert cf.tipping_couple(2400, 60, 25) == pytest.approx(6960)


@given(st.floats(0, 1e6), st.floats(0, 1e4), st.floats(10, 500), st.floats(0.05, 0.4))
def test_grip_never_under_either_demand_and_falls_with_friction(torque, axial, diameter, mu):
    grip = cf.required_grip(torque, axial, diameter, mu)
    assert grip >= max(2 * torque / diameter, axial) / mu * (1 - 1e-12)
    assert grip <= (2 * torque / diameter + axial) / mu * (1 + 1e-12)
    assert cf.required_grip(torque, -axial, diameter, 2 * mu) == pytest.approx(grip / 2)


def test_tipping_couple_balances_the_moment():
    """Moment about the middle of the grip: the couple over l is the side force over L + l/2."""
    edge = cf.tipping_couple(700, 33, 17)
    assert edge * 17 == pytest.approx(700 * (33 + 8.5))


def test_handbook_grip_refuses_a_small_factor():
    with pytest.raises(InputError, match=r"2\.5"):
        cf.handbook_grip_per_jaw(1e5, 3, 100, 0.16, factor=2.0)


def bolt(**more):
    values = {"thread_friction": 0.12, "head_friction": 0.12} | more
    return cf.bolt_assembly(12, 1.75, 1100, 16.63, 13.5, **values)


def test_bolt_regression():
    """Own computation."""
    assert (bolt().preload, bolt().torque) == pytest.approx((74_100, 143_700), rel=1e-3)


def test_bolt_friction_takes_from_the_preload_and_adds_to_the_torque():
    assert bolt(thread_friction=0.14).preload < bolt().preload < bolt(thread_friction=0.10).preload
    assert bolt(head_friction=0.14).preload == bolt().preload
    assert bolt(head_friction=0.14).torque > bolt().torque
    assert bolt(use=0.45).preload == pytest.approx(bolt().preload / 2)
    with pytest.raises(GeometryError):
        cf.bolt_assembly(12, 12, 1100, 16.63, 13.5, thread_friction=0.12, head_friction=0.12)


@pytest.mark.parametrize(
    "call",
    [lambda: cf.lame_tube(50, 40, 45, **STEEL), lambda: cf.thick_ring(1, 3, 50, 50, 1, **STEEL),
     lambda: cf.lame_tube(40, 50, 45, young=2e5, poisson=0.5),
     lambda: cf.thin_ring(1, 3, -1, young=1, inertia=1),
     lambda: cf.required_grip(1, 1, 100, 0.0), lambda: ring(1, 3, 10, 40, 50, 25, radius=40, side="up"),
     lambda: cf.cantilever_jaw(math.nan, 50, 30, 40, **STEEL)],
)  # fmt: skip
def test_impossible_input_raises(call):
    with pytest.raises((GeometryError, InputError)):
        call()
