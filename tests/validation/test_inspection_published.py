"""Inspection against numbers printed by others: regression, charts, capability, roundness, vee blocks.

What is marked "from memory" was not seen while this was written; it says that our formula is the one we meant.
"""

from math import pi, radians

import numpy as np
import pytest

from heldtrue.inspection.capability import capability_of
from heldtrue.inspection.chart import individuals
from heldtrue.inspection.estimate import line
from heldtrue.inspection.indicator import read_indicator
from heldtrue.inspection.readings import trace
from heldtrue.mechanics.form import vee_factor

# NIST Statistical Reference Datasets, linear regression, Norris (itl.nist.gov/div898/strd/lls/data/Norris.shtml; data
# and certified values read in public test suites that quote the page): y against x, 36 pairs.
NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
    447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3,
    229.2, 669.1, 448.9, 0.5,
]  # fmt: skip
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9,
    10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9,
    668.4, 449.2, 0.2,
]  # fmt: skip
# NIST/SEMATECH e-Handbook 6.3.2.2, batches of a chemical process (answers quoted in a public statistics course).
BATCHES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
# Pyzdek and Keller, The Handbook for Quality Management, table 9.4, p. 172 (page read).
PYZDEK = [
    110, 103, 97, 96, 105, 110, 100, 93, 90, 103, 97, 103, 90, 97, 99, 106, 90, 96, 109, 90, 91, 108, 96, 101, 96,
]  # fmt: skip
# A. A. Michelson's 100 determinations of the speed of light, 1879, as km/s less 299 000 (NIST StRD univariate,
# Michelso).
MICHELSON = [
    850, 740, 900, 1070, 930, 850, 950, 980, 980, 880, 1000, 980, 930, 650, 760, 810, 1000, 1000, 960, 960, 960,
    940, 960, 940, 880, 800, 850, 880, 900, 840, 830, 790, 810, 880, 880, 830, 800, 790, 760, 800, 880, 880, 880,
    860, 720, 720, 620, 860, 970, 950, 880, 910, 850, 870, 840, 840, 850, 840, 840, 840, 890, 810, 810, 820, 800,
    770, 760, 740, 750, 760, 910, 920, 890, 860, 880, 720, 840, 850, 850, 780, 890, 840, 780, 810, 760, 810, 790,
    810, 820, 850, 870, 870, 810, 740, 810, 940, 950, 800, 810, 870,
]  # fmt: skip
# Points of the 24-point roundness example attributed to Jywe, Liu and Chen 1999, from an MIT-licensed repository,
# kuyexinxi/A-novel-roundness-error-evaluation-method-for-high-speed-EMU-train-axles, Dataset3.xlsx.
JYWE = """
107.5811 114.2119  102.2909 119.9906  95.6848 124.2034  88.2128 126.5634  80.3826 126.9159
72.7251 125.2311  65.7612 121.6196  59.9721 116.3233  55.7576 109.7039  53.4073 102.2180
53.0774 94.3816  54.7849 86.7302  58.4107 79.7824  63.7075 74.0083  70.3176 69.8019
77.7899 67.4519  85.6152 67.1081  93.2669 68.7926  100.2245 72.4009  106.0093 77.6929
110.2199 84.3073  112.5676 91.7864  112.8977 99.6156  111.2129 107.2695
"""


def test_nist_norris():
    found = line(NORRIS_X, NORRIS_Y)
    # certified to 15 figures; double precision with a mean taken out first keeps 12
    assert found.intercept.value == pytest.approx(-0.262323073774029, rel=1e-11)
    assert found.slope.value == pytest.approx(1.00211681802045, rel=1e-13)
    assert found.intercept.uncertainty == pytest.approx(0.232818234301152, rel=1e-12)
    assert found.slope.uncertainty == pytest.approx(0.429796848199937e-03, rel=1e-12)
    assert found.scatter == pytest.approx(0.884796396144373, rel=1e-12)


def test_anscombe_first_set():
    # F. J. Anscombe, Graphs in statistical analysis, The American Statistician 27 (1973): y = 3.00 + 0.500 x, standard
    # error of the slope 0.118 (from memory; 3 figures printed)
    x = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5]
    y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68]
    found = line(x, y)
    assert found.intercept.value == pytest.approx(3.00, abs=5e-3)
    assert found.slope.value == pytest.approx(0.500, abs=5e-4)
    assert found.slope.uncertainty == pytest.approx(0.118, abs=5e-4)


NUMACC_3 = [1000000.2, *[1000000.1, 1000000.3] * 500]
NUMACC_2 = [1.2, *[1.1, 1.3] * 500]


@pytest.mark.parametrize(("values", "mean", "deviation", "figures"), [
    ([v / 1000 + 299 for v in MICHELSON], 299.852400000000, 0.0790105478190518, 1e-11),
    ([10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, 1e-14),
    (NUMACC_2, 1.2, 0.1, 1e-12),
    (NUMACC_3, 1000000.2, 0.1, 1e-8),  # the data themselves are rounded to 1e-10 in double precision
])  # fmt: skip
def test_nist_univariate(values, mean, deviation, figures):
    # NIST Statistical Reference Datasets, univariate: Michelso, NumAcc1, NumAcc2, NumAcc3; certified values read in
    # public test suites that quote the pages, data from memory
    data = np.array(values)
    found = capability_of(float(data.mean()), float(data.std(ddof=1)), data.size, 0.0, 2 * mean)
    assert data.mean() == pytest.approx(mean, rel=1e-14)
    assert found.sigma == pytest.approx(deviation, rel=figures)


def test_nist_handbook_6_3_2_2_individuals_chart():
    found = individuals(np.array(BATCHES))
    assert found.centre == pytest.approx(50.81, abs=5e-3)
    assert found.mean_range == pytest.approx(1.8778, abs=5e-5)
    assert found.upper == pytest.approx(55.8041, abs=1e-4)  # printed to 4 places, from a rounded mean range
    assert found.lower == pytest.approx(45.8159, abs=1e-4)
    assert found.in_control


def test_pyzdek_keller_table_9_4_individuals_chart():
    values = np.array(PYZDEK, float)
    found = individuals(values)
    assert found.centre == pytest.approx(99.04)
    assert np.abs(np.diff(values)).sum() == pytest.approx(196)  # the sum of ranges as printed
    # the book's limits are mean +/- 2.66 times the mean range; 3 / 1.128 is 2.6596
    assert found.upper == pytest.approx(99.04 + 2.66 * 196 / 24, abs=5e-3)
    assert found.lower == pytest.approx(99.04 - 2.66 * 196 / 24, abs=5e-3)
    assert found.range_upper == pytest.approx(3.267 * 196 / 24, abs=1e-3)


def test_nist_handbook_6_1_6_capability():
    # USL 20, LSL 8, mean 16, s 2 (answers quoted in a public statistics course)
    found = capability_of(16.0, 2.0, 50, 8.0, 20.0)
    assert found.pp.value == pytest.approx(1.0)
    assert found.ppk.value == pytest.approx(0.6667, abs=5e-5)
    assert capability_of(16.0, 2.0, 50, 8.0, None).ppk.value == pytest.approx(1.3333, abs=5e-5)


def test_one_sided_capability_example():
    # AIAG/VDA form, upper limit alone: 0.40, mean 0.166, s 0.0457, printed 1.71 (quoted in a public statistics course)
    assert capability_of(0.166, 0.0457, 30, None, 0.40).ppk.value == pytest.approx(1.71, abs=5e-3)


def test_montgomery_intervals_of_capability():
    # D. C. Montgomery, Introduction to Statistical Quality Control, chapter on capability: 62 and 38, s 1.75, n 20
    # gives Cp 2.29, 1.57 to 3.01; Cpk 1.33 with n 20 (from memory; the interval of Cpk by the printed formula)
    found = capability_of(50.0, 1.75, 20, 38.0, 62.0)
    assert (found.pp.value, found.pp.low, found.pp.high) == pytest.approx((2.29, 1.57, 3.01), abs=5.1e-3)
    half = 1.96 * (1 / (9 * 20) + 1.33**2 / (2 * 19)) ** 0.5
    other = capability_of(0.0, 1.0, 20, None, 3.99)
    assert (other.ppk.low, other.ppk.high) == pytest.approx((1.33 - half, 1.33 + half), abs=1e-3)


@pytest.mark.parametrize(("vee", "factors"), [(60, (3.0, 0.0, 0.0)), (90, (2.0, 1.0, 2.0)), (120, (1.0, 1.58, 2.0))])
def test_handbook_vee_factors(vee, factors):
    # common practice, no source (the blind spots are in public discussions): three lobes, oval, five lobes; two figures
    for order, factor in zip((3, 2, 5), factors, strict=True):
        assert abs(vee_factor(order, radians(vee))) == pytest.approx(factor, abs=5e-3)


def test_jywe_24_points_read_as_an_indicator_would():
    # ISO 12181-1 (minimum zone and least-squares circle).  The literature prints 0.0382: four decimals, half a unit
    points = np.array(JYWE.split(), float).reshape(24, 2) - (82.99, 97.01)
    angle, distance = np.arctan2(points[:, 1], points[:, 0]), np.hypot(points[:, 0], points[:, 1])
    found = read_indicator(trace(angle, distance - 30.0268), radius=30.0268)
    assert found.roundness_mz.peak_to_valley == pytest.approx(0.0382, abs=5e-5)
    assert found.roundness_mz.peak_to_valley <= found.roundness_ls.peak_to_valley


def test_off_centre_by_e_reads_two_e():
    # common practice, no source: a round part off centre by e shows a run-out of 2 e
    angle = 2 * pi * np.arange(36) / 36
    found = read_indicator(trace(angle, 0.012 * np.cos(angle - 0.7)))
    assert found.runout.value == pytest.approx(0.024, rel=1e-6)


def test_nist_handbook_2_3_4_4_single_trace():
    # NIST/SEMATECH e-Handbook 2.3.4.4 (page read): at equal steps the centre is 2/n sum P cos, 2/n sum P sin
    angle = 2 * pi * np.arange(36) / 36
    trace_ = 0.012 * np.cos(angle - 0.7) + 0.005 * np.cos(5 * angle)
    found = read_indicator(trace(angle, trace_)).eccentricity
    assert found.cosine == pytest.approx(2 * np.mean(trace_ * np.cos(angle)), rel=1e-9)
    assert found.sine == pytest.approx(2 * np.mean(trace_ * np.sin(angle)), rel=1e-9)
