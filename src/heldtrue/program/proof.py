"""What the proof of a program found, as plain data."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.program.job import Point
from heldtrue.sentences import sentence

TOLERANCE_MM = 0.001
"""The cut shape may differ from the finished one by this, both ways, and by the rounding of coarser words."""


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong: where in the text (None where no one line is to blame), how much, and where in the jaw.

    ``code``: unreadable, start, rapid_in_metal, holder_in_metal, keep_out, gouge, left_over, depth, feed, spindle,
    travel, mode, tool, stop, probe, retreat, end.
    """

    code: str
    message: str
    line: int | None = None
    value: float | None = None
    limit: float | None = None
    at: Point | None = None

    @property
    def words(self) -> str:
        """What is wrong, with its line."""
        return self.message if self.line is None else sentence("line {}: {}", self.line, self.message)


@dataclass(frozen=True)
class CornerLeft:
    """A round that the nose leaves in an inside corner: where, its radius, and its height over the corner. [mm]"""

    at: Point
    radius: float
    height: float


@dataclass(frozen=True)
class Proof:
    """Whether a program cuts the job and nothing else.

    ``gouge`` and ``left_over``: worst cut too deep and worst metal too much [mm], with their places; ``deepest``:
    the largest depth of cut [mm], at most what was looked for; ``outline``: the metal after the cut, closed loops
    (x, z); ``top_speed`` in rev/min; ``tolerance``: how far off the shape was allowed to be [mm];
    ``probed``: does it call a probing cycle of the control, of which nothing is proved?
    """

    passed: bool
    findings: tuple[Finding, ...]
    outline: tuple[tuple[Point, ...], ...] = ()
    gouge: float = 0.0
    gouge_at: Point | None = None
    left_over: float = 0.0
    left_over_at: Point | None = None
    deepest: float = 0.0
    corners: tuple[CornerLeft, ...] = ()
    top_speed: float = 0.0
    cutting_minutes: float = 0.0
    rapid_minutes: float = 0.0
    moves: int = 0
    lines: int = 0
    tolerance: float = TOLERANCE_MM
    probed: bool = False

    @property
    def worst_deviation(self) -> float:
        """The larger of gouge and left-over. [mm]"""
        return max(self.gouge, self.left_over)

    @property
    def minutes(self) -> float:
        """Running time, without stops."""
        return self.cutting_minutes + self.rapid_minutes

    def sentences(self) -> tuple[str, ...]:
        """The findings as sentences with their lines."""
        return tuple(finding.words for finding in self.findings)
