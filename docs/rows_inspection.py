"""Rows of the validation page: regression, charts, capability and roundness of readings."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi, radians

import numpy as np
import test_inspection_published as t
from row import Row, parameters

from heldtrue.inspection.capability import capability_of
from heldtrue.inspection.chart import individuals
from heldtrue.inspection.estimate import line
from heldtrue.inspection.indicator import read_indicator
from heldtrue.inspection.readings import trace
from heldtrue.mechanics.form import vee_factor

STRD = "NIST statistical reference data (quoted in public test suites)"
RULE = "common practice, no source"


def inspection_rows() -> Iterator[Row]:
    found = line(t.NORRIS_X, t.NORRIS_Y)
    for what, published, ours in (
        ("intercept", -0.262323073774029, found.intercept.value), ("slope", 1.00211681802045, found.slope.value),
        ("sd of the intercept", 0.232818234301152, found.intercept.uncertainty),
        ("sd of the slope", 0.429796848199937e-03, found.slope.uncertainty),
        ("residual sd", 0.884796396144373, found.scatter),
    ):  # fmt: skip
        yield Row("test_nist_norris", f"Norris: {what}", STRD, published, ours)
    for number, (values, _, deviation, _) in enumerate(parameters(t.test_nist_univariate)):
        name = ("Michelso", "NumAcc1", "NumAcc2", "NumAcc3")[number]
        ours = float(np.std(np.array(values), ddof=1))
        where = STRD if number == 0 else "NIST statistical reference data (from memory)"
        yield Row("test_nist_univariate", f"{name}: standard deviation", where, deviation, ours)
    x = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5]
    y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68]
    slope = line(x, y).slope
    yield Row(
        "test_anscombe_first_set", "Anscombe's first set: slope", "Anscombe 1973 (from memory)", 0.500, slope.value
    )
    yield from _charts()
    yield from _form()


def _charts() -> Iterator[Row]:
    chart = individuals(np.array(t.BATCHES))
    where = "NIST/SEMATECH e-Handbook 6.3.2.2 (quoted in a course)"
    published = {"centre": 50.81, "mean range": 1.8778, "upper limit": 55.8041, "lower limit": 45.8159}
    found = (chart.centre, chart.mean_range, chart.upper, chart.lower)
    for (what, number), ours in zip(published.items(), found, strict=True):
        yield Row("test_nist_handbook_6_3_2_2_individuals_chart", f"batches: {what}", where, number, ours)
    chart = individuals(np.array(t.PYZDEK, float))
    yield Row("test_pyzdek_keller_table_9_4_individuals_chart", "table 9.4: mean", "Pyzdek and Keller, p. 172 (read)",
              99.04, chart.centre)  # fmt: skip
    able = capability_of(16.0, 2.0, 50, 8.0, 20.0)
    where = "NIST/SEMATECH e-Handbook 6.1.6 (quoted in a course)"
    yield Row("test_nist_handbook_6_1_6_capability", "Pp", where, 1.0, able.pp.value)
    yield Row("test_nist_handbook_6_1_6_capability", "Ppk", where, 0.6667, able.ppk.value)
    ours = capability_of(0.166, 0.0457, 30, None, 0.40).ppk.value
    yield Row("test_one_sided_capability_example", "Ppk, upper limit alone", "AIAG/VDA form (quoted in a course)", 1.71,
              ours)  # fmt: skip
    able = capability_of(50.0, 1.75, 20, 38.0, 62.0)
    where = "Montgomery, Statistical Quality Control (from memory)"
    for what, published, ours in (("Pp", 2.29, able.pp.value), ("Pp, low end", 1.57, able.pp.low),
                                  ("Pp, high end", 3.01, able.pp.high)):  # fmt: skip
        yield Row("test_montgomery_intervals_of_capability", what, where, published, ours)


def _form() -> Iterator[Row]:
    for vee, factors in parameters(t.test_handbook_vee_factors):
        for order, factor in zip((3, 2, 5), factors, strict=True):
            ours = abs(vee_factor(order, radians(vee)))
            published = factor if factor else (-0.005, 0.005)
            yield Row("test_handbook_vee_factors", f"vee of {vee}°, {order} lobes", RULE, published, ours)
    points = np.array(t.JYWE.split(), float).reshape(24, 2) - (82.99, 97.01)
    angle, distance = np.arctan2(points[:, 1], points[:, 0]), np.hypot(points[:, 0], points[:, 1])
    found = read_indicator(trace(angle, distance - 30.0268), radius=30.0268)
    yield Row("test_jywe_24_points_read_as_an_indicator_would", "24 points: minimum zone",
              "Jywe, Liu and Chen 1999 (number from memory, points read)", 0.0382, found.roundness_mz.peak_to_valley,
              "mm")  # fmt: skip
    turn = 2 * pi * np.arange(36) / 36
    ours = read_indicator(trace(turn, 0.012 * np.cos(turn - 0.7))).runout.value
    yield Row("test_off_centre_by_e_reads_two_e", "0.012 off centre: run-out", RULE, 0.024, ours, "mm")
    shape = 0.012 * np.cos(turn - 0.7) + 0.005 * np.cos(5 * turn)
    centre = read_indicator(trace(turn, shape)).eccentricity
    yield Row("test_nist_handbook_2_3_4_4_single_trace", "centre of a trace with five lobes, cosine",
              "NIST/SEMATECH e-Handbook 2.3.4.4 (read)", float(2 * np.mean(shape * np.cos(turn))), centre.cosine,
              "mm")  # fmt: skip
