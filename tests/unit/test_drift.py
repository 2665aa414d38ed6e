"""Drift of parts: chart, rules, trend, parts left, events; intervals that cover."""

import numpy as np
import pytest
from conftest import longer

from heldtrue.errors import InputError
from heldtrue.inspection.capability import capability, capability_of
from heldtrue.inspection.chart import ALARM, OUTSIDE, individuals
from heldtrue.inspection.drift import Event, Series, read_drift, read_measurements
from heldtrue.inspection.estimate import line


def steady(count, seed=5):
    return 50.0 + np.random.default_rng(seed).normal(0, 0.002, count)


def test_a_steady_series_is_in_control_and_has_nothing_due():
    (found,) = read_drift(Series("od", steady(60), 49.98, 50.02))
    assert not found.drifting
    assert (found.parts_left, found.recut_in) == (None, None)
    assert found.words == ("no trend to be seen",)
    wandering = np.concatenate((steady(30), steady(30) + 0.02, steady(30)))
    (other,) = read_drift(Series("od", wandering, 49.98, 50.05))
    assert not other.drifting
    assert other.words[-1] == "capability says little while the series drifts or wanders"
    assert found.pieces[0].chart.in_control
    assert found.capability.ppk.value > 2


def test_parts_left_and_when_to_cut():
    parts = np.arange(40)
    values = 0.005 + 2e-4 * parts + np.random.default_rng(2).normal(0, 5e-4, 40)
    (found,) = read_drift(Series("run-out", values, upper=0.02))
    assert found.drifting
    assert found.parts_left.value == pytest.approx((0.02 - 0.005) / 2e-4 - 39, abs=4)
    assert found.parts_left.low < found.parts_left.value < found.parts_left.high
    assert 0 < found.recut_in < found.parts_left.low
    assert found.words[0].startswith("re-cut due within")
    assert found.words[-1].startswith("capability says little")


def test_a_recut_is_due_when_single_parts_reach_the_limit():
    parts, scatter = np.arange(400), 1e-3 * np.where(np.arange(400) % 2, 1.0, -1.0)
    (found,) = read_drift(Series("run-out", 1e-4 * parts + scatter, upper=0.06))
    # The scatter is plus or minus 0.001: three of it are 30 parts of drift; the trend is sure to some parts.
    assert found.parts_left.value == pytest.approx(600 - 399, abs=2)
    assert found.recut_in == pytest.approx(600 - 30 - 399, abs=6)


def test_nothing_is_drawn_out_too_far():
    values = 0.01 + 1e-7 * np.arange(200) + 1e-6 * np.where(np.arange(200) % 2, 1.0, -1.0)
    (found,) = read_drift(Series("run-out", values, upper=1.0))
    assert found.drifting
    assert (found.parts_left, found.recut_in) == (None, None)


def test_falling_towards_the_lower_limit():
    values = 10.0 - 1e-3 * np.arange(30) + np.random.default_rng(3).normal(0, 1e-3, 30)
    (found,) = read_drift(Series("bore", values, lower=9.95, upper=10.05))
    assert found.parts_left.value == pytest.approx(50 - 29, abs=4)


def test_moving_away_from_the_only_limit_makes_nothing_due():
    values = 10.0 - 1e-3 * np.arange(30) + np.random.default_rng(3).normal(0, 1e-4, 30)
    (found,) = read_drift(Series("bore", values, upper=10.05))
    assert found.drifting
    assert found.parts_left is None


def test_over_the_limit_already():
    values = 0.018 + 2e-4 * np.arange(20) + np.random.default_rng(4).normal(0, 1e-4, 20)
    (found,) = read_drift(Series("run-out", values, upper=0.02))
    assert found.recut_in == 0
    assert any("due now" in words for words in found.words)


def test_an_event_parts_the_series():
    rng = np.random.default_rng(5)
    before = 0.01 + 2e-4 * np.arange(30) + rng.normal(0, 3e-4, 30)
    values = np.concatenate((before, 0.01 + rng.normal(0, 3e-4, 20)))
    (found,) = read_drift(Series("run-out", values, upper=0.02, events=(Event(30, "re-cut"),)))
    assert [(p.first, p.last, p.after) for p in found.pieces] == [(0, 29, ""), (30, 49, "re-cut")]
    assert found.pieces[1].step.value == pytest.approx(-0.006, abs=4e-4)
    assert found.pieces[1].step.low < -0.006 < found.pieces[1].step.high
    assert not found.drifting
    assert found.capability.sigma == pytest.approx(values[30:].std(ddof=1))
    assert found.changes[0].startswith("re-cut before part 31: -0.006")


def test_two_events_before_one_part_and_too_few_parts_after():
    events = (Event(58, "re-cut"), Event(58, "grease"))
    (found,) = read_drift(Series("od", steady(60), events=events))
    assert found.pieces[1].after == "re-cut, grease"
    assert found.pieces[1].trend is None
    assert "2 parts since the last event: too few for a trend" in found.words


def simulate_trend(count=2000, parts=30):
    rng, x = np.random.default_rng(6), np.arange(parts)
    slope = reach = step = 0
    for _ in range(count):
        found = line(x, 1e-3 * x + rng.normal(0, 2e-3, parts))
        slope += found.slope.low <= 1e-3 <= found.slope.high
        met = found.reaches(0.05)
        reach += met is not None and met.low <= 50 <= met.high
        level = found.at(40.0)
        step += level.low <= 0.04 <= level.high
    return slope / count, reach / count, step / count


def test_intervals_of_trend_and_parts_left_cover():
    for share in simulate_trend():
        assert 0.93 <= share <= 0.97


def test_intervals_of_capability_cover():
    rng = np.random.default_rng(7)
    pp = ppk = 0
    for _ in range(2000):
        found = capability(rng.normal(0.5, 1.0, 50), -4.0, 4.0)
        pp += found.pp.low <= 8 / 6 <= found.pp.high
        ppk += found.ppk.low <= 3.5 / 3 <= found.ppk.high
    assert 0.93 <= pp / 2000 <= 0.97
    assert 0.93 <= ppk / 2000 <= 0.97


@pytest.mark.parametrize("offset", [0.0, 1.0, 2.5])
def test_run_out_is_not_promised_better_than_it_is(offset):
    """Two normal deviations at right angles: drawn, and their quantiles counted, not taken from the formula."""
    rng, upper, held, low, normal = np.random.default_rng(11), 7.0, 0, 0, []
    many = np.hypot(offset + rng.normal(size=400_000), rng.normal(size=400_000))
    middle, far = np.quantile(many, [0.5, 0.99865])
    true = (upper - middle) / (far - middle)
    for _ in range(150):
        values = np.hypot(offset + rng.normal(size=60), rng.normal(size=60))
        found = capability(values, None, upper)
        assert found.one_sided
        held += found.ppk.low <= true <= found.ppk.high
        low += found.ppk.low <= true
        normal.append(capability_of(values.mean(), values.std(ddof=1), 60, None, upper).ppk.value)
    assert held >= 0.88 * 150
    assert low >= 0.93 * 150
    if offset == 0.0:
        assert np.mean(normal) > 1.15 * true, "a normal curve promises too much"


def test_a_size_that_does_not_end_at_zero_is_normal():
    values = steady(60)
    assert not capability(values, None, 50.02).one_sided
    assert not capability(values - 50.0, None, 0.02).one_sided, "below zero there is no run-out"
    assert not capability(np.abs(values - 50.0), -0.01, 0.02).one_sided
    assert capability(np.abs(values - 50.0), 0.0, 0.02).one_sided


@pytest.mark.long
def test_the_interval_of_a_step_covers():
    rng, hit = np.random.default_rng(8), 0
    for _ in range(200):
        values = np.concatenate((rng.normal(0, 1e-3, 12), rng.normal(5e-3, 3e-3, 20)))
        (found,) = read_drift(Series("od", values, events=(Event(12, "tool change"),)))
        hit += found.pieces[1].step.low <= 5e-3 <= found.pieces[1].step.high
    assert 0.91 <= hit / 200 <= 0.99


CSV = """part;od_mm;Runout (um);event;set
1;50,001;5;;A
2;50,002;6;;A
3;50,000;5;;B
4;50,001;7;re-cut;A
5;50,003;5;;A
6;50,001;8;;B
"""


def test_measurements_from_a_file():
    found = read_measurements(CSV, limits={"od": (49.98, 50.02)})
    assert [(s.name, s.jaw, s.values.size) for s in found] == [
        ("od", "A", 4),
        ("runout", "A", 4),
        ("od", "B", 2),
        ("runout", "B", 2),
    ]
    assert found[0].values == pytest.approx([50.001, 50.002, 50.001, 50.003])
    assert found[1].values == pytest.approx([0.005, 0.006, 0.007, 0.005])
    assert found[0].events == (Event(2, "re-cut"),)
    assert (found[0].lower, found[0].upper, found[1].upper) == (49.98, 50.02, None)


def test_one_bare_column():
    (found,) = read_measurements("50.001\n50.002\n50.003\n")
    assert (found.name, found.values.size) == ("size", 3)


@pytest.mark.parametrize(("text", "limits", "words"), [
    (CSV.replace("50,003", "5o"), {}, 'row 6, column "od_mm": found "5o"'),
    (CSV, {"odd": (1.0, 2.0)}, "limits for odd, which is no column; found od, runout"),
    ("part,event\n1,x", {}, "no column with measurements"),
])  # fmt: skip
def test_wrong_files(text, limits, words):
    with pytest.raises(InputError, match=words):
        read_measurements(text, limits=limits)


@pytest.mark.parametrize(("series", "words"), [
    (Series("od", np.array([1.0])), "at least 2 parts"),
    (Series("od", np.array([1.0, np.nan])), "part 2: is no finite number"),
    (Series("od", np.array([1.0, 2.0]), 3.0, 2.0), "lower limit 3 mm is not below"),
    (Series("od", np.array([1.0, 2.0]), events=(Event(5, "re-cut"),)), "before part 6; there are 2 parts"),
])  # fmt: skip
def test_wrong_series(series, words):
    with pytest.raises(InputError, match=words):
        read_drift(series)


def test_charts_and_capability_refuse_what_they_cannot_do():
    with pytest.raises(InputError, match="at least 2 values"):
        individuals(np.array([1.0]))
    with pytest.raises(InputError, match="at least one limit"):
        capability(np.array([1.0, 2.0]), None, None)
    with pytest.raises(InputError, match="all alike"):
        capability(np.array([1.0, 1.0]), 0.0, 2.0)
    with pytest.raises(InputError, match="at least 3 points"):
        line([1, 2], [1, 2])
    with pytest.raises(InputError, match="different places"):
        line([1, 1, 1], [1, 2, 3])


def test_parts_that_are_all_one_size_are_not_out_of_control():
    assert individuals(np.full(6, 80.03)).in_control


def test_a_column_of_decimal_commas_is_one_column():
    (one,) = read_measurements("50,012\n50,014\n50,011\n", "metric")
    assert one.values.tolist() == pytest.approx([50.012, 50.014, 50.011])
    with pytest.raises(InputError, match="found 3 figures and no header"):
        read_measurements("50,012,7\n50,014,8\n", "metric")


# --- where it is heading: drawn wear that the program does not know; the whole campaign is bench/wear.py --------------


def told_of(kind, count):
    import sys
    from pathlib import Path

    bench = str(Path(__file__).resolve().parents[2] / "bench")
    if bench not in sys.path:
        sys.path.insert(0, bench)
    from wear import campaign

    return campaign(kind, count, seed=3)


@pytest.mark.parametrize("kind", ["straight", "faster and faster", *longer("curved", "stepped", "alike")])
def test_the_early_end_of_the_parts_left_is_not_above_the_truth_and_no_part_is_bad_before_the_recut(kind):
    found = told_of(kind, 25)
    assert found["announced"] >= 0.6
    least = 0.8 if kind == "stepped" else 0.9  # a step in the last few parts nobody can see yet
    assert found["lower"] >= least
    assert found["before a bad part"] >= least


def test_a_step_that_nobody_announced_is_a_step_and_no_drift():
    found = told_of("step alone", 20)
    assert found["drift"] <= 0.05
    assert found["step"] >= 0.8
    level = np.concatenate((steady(20), steady(20, 6) + 0.02))
    (one,) = read_drift(Series("od", level, 49.98, 50.05))
    assert (one.drifting, one.stepped, one.parts_left) == (False, True, None)
    assert one.ahead.at == 20
    assert one.ahead.by.low <= 0.02 <= one.ahead.by.high
    assert one.words[0].startswith("a step of +0.02")
    assert "before part 21 that no event explains, no drift: look what changed there" in one.words[0]


@pytest.mark.long
def test_parts_that_resemble_their_neighbours_are_no_drift():
    assert told_of("still and alike", 25)["drift"] <= 0.05
    assert told_of("still", 25)["drift"] <= 0.05


def test_wear_that_goes_faster_is_due_sooner_than_its_straight_line_says():
    part = np.arange(50)
    values = 0.002 + 0.001 * np.expm1(part / 22) + np.random.default_rng(4).normal(0, 4e-4, 50)
    (found,) = read_drift(Series("run-out", values, upper=0.03))
    straight = found.pieces[-1].trend.reaches(0.03)
    truth = 22 * np.log1p(28.0) - 49
    assert found.parts_left.low <= truth < straight.low - 49


def test_a_long_series_is_looked_at_by_its_means():
    part = np.arange(5000)
    values = 1e-6 * part + np.random.default_rng(4).normal(0, 1e-3, 5000)
    (found,) = read_drift(Series("od", values, upper=0.01))
    assert found.drifting
    assert found.slope.low <= 1e-6 <= found.slope.high
    assert found.parts_left.low <= 5000 <= found.parts_left.high


@pytest.mark.parametrize("count", [4, 8, 20, 100])
def test_false_alarms_of_the_chart_are_as_stated(count):
    """Sound series: still, straight and curved wear."""
    rng, part = np.random.default_rng(9), np.linspace(0.0, 1.0, count)
    wears = [0.0 * part, *([12.0 * part] if count >= 5 else []), *([12.0 * part**2] if count >= 12 else [])]
    met = [not individuals(wear + rng.normal(size=count)).in_control for _ in range(700) for wear in wears]
    assert np.mean(met) <= 1.5 * ALARM
    assert np.mean(met) >= 0.4 * ALARM


def test_a_part_off_its_trend_is_named_wherever_the_trend_is():
    part = np.arange(60)
    values = 0.002 + 1e-4 * part + np.random.default_rng(3).normal(0, 3e-4, 60)
    values[40] += 0.003
    (found,) = read_drift(Series("run-out", values, upper=0.02))
    (signal,) = found.pieces[-1].chart.signals
    assert (signal.rule, signal.places.tolist()) == (OUTSIDE, [40])
    assert f"{OUTSIDE}: part 41" in found.words
    assert any(words.startswith("of 100 sound series 2 have a part outside by chance") for words in found.words)
    assert read_drift(Series("od", np.full(20, 50.0)))[0].pieces[-1].chart.in_control
    assert read_drift(Series("od", np.array([50.0, 50.1])))[0].pieces[-1].chart.in_control


def test_rayleigh_quantiles_are_those_of_the_closed_form():
    """Without an offset x50 = s sqrt(2 ln 2), x99.865 = s sqrt(-2 ln 0.00135): many readings, limit at 5 s."""
    values = np.hypot(*np.random.default_rng(1).normal(size=(2, 4000)))
    middle, far = np.sqrt(2 * np.log(2)), np.sqrt(-2 * np.log(0.00135))
    found = capability(values, None, 5.0)
    assert found.one_sided
    assert found.ppk.value == pytest.approx((5.0 - middle) / (far - middle), rel=0.03)
