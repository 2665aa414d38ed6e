"""Bores of several diameters: steps towards the mouth and behind the seat, as data and as part of the finished line.

x is a radius, z = 0 on the front of the jaws; heights of steps count from the seat, towards the mouth. [mm]
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from heldtrue.errors import GeometryError
from heldtrue.sentences import sentence
from heldtrue.tooling.blank import Say

Point = tuple[float, float]

LEAST_STEP_MM = 0.1
"""A step by less on radius is a taper or a slip."""
LEAST_HIGH_MM = 1.0
"""A shorter step is none: common practice, no source."""


@dataclass(frozen=True)
class Step:
    """One more diameter of the bore.

    ``radius``; ``z``: height above the seat from which on the bore has it, up to the next step or the mouth; below 0:
    behind the seat, from there or the step before down to it; ``grips``: does it bear on the part?
    """

    radius: float
    z: float
    grips: bool = False


@dataclass(frozen=True)
class Nest:
    """The steps of a bore, those before the grip from the seat up, those behind the seat from it down."""

    before: tuple[Step, ...] = ()
    behind: tuple[Step, ...] = ()

    @classmethod
    def of(cls, steps: Sequence[Step]) -> Nest:
        """Sorted by height."""
        before = sorted((one for one in steps if one.z >= 0), key=lambda one: one.z)
        behind = sorted((one for one in steps if one.z < 0), key=lambda one: -one.z)
        return cls(tuple(before), tuple(behind))

    @property
    def steps(self) -> tuple[Step, ...]:
        """All of them, mouth first."""
        return (*self.before[::-1], *self.behind)

    def spans(self, mouth: float) -> Iterator[tuple[Step, float, float]]:
        """Every step, mouth first, with the heights above the seat between which the bore has its radius."""
        above = mouth
        for step in self.before[::-1]:
            yield step, step.z, above
            above = step.z
        above = 0.0
        for step in self.behind:
            yield step, step.z, above
            above = step.z

    @property
    def deepest(self) -> float:
        """How far behind the seat it goes. [mm]"""
        return -self.behind[-1].z if self.behind else 0.0

    def reach(self, radius: float, out: float) -> float:
        """How much further than ``radius`` the steps go into the metal. [mm]"""
        return max((out * (one.radius - radius) for one in self.before), default=0.0)

    def mouth(self, radius: float) -> float:
        """Radius at the mouth; ``radius``: of the gripping bore there."""
        return self.before[-1].radius if self.before else radius


def refuse_unfit(
    nest: Nest, radius: float, out: float, grip_end: float, depth: float, chamfer: float, set_back: float,
    land: tuple[float, float] | None, say: Say,
) -> None:  # fmt: skip
    """Raises: ``GeometryError`` for steps that make no bore.

    ``radius`` at the seat; ``grip_end``: of the gripped length, above the seat; ``land``: radii of the seat face.
    """
    larger, smaller = ("larger", "smaller") if out > 0 else ("smaller", "larger")
    last, low = radius, grip_end
    for step in nest.before:
        name = sentence("the step of Ø{} from {} above the seat on", say(2 * step.radius), say(step.z))
        if out * (step.radius - last) < LEAST_STEP_MM:
            raise GeometryError(sentence("{} must be {} than Ø{}, which it stands over", name, larger, say(2 * last)))
        if step.z < low - 1e-9:
            what = (
                "is in the gripped length, which ends" if low == grip_end else "leaves the one below it too short: from"
            )
            raise GeometryError(sentence("{} {} {} above the seat", name, what, say(low)))
        if step.z > depth - chamfer - LEAST_HIGH_MM:
            raise GeometryError(sentence("{} has no room: the jaws end {} above the seat", name, say(depth)))
        last, low = step.radius, step.z + LEAST_HIGH_MM
    if nest.behind and land is None:
        raise GeometryError("a step behind the seat needs a seat (grip.seat)")
    last, high = (radius if land is None else land[0] if out > 0 else land[1]), -set_back - LEAST_HIGH_MM
    for number, step in enumerate(nest.behind):
        name = sentence("the step of Ø{} down to {} behind the seat", say(2 * step.radius), say(-step.z))
        if out * (last - step.radius) < (LEAST_STEP_MM if number else -1e-9):
            what = "the seat face" if not number else "the step before it"
            raise GeometryError(sentence("{} must be {} than Ø{}, where {} ends", name, smaller, say(2 * last), what))
        if step.z > high + 1e-9:
            raise GeometryError(sentence("{} is too short: at least {} behind the seat", name, say(-high)))
        last, high = step.radius, step.z - LEAST_HIGH_MM


def down_to_the_grip(
    nest: Nest, out: float, depth: float, chamfer: float, bore: Callable[[float], float]
) -> list[Point]:
    """The finished line from the mouth to the upper end of the gripping wall; ``bore``: its radius by height."""
    top = nest.mouth(bore(depth))
    below = [*(one.radius for one in nest.before[-2::-1]), None]
    wall = top if nest.before else bore(depth - chamfer)
    points = [(top + out * chamfer, 0.0), (wall, -chamfer)]
    for step, inner in zip(nest.before[::-1], below, strict=False):
        z = step.z - depth
        edge = bore(step.z) if inner is None else inner
        broken = min(chamfer, abs(step.radius - edge) / 2)
        wall = bore(step.z - broken) if inner is None else inner
        points += [(step.radius, z), (edge + out * broken, z), (wall, z - broken)]
    return points


def behind_the_seat(nest: Nest, out: float, depth: float, inner: float, set_back: float, end: float) -> list[Point]:
    """The finished line from the inner end of the seat face down through the steps and out of the jaws.

    Raises: ``GeometryError`` where the jaws end before a step.
    """
    first = nest.behind[0]
    points: list[Point] = [(first.radius, -depth)]
    if out * (inner - first.radius) > 2 * set_back:
        floor = -depth - set_back
        points = [(inner, -depth), (inner - out * set_back, floor), (first.radius, floor)]
    for step, following in zip(nest.behind, [*nest.behind[1:], None], strict=True):
        if out * (step.radius - end) < LEAST_STEP_MM:
            raise GeometryError("the jaws do not reach in to the steps behind the seat: leave those out")
        points.append((step.radius, step.z - depth))
        points.append((end if following is None else following.radius, step.z - depth))
    return points
