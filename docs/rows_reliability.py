"""Rows of the validation page about odds."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import test_reliability_published as tests
from row import Row
from scipy.special import ndtr

from heldtrue.planning.odds.reliability import chance, design_points


def reliability_rows() -> Iterator[Row]:
    """Published examples of reliability."""
    where = "documentation of a reliability package (read)"
    index, probability = tests.TWO_NORMALS
    test, nearest = "test_two_normals", np.linalg.norm(design_points(tests.two_normals, 2)[0])
    yield Row(test, "two normals: distance of the design point", where, index, float(nearest))
    yield Row(test, "the same: probability, by draws round it", where, probability, chance(tests.two_normals, 2).value)
    where = "Haldar and Mahadevan, p. 218 (read in the same place)"
    test, nearest = "test_a_reinforced_beam_of_seven_normals", np.linalg.norm(design_points(tests.beam, 7)[0])
    yield Row(test, "reinforced beam: distance of the design point", where, tests.BEAM_INDEX, float(nearest))
    yield Row(test, "the same: first-order probability", where, tests.BEAM_FIRST_ORDER, float(ndtr(-nearest)))
    test = "test_design_points_are_those_of_a_general_library"
    yield Row(test, "the same: distance, by OpenTURNS 1.27", "run outside this project", 3.833028, float(nearest))
    test, found = "test_a_reinforced_beam_of_seven_normals", chance(tests.beam, 7)
    band = (found.value - 1.5 * found.error, found.value + 1.5 * found.error)
    yield Row(test, "the same by draws round it; published: our own, by ten million plain draws",
              "own", band, tests.BEAM_SAMPLED)  # fmt: skip
