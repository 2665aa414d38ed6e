"""Measured lobes against predicted ones, and where the run-out tolerance goes."""

from math import hypot, pi

import numpy as np
import pytest

from heldtrue.errors import InputError
from heldtrue.inspection.budget import compare_lobes, runout_budget
from heldtrue.inspection.causes import rank_causes
from heldtrue.inspection.indicator import read_indicator
from heldtrue.inspection.readings import trace

ANGLE = 2 * pi * np.arange(12) / 12


def lobed(size, seed=1, turned=0.0, offset=0.0):
    value = size * np.cos(3 * ANGLE) + offset * np.cos(ANGLE) + np.random.default_rng(seed).normal(0, 2e-4, 12)
    return read_indicator(trace(ANGLE, value, turned=turned, state="clamped"))


@pytest.mark.parametrize(("measured", "verdict"), [
    (0.010, "explained"), (0.012, "explained"), (0.020, "more than the pressure explains"),
    (0.004, "less than the pressure explains"), (0.0, "less than the pressure explains"),
])  # fmt: skip
def test_is_it_what_the_pressure_explains(measured, verdict):
    (found,) = compare_lobes(lobed(measured), {3: 0.010}, pressure=2.0)
    assert found.verdict == verdict
    assert (found.halved_at is not None) == (verdict == "explained")


def test_half_the_lobe_needs_half_the_grip_not_half_the_gauge():
    (found,) = compare_lobes(lobed(0.01), {3: 0.010}, pressure=2.0, threshold=0.4)
    assert found.halved_at == pytest.approx(1.2)


def test_no_pressure_below_the_floor_is_advised():
    (found,) = compare_lobes(lobed(0.01), {3: 0.010}, pressure=2.0, floor=1.5)
    assert found.halved_at is None
    assert "more wrap or more jaws" in found.words


def test_lobes_the_readings_cannot_show():
    (found,) = compare_lobes(lobed(0.01), {9: 0.001}, pressure=2.0)
    assert found.verdict == "cannot tell"


def test_wrong_input():
    with pytest.raises(InputError, match="amplitude"):
        compare_lobes(lobed(0.01), {3: -0.1})
    with pytest.raises(InputError, match="do not grip at"):
        compare_lobes(lobed(0.01), {3: 0.1}, pressure=0.3, threshold=0.4)
    with pytest.raises(InputError, match="run-out tolerance: found 0 mm"):
        runout_budget(rank_causes([lobed(0.01)]), 0.0)


def test_the_budget_adds_up():
    found = rank_causes([lobed(0.004, 1, 0.0, 0.01), lobed(0.004, 2, pi, 0.01)])
    budget = runout_budget(found, 0.06)
    spent = {item.name: item.size for item in budget.items}
    assert spent["jaws"] == pytest.approx(next(c.expected for c in found.causes if c.name == "jaws"))
    assert 0.010 < spent["jaws"] + spent.get("seat or chip", 0.0) < 0.024
    assert budget.worst == pytest.approx(sum(spent.values()))
    assert budget.likely == pytest.approx(hypot(*spent.values()))
    assert budget.items[0].share == pytest.approx(budget.items[0].size / 0.06)
    holding = sum(spent.get(name, 0.0) for name in ("jaws", "seat or chip", "clamp"))
    assert budget.holding == pytest.approx(holding / 0.02)
    assert budget.words[-1].endswith("too much" if budget.holding > 1 else "within it")
