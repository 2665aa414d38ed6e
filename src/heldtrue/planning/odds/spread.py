"""How a value is spread within, or about, the ends of its range."""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from heldtrue.errors import InputError
from heldtrue.planning.entries import SpreadKind

Array = NDArray[np.float64]
Scope = Literal["setup", "part"]
KINDS: tuple[SpreadKind, ...] = get_args(SpreadKind)
TWO_SIDED = 1.959964
"""The ends of a normal or lognormal spread hold 95 % of it."""
LEAST_U, MOST_U = 1e-15, 1 - 1e-15


@dataclass(frozen=True)
class Spread:
    """A value between or about ``low`` and ``high``, with the ``likely`` one.

    ``kind``: *uniform*, *loguniform* and *triangular* (top at the likely value) stay within the ends; *normal*
    and *lognormal* (each side of the likely value with its own width) have 95 % between them and
    never leave ``bounds``.
    ``scope``: does it change from part to part, or stay for all parts of one setup?  ``reason``: why this kind.
    Raises: ``InputError`` for ends the wrong way round or that the kind cannot have.
    """

    kind: SpreadKind
    low: float
    likely: float
    high: float
    scope: Scope = "setup"
    reason: str = ""
    bounds: tuple[float, float] = (-np.inf, np.inf)

    def __post_init__(self) -> None:
        if not (np.isfinite(self.low) and np.isfinite(self.high)):
            raise InputError("both ends of a range must be finite numbers")
        if self.low > self.high:
            raise InputError(f"a range from {self.low:g} to {self.high:g} is the wrong way round")
        if not self.low <= self.likely <= self.high:
            raise InputError(f"the likely value {self.likely:g} lies outside the range {self.low:g} to {self.high:g}")
        if self.kind not in KINDS:
            raise InputError(f"a spread cannot be '{self.kind}'; it is one of {', '.join(KINDS)}")
        if "log" in self.kind and self.low <= 0:
            raise InputError(f"a {self.kind} spread cannot begin at {self.low:g}: its low end must be above 0")

    @property
    def is_open(self) -> bool:
        """Has it any width?"""
        return self.high > self.low

    @property
    def is_bounded(self) -> bool:
        """Does it stay within its ends?"""
        return self.kind not in ("normal", "lognormal") or not self.is_open

    def at(self, share: Array) -> Array:
        """The value that so many of all stay below, shape of ``share`` (0 to 1)."""
        u = np.clip(share, LEAST_U, MOST_U)
        low, likely, high = self.low, self.likely, self.high
        if not self.is_open:
            return np.full(np.shape(u), likely)
        if self.kind == "uniform":
            return np.asarray(low + (high - low) * u)
        if self.kind == "loguniform":
            return np.asarray(low * (high / low) ** u)
        if self.kind == "triangular":
            top = (likely - low) / (high - low)
            rising = low + np.sqrt(u * (high - low) * (likely - low))
            falling = high - np.sqrt((1 - u) * (high - low) * (high - likely))
            return np.asarray(np.where(u < top, rising, falling))
        z = ndtri(u) / TWO_SIDED
        if self.kind == "normal":
            return np.asarray(np.clip(likely + np.where(z < 0, likely - low, high - likely) * z, *self.bounds))
        below, above = log(likely / low), log(high / likely)
        return np.asarray(np.clip(likely * np.exp(np.where(z < 0, below, above) * z), *self.bounds))
