"""Stress read off finite elements: rows that take derivatives at points, and the von Mises stress."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Array = NDArray[np.float64]


def von_mises(stress: Array) -> Array:
    """Von Mises stress from (..., 6) direct stresses and shears. [MPa]"""
    a, b, c, d, e, f = np.moveaxis(stress, -1, 0)
    return np.asarray(np.sqrt(0.5 * ((a - b) ** 2 + (b - c) ** 2 + (c - a) ** 2) + 3 * (d**2 + e**2 + f**2)))


def stacked_rows(tables: Array, columns: NDArray[np.int_], size: int) -> sparse.csr_matrix:
    """Rows that read k figures at Q points, figure by figure, from tables (Q, k, dofs) and columns (Q, dofs)."""
    count, kinds, width = tables.shape
    rows = np.repeat(np.arange(kinds * count), width)
    places = np.tile(columns, (kinds, 1)).ravel()
    return sparse.csr_matrix((tables.transpose(1, 0, 2).ravel(), (rows, places)), shape=(kinds * count, size))
