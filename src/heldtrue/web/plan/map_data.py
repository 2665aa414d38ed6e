"""The plan's map of pressure and speed, to look up any place of it: what a dragged working point stands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heldtrue.drawing.fields import sample
from heldtrue.drawing.wording import other_pressure_unit
from heldtrue.planning.gauge_words import PRESSURE_PLACES, pressure_text
from heldtrue.planning.judge import ROUNDING
from heldtrue.planning.result import Plan
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import from_core, to_core

Array = NDArray[np.float64]
SpotState = Literal["passes", "holds", "true", "both", "off"]
SPEED_STEP = 10.0
"""What a spindle limit is rounded to while dragging. [rev/min]"""
AMPLE = 9.99


@dataclass(frozen=True)
class Spot:
    """One place of the map.

    ``pressure`` [MPa] and ``speed`` [rev/min] as they would be set; ``moved``: which of them differ from the plan;
    ``holds``, ``true``: margins there, at the worst of every unknown; ``state``: what they say, and what is short.
    """

    pressure: float
    speed: float
    moved: tuple[bool, bool]
    holds: float
    true: float
    state: SpotState


@dataclass(frozen=True)
class MapLook:
    """The map of one plan. ``holds``, ``true``: (pressures, speeds), both axes even from 0.

    ``pressure``, ``speed``: where the plan stands; ``stated``: which of them the setup states; ``steps``: name and
    pressure [MPa] of every step the plan advises, empty for one pressure and where a step has none.
    """

    top_pressure: float
    top_speed: float
    holds: Array
    true: Array
    pressure: float
    speed: float
    stated: tuple[bool, bool]
    unit: str
    other: str
    steps: tuple[tuple[str, float], ...] = ()

    @property
    def pressure_step(self) -> float:
        """What a pressure is rounded to while dragging: the last place that is read off the gauge. [MPa]"""
        return to_core(10.0 ** -PRESSURE_PLACES.get(self.unit, 1), "pressure", self.unit)

    @property
    def start(self) -> Spot:
        """Where the plan stands."""
        return self._spot(self.pressure, self.speed, (False, False))

    def at(self, pressure: float, speed: float) -> Spot:
        """The place nearest to a pressure [MPa] and a speed [rev/min] that can be set.

        What rounds to where the plan stands stays the plan's own value, to the last digit.
        """
        marks = round(from_core(min(max(pressure, 0.0), self.top_pressure), "pressure", self.unit) / self._mark)
        here = round(from_core(self.pressure, "pressure", self.unit) / self._mark)
        turns = round(min(max(speed, 0.0), self.top_speed) / SPEED_STEP)
        moved = marks != here, turns != round(self.speed / SPEED_STEP)
        return self._spot(
            to_core(marks * self._mark, "pressure", self.unit) if moved[0] else self.pressure,
            turns * SPEED_STEP if moved[1] else self.speed,
            moved,
        )

    def texts(self, spot: Spot) -> dict[str, str]:
        """What a spot sets in the setup, as it would be typed: only what was moved."""
        places = PRESSURE_PLACES.get(self.unit, 1)
        found = {}
        if spot.moved[0]:
            found["run.pressure"] = f"{from_core(spot.pressure, 'pressure', self.unit):.{places}f} {self.unit}"
        if spot.moved[1]:
            found["run.speed"] = f"{spot.speed:.0f} rev/min"
        return found

    def words(self, spot: Spot) -> tuple[str, str]:
        """Pressure in both units, and speed."""
        pressure = f"{pressure_text(spot.pressure, self.unit)} = {pressure_text(spot.pressure, self.other)}"
        return pressure, f"{spot.speed:.0f} rev/min"

    @property
    def _mark(self) -> float:
        return float(10.0 ** -PRESSURE_PLACES.get(self.unit, 1))

    def _spot(self, pressure: float, speed: float, moved: tuple[bool, bool]) -> Spot:
        inside = 0.0 <= pressure <= self.top_pressure and 0.0 <= speed <= self.top_speed
        row, column = pressure / self.top_pressure, speed / self.top_speed
        rows, columns = self.holds.shape
        at = np.array([column * (columns - 1)]), np.array([row * (rows - 1)])
        holds, true = (float(sample(field, *at)[0]) for field in (self.holds, self.true))
        return Spot(pressure, speed, moved, holds, true, _state(holds, true) if inside else "off")


def _state(holds: float, true: float) -> SpotState:
    if holds >= -ROUNDING:
        return "passes" if true >= -ROUNDING else "true"
    return "holds" if true >= -ROUNDING else "both"


def map_look(plan: Plan) -> MapLook:
    """The map of a plan."""
    unit, run, window = gauge_unit_of(plan.setup), plan.setup.run, plan.window
    stated = (plan.setup.stated_pressure is not None, run is not None and run.speed_rpm is not None)
    steps = plan.pressure.steps
    # Where every check was made, also where the jaws do not allow that speed.
    speed = plan.check("speed").value
    return MapLook(
        float(window.pressure[-1]), float(window.speed_rpm[-1]), _finite(window.holds), _finite(window.true),
        plan.pressure.used, speed, stated, unit, other_pressure_unit(unit, plan.setup.units),
        tuple((step.name, step.recommended) for step in steps if step.recommended is not None)
        if len(steps) > 1 and plan.pressure.has_window and not stated[0] else (),
    )  # fmt: skip


def _finite(field: Array) -> Array:
    """Margins beyond ``AMPLE`` say no more than that; so no place between two of them is lost in an infinity."""
    return np.asarray(np.clip(np.nan_to_num(field, nan=-1.0, posinf=AMPLE, neginf=-AMPLE), -AMPLE, AMPLE))
