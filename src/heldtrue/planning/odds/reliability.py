"""The probability that a margin is negative, from draws of independent standard normals.

Plain sampling where it goes wrong often.  Where it is rare: design points (the points of failure nearest to the middle,
first-order reliability), and importance sampling round them; second-order reliability stands beside it.  References:
A. M. Hasofer, N. C. Lind, "Exact and invariant second-moment code format", Journal of the Engineering Mechanics
Division ASCE 100 (1974) 111-121; K. Breitung, "Asymptotic approximations for multinormal integrals", Journal of
Engineering Mechanics 110 (1984) 357-366 (both from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Array = NDArray[np.float64]
Margin = Callable[[Array], Array]
"""Margins (n,) of points of standard normals (n, d); negative is failure."""

DRAWS, WEIGHTED = 8192, 4096
"""Plain draws, and draws round design points."""
OFTEN = 160
"""So many failures among the plain draws are counted; fewer are looked for."""
WIDER = 2.5
"""Standard deviations of the draws that look for failures: of one in 10,000, one draw in fifteen fails there; of one in
ten million, one in fifty."""
FAR = 5.0
"""A design point this far from the middle (1 in 3,000,000) is not looked into."""
STARTS, SEARCHES, MOST_POINTS, APART = 32, 4, 3, 0.7
"""Failures to choose from, searches started, design points kept, and the cosine between two of them at the most."""
ROUNDS, SETTLED, STEP = 15, 5e-4, 1e-3
CUTS, TIMES, ROUGHLY = 16, 4, 2
"""A point is moved to the edge of failure by cutting its ray into so many pieces, so many times over; roughly while
a search goes on."""
DEFENSIVE = 0.1
"""Share of the draws round design points that are plain ones: no failure is out of reach."""
TWO_SIDED = 1.96
SEED = 20

_SHORTENED = 0.5 ** np.arange(6)


class Chance(NamedTuple):
    """A probability with half the width of its 95 % interval.

    ``distance`` of the nearest design point from the middle, ``second_order``: what its curvature makes of it
    (both None where failures were counted or none was found); ``nearest``: that design point, shape (d,).
    """

    value: float
    error: float
    distance: float | None = None
    second_order: float | None = None
    nearest: Array | None = None


NEVER = Chance(0.0, 0.0)


@lru_cache(maxsize=8)
def normals(count: int, dimension: int, seed: int = SEED) -> Array:
    """Standard normals, every second one the mirror image of the one before, shape (count, dimension)."""
    half = np.random.default_rng(seed).standard_normal((count // 2, dimension))
    found = np.empty((2 * len(half), dimension))
    found[0::2], found[1::2] = half, -half
    found.flags.writeable = False
    return found


def chance(margin: Margin, dimension: int) -> Chance:
    """The probability that a margin is negative."""
    plain = normals(DRAWS, dimension)
    failing = margin(plain) < 0
    fails = int(failing.sum())
    if fails >= OFTEN:
        return Chance(fails / len(plain), _half_width(failing.astype(float)))
    points = design_points(margin, dimension)
    if not points:
        return Chance(fails / len(plain), 3 / len(plain)) if fails else NEVER
    index = float(np.linalg.norm(points[0]))
    if index > FAR and not fails:
        first = float(ndtr(-index))
        return Chance(first, first, index, first, points[0])
    value, error = _weighted(margin, points)
    second = second_order(margin, points[0])
    if fails > 0:
        # Plain draws that fail far more often than those round the design points say: a failure was missed there.
        counted = fails / len(plain)
        if counted - TWO_SIDED * sqrt(counted / len(plain)) > value + error:
            value, error = counted, max(TWO_SIDED * sqrt(counted / len(plain)), counted - value)
    return Chance(value, error, index, second, points[0])


def design_points(margin: Margin, dimension: int) -> list[Array]:
    """The points of failure nearest to the middle, nearest first; at most ``MOST_POINTS`` that lie well apart."""
    middle = float(margin(np.zeros((1, dimension)))[0])
    if middle <= 0:
        return [np.zeros(dimension)]
    tried = WIDER * normals(WEIGHTED, dimension, SEED + 1)
    failing = tried[margin(tried) < 0]
    if not len(failing):
        return []
    nearest = failing[np.argsort(np.einsum("ij,ij->i", failing, failing))[:STARTS]]
    on = _shrunk(margin, nearest, ROUGHLY)
    on = on[np.argsort(np.einsum("ij,ij->i", on, on))]
    found: list[Array] = []
    searches = 0
    for start in on:
        if searches == SEARCHES or len(found) == MOST_POINTS:
            break
        if found and (_near_any(start, found) or float(np.linalg.norm(found[0])) > FAR):
            continue
        searches += 1
        point = _closest(margin, start)
        if not _near_any(point, found):
            found.append(point)
    return sorted(found, key=lambda point: float(point @ point))


def _near_any(one: Array, others: list[Array]) -> bool:
    """Does a point lie in nearly the same direction as any of the others?"""
    size = float(np.linalg.norm(one))
    return any(float(one @ other) > APART * size * float(np.linalg.norm(other)) for other in others)


def _shrunk(margin: Margin, failing: Array, times: int = TIMES) -> Array:
    """Points moved towards the middle as far as they still fail."""
    low, high = np.zeros(len(failing)), np.ones(len(failing))
    for _ in range(times):
        along = low[:, None] + (high - low)[:, None] * np.arange(1, CUTS) / CUTS
        fails = margin((along[:, :, None] * failing[:, None, :]).reshape(-1, failing.shape[1])) < 0
        fails = np.column_stack([fails.reshape(along.shape), np.ones(len(failing), bool)])
        first = fails.argmax(axis=1)
        width = (high - low) / CUTS
        low, high = low + first * width, low + (first + 1) * width
    return np.asarray(high[:, None] * failing)


def _gradient(margin: Margin, point: Array) -> Array:
    """Slope of the margin at a point, shape (d,)."""
    steps = STEP * np.eye(len(point))
    both = margin(np.concatenate([point + steps, point - steps]))
    return np.asarray((both[: len(point)] - both[len(point) :]) / (2 * STEP))


def _closest(margin: Margin, start: Array) -> Array:
    """The point of failure nearest to the middle, from one on the edge: Newton steps, shortened where they miss.

    On bounded ranges the full step of Hasofer and Lind never settles.
    """
    point = best = start
    for _ in range(ROUNDS):
        slope = _gradient(margin, point)
        size = float(slope @ slope)
        if size < 1e-24:
            break
        value = float(margin(point[None, :])[0])
        step = (float(slope @ point) - value) / size * slope - point
        tried = _shrunk(margin, _failing_side(margin, point + _SHORTENED[:, None] * step, slope), ROUGHLY)
        nearest = tried[int(np.einsum("ij,ij->i", tried, tried).argmin())]
        if float(nearest @ nearest) >= float(best @ best) * (1 - SETTLED):
            break
        point = best = nearest
    return np.asarray(_shrunk(margin, 1.05 * best[None, :])[0])


def _failing_side(margin: Margin, points: Array, slope: Array) -> Array:
    """Points pushed out along their ray until they fail; those that never do are left far out."""
    further = np.multiply.outer(np.array([1.0, 1.2, 1.5, 2.0]), points)
    fails = (margin(further.reshape(-1, points.shape[1])) < 0).reshape(4, -1)
    out = further[fails.argmax(axis=0), np.arange(len(points))]
    out[~fails.any(axis=0)] = -1e3 * slope / max(float(np.linalg.norm(slope)), 1e-12)
    return np.asarray(out)


def _weighted(margin: Margin, points: list[Array]) -> tuple[float, float]:
    """Probability of failure, and half its 95 % interval, by draws round design points."""
    dimension = len(points[0])
    base = normals(WEIGHTED, dimension, SEED + 2)
    which = np.arange(len(base)) % (10 * len(points))
    middles = np.array([*points, np.zeros(dimension)])
    number = np.where(which < round(DEFENSIVE * 10 * len(points)), len(points), which % len(points))
    drawn = base + middles[number]
    # Densities over that of plain draws: exp(u.m - m.m/2) for each middle m.
    over = np.exp(np.clip(drawn @ middles.T - (middles**2).sum(axis=1) / 2, -700, 700))
    shares = np.bincount(number, minlength=len(middles)) / len(base)
    weights = np.where(margin(drawn) < 0, 1 / (over @ shares), 0.0)
    return float(weights.mean()), _half_width(weights)


def _half_width(samples: Array) -> float:
    """Half the 95 % interval of the mean of samples of which every two are of mirrored points."""
    pairs = samples.reshape(-1, 2).mean(axis=1)
    return float(TWO_SIDED * pairs.std(ddof=1) / sqrt(len(pairs)))


def second_order(margin: Margin, point: Array) -> float:
    """Probability of failure from one design point and the curvature of the margin there (Breitung)."""
    index, dimension = float(np.linalg.norm(point)), len(point)
    first = float(ndtr(-index))
    slope = _gradient(margin, point)
    size = float(np.linalg.norm(slope))
    if index < 1e-6 or dimension < 2 or size < 1e-12:
        return first
    step = 1e-2
    pairs = [(i, j) for i in range(dimension) for j in range(i, dimension)]
    eye = step * np.eye(dimension)
    at = np.array([point + a * eye[i] + b * eye[j] for i, j in pairs for a, b in ((1, 1), (1, -1), (-1, 1), (-1, -1))])
    values = margin(at).reshape(-1, 4)
    curved = np.zeros((dimension, dimension))
    for (i, j), (pp, pm, mp, mm) in zip(pairs, values, strict=True):
        curved[i, j] = curved[j, i] = (pp - pm - mp + mm) / (4 * step * step)
    towards = point / index
    # An orthonormal basis with the design point's direction last.
    basis = np.linalg.qr(np.column_stack([towards, np.eye(dimension)[:, : dimension - 1]]))[0][:, 1:]
    main = np.linalg.eigvalsh(basis.T @ curved @ basis / size)
    inside = 1 + index * main
    return first / sqrt(float(np.prod(inside))) if (inside > 0).all() else first
