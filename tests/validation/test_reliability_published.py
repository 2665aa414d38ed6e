"""Reliability by design points and by draws against published examples.

Read in the documentation of a reliability package (rdrr.io, LimitState): resistance minus load of two normals,
and A. Haldar, S. Mahadevan, Probability, Reliability and Statistical Methods in Engineering Design, p. 218, tables 7.5
and 7.6 (reinforced concrete beam, seven normals; the index of the same example quoted there).
"""

import numpy as np
import pytest
from scipy.special import ndtr

from heldtrue.planning.odds.reliability import chance, design_points, second_order

TWO_NORMALS = (4.472136, 3.872108e-6)
BEAM_INDEX, BEAM_FIRST_ORDER = 3.8330, 6.329e-5
BEAM_MEANS = np.array([1.56, 47.7, 3.5, 8.0, 13.2, 0.59, 326.25])
BEAM_SPREADS = np.array([0.036, 0.15, 0.21, 0.045, 0.086, 0.05, 0.17])
BEAM_SAMPLED = 1.52e-4
"""Ours, ten million plain draws."""


def two_normals(u):
    return (200 + 10 * u[:, 0]) - (100 + 20 * u[:, 1])


def beam(u):
    area, steel, concrete, width, depth, factor, moment = (BEAM_MEANS * (1 + BEAM_SPREADS * u)).T
    return area * steel * depth * (1 - factor * area * steel / width / depth / concrete) - moment


def test_two_normals():
    index, probability = TWO_NORMALS
    found = chance(two_normals, 2)
    assert np.linalg.norm(design_points(two_normals, 2)[0]) == pytest.approx(index, rel=1e-4)
    assert found.value == pytest.approx(probability, abs=found.error)
    assert second_order(two_normals, design_points(two_normals, 2)[0]) == pytest.approx(probability, rel=2e-3)


def test_a_reinforced_beam_of_seven_normals():
    nearest = design_points(beam, 7)[0]
    assert np.linalg.norm(nearest) == pytest.approx(BEAM_INDEX, rel=1e-3)
    assert ndtr(-np.linalg.norm(nearest)) == pytest.approx(BEAM_FIRST_ORDER, rel=0.02)
    found = chance(beam, 7)
    assert abs(found.value - BEAM_SAMPLED) < 1.5 * found.error
    assert found.error < 0.5 * found.value


@pytest.mark.long
def test_design_points_are_those_of_a_general_library():
    """OpenTURNS, where it is installed (extra ``reference``): its index of the beam."""
    ot = pytest.importorskip("openturns")
    function = ot.PythonFunction(7, 1, func_sample=lambda x: beam(np.array(x))[:, None])
    vector = ot.CompositeRandomVector(function, ot.RandomVector(ot.Normal(7)))
    form = ot.FORM(ot.AbdoRackwitz(), ot.ThresholdEvent(vector, ot.Less(), 0.0), ot.Point([0.1] * 7))
    form.run()
    theirs = form.getResult().getHasoferReliabilityIndex()
    assert np.linalg.norm(design_points(beam, 7)[0]) == pytest.approx(theirs, rel=1e-3)
