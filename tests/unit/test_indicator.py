"""Indicator readings: lobes, offset, tilt and taper with intervals that cover; outliers; what other gauges show."""

from math import cos, pi, radians, sin, sqrt
from types import SimpleNamespace

import numpy as np
import pytest
from conftest import longer

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import amplitude, direction
from heldtrue.inspection.indicator import _tir, other_gauges, read_indicator, resolution_of
from heldtrue.inspection.readings import trace, typed_readings


def even(n):
    return 2 * pi * np.arange(n) / n


def wave(angle, size, order, phase):
    return size * np.cos(order * angle - phase)


def test_exact_readings_give_exact_answers():
    angle = even(12)
    found = read_indicator(trace(angle, wave(angle, 0.012, 1, 0.7) + wave(angle, 0.005, 3, -0.4)), radius=30.0)
    assert found.eccentricity.amplitude.value == pytest.approx(0.012, rel=1e-9)
    assert found.eccentricity.direction == pytest.approx(0.7)
    (lobe,) = found.lobes
    assert (lobe.order, lobe.amplitude.value, lobe.phase.value) == pytest.approx((3, 0.005, -0.4), rel=1e-9)
    assert found.outliers == ()
    assert "F test" in found.criterion


def test_uneven_angles_do_not_matter():
    angle = np.radians([0, 17, 55, 80, 121, 140, 190, 201, 250, 277, 305, 340, 352])
    found = read_indicator(trace(angle, wave(angle, 0.02, 1, -2.0) + wave(angle, 0.004, 2, 1.0)))
    assert found.eccentricity.amplitude.value == pytest.approx(0.02, rel=1e-9)
    assert [(w.order, w.amplitude.value) for w in found.lobes] == [(2, pytest.approx(0.004, rel=1e-9))]


def test_two_planes_give_tilt_and_taper():
    angle, z = np.tile(even(12), 2), np.repeat([10.0, 50.0], 12)
    value = wave(angle, 0.01, 1, 1.0) + (z - 30) * (wave(angle, 3e-4, 1, -1.2) + 1e-4)
    found = read_indicator(trace(angle, value, z))
    assert found.eccentricity.amplitude.value == pytest.approx(0.01)
    assert found.tilt.amplitude.value == pytest.approx(3e-4)
    assert found.tilt.direction == pytest.approx(2 * pi - 1.2)
    assert found.taper.value == pytest.approx(1e-4)
    anew = read_indicator(trace(angle, value + 5.0 * (z > 30), z), zero_kept=False)
    assert anew.taper is None
    assert anew.tilt.amplitude.value == pytest.approx(3e-4)


def test_lobes_that_die_out_away_from_the_jaws_are_no_noise():
    rng = np.random.default_rng(6)
    angle, z = np.tile(even(12), 2), np.repeat([10.0, 50.0], 12)
    value = wave(angle, 0.02, 3, 0.5) * (1 - (z - 10) / 50) + wave(angle, 0.01, 1, 1.0) + rng.normal(0, 5e-4, 24)
    found = read_indicator(trace(angle, value, z))
    assert [w.order for w in found.lobes] == [3]
    assert found.lobe(3).amplitude.value == pytest.approx(0.012, abs=5e-4)
    (growth,) = found.growth
    assert growth.amplitude.value == pytest.approx(0.02 / 50, rel=0.06)
    assert growth.phase.value % (2 * pi) == pytest.approx(0.5 + pi, abs=0.1)
    assert found.noise.value == pytest.approx(5e-4, rel=0.4)


def test_an_inside_surface_reads_the_other_way_round():
    angle = even(12)
    found = read_indicator(trace(angle, wave(angle, 0.01, 1, 0.0), side="inside"))
    assert found.eccentricity.direction == pytest.approx(pi)


@pytest.mark.parametrize("size", [0.03, -0.2])
def test_one_gross_error_in_twelve_is_named_and_harmless(size):
    rng = np.random.default_rng(3)
    angle = even(12)
    for row in range(12):
        value = wave(angle, 0.01, 1, 0.3) + wave(angle, 0.008, 3, 1.0) + rng.normal(0, 0.0005, 12)
        value[row] += size
        found = read_indicator(trace(angle, value))
        assert [o.row for o in found.outliers] == [row]
        assert found.outliers[0].off == pytest.approx(size, abs=0.004)
        assert found.eccentricity.amplitude.value == pytest.approx(0.01, abs=0.0015)
        assert found.lobe(3).amplitude.value == pytest.approx(0.008, abs=0.0015)


def simulate(count, n, seed, *, sd=0.001, size=0.01, lobe=0.008, dial=0.0, repeat=None):
    """How often the intervals hold the truth, and how often a lobe is invented."""
    rng = np.random.default_rng(seed)
    angle, fine = even(n), even(720)
    hits, invented = {"offset": 0, "direction": 0, "lobe": 0, "run-out": 0}, 0
    for _ in range(count):
        phase, at = rng.uniform(-pi, pi, 2)
        value = wave(angle, size, 1, phase) + wave(angle, lobe, 3, at) + rng.normal(0, sd, n)
        if dial:
            value = np.round(value / dial) * dial
        found = read_indicator(trace(angle, value), resolution=dial, repeat=repeat)
        turn, swing = found.eccentricity.phase, np.ptp(wave(fine, size, 1, phase) + wave(fine, lobe, 3, at))
        hits["offset"] += found.eccentricity.amplitude.low <= size <= found.eccentricity.amplitude.high
        hits["direction"] += abs(np.angle(np.exp(1j * (phase - turn.value)))) <= turn.high - turn.value
        three = found.lobe(3)
        hits["lobe"] += three is not None and three.amplitude.low <= lobe <= three.amplitude.high
        hits["run-out"] += found.runout.low <= swing <= found.runout.high
        invented += any(w.order != 3 for w in found.lobes)
    return {name: hit / count for name, hit in hits.items()}, invented / count


@pytest.mark.parametrize("case", [
    {"count": 200, "n": 12, "seed": 1},
    *longer({"n": 12, "seed": 1}, {"n": 12, "seed": 2, "dial": 0.001}, {"n": 24, "seed": 3},
            {"n": 12, "seed": 4, "repeat": 0.001}),
])  # fmt: skip
def test_intervals_cover_what_they_promise(case):
    covers, invented = simulate(**{"count": 500, **case})
    for name, share in covers.items():
        assert 0.92 <= share <= 0.98, name
    assert invented <= 0.02


@pytest.mark.parametrize("count", [250, *longer(800)])
def test_noise_alone_seldom_makes_a_lobe_or_an_outlier(count):
    rng = np.random.default_rng(11)
    angle = even(12)
    found = [read_indicator(trace(angle, rng.normal(0, 0.001, 12)), resolution=0.0) for _ in range(count)]
    assert sum(bool(f.lobes) for f in found) <= 0.02 * count
    assert sum(bool(f.outliers) for f in found) <= 0.02 * count


@pytest.mark.parametrize("count", [1000, *longer(4000)])
def test_the_interval_of_a_small_amplitude_covers(count):
    rng = np.random.default_rng(12)
    for true in (0.0, 0.5, 1.5, 3.0):  # at zero the lower end is always right, so 97.5 %
        draws, scale = rng.normal((true, 0.0), 1.0, (count, 2)), np.sqrt(rng.chisquare(9, count) / 9)
        ends = [amplitude(float(np.hypot(*d)), float(s), 9.0) for d, s in zip(draws, scale, strict=True)]
        assert 0.93 <= np.mean([e.low <= true <= e.high for e in ends]) <= 0.985


def test_a_vector_no_longer_than_its_noise_points_anywhere():
    found = direction(1.0, across=1.0, size=1.5, freedom=9.0)
    assert found.high - found.low == pytest.approx(2 * pi)


def test_a_coarse_dial_makes_wide_intervals():
    angle = even(12)
    value = np.round(wave(angle, 0.012, 1, 0.3) / 0.01) * 0.01
    found = read_indicator(trace(angle, value))
    assert (found.resolution, found.resolution_from) == (0.01, "from the digits of the readings")
    assert found.noise.value >= 0.01 / sqrt(12) - 1e-12
    assert found.eccentricity.amplitude.high - found.eccentricity.amplitude.low > 0.005


@pytest.mark.parametrize(("values", "step"), [
    ([0.01, 0.03, -0.02], 0.01), ([0.001, 0.003, 0.01], 0.001), ([0.0005, 0.001], 0.0005), ([0.0254, 0.0508], 0.0254),
    ([0.00254, 0.0127], 0.00254), ([0.123456789], 0.0),
])  # fmt: skip
def test_the_division_is_read_from_the_digits(values, step):
    assert resolution_of(np.array(values))[0] == pytest.approx(step)


def test_six_readings_at_and_between_three_jaws_see_the_lobe_in_step():
    angle = even(6)
    value = wave(angle, 0.02, 3, 0.0) + np.array([1e-4, -2e-4, 1e-4, 0, 1e-4, -1e-4])
    found = read_indicator(trace(angle, value))
    (lobe,) = found.lobes
    assert lobe.order == 3
    assert not lobe.whole
    assert lobe.amplitude.value == pytest.approx(0.02, abs=3e-4)
    assert any("at least that high" in note for note in found.notes)


def test_a_micrometer_is_blind_to_three_lobes_and_the_vees_are_not():
    angle = even(24)
    found = read_indicator(trace(angle, wave(angle, 0.005, 3, 0.4) + wave(angle, 0.05, 1, 0.1)))
    shows = found.gauges
    assert shows.micrometer == pytest.approx(0.0, abs=1e-9)
    assert (shows.vee_60, shows.vee_90, shows.vee_120) == pytest.approx((0.03, 0.02, 0.01), rel=1e-4)
    assert other_gauges(()).vee_60 == 0.0


def test_what_a_vee_shows_by_rolling_the_part():
    # Geometry, no formula: a three-lobed part pushed down a 90 degree vee until it touches both flanks, read from
    # above.
    half, size, radius = radians(45), 0.01, 20.0
    fine = np.linspace(0, 2 * pi, 20001)
    reads = []
    for turn in np.radians(range(0, 360, 2)):
        reach = radius + size * np.cos(3 * (fine - turn))
        x, y = reach * np.cos(fine), reach * np.sin(fine)
        # Support against each flank: largest distance along the flank's outward normal.
        right, left = (float((side * x * cos(half) - y * sin(half)).max()) for side in (1, -1))
        centre_y, centre_x = (right + left) / (2 * sin(half)), (left - right) / (2 * cos(half))
        above = radius + size * cos(3 * (pi / 2 - turn))
        reads.append(centre_y + above)
        assert abs(centre_x) < 0.05
    angle = 2 * pi * np.arange(24) / 24
    found = read_indicator(trace(angle, size * np.cos(3 * angle)))
    assert found.gauges.vee_90 == pytest.approx(np.ptp(reads), rel=0.02)
    assert other_gauges(found.lobes).micrometer == pytest.approx(0.0, abs=1e-12)


def test_a_long_trace_is_read_like_a_short_one():
    rng = np.random.default_rng(4)
    angle = np.sort(rng.uniform(0, 2 * pi, 5000))
    value = (
        wave(angle, 0.01, 1, 0.3) + wave(angle, 0.002, 3, 1.0) + wave(angle, 0.001, 17, 0.5) + rng.normal(0, 5e-4, 5000)
    )
    value[[40, 4000]] += 0.05
    found = read_indicator(trace(angle, value), radius=40.0)
    assert [w.order for w in found.lobes] == [3, 17]
    assert [o.row for o in found.outliers] == [40, 4000]
    assert found.lobe(17).amplitude.value == pytest.approx(0.001, abs=5e-5)
    assert found.noise.value == pytest.approx(5e-4, rel=0.05)


def test_the_thinned_trace_has_the_minimum_zone_of_all_readings():
    rng = np.random.default_rng(5)
    angle = even(12_000)
    value = wave(angle, 0.02, 1, 0.3) + wave(angle, 0.002, 3, 1.0) + rng.normal(0, 2e-4, 12_000)
    from heldtrue.mechanics.form import roundness_of_deviation

    whole = roundness_of_deviation(angle, value - value.mean(), 40.0).peak_to_valley
    assert read_indicator(trace(angle, value), radius=40.0).roundness_mz.peak_to_valley == pytest.approx(
        whole, rel=1e-6
    )


def test_the_shape_can_be_drawn():
    angle = even(12)
    value = wave(angle, 0.012, 1, 0.7) + wave(angle, 0.005, 3, -0.4)
    assert read_indicator(trace(angle, value)).shape(angle) == pytest.approx(value)


def test_readings_on_one_side_are_refused():
    angle = np.linspace(0.0, 0.3, 12)
    with pytest.raises(InputError, match="go round"):
        read_indicator(trace(angle, wave(angle, 0.01, 1, 0.0)))


def test_as_many_readings_as_unknowns_are_refused_unless_the_noise_is_known():
    angle, z = np.tile(even(3), 2), np.repeat([0.0, 40.0], 3)
    with pytest.raises(InputError, match="6 readings for 6 unknowns"):
        read_indicator(trace(angle, wave(angle, 0.01, 1, 0.0), z))
    found = read_indicator(trace(angle, wave(angle, 0.01, 1, 0.0), z), repeat=0.001, repeat_readings=10)
    assert found.freedom == 9
    assert found.eccentricity.amplitude.high - found.eccentricity.amplitude.value > 0.001


@pytest.mark.parametrize(("wrong", "words"), [
    ({"jaws": 1}, "jaws: found 1"), ({"resolution": -1.0}, "resolution: found -1 mm"),
    ({"repeat": 2.0}, "repeat: found 2"), ({"repeat_readings": 1}, "at least 2"),
    ({"radius": 0.0}, "radius: found 0 mm"),
])  # fmt: skip
def test_figures_out_of_range_are_refused(wrong, words):
    with pytest.raises(InputError, match=words):
        read_indicator(trace(even(12), even(12)), **wrong)


@pytest.mark.parametrize("reading", ["1e300", "1e16", "-1e154", "1e308", "1001"])
def test_a_reading_no_dial_shows_is_named(reading):
    with pytest.raises(InputError, match="reading 3: its reading must be a finite number, no more than 1000 mm"):
        typed_readings(f"0 0.01 {reading} 0.02 0.01 0 0.01", "mm", "outside", 3)


def test_angles_and_planes_of_no_part_are_named():
    angle, zero = np.linspace(0.0, 5.0, 8), np.zeros(8)
    far = zero + 1e300
    with pytest.raises(InputError, match="reading 1: its angle must be"):
        trace(far, zero)
    with pytest.raises(InputError, match="reading 1: its plane must be"):
        trace(angle, zero, far)
    with pytest.raises(InputError, match="reading 2: its reading must be"):
        trace(angle, np.where(np.arange(8) == 1, np.nan, 0.0))


@pytest.mark.parametrize("count", [1, -5, 10**7, 10**400])
def test_a_number_of_repeats_that_cannot_be_is_said(count):
    made = trace(np.linspace(0.0, 5.0, 8), np.arange(8) % 2 * 0.01)
    with pytest.raises(InputError, match="repeat_readings"):
        read_indicator(made, repeat=0.01, repeat_readings=count)


def test_a_plane_whose_only_reading_is_set_aside():
    """It swings by nothing; the other plane still says how much."""
    angle = np.append(np.radians(np.arange(0.0, 360.0, 15.0)), 0.1)
    reading, z = np.append(0.05 * np.cos(angle[:24]), 5.0), np.append(np.zeros(24), 10.0)
    assert _tir(trace(angle, reading, z), SimpleNamespace(kept=np.arange(24))) == pytest.approx(0.1)


@pytest.mark.parametrize(("order", "reads", "other"), [(7, 5, 7), (9, 3, 9), (5, 5, 7)])
def test_lobes_that_equal_places_confuse_are_named_with_both_orders(order, reads, other):
    angle = even(12)
    found = read_indicator(trace(angle, wave(angle, 0.01, order, 0.4) + np.random.default_rng(2).normal(0, 3e-4, 12)))
    assert [w.order for w in found.lobes] == [reads]
    assert found.aliases == ((reads, other),)
    assert any(f"12 equal places cannot tell {reads} lobes from {other}: read 24 places" in n for n in found.notes)
    finer = read_indicator(trace(even(24), wave(even(24), 0.01, order, 0.4)))
    assert [w.order for w in finer.lobes] == [order]
    uneven = np.radians([0, 17, 55, 80, 121, 140, 190, 201, 250, 277, 305, 340])
    assert read_indicator(trace(uneven, wave(uneven, 0.01, order, 0.4))).aliases == ()


def test_twelve_places_say_what_they_may_miss_of_the_roundness():
    from heldtrue.mechanics.form import roundness_of_deviation

    rng, fine, held = np.random.default_rng(8), even(360), 0
    orders = np.arange(2, 16)
    for _ in range(40):
        sizes, phases = rng.normal(size=14) / orders * 0.006, rng.uniform(-pi, pi, 14)
        shape = lambda a: sum(wave(a, s, n, p) for s, n, p in zip(sizes, orders, phases, strict=True))  # noqa: B023, E731
        true = roundness_of_deviation(fine, shape(fine) - shape(fine).mean(), 40.0).peak_to_valley
        found = read_indicator(trace(even(12), shape(even(12))), radius=40.0)
        held += true <= found.roundness_high
        assert any("12 places may miss what lies between them" in note for note in found.notes)
    assert held >= 36
