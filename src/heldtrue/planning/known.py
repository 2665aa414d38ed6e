"""What the plan knows of an input: a range with a likely value in it, and where it came from."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.planning.entries import Source

ASSUMED: Source = "assumed"


@dataclass(frozen=True)
class Known:
    """One input of the plan in core units.

    ``worst`` is the end of the range at which holding is checked, ``best`` the other end, ``likely`` what the published
    rule and the likely form are computed with (the middle where left out).  No input is a point: a stated value has
    a range of its own.  ``source``: measured, plate, drawing, handbook, stated or assumed.  ``note``: where
    the number itself comes from.  ``measure``: what would narrow it.
    """

    name: str
    label: str
    worst: float
    best: float
    kind: str
    source: Source
    note: str = ""
    measure: str = ""
    middle: float | None = None

    @property
    def likely(self) -> float:
        """The value expected. [core unit of ``kind``]"""
        return (self.worst + self.best) / 2 if self.middle is None else self.middle

    @property
    def low(self) -> float:
        """Lower end of the range."""
        return min(self.worst, self.best)

    @property
    def high(self) -> float:
        """Upper end of the range."""
        return max(self.worst, self.best)

    @property
    def key(self) -> str:
        """Its key under ``[assumptions]`` of the setup file."""
        return self.name.replace(" ", "_").replace("-", "_")

    @property
    def is_open(self) -> bool:
        """Has it a range at all?"""
        return self.worst != self.best


class Inputs(dict[str, Known]):
    """The inputs of one plan by name; ``worst()``, ``likely()`` and ``best()`` give the values to compute with."""

    def add(self, known: Known) -> None:
        """Take an input in under its name."""
        self[known.name] = known

    def worst(self) -> dict[str, float]:
        """Every input at its worst for holding."""
        return {name: known.worst for name, known in self.items()}

    def best(self) -> dict[str, float]:
        """Every input at its best for holding."""
        return {name: known.best for name, known in self.items()}

    def likely(self) -> dict[str, float]:
        """Every input at its likely value."""
        return {name: known.likely for name, known in self.items()}

    def hoped(self) -> dict[str, float]:
        """The best that a measurement could still show: assumed inputs at their best, all others as they are known."""
        return {name: known.best if known.source == ASSUMED else known.likely for name, known in self.items()}
