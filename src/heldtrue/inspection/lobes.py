"""Which lobes readings show, and how surely: least squares on any angles, with the whole covariance.

Mean, offset, taper and tilt are always in the model; a lobe is in it by the stated criterion only, and so is its growth
along the part where more than one plane was read.  Lengths mm, angles rad.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import log, pi
from typing import TypeAlias

import numpy as np
from scipy import special

from heldtrue.errors import InputError
from heldtrue.inspection.model import (
    Array,
    Fit,
    Layout,
    Noise,
    Rows,
    chance_of,
    fixed_columns,
    independent,
    normal_equations,
    predict,
    solved,
)

RISK = 0.005
"""Chance of naming one lobe that is not there, over all orders tried together; likewise one outlier over all
readings."""
HIGHEST = 50
"""Most undulations a turn that are looked for: the usual short filter of ISO 12181-2 (from memory)."""
FEW = 512
"""Up to here every order is tried with and without the worst reading; above, one fit of all orders decides."""
PAIRS = 64
"""Up to here pairs of orders are tried too, so that two lobes and a gross error cannot hide each other."""
LEAST_FREEDOM = 2
"""Readings left over when a lobe is judged."""
LEAST_CHECKED = 0.9
"""A reading with more leverage than this is checked by hardly any other, and cannot be called an outlier."""
CRITERION = (
    f"a lobe counts when leaving it out makes the fit worse by an F test at {RISK:.1%}, shared among the orders the "
    f"readings can tell apart; a reading is an outlier by the same test, shared among the readings"
)


def fit_lobes(
    angle: Array, value: Array, z: Array, noise: Noise, highest: int = HIGHEST, zero_kept: bool = True
) -> Fit:
    """The lobes of ``value`` [mm] at ``angle`` [rad] and ``z`` [mm].

    ``zero_kept``: the indicator kept its zero between planes, so that the difference of their means is taper.
    Raises: ``InputError`` for no more readings than unknowns without a known noise, or where the angles cannot tell
    an offset from a shift of the zero.
    """
    base, height, names = fixed_columns(angle, z, zero_kept)
    if len(value) <= base.shape[1] and noise.freedom <= 0.0:
        raise InputError(
            f"{len(value)} readings for {base.shape[1]} unknowns leave nothing to judge the noise by; "
            "read 12 in each plane"
        )
    # The fixed part must be sure before any lobe is looked for: readings bunched on one side tell nothing.
    if np.linalg.svd(base / np.linalg.norm(base, axis=0), compute_uv=False)[-1] < 1e-2:
        raise InputError("the readings lie too close together to tell an offset from the indicator's zero; go round")
    distinct = len(np.unique(np.round(np.mod(angle, 2 * pi), 6)))
    top = min(highest, distinct // 2)
    layout = Layout(base, names, angle, height, value - np.median(value), tuple(range(2, top + 1)), noise)
    fit = _few if len(value) <= FEW else _many
    orders, kept = fit(layout)
    return _final(layout, orders, kept)


# --- few readings: every order, and the worst reading, tried in turn ------------------------------------------


def _few(layout: Layout) -> tuple[tuple[int, ...], Rows]:
    """Orders and rows kept, stepwise: the plainest step that passes, the best of its kind."""
    kept = np.arange(len(layout.value))
    chosen: tuple[int, ...] = ()
    fewest = len(kept) - max(1, len(kept) // 12)
    while True:
        best = _step(layout, chosen, len(kept) > fewest)
        if best is None:
            break
        _, chosen, drop = best
        if drop >= 0:
            layout, kept = layout.of(np.delete(np.arange(len(kept)), drop)), np.delete(kept, drop)
    while True:  # what came in first may have been the shadow of what came later
        # A lobe that grows along the part stays, though it may be nothing just at the middle plane.
        chances = zip(chosen, _chances(layout, chosen), strict=True)
        weak = [n for n, chance in chances if chance > _share(layout) and -n not in chosen]
        if not weak:
            return chosen, kept
        chosen = tuple(n for n in chosen if n != weak[0])


def _share(layout: Layout) -> float:
    return RISK / max(len(layout.orders), 1)


_Step: TypeAlias = tuple[float, tuple[int, ...], int]
"""Score, orders, and the row dropped or -1.  The score is Schwarz's, n log(rss / n) + terms log n; the least is
best.
"""


def _step(layout: Layout, chosen: tuple[int, ...], may_drop: bool) -> _Step | None:
    """The best step of the plainest kind that passes.

    One term first, a lobe or an outlier.  Only where none passes, two together, then three: a lobe and a gross error
    hide each other, because each is the other's noise; but with few readings, many terms together explain anything.
    """
    rest = [n for n in layout.orders if n not in chosen]
    if np.ptp(layout.height) > 0.0:
        rest += [-n for n in chosen if n > 0 and -n not in chosen]
    ahead = 2 if len(layout.value) <= PAIRS else 1
    for terms in range(1, ahead + 2):
        found: list[_Step] = []
        if terms <= ahead:
            found += _kind(layout, chosen, list(combinations(rest, terms)), False)
        if may_drop:
            found += _kind(layout, chosen, list(combinations(rest, terms - 1)), True)
        if found:
            return min(found)
    return None


def _kind(layout: Layout, chosen: tuple[int, ...], sets: Sequence[tuple[int, ...]], drop: bool) -> Iterator[_Step]:
    """Steps that add one of ``sets``, and drop the worst reading or not, all new terms of which pass the test.

    The risk is shared among all steps of the kind.
    """
    risk = RISK / max(len(sets) * (len(layout.value) if drop else 1), 1)
    for added in sets:
        orders = tuple(sorted((*chosen, *added)))
        solved = layout.solve(orders)
        if solved is None:
            continue
        rss, left, leverage, terms = solved
        row = -1
        if drop:
            gain = np.where(leverage < LEAST_CHECKED, left**2 / np.maximum(1.0 - leverage, 1.0 - LEAST_CHECKED), 0.0)
            row = int(gain.argmax())
            rss, terms = max(rss - float(gain[row]), 0.0), terms + 1
            variance, freedom = layout.noise.pooled(rss, len(left) - terms)
            if len(left) - terms < LEAST_FREEDOM or chance_of(float(gain[row]), 1, variance, freedom) >= risk:
                continue
        if _passes(layout, orders, added, row, rss, terms, risk):
            yield _score(layout, rss, terms), orders, row


def _passes(
    layout: Layout, orders: tuple[int, ...], added: Sequence[int], row: int, rss: float, terms: int, risk: float
) -> bool:
    """Is each of ``added`` needed beside the rest, without reading ``row``?"""
    freedom = len(layout.value) - terms
    if freedom < LEAST_FREEDOM:
        return False
    variance, pooled = layout.noise.pooled(rss, freedom)
    for order in added:
        fewer = layout.solve(tuple(n for n in orders if n != order))
        if fewer is None:
            return False
        without, left, leverage, count = fewer
        if row >= 0:
            without -= float(left[row] ** 2 / max(1.0 - leverage[row], 1.0 - LEAST_CHECKED))
            count += 1
        if chance_of(without - rss, terms - count, variance, pooled) >= risk:
            return False
    return True


def _score(layout: Layout, rss: float, terms: int) -> float:
    n = len(layout.value)
    least = max(layout.noise.floor, 1e-24)
    return n * log(max(rss / n, least)) + terms * log(n)


def _chances(layout: Layout, chosen: tuple[int, ...]) -> list[float]:
    full = layout.solve(chosen)
    assert full is not None  # a chosen model was solved before
    rss, _, _, terms = full
    variance, freedom = layout.noise.pooled(rss, len(layout.value) - terms)
    found = []
    for order in chosen:
        fewer = layout.solve(tuple(n for n in chosen if n != order))
        found.append(1.0 if fewer is None else chance_of(fewer[0] - rss, terms - fewer[3], variance, freedom))
    return found


# --- many readings: one fit of all orders decides ---------------------------------------------------------------

ROUNDS = 4
"""Fits at most, each without the outliers of the one before."""


def _many(layout: Layout) -> tuple[tuple[int, ...], Rows]:
    """Orders and rows kept, from the fit of all orders together and a robust scale of its residuals."""
    whole, whole_right = normal_equations(layout, layout.orders)
    out = np.empty(0, np.int64)
    for _ in range(ROUNDS):
        matrix = layout.columns(layout.orders, out)
        gram, right = whole - matrix.T @ matrix, whole_right - matrix.T @ layout.value[out]
        solution = solved(gram, right)
        left = layout.value - predict(layout, layout.orders, solution)
        scale = max(1.4826 * float(np.median(np.abs(left))), np.sqrt(layout.noise.floor), 1e-12)
        bound = -float(special.ndtri(RISK / (2 * len(left)))) * scale
        found = np.flatnonzero(np.abs(left) > bound)
        # A gross error pulls its neighbours along, which come back once it is out; many of them are the part itself.
        if len(found) > len(left) // 12 or np.array_equal(found, out):
            break
        out = found
    kept = np.delete(np.arange(len(left)), out)
    variance, freedom = layout.noise.pooled(float(left[kept] @ left[kept]), len(kept) - len(right))
    inverse = np.linalg.inv(gram)
    chosen = []
    for k, order in enumerate(layout.orders):
        at = slice(layout.base.shape[1] + 2 * k, layout.base.shape[1] + 2 * k + 2)
        gain = float(solution[at] @ np.linalg.solve(inverse[at, at], solution[at]))
        if chance_of(gain, 2, variance, freedom) < _share(layout):
            chosen.append(order)
    return tuple(chosen), kept


# --- the chosen model -------------------------------------------------------------------------------------------


def _final(layout: Layout, orders: tuple[int, ...], kept: Rows) -> Fit:
    """Coefficients, covariance and chances of the chosen model."""
    less, names = layout.of(kept), layout.names(orders)
    stay = list(range(len(names)))
    if len(layout.value) <= FEW:
        matrix, stay = independent(less.columns(orders), layout.base.shape[1])
        assert matrix is not None  # a chosen model was solved before
        gram, right = matrix.T @ matrix, matrix.T @ less.value
    else:
        gram, right = normal_equations(less, orders)
    inverse: Array = np.linalg.inv(gram).astype(float)
    solution = solved(gram, right)
    whole = np.zeros(len(names))
    whole[stay] = solution
    residual = layout.value - predict(layout, orders, whole)
    inside = residual[kept]
    variance, freedom = layout.noise.pooled(float(inside @ inside), len(kept) - len(stay))
    names = tuple(names[i] for i in stay)
    lobes = tuple(n for n in orders if n > 0)
    chance = []
    for n in lobes:
        at = [i for i, name in enumerate(names) if name[1] == n and name[0] in ("cos", "sin")]
        gain = float(solution[at] @ np.linalg.solve(inverse[np.ix_(at, at)], solution[at]))
        chance.append(chance_of(gain, len(at), variance, freedom))
    out = np.ones(len(layout.value), bool)
    out[kept] = False
    return Fit(
        lobes,
        names,
        solution,
        variance * inverse,
        variance,
        freedom,
        kept,
        np.flatnonzero(out),
        residual,
        tuple(chance),
    )
