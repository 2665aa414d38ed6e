"""What a plan that passes leaves behind, so that a new reading of the chuck's grip asks for no new plan.

What holds a cut is a grip, not a pressure: a reading of the grip gauge, or grease, changes only how much grip a
pressure gives.  So for each pressure that is set are kept: the grip that each rule of holding asks for, and what is to
spare of form, marking and yield with shares of the grip that presses today, asked of the judge.  In another state of
the chuck ``still_hold`` says where the same pressures pass for certain; everywhere else a full plan has to be made.

Of thousands of plans they are read at once, so they are kept as the bytes of a row of a table.

Grips in N, pressures in MPa.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from itertools import zip_longest
from math import inf, isnan, nan
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.spin import IN_SERVICE, NEW, SAFETY, SAFETY_OVERHUNG
from heldtrue.planning import judge
from heldtrue.planning.entries import Chuck
from heldtrue.planning.gauge_words import PRESSURE_PLACES
from heldtrue.planning.holds import is_spin_up, safety_of
from heldtrue.planning.inputs import LEAST_LEFT_MPA, grip_plate, readings_of
from heldtrue.planning.judge import LEAST_GRIP_LEFT, Setting, Step
from heldtrue.planning.result import FORM, LIKELY_VALUE, MARK, YIELD
from heldtrue.planning.study import Study
from heldtrue.planning.window import gauge_unit_of, steady_floor
from heldtrue.quantities import to_core
from heldtrue.tooling.grip_estimate import GripEstimate, Plate, Reading, estimate_grip, grip_slope

Array = NDArray[np.float64]

SHARES = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35)
"""Likely grip over that of the plan, for which the likely form is asked."""
COVERS = ((1.0, 1.0), (0.8, 1.0), (0.6, 1.0), (0.4, 1.0), (1.0, 1.15), (0.8, 1.15), (0.6, 1.15), (0.4, 1.15),
          (1.0, 1.35), (0.6, 1.35))  # fmt: skip
"""Wider ranges of what presses, for which form, marking and yield are asked at their worst: least grip over that of the
plan, most grip over that of the plan.  A chuck whose range of today lies inside one is covered by it."""
SPARE = 0.03
"""What must be to spare of form, marking and yield: the worst corners are found at other grips there.  Own rule:
tests/unit/test_kept_limits.py compares with full plans."""
SAME_THRESHOLD = 0.03
"""Pressure lost before the jaws grip, over the pressure set, that may differ: it moves the force of the boring ring
against the grip.  Own rule, as above."""
CLEAR = 1e-6
DIGITS = 9
"""Of what is kept; the last digits of a solution depend on what was solved together with it."""

_STATED = np.dtype([
    ("plate", "<f8", 5), ("grease", "S4"), ("threshold", "<f8", 3), ("gauge", "<f8", 3), ("serviced", "i1"),
    ("fixed", "?"), ("was_serviced", "?"),
])  # fmt: skip
_STEP = np.dtype([
    ("name", "S8"), *((name, "<f8") for name in ("pressure", "published", "worst", "most", "least", "likely")),
    ("lost", "<f8", 2), ("spare", "<f8", len(SHARES)), ("covered", "<f8", len(COVERS)),
])  # fmt: skip
_ROW = np.dtype([("stated", _STATED), ("steady", "<f8"), ("mark", "<f8"), ("steps", _STEP, 2)])
"""Where there is one step only, the pressure of the second is nan; so is what was not stated."""


class StatedChuck(NamedTuple):
    """What a setup itself says of its chuck, as its plan took it.

    ``threshold``: low, likely and high, None where nobody read it [MPa]; ``gauge``: error of the gauge at its worst,
    likely and best [MPa]; ``serviced``: None where it says nothing; ``fixed``: does it state a safety factor;
    ``was_serviced``: did its plan take the chuck as freshly serviced?
    """

    plate: Plate
    threshold: tuple[float, ...] | None
    gauge: tuple[float, ...]
    readings: tuple[Reading, ...]
    serviced: bool | None
    fixed: bool
    was_serviced: bool


@dataclass(frozen=True)
class KeptLimits:
    """The limits that plans have left, a row each. ``stated``: of the chuck, as bytes: where alike, so is the chuck."""

    rows: NDArray[np.void]
    stated: tuple[bytes, ...]

    @classmethod
    def read(cls, texts: Sequence[str]) -> KeptLimits:
        """What ``limits_of`` gave."""
        found = [b64decode(one) for one in texts]
        rows = np.frombuffer(b"".join([one[: _ROW.itemsize] for one in found]), _ROW)
        return cls(rows, tuple(one[: _STATED.itemsize] + one[_ROW.itemsize :] for one in found))

    def chuck(self, place: int) -> StatedChuck:
        """What the setup of a row says of its chuck."""
        row, own = self.rows["stated"][place], self.stated[place][_STATED.itemsize :]
        slope, low, high, least, most = row["plate"].tolist()
        grease, threshold = row["grease"].decode() or None, row["threshold"].tolist()
        stated = not isnan(threshold[0])
        readings = [
            Reading(pressure, force, *(None if isnan(value) else value for value in rest))
            for pressure, force, *rest in np.frombuffer(own, "<f8").reshape(-1, len(Reading._fields)).tolist()
        ]
        return StatedChuck(
            Plate(slope, (low, high), grease, (least, most), stated), tuple(threshold) if stated else None,
            tuple(row["gauge"].tolist()), tuple(readings), (None, False, True)[row["serviced"]], bool(row["fixed"]),
            bool(row["was_serviced"]),
        )  # fmt: skip

    def names(self) -> list[list[str]]:
        """The names of the steps of each row, in order."""
        return [[name for name in row if name] for row in self.rows["steps"]["name"].astype("U8").tolist()]

    def pressures(self) -> Array:
        """What is set in each step, shape (rows, 2), nan where there is one step only. [MPa]"""
        return np.asarray(self.rows["steps"]["pressure"])


def limits_of(study: Study, setting: Setting, own: Chuck) -> str | None:
    """The kept limits of a study that passes, as text; None where a pressure is stated, or an area is not.

    ``own``: the chuck as the setup itself states it, without the log that the study was planned with.  A stated
    pressure need be no mark of the gauge, and an unstated piston area has a range that readings replace.
    """
    job, setup = study.job, study.job.setup
    area = job.known["piston area"]
    if setup.stated_pressure is not None or area.source == "assumed":
        return None
    plate, known = grip_plate(own, (area.low, area.likely, area.high)), job.known
    threshold, error, limits = known["threshold"], known["gauge error"], setup.limits
    stated = (
        (plate.slope, *plate.area, *plate.threshold),
        own.grease or "",
        (threshold.low, threshold.likely, threshold.high) if plate.threshold_stated else (nan,) * 3,
        (error.worst, error.likely, error.best),
        (None, False, True).index(own.serviced),
        limits is not None and limits.safety_factor is not None,
        safety_of(job, seat=study.worst["seat"] > 0).serviced,
    )
    mark = to_core(10.0 ** -PRESSURE_PLACES[gauge_unit_of(setup)], "pressure", gauge_unit_of(setup))
    steps = [_of_step(study, step, pressure) for step, pressure in setting.steps]
    steps += [_NO_STEP] * (2 - len(steps))
    row = np.array((stated, steady_floor(job), mark, rounded(steps)), _ROW)
    readings = [[nan if value is None else value for value in one] for one in readings_of(own)]
    return b64encode(row.tobytes() + np.array(readings, "<f8").tobytes()).decode("ascii")


def rounded(value: Any) -> Any:
    """Numbers to so many digits as any process gives alike, whatever it has planned before."""
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}")
    if isinstance(value, dict):
        return {key: rounded(one) for key, one in value.items()}
    if isinstance(value, tuple):
        return tuple(rounded(one) for one in value)
    return [rounded(one) for one in value] if isinstance(value, list) else value


_NO_STEP = ("", *(nan,) * 6, (nan,) * 2, (nan,) * len(SHARES), (nan,) * len(COVERS))


def _of_step(study: Study, step: Step, pressure: float) -> tuple[Any, ...]:
    """What one step needs of grip, and what is to spare while it presses: a row of ``_STEP``."""
    job, held = study.job, [one for one in study.held if one.name in step.cuts or is_spin_up(one.name)]
    worst = [one.worst.needs for one in held]
    if job.grip_is_outside:
        worst.append(study.centrifugal(study.worst, study.speed) / (1 - LEAST_GRIP_LEFT))
    most = job.at_pressure(study.best, pressure, least=False)
    least = job.at_pressure(study.worst, pressure, least=True)
    margins = [_spare(study, step, pressure, share or 1.0, low, high)
               for share, (low, high) in zip_longest(SHARES, COVERS)]  # fmt: skip
    return (
        step.name,
        pressure,
        max((one.published.needs for one in held), default=0.0),
        max(worst, default=0.0),
        job.static_grip(most, pressure),
        job.static_grip(least, pressure),
        job.static_grip(study.likely, pressure),
        (most["threshold"], study.likely["threshold"]),
        tuple(min(by_likely, 1.0) for by_likely, _ in margins[: len(SHARES)]),
        tuple(min(at_worst, 1.0) for _, at_worst in margins),
    )


def _spare(study: Study, step: Step, pressure: float, likely: float, least: float, most: float) -> tuple[float, float]:
    """Least margin of form by its likely value, with a share of the plan's likely grip; and of everything else that
    falls with pressure, with shares of its least and most: neither asks for the other's grip."""
    other = copy(study)
    other.best = {**study.best, "grip share": most * study.best["grip share"]}
    other.worst = {**study.worst, "grip share": least * study.worst["grip share"]}
    other.likely = {**study.likely, "grip share": likely * study.likely["grip share"]}
    by_likely = worst = inf
    for check in judge.falling(other, step, pressure, study.speed, explained=False):
        if check.group not in (FORM, MARK, YIELD):
            continue  # plates know only pressure, and the cutting force no grip
        rules = {rule.name: rule.margin for rule in check.rules}
        by_likely = min(by_likely, rules.pop(LIKELY_VALUE, inf))
        worst = min([worst, *(rules.values() or [check.margin if not check.rules else inf])])
    return by_likely, worst


# What the records keep, with the chuck of today

_LINES = np.dtype([(name, "<f8") for name in (
    "published", "likely", "least low", "least high", "most low", "most high", "low t", "likely t", "high t",
    "worst e", "likely e", "best e", "safety", "usable",
)])  # fmt: skip
"""Slopes, thresholds (t) and errors of the gauge (e) of one chuck, by which its grip follows from the pressure."""


@dataclass(frozen=True)
class ChuckToday:
    """How a chuck grips in one state: the estimate, and does it count as freshly serviced? ``lines``: of ``_LINES``."""

    estimate: GripEstimate
    serviced: bool
    lines: tuple[float, ...]


def today(stated: StatedChuck, readings: Sequence[Reading], grease: str | None) -> ChuckToday:
    """A chuck as a plan takes it with these readings, of the log and the setup, and this grease."""
    plate = stated.plate
    found = estimate_grip(tuple(readings), plate._replace(grease=grease))
    serviced = stated.serviced is True or (stated.serviced is None and (grease == "good" or found.measured))
    low, likely, high = found.share
    t_low, t_likely, t_high = stated.threshold or found.threshold
    if stated.threshold is None and not found.measured:
        t_likely = (t_low + t_high) / 2
    slope, (area_low, area_high) = plate.slope, plate.area
    published = likely if found.measured else low
    lowest = min((one.pressure for one in readings), default=inf)
    lines = (
        grip_slope(found, published, t_likely, slope),
        grip_slope(found, likely, t_likely, slope),
        grip_slope(found, low, t_low, area_low * slope),
        grip_slope(found, low, t_high, area_low * slope),
        grip_slope(found, high, t_low, area_high * slope),
        grip_slope(found, high, t_high, area_high * slope),
        t_low, t_likely, t_high, *stated.gauge, _safety(stated, serviced=serviced),
        # A reading at the pressure that is lost before the jaws grip says nothing: the plan refuses it.
        float(lowest - plate.threshold[1] >= LEAST_LEFT_MPA and low > 0),
    )  # fmt: skip
    return ChuckToday(found, serviced, lines)


def _safety(stated: StatedChuck, *, serviced: bool) -> float:
    """By how much a grip that is asked for may grow at the most with the state of the chuck.

    Both rules ask for a sum of which one part goes with the safety factor and the other stays.
    """
    if stated.fixed or serviced or not stated.was_serviced:
        return 1.0
    return max(table[IN_SERVICE].value / table[NEW].value for table in (SAFETY, SAFETY_OVERHUNG))


def grease_of(stated: StatedChuck, *, overdue: bool, greased: bool) -> str | None:
    """Grease as a plan takes it: overdue is poor, entered is good where the setup says nothing."""
    own = stated.plate.grease
    return "poor" if overdue else "good" if greased and own is None else own


def still_hold(
    limits: KeptLimits, chucks: Sequence[ChuckToday], which: Sequence[int]
) -> tuple[NDArray[np.bool_], Array]:
    """Do all the pressures that were set pass for certain, each setup with its chuck of today?

    ``which`` of the chucks each setup is on.  Gives, for each setup, yes or no, and the floors of its steps in order,
    shape (setups, 2), nan where there is one step only [MPa].  No is no verdict: a full plan has to say.
    """
    rows, steps = limits.rows, limits.rows["steps"]
    pressure = steps["pressure"]
    lines = _Lines(np.array([one.lines for one in chucks], _LINES)[np.array(which, dtype=int)][:, None])
    more = lines.values["safety"]
    floor = np.maximum.reduce([np.broadcast_to(rows["steady"][:, None], pressure.shape),
                               lines.published.pressure(steps["published"] * more),
                               lines.least_pressure(steps["worst"] * more)])  # fmt: skip
    now_most, at_most = lines.most_grip(pressure)
    good = floor + rows["mark"][:, None] <= pressure
    good &= np.abs(at_most - steps["lost"][..., 0]) <= SAME_THRESHOLD * pressure
    good &= np.abs(lines.likely.threshold - steps["lost"][..., 1]) <= SAME_THRESHOLD * pressure
    good &= _is_covered(steps["covered"], lines.least_grip(pressure) / np.maximum(steps["least"], CLEAR),
                        now_most / np.maximum(steps["most"], CLEAR))  # fmt: skip
    good &= _spared(steps["spare"], lines.likely.grip(pressure) / np.maximum(steps["likely"], CLEAR))
    there = ~np.isnan(pressure)
    fine = (lines.values["usable"][:, 0] > 0) & there.any(axis=1) & (good | ~there).all(axis=1)
    return fine, np.where(there, floor, nan)


def _is_covered(covered: Array, least: Array, most: Array) -> NDArray[np.bool_]:
    """Is enough to spare in some range that has today's least and most grip, as shares of the plan's, inside it?"""
    low, high = (np.array([row[end] for row in COVERS]) for end in (0, 1))
    inside = (least[..., None] >= low * (1 - CLEAR)) & (most[..., None] <= high * (1 + CLEAR))
    return np.asarray((inside & (covered >= SPARE)).any(axis=-1))


def _spared(spare: Array, share: Array) -> NDArray[np.bool_]:
    """Is enough to spare at the shares on both sides of the one asked about?"""
    nodes = np.array(SHARES)
    inside = (share >= nodes[0]) & (share <= nodes[-1])
    high = np.clip(np.searchsorted(nodes, share - CLEAR), 1, len(nodes) - 1)
    # The share of the plan itself is no new grip: what passed there passes.
    low = np.where(np.abs(share - nodes[high]) < CLEAR, high, high - 1)
    at_low, at_high = (np.take_along_axis(spare, end[..., None], axis=-1)[..., 0] for end in (low, high))
    return np.asarray(inside & (np.minimum(at_low, at_high) >= SPARE))


@dataclass(frozen=True)
class _Line:
    """Grip = slope x (pressure + gauge error - threshold), one for each setup."""

    slope: Array
    threshold: Array
    error: Array

    def grip(self, pressure: Array) -> Array:
        return np.maximum(self.slope * (pressure + self.error - self.threshold), 0.0)

    def pressure(self, grip: Array) -> Array:
        return grip / self.slope + self.threshold - self.error


class _Lines:
    """How each setup's chuck grips today, with the inputs of each rule: as ``Job.static_grip`` takes them."""

    def __init__(self, values: NDArray[np.void]) -> None:
        """``values`` of ``_LINES``, shape (setups, 1)."""

        def line(slope: str, threshold: str, error: str) -> _Line:
            return _Line(values[slope], values[threshold], values[error])

        self.values = values
        self.published = line("published", "likely t", "likely e")
        self.likely = line("likely", "likely t", "likely e")
        self._least = [line(f"least {end}", f"{end} t", "worst e") for end in ("low", "high")]
        self._most = [line(f"most {end}", f"{end} t", "best e") for end in ("low", "high")]

    def least_pressure(self, grip: Array) -> Array:
        return np.maximum(*(line.pressure(grip) for line in self._least))

    def least_grip(self, pressure: Array) -> Array:
        """The least that presses."""
        return np.minimum(*(line.grip(pressure) for line in self._least))

    def most_grip(self, pressure: Array) -> tuple[Array, Array]:
        """The most that presses, and the pressure that is lost then."""
        low, high = (line.grip(pressure) for line in self._most)
        return np.maximum(low, high), np.where(low >= high, self._most[0].threshold, self._most[1].threshold)
