"""Form after release, marking and yield with everything between jaws and part at any value.

Part and jaws are pressed together at some points of the ranges, exactly; between them a smooth surface is laid through
the answers, and points near the limit are solved exactly in their turn.  What the surface may be off is part of the
error of every probability.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from heldtrue.planning.corners import AXES, BORED, Corners, Levels, Pressed
from heldtrue.planning.elastic import LEAST_GRIP_N
from heldtrue.planning.known import Known
from heldtrue.planning.odds.draws import Draws
from heldtrue.planning.odds.holding import static_grip
from heldtrue.planning.odds.reliability import DRAWS, Chance, chance, normals
from heldtrue.planning.study import Study

Array = NDArray[np.float64]
Values = Mapping[str, Array]

BASE = AXES.index("jaw base")
TRAINED, NEAR_LIMIT = 128, 64
"""Points solved exactly over the ranges, and near the limit."""
ENDS = ({"part size": "low", "part roundness": "high"}, {"part size": "high", "part roundness": "high"})
"""Either end of a batch's sizes may be the worse one; out-of-round is worse at its high end."""
REACH = 1.6
"""Standard deviations of the points over the ranges: they must reach to the ends."""


class PressState:
    """One kind of measures of one body in its jaws, at a pressure and speed, for values of the inputs."""

    def __init__(self, study: Study, corners: Corners, kind: str, pressure: float, speed_rpm: float,
                 draws: Draws) -> None:  # fmt: skip
        self.study, self.corners, self.kind = study, corners, kind
        self.pressure, self.speed_rpm = pressure, speed_rpm
        self.draws = draws
        spread_out = REACH * np.vstack([np.zeros((1, draws.dimension)), normals(TRAINED, draws.dimension)[:-1]])
        values = draws.values(spread_out)
        coordinates = self._coordinates(values)
        # A base of its own needs its own compliance: three of them are enough to lay a surface through.
        coordinates[:, BASE] = np.rint(coordinates[:, BASE])
        self._points, self._answers = coordinates, self._solved(coordinates)
        self._fit()

    def measures(self, values: Values) -> Array:
        """Every measure of the kind, shape (n, measures), by the surface laid through what was solved."""
        at = self._coordinates(values)
        return np.asarray(np.maximum(self._surface(at[:, self._moved] / self._scale), 0.0))

    def sharpen(self, values: Values, margins: Array) -> float:
        """Solve the points nearest to the limit exactly and lay the surface anew; how far it was off there, 95 %."""
        nearest = np.argsort(np.abs(margins))[:NEAR_LIMIT]
        at = self._coordinates({name: value[nearest] for name, value in values.items()})
        exact = self._solved(at)
        before = np.maximum(self._surface(at[:, self._moved] / self._scale), 0.0)
        self._points, self._answers = np.vstack([self._points, at]), np.vstack([self._answers, exact])
        self._fit()
        return float(np.quantile(np.abs(before - exact) / np.maximum(exact, 1e-12), 0.95))

    def _fit(self) -> None:
        from scipy.interpolate import RBFInterpolator  # a tenth of a second, and rarely needed

        self._moved = np.flatnonzero(np.ptp(self._points, axis=0) > 1e-9)
        if not len(self._moved):
            answer = self._answers[:1]
            self._scale = np.ones(0)
            self._surface: Callable[[Array], Array] = lambda at: np.repeat(answer, len(at), axis=0)
            return
        self._scale = np.ptp(self._points[:, self._moved], axis=0)
        # A cubic through points with a plane below it; a parabola needs more points than a few distinct ones give.
        self._surface = RBFInterpolator(
            self._points[:, self._moved] / self._scale, self._answers, kernel="cubic", degree=1, smoothing=1e-9
        )

    def _coordinates(self, values: Values) -> Array:
        """Levels of the axes (that of the bored pressure: force of the boring ring on a jaw [N]), then the total
        grip [N], shape (n, 7)."""
        job, known = self.study.job, self.study.job.known
        grip = static_grip(job, values, self.pressure)
        if not job.grip_is_outside:
            grip = grip + values["jaw moment"] * self.study.centrifugal({"jaw moment": 1.0}, self.speed_rpm)
        # The range of a stated bored pressure has the error of the gauge in it already.
        bored = values[BORED] if BORED in known else values["bored share"] * self.pressure
        force = np.maximum(job.slope(values) * (bored - values["threshold"]), 0.0) / job.jaws
        columns = [force if name == BORED else _level(values[name], known[name]) for name in AXES]
        return np.column_stack([*columns, np.maximum(grip, LEAST_GRIP_N)])

    def _solved(self, coordinates: Array) -> Array:
        """The measures at points, exactly."""
        asked: list[tuple[Levels, Pressed]] = []
        place = AXES.index(BORED)
        for row in coordinates.tolist():
            force = row[place]
            levels = tuple(0.0 if number == place else row[number] for number in range(len(AXES)))
            asked.append((levels, Pressed(row[-1], (force, force, force))))  # type: ignore[arg-type]
        return self.corners.measures(self.kind, asked)


def _level(values: Array, known: Known) -> Array:
    """The level of an input: -1 at the low end of its range, 0 at likely, 1 at the high end, straight between."""
    below, above = known.likely - known.low, known.high - known.likely
    off = values - known.likely
    return np.asarray(np.where(off < 0, off / below if below > 0 else 0.0, off / above if above > 0 else 0.0))


class MeasureState:
    """One measure, the larger of all bodies, against its limit."""

    def __init__(self, states: Sequence[PressState], limit: Callable[[Values], Array], place: int) -> None:
        self.states, self.limit, self.place = tuple(states), limit, place
        self.off = 0.0

    def margin(self, values: Values) -> Array:
        """Share of the limit to spare, shape (n,)."""
        largest = np.max([state.measures(values)[:, self.place] for state in self.states], axis=0)
        return np.asarray(1 - largest / self.limit(values))

    def chances(self, draws: Draws, parts: int) -> tuple[Chance, Chance | None]:
        """Chance to be over the limit: of a part, and of any of a batch of more than one."""
        plain = draws.values(normals(DRAWS, draws.dimension))
        self.off = max(state.sharpen(plain, self.margin(plain)) for state in self.states)
        part = self._chance(draws.over(self.margin), draws.dimension)
        if parts <= 1:
            return part, None

        def worst_of_batch(points: Array) -> Array:
            return np.asarray(np.min([self.margin(draws.values(points, parts, end)) for end in ENDS], axis=0))

        return part, self._chance(worst_of_batch, draws.dimension)

    def _chance(self, margin: Callable[[Array], Array], dimension: int) -> Chance:
        """A chance with what the surface may be off, either way, in its error."""
        found = chance(margin, dimension)
        plain = margin(normals(DRAWS, dimension))
        band = float((plain < self.off).mean() - (plain < -self.off).mean()) / 2
        return found._replace(error=found.error + band)
