"""What the plan knows of an input: its value, how far it may lie off, and where it came from."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.planning.entries import Source

ASSUMED: Source = "assumed"


@dataclass(frozen=True)
class Known:
    """One input of the plan in core units.

    ``worst`` is what holding is checked at, ``best`` the other end of the range; they are equal for a value that was
    stated, measured or read off a plate.  ``source``: measured, plate, drawing, handbook, stated or assumed.
    ``note``: where the number itself comes from.  ``measure``: what would settle it.
    """

    name: str
    label: str
    worst: float
    best: float
    kind: str
    source: Source
    note: str = ""
    measure: str = ""

    @property
    def is_open(self) -> bool:
        """Could a measurement still move it?"""
        return self.worst != self.best


class Inputs(dict[str, Known]):
    """The inputs of one plan by name; ``worst()`` and ``best()`` give the values to compute with."""

    def add(self, known: Known) -> None:
        """Take an input in under its name."""
        self[known.name] = known

    def worst(self) -> dict[str, float]:
        """Every input at its worst for holding."""
        return {name: known.worst for name, known in self.items()}

    def best(self) -> dict[str, float]:
        """Every input at its best for holding."""
        return {name: known.best for name, known in self.items()}

    def open(self) -> list[Known]:
        """The inputs a measurement could still move."""
        return [known for known in self.values() if known.is_open]
