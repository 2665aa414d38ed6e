"""Inputs drawn from their spreads: from standard normals to values, for one part or for the worst of a batch."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from heldtrue.planning.known import Known
from heldtrue.planning.odds.spread import Spread

Array = NDArray[np.float64]
Values = Mapping[str, Array]


class Draws:
    """Some inputs of a job with their spreads; the others stay at their worst.

    Independent of each other: where readings of a grip gauge say share and threshold together, every line goes through
    the middle of the readings, and what is left of both is nearly so.
    """

    def __init__(self, known: Mapping[str, Known], spreads: Mapping[str, Spread], names: Sequence[str]) -> None:
        self.known, self.spreads = known, spreads
        self.names = tuple(name for name in names if name in spreads and spreads[name].is_open)
        self._fixed = {name: spreads[name].likely if name in spreads and not spreads[name].is_open else one.worst
                       for name, one in known.items()}  # fmt: skip
        self._kept: dict[tuple[int, int, str], tuple[Array, dict[str, Array]]] = {}
        """Values by points that several checks share, and those points: no others can then have their id."""

    @property
    def dimension(self) -> int:
        """How many inputs are drawn; at least one, for a margin that does not move."""
        return max(len(self.names), 1)

    @property
    def is_bounded(self) -> bool:
        """Does no input leave the range that the worst case is taken over?"""
        return all(self.spreads[name].is_bounded for name in self.names)

    def values(self, normals: Array, parts: int = 1, ends: Mapping[str, str] | None = None) -> Values:
        """Values (n,) of every input at points of standard normals (n, d).

        ``parts``: what changes from part to part is drawn as the worst of so many, each input for itself: never better
        than the worst part.  ``ends``: "low" or "high" where that is not the end that is worst for holding.
        """
        shared = not normals.flags.writeable
        key = (id(normals), parts, "" if ends is None else str(sorted(ends.items())))
        if shared and key in self._kept:
            return self._kept[key][1]
        found = {name: np.full(len(normals), value) for name, value in self._fixed.items()}
        for column, name in enumerate(self.names):
            share = np.asarray(ndtr(normals[:, column]))
            spread = self.spreads[name]
            if parts > 1 and spread.scope == "part":
                known = self.known[name]
                high = ends[name] == "high" if ends and name in ends else known.worst >= known.best
                share = share ** (1 / parts) if high else 1 - (1 - share) ** (1 / parts)
            found[name] = spread.at(share)
        if shared:
            self._kept[key] = normals, found
        return found

    def over(self, margin: Callable[[Values], Array], parts: int = 1) -> Callable[[Array], Array]:
        """A margin of values as a margin of standard normals."""
        return lambda normals: margin(self.values(normals, parts))
