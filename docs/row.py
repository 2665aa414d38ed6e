"""One row of the validation page: a published number beside ours."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Row:
    """One comparison; ``published`` is a number, or (low, high) that ours must lie between."""

    test: str
    what: str
    source: str
    published: float | tuple[float, float]
    ours: float
    unit: str = ""

    @property
    def difference(self) -> float | None:
        """Relative to the published number; None for a band."""
        return None if isinstance(self.published, tuple) else self.ours / self.published - 1

    def cells(self) -> list[str]:
        if isinstance(self.published, tuple):
            shown = " to ".join(f"{end:.5g}" for end in self.published)
            inside = self.published[0] <= self.ours <= self.published[1]
            difference = "inside" if inside else "OUTSIDE"
        else:
            shown = f"{self.published:.7g}"
            difference = f"{self.difference:+.2%}".replace("-0.00%", "0.00%").replace("+0.00%", "0.00%")
        unit = f" {self.unit}" if self.unit else ""
        return [self.what, self.source, shown + unit, f"{self.ours:.5g}{unit}", difference]


def parameters(test: Callable[..., None]) -> list[tuple[Any, ...]]:
    """What a test is parametrised with."""
    return [tuple(one) for one in test.pytestmark[0].args[1]]  # type: ignore[attr-defined]
