"""Some hundred drawn sets of jaws against the plain model; ``bench/jaw_sweep.py`` draws thousands."""

import numpy as np
import pytest
from conftest import longer

from .compare import Looked, look_at
from .plain import PlainCut, PlainJaw, bears_round, neighbours_meet, swept, touched_first


@pytest.mark.parametrize("count", [40, *longer(100)])
def test_every_job_is_as_the_plain_model_has_it_or_refused_in_words(count):
    looked = Looked()
    for seed in range(count):
        look_at(seed, looked, used=seed % 3 == 2, proved=seed % 8 == 0)
    assert looked.wrong == []
    assert looked.outcomes["laid out"] > 0.1 * count
    assert looked.outcomes["laid out, used"] > 0
    assert looked.outcomes["proved"] > 0


def test_the_plain_model_by_hand():
    flat = PlainJaw(3, False, False, 60.0, 0.0, -40.0, 50.0, 55.0)
    cloud = swept(flat, 75.0)
    assert cloud[:, 0].min() == pytest.approx(35.0, abs=0.01)
    assert cloud[:, 0].max() == pytest.approx(np.hypot(125.0, 30.0))
    assert bears_round(flat, 75.0, 60.0) == pytest.approx(np.pi / 6, abs=1e-3)
    assert neighbours_meet(flat, 75.0) < 0 < neighbours_meet(flat, 55.0)
    pointed = PlainJaw(3, False, True, 60.0, 0.0, -40.0, 50.0, 55.0)
    assert swept(pointed, 41.0)[:, 0].min() == pytest.approx(1.0, abs=0.01)
    assert neighbours_meet(pointed, 40.5) < 0 < neighbours_meet(pointed, 39.5)
    cut = PlainCut(True, 45.0, 20.0, 75.0)
    longer = PlainJaw(3, False, False, 60.0, 0.0, -45.0, 50.0, 55.0)
    assert touched_first(longer, 75.0, cut) == pytest.approx(45.0)
    assert touched_first(longer, 76.0, cut) == pytest.approx(np.hypot(np.sqrt(45.0**2 - 30.0**2) + 1.0, 30.0), abs=0.01)
    assert touched_first(longer, 74.0, cut) == pytest.approx(44.0)
