"""The turned body against itself: patch states, convergence, reciprocity, energy, limits with physical names."""

from itertools import pairwise
from math import pi, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heldtrue.errors import GeometryError, SolverError
from heldtrue.mechanics.stations import Patch, Stations
from heldtrue.mechanics.turned_body import TurnedBody, between_waves, solved_waves

STEEL = {"young": 210_000.0, "poisson": 0.3}
RING = [(45, 0), (55, 0), (55, 20), (45, 20)]
FLANGED = [(45, 0), (55, 0), (55, 20), (75, 20), (75, 30), (45, 30)]
SHAFT = [(0, 0), (30, 0), (30, 40), (20, 40), (20, 90), (0, 90)]
TAPERED = [(20, 0), (40, 0), (40, 20), (32, 60), (20, 60)]


def jaws(**changed):
    given_ = {
        "side": "outside",
        "radius": 55.0,
        "z": (0.0, 20.0),
        "half_angle": radians(10),
        "jaws": 3,
        "force": 5000.0,
    }
    return Patch(**{**given_, **changed})


def bore(body, patch, z=10.0):
    return body.under(patch).displacement([(45.0, z)], [0.0, radians(60)])[0]


def test_full_wrap_gives_the_uniform_state_of_an_evenly_pressed_cylinder():
    """Patch test: even pressure all round and free ends is a state the elements hold exactly."""
    ring = TurnedBody(RING, **STEEL)
    even = ring.under(jaws(half_angle=pi / 3, force=10_000.0))
    u = even.displacement([(45.0, 3.0), (55.0, 17.0)], np.linspace(0, 2 * pi, 9))
    a, b, p = 45.0, 55.0, jaws(half_angle=pi / 3, force=10_000.0).pressure
    at_bore = -2 * p * b**2 * a / (STEEL["young"] * (b**2 - a**2))
    assert u[0, :, 0] == pytest.approx(np.full(9, at_bore), rel=1e-7)
    assert np.abs(u[:, :, 1]).max() < 1e-12
    axial_strain = 2 * STEEL["poisson"] * p * b**2 / (STEEL["young"] * (b**2 - a**2))
    assert u[1, :, 2] == pytest.approx(np.full(9, axial_strain * 17.0), rel=1e-7)


def test_seat_stands_still_on_average():
    u = (
        TurnedBody(FLANGED, **STEEL)
        .under(jaws())
        .displacement([(r, 0.0) for r in np.linspace(45, 55, 41)], np.linspace(0, 2 * pi, 61)[:-1])
    )
    assert abs(u[:, :, 2].mean()) < 2e-3 * np.abs(u[:, :, 2]).max()


def test_error_falls_at_the_rate_of_the_elements():
    """Compliance error against polynomial order: a smooth body gains a decimal or more with each two orders."""
    patch = Stations("outside", 55.0, (0.0, 20.0))

    def compliance(order):
        return TurnedBody(RING, **STEEL, order=order).respond(patch, 3, [(45, 1)], harmonics=2).compliance[1, 0, 0]

    exact = compliance(12)
    errors = [abs(compliance(order) / exact - 1) for order in (1, 2, 3, 4, 6)]
    assert errors[0] > errors[1] > errors[2] > errors[3] > errors[4]
    assert errors[3] < 1e-4
    rate = np.polyfit([1, 2, 3, 4], np.log10(errors[:4]), 1)[0]
    assert -3.0 < rate < -0.5


def test_energy_norm_is_approached_from_below():
    """Finite elements are too stiff: the work of a load rises as the order does."""
    grip = Stations("outside", 30.0, (2.0, 12.0, 30.0))
    works = [TurnedBody(SHAFT, **STEEL, order=o).respond(grip, 3, [(0, 1)], harmonics=4).compliance for o in (2, 4, 6)]
    for low, high in pairwise(works):
        for station in range(2):
            assert (high[:, station, station] >= low[:, station, station] * (1 - 1e-12)).all()


@pytest.mark.parametrize(
    ("profile", "side", "radius", "z"),
    [
        (RING, "outside", 55.0, (0.0, 20.0)),
        (FLANGED, "outside", 55.0, (2.0, 18.0)),
        (FLANGED, "inside", 45.0, (3.0, 12.0)),
        (SHAFT, "outside", 30.0, (5.0, 25.0)),
        (TAPERED, "outside", 40.0, (0.0, 20.0)),
    ],
)
def test_reciprocity_and_positive_work(profile, side, radius, z):
    grip = Stations(side, radius, tuple(np.linspace(*z, 6)))
    response = TurnedBody(profile, **STEEL).respond(grip, 3, [(radius, z[0])], harmonics=8)
    work = response.compliance * grip.areas[None, :, None]
    assert work == pytest.approx(np.swapaxes(work, 1, 2), rel=1e-9, abs=1e-12 * np.abs(work).max())
    # The last eigenvalues of a smooth compliance are near rounding, so compare with the largest.
    assert all(np.linalg.eigvalsh(w).min() > -1e-12 * np.linalg.eigvalsh(w).max() for w in work)


def test_stations_together_are_the_patch():
    ring = TurnedBody(FLANGED, **STEEL)
    grip = Stations("outside", 55.0, (0.0, 5.0, 11.0, 20.0))
    response = ring.respond(grip, 3, [(45.0, 25.0)], harmonics=60)
    patch = jaws(z=(0.0, 20.0))
    harmonics = np.array([[patch.pressure_harmonic(k)] * 3 for k in range(60)])
    together = response.displacement(harmonics, [0.0, 0.7, radians(60)])
    alone = ring.under(patch).displacement([(45.0, 25.0)], [0.0, 0.7, radians(60)])
    assert together == pytest.approx(alone, rel=2e-3, abs=2e-3 * np.abs(alone).max())


def test_six_jaws_use_every_second_harmonic_of_three():
    grip = Stations("outside", 55.0, (0.0, 20.0))
    ring = TurnedBody(RING, **STEEL)
    fine = ring.respond(grip, 3, [(45, 1)], harmonics=9).every(6)
    coarse = ring.respond(grip, 6, [(45, 1)], harmonics=5)
    assert fine.orders == coarse.orders == (0, 6, 12, 18, 24)
    assert fine.compliance == pytest.approx(coarse.compliance, rel=1e-10)


def test_shape_repeats_with_the_jaws_and_mirrors_about_each():
    u = TurnedBody(FLANGED, **STEEL).under(jaws()).displacement([(45.0, 25.0)], [0.3, -0.3, 0.3 + 2 * pi / 3])[0]
    assert u[1] == pytest.approx(u[0] * [1, -1, 1], rel=1e-9)
    assert u[2] == pytest.approx(u[0], rel=1e-9)


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6, 8, 12])
def test_any_jaw_count_presses_in_at_the_jaw_and_out_between(count):
    u = (
        TurnedBody(RING, **STEEL)
        .under(jaws(jaws=count, half_angle=radians(5)))
        .displacement([(45, 10)], [0, pi / count])[0]
    )
    assert u[0, 0] < u[1, 0]
    assert u[0, 0] < 0


def test_inside_grip_pushes_out():
    u = TurnedBody(RING, **STEEL).under(jaws(side="inside", radius=45.0)).displacement([(55, 10)], [0, radians(60)])[0]
    assert u[0, 0] > 0 > u[1, 0]


def test_solid_shaft_is_regular_on_the_axis():
    u = (
        TurnedBody(SHAFT, **STEEL)
        .under(jaws(radius=30.0, z=(5.0, 25.0)))
        .displacement([(0.0, 15.0), (1e-3, 15.0)], np.linspace(0, 2, 5))
    )
    assert np.abs(u[0, :, :2]).max() < 1e-12
    assert u[0, :, 2] == pytest.approx(u[1, :, 2], abs=1e-6)


def test_thin_wall_bends_with_the_cube_of_the_wall():
    def three_lobe(wall):
        profile = [(50 - wall / 2, 0), (50 + wall / 2, 0), (50 + wall / 2, 20), (50 - wall / 2, 20)]
        r = TurnedBody(profile, **STEEL).respond(
            Stations("outside", 50 + wall / 2, (0, 20)), 3, [(50 - wall / 2, 10)], harmonics=2
        )
        return r.probes[1, 0, 0, 0] * (50 + wall / 2)

    assert three_lobe(1.0) / three_lobe(2.0) == pytest.approx(
        8.0, rel=0.04
    )  # the bend, and the squeeze that goes with 1/wall


@settings(max_examples=6, deadline=None)
@given(st.floats(0.1, 50.0), st.floats(0.2, 5.0))
def test_displacement_grows_with_force_and_falls_with_stiffness(force_factor, stiffness_factor):
    base = bore(TurnedBody(RING, **STEEL), jaws())
    changed = bore(
        TurnedBody(RING, young=STEEL["young"] * stiffness_factor, poisson=STEEL["poisson"]),
        jaws(force=5000.0 * force_factor),
    )
    assert changed == pytest.approx(base * force_factor / stiffness_factor, rel=1e-9, abs=1e-15)


@pytest.mark.parametrize(
    ("patch", "words"),
    [
        (jaws(radius=54.0), r"no outside cylinder Ø108 .* nowhere"),
        (jaws(z=(10.0, 25.0)), r"z = 0 to 20"),
        (jaws(z=(10.0, 10.0)), "no length"),
        (jaws(side="inside"), "no inside cylinder"),
        (jaws(jaws=1), "at least 2 jaws"),
        (jaws(half_angle=0.0), "half angle"),
        (jaws(half_angle=1.2), "half angle"),
        (jaws(force=float("nan")), "finite"),
        (jaws(side="top"), '"outside" or "inside"'),
    ],
)
def test_patches_off_the_part_are_refused_in_words(patch, words):
    with pytest.raises(GeometryError, match=words):
        TurnedBody(RING, **STEEL).under(patch)


def test_point_off_the_part_is_refused_and_a_point_on_its_surface_is_not():
    field = TurnedBody(RING, **STEEL).under(jaws())
    with pytest.raises(GeometryError, match=r"r = 44, z = 5 mm is not in the part"):
        field.displacement([(44.0, 5.0)], [0.0])
    on_corner, rounded = field.displacement([(45.0, 20.0), (45.0 - 1e-9, 20.0 + 1e-9)], [0.0])
    assert on_corner == pytest.approx(rounded, abs=1e-7)


def test_load_too_narrow_for_harmonics_is_an_error_not_a_number():
    with pytest.raises(SolverError, match="too narrow"):
        TurnedBody(RING, **STEEL).under(jaws(half_angle=1e-4), error=1e-6)


@pytest.mark.parametrize(("young", "poisson"), [(0.0, 0.3), (-1.0, 0.3), (float("nan"), 0.3), (2e5, 0.5), (2e5, -1.0)])
def test_elastic_constants_that_cannot_be_are_refused(young, poisson):
    with pytest.raises(ValueError, match="must"):
        TurnedBody(RING, young, poisson)


@pytest.mark.parametrize(
    ("profile", "stations", "jaws"),
    [
        ([(45, 0), (48, 0), (48, 40), (45, 40)], Stations("outside", 48.0, (1.0, 4.0, 12.0, 15.0)), 3),
        ([(45, 0), (55, 0), (55, 20), (75, 20), (75, 30), (45, 30)], Stations("inside", 45.0, (0.0, 5.0, 20.0)), 2),
        ([(0, 0), (20, 0), (20, 90), (0, 90)], Stations("outside", 20.0, (0.0, 3.0, 20.0)), 6),
    ],
)
def test_waves_between_those_solved_are_as_good_as_solved(profile, stations, jaws, monkeypatch):
    probes = [(profile[0][0] + 1e-3, 10.0), (profile[1][0] - 1e-3, 19.0)]

    def respond():
        return TurnedBody(profile, **STEEL).respond(stations, jaws, probes, harmonics=24, sheared=True)

    between = respond()
    monkeypatch.setattr("heldtrue.mechanics.turned_body.FEW", 24)
    solved = respond()
    assert solved_waves(24) == tuple(range(24))
    for name, share in (("compliance", 1e-4), ("probes", 1e-4), ("stress", 5e-4)):
        one, other = getattr(between, name), getattr(solved, name)
        assert one.shape == other.shape
        assert np.abs(one - other).max() < share * np.abs(other).max(), name


def test_every_wave_is_solved_where_there_are_few_and_the_last_always():
    assert solved_waves(12) == tuple(range(12))
    for count in (1, 13, 24, 31, 61):
        waves = solved_waves(count)
        assert waves[-1] == count - 1
        rows = between_waves(waves, count)
        # k times the answer is a polynomial in ln k: such answers come back as they are.
        k = np.arange(1, count)
        answer = np.array([7.0, *((2 + np.log(k) ** 3) / k)])
        assert rows @ answer[list(waves)] == pytest.approx(answer, rel=1e-9)
