"""Form measurement against numbers printed by others. What we computed ourselves is in unit/test_form.py."""

import numpy as np
import pytest

from heldtrue.mechanics.form import (
    least_squares_circle,
    roundness_minimum_zone,
    roundness_of_deviation,
)

# Points: the 24-point circle example (attributed to Jywe, Liu & Chen 1999), from an MIT-licensed repository,
# kuyexinxi/A-novel-roundness-error-evaluation-method-for-high-speed-EMU-train-axles, Dataset3.xlsx.
DATASET_3 = """
107.5811 114.2119  102.2909 119.9906  95.6848 124.2034  88.2128 126.5634  80.3826 126.9159
72.7251 125.2311  65.7612 121.6196  59.9721 116.3233  55.7576 109.7039  53.4073 102.2180
53.0774 94.3816  54.7849 86.7302  58.4107 79.7824  63.7075 74.0083  70.3176 69.8019
77.7899 67.4519  85.6152 67.1081  93.2669 68.7926  100.2245 72.4009  106.0093 77.6929
110.2199 84.3073  112.5676 91.7864  112.8977 99.6156  111.2129 107.2695
"""


def test_jywe_24_points_minimum_zone():
    points = np.array(DATASET_3.split(), dtype=float).reshape(24, 2)
    # the literature prints 0.0382: four decimals, so half a unit of the last
    assert roundness_minimum_zone(points).peak_to_valley == pytest.approx(0.0382, abs=5e-5)


def test_gander_golub_strebel_1994_best_fit_circle():
    # Gander, Golub & Strebel, Least-squares fitting of circles and ellipses, BIT 34 (1994): six points, best
    # fit printed as centre (4.7398, 2.9835), radius 4.7142: four decimals, so half a unit of the last
    circle = least_squares_circle([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)])
    assert circle.centre == pytest.approx((4.7398, 2.9835), abs=5e-5)
    assert circle.radius == pytest.approx(4.7142, abs=5e-5)


def test_nist_handbook_2_3_4_4_single_trace_centre():
    # NIST/SEMATECH e-Handbook 2.3.4.4, least squares on a single trace P at equal angles:
    # R = mean P, a = 2/n sum P cos, b = 2/n sum P sin.
    # It equals the exact fit to second order in eccentricity over radius: 0.012^2 / 30 = 5e-6
    angle = 2.0 * np.pi * np.arange(360) / 360
    trace = 0.012 * np.cos(angle - 0.7) + 0.005 * np.cos(5 * angle)
    exact = roundness_of_deviation(angle, trace, 30.0, "least-squares")
    centre = (2.0 * np.mean(trace * np.cos(angle)), 2.0 * np.mean(trace * np.sin(angle)))
    assert exact.centre == pytest.approx(centre, abs=5e-6)
    assert exact.radius == pytest.approx(30.0 + np.mean(trace), abs=5e-6)
