"""The model of readings round a part, laid out for least squares.

The deviation at angle t and place z, h = z less the middle plane, is
mean + taper h + (a + p h) cos t + (b + q h) sin t
+ sum over the lobes n of ((a_n + p_n h) cos n t + (b_n + q_n h) sin n t).
An order n stands for a_n and b_n, an order -n for p_n and q_n: a lobe that grows along the part.  Lengths mm, angles
rad.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import special

Array: TypeAlias = NDArray[np.float64]
Rows: TypeAlias = NDArray[np.int64]
Names: TypeAlias = tuple[tuple[str, int], ...]

BLOCK = 4096
"""Rows of the design matrix held at once."""


@dataclass(frozen=True)
class Noise:
    """What is known of the noise before: ``variance`` [mm2] that counts as ``freedom`` readings, and the least it
    is.
    """

    variance: float = 0.0
    freedom: float = 0.0
    floor: float = 0.0

    def pooled(self, rss: float, freedom: int) -> tuple[float, float]:
        """Variance [mm2] from residuals and prior, and its degrees of freedom."""
        total = freedom + self.freedom
        if total <= 0:
            return self.floor, inf
        return max((rss + self.freedom * self.variance) / total, self.floor), total


@dataclass(frozen=True)
class Fit:
    """One fitted model.

    ``orders``: the lobes in it, ascending; ``names``: what each coefficient is, (kind, order) with kind "mean",
    "taper", "cos", "sin", and these after "tilt " or "grow " times the height; ``coefficient`` [mm]; ``covariance``
    [mm2]; ``variance`` of the noise [mm2] with ``freedom`` degrees; ``kept``: the rows used; ``dropped``: the
    outliers; ``residual`` of every row [mm]; ``chance``: of each lobe in ``orders``, that noise alone looks like it.
    """

    orders: tuple[int, ...]
    names: tuple[tuple[str, int], ...]
    coefficient: Array
    covariance: Array
    variance: float
    freedom: float
    kept: Rows
    dropped: Rows
    residual: Array
    chance: tuple[float, ...]

    def pair(self, kind: str, order: int) -> tuple[Array, Array]:
        """Cosine and sine coefficient, and their covariance; what could not be told apart is zero and unknown."""
        wanted = [(f"{kind}cos", order), (f"{kind}sin", order)]
        value, covariance = np.zeros(2), np.zeros((2, 2))
        places = [self.names.index(one) if one in self.names else None for one in wanted]
        for i, a in enumerate(places):
            if a is not None:
                value[i] = self.coefficient[a]
                for j, b in enumerate(places):
                    if b is not None:
                        covariance[i, j] = self.covariance[a, b]
        return value, covariance


@dataclass
class Layout:
    """Readings laid out for fitting: the fixed columns, and those of every order that can be told."""

    base: Array
    base_names: tuple[tuple[str, int], ...]
    angle: Array
    height: Array
    value: Array
    orders: tuple[int, ...]
    noise: Noise
    cache: dict[tuple[int, ...], tuple[float, Array, Array, int] | None] = field(default_factory=dict)

    def columns(self, orders: Sequence[int], rows: slice | Rows = slice(None)) -> Array:
        """The design matrix, with ``orders`` after the fixed columns."""
        return np.column_stack([self.base[rows], *(waves(self.angle[rows], self.height[rows], n) for n in orders)])

    def of(self, rows: Rows) -> Layout:
        """The same of some readings."""
        return Layout(
            self.base[rows],
            self.base_names,
            self.angle[rows],
            self.height[rows],
            self.value[rows],
            self.orders,
            self.noise,
        )

    def names(self, orders: Sequence[int]) -> Names:
        """What each column of the design matrix is."""
        return (
            *self.base_names,
            *((f"{'grow ' if n < 0 else ''}{part}", abs(n)) for n in orders for part in ("cos", "sin")),
        )

    def solve(self, orders: tuple[int, ...]) -> tuple[float, Array, Array, int] | None:
        """Sum of squares, residuals, leverages, number of coefficients; None where these orders cannot be told."""
        if orders not in self.cache:
            self.cache[orders] = self._solve(orders)
        return self.cache[orders]

    def _solve(self, orders: tuple[int, ...]) -> tuple[float, Array, Array, int] | None:
        matrix = independent(self.columns(orders), self.base.shape[1])[0]
        if matrix is None or matrix.shape[1] > len(self.value):
            return None
        q, r = np.linalg.qr(matrix)
        size = np.abs(np.diag(r))
        if size.min() < 1e-6 * size.max():
            return None
        left = self.value - q @ (q.T @ self.value)
        return float(left @ left), left, np.einsum("ij,ij->i", q, q), matrix.shape[1]


def fixed_columns(angle: Array, z: Array, zero_kept: bool) -> tuple[Array, Array, Names]:
    """Columns that are always in the model, the height of every reading over the middle plane, and the columns'
    names."""
    places = np.unique(z)
    height = z - 0.5 * (places[0] + places[-1])
    turn = [np.cos(angle), np.sin(angle)]
    if len(places) == 1:
        return np.column_stack([np.ones_like(angle), *turn]), height, (("mean", 0), ("cos", 1), ("sin", 1))
    if zero_kept:
        means = [np.ones_like(angle), height]
        names: list[tuple[str, int]] = [("mean", 0), ("taper", 0)]
    else:
        means = [(z == place).astype(float) for place in places]
        names = [("mean", k) for k in range(len(places))]
    names += [("cos", 1), ("sin", 1), ("tilt cos", 1), ("tilt sin", 1)]
    return np.column_stack([*means, *turn, height * turn[0], height * turn[1]]), height, tuple(names)


def waves(angle: Array, height: Array, order: int) -> Array:
    """Cosine and sine of one order; of an order below zero, times the height."""
    pair = np.column_stack((np.cos(order * angle), np.sin(abs(order) * angle)))
    return pair * height[:, None] if order < 0 else pair


def independent(matrix: Array, fixed: int) -> tuple[Array | None, list[int]]:
    """The matrix less the columns that vanish at these angles, and which stay.

    Two readings a lobe at equal steps see the cosine and never the sine: half an answer is still one.
    """
    there = np.linalg.norm(matrix, axis=0) > 1e-6 * np.sqrt(len(matrix))
    there[:fixed] = True
    stay = np.flatnonzero(there)
    if len(stay) == fixed < matrix.shape[1]:
        return None, []
    return matrix[:, stay], stay.tolist()


def chance_of(gain: float, terms: int, variance: float, freedom: float) -> float:
    """That noise alone gains so much: the upper tail of F."""
    if variance <= 0.0:
        return 0.0 if gain > 0.0 else 1.0
    ratio = max(gain, 0.0) / (terms * variance)
    if freedom == inf:
        return float(special.chdtrc(terms, ratio * terms))
    return float(special.fdtrc(terms, freedom, ratio))


def solved(gram: Array, right: Array) -> Array:
    """The coefficients."""
    found: Array = np.linalg.solve(gram, right).astype(float)
    return found


def normal_equations(layout: Layout, orders: Sequence[int]) -> tuple[Array, Array]:
    """Normal matrix and right side, block by block so that a long trace needs little memory."""
    width = layout.base.shape[1] + 2 * len(orders)
    gram, right = np.zeros((width, width)), np.zeros(width)
    matrix = np.empty((BLOCK, width))
    for start in range(0, len(layout.value), BLOCK):
        rows = slice(start, min(start + BLOCK, len(layout.value)))
        block = matrix[: rows.stop - start]
        _fill(block, layout, orders, rows)
        gram += block.T @ block
        right += block.T @ layout.value[rows]
    return gram, right


def predict(layout: Layout, orders: Sequence[int], solution: Array) -> Array:
    """The model's value at every reading. [mm]"""
    found = np.empty_like(layout.value)
    matrix = np.empty((BLOCK, len(solution)))
    for start in range(0, len(layout.value), BLOCK):
        rows = slice(start, min(start + BLOCK, len(layout.value)))
        block = matrix[: rows.stop - start]
        _fill(block, layout, orders, rows)
        found[rows] = block @ solution
    return found


def _fill(block: Array, layout: Layout, orders: Sequence[int], rows: slice) -> None:
    """The design matrix of some rows; a long run of consecutive orders goes by turning, not by cosines."""
    fixed = layout.base.shape[1]
    block[:, :fixed] = layout.base[rows]
    once = np.exp(1j * layout.angle[rows])
    turned, at = once.copy(), 1
    for k, order in enumerate(orders):
        if order < 0:
            block[:, fixed + 2 * k : fixed + 2 * k + 2] = waves(layout.angle[rows], layout.height[rows], order)
            continue
        for _ in range(order - at):
            turned *= once
        at = order
        block[:, fixed + 2 * k], block[:, fixed + 2 * k + 1] = turned.real, turned.imag
