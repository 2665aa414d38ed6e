"""What a plan that passes leaves behind, so that a new reading of the chuck's grip asks for no new plan.

What holds a cut is a grip, not a pressure: a reading of the grip gauge, or grease, changes only how much grip a
pressure gives.  So for each pressure that is set are kept: the grip that each rule of holding asks for, and what is to
spare of form, marking and yield with shares of the grip that presses today, asked of the judge.  In another state of
the chuck ``still_hold`` says where the same pressures pass for certain; everywhere else a full plan has to be made.

Grips in N, pressures in MPa.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from math import inf
from typing import Any

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


@dataclass(frozen=True)
class ChuckToday:
    """How a chuck grips in one state: the estimate, the lowest pressure read, whether it counts as freshly serviced."""

    estimate: GripEstimate
    lowest: float
    serviced: bool


def limits_of(study: Study, setting: Setting, own: Chuck) -> dict[str, Any] | None:
    """The kept limits of a study that passes, as a JSON table; None where a pressure is stated, or an area is not.

    ``own``: the chuck as the setup itself states it, without the log that the study was planned with.  A stated
    pressure need be no mark of the gauge, and an unstated piston area has a range that readings replace.
    """
    job, setup = study.job, study.job.setup
    area = job.known["piston area"]
    if setup.stated_pressure is not None or area.source == "assumed":
        return None
    plate, known = grip_plate(own, (area.low, area.likely, area.high)), job.known
    threshold = known["threshold"]
    limits = setup.limits
    return {
        "plate": [plate.slope, *plate.area, *plate.threshold],
        "grease": own.grease,
        "threshold": [threshold.low, threshold.likely, threshold.high] if plate.threshold_stated else None,
        "readings": [list(one) for one in readings_of(own)],
        "gauge": [known["gauge error"].worst, known["gauge error"].likely, known["gauge error"].best],
        "steady": steady_floor(job),
        "mark": to_core(10.0 ** -PRESSURE_PLACES[gauge_unit_of(setup)], "pressure", gauge_unit_of(setup)),
        "serviced": own.serviced,
        "fixed": limits is not None and limits.safety_factor is not None,
        "was_serviced": safety_of(job, seat=study.worst["seat"] > 0).serviced,
        "steps": {step.name: _of_step(study, step, pressure) for step, pressure in setting.steps},
    }  # fmt: skip


def _of_step(study: Study, step: Step, pressure: float) -> dict[str, Any]:
    """What one step needs of grip, and what is to spare while it presses."""
    job, held = study.job, [one for one in study.held if one.name in step.cuts or is_spin_up(one.name)]
    worst = [one.worst.needs for one in held]
    if job.grip_is_outside:
        worst.append(study.centrifugal(study.worst, study.speed) / (1 - LEAST_GRIP_LEFT))
    most = job.at_pressure(study.best, pressure, least=False)
    least = job.at_pressure(study.worst, pressure, least=True)
    return {
        "pressure": pressure,
        "published": max((one.published.needs for one in held), default=0.0),
        "worst": max(worst, default=0.0),
        "most": job.static_grip(most, pressure),
        "least": job.static_grip(least, pressure),
        "likely": job.static_grip(study.likely, pressure),
        "lost": [most["threshold"], study.likely["threshold"]],
        "spare": [min(_spare(study, step, pressure, likely=share)[0], 1.0) for share in SHARES],
        "covered": [min(_spare(study, step, pressure, least=low, most=high)[1], 1.0) for low, high in COVERS],
    }


def _spare(
    study: Study, step: Step, pressure: float, *, likely: float = 1.0, least: float = 1.0, most: float = 1.0
) -> tuple[float, float]:
    """Least margin of form by its likely value, and of everything else that falls with pressure, with shares of the
    plan's likely, least and most grip."""
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


# What the records keep, read back


def plate_of(limits: Mapping[str, Any]) -> Plate:
    """The plate that was planned with."""
    slope, low, high, least, most = limits["plate"]
    return Plate(slope, (low, high), limits["grease"], (least, most), limits["threshold"] is not None)


def stated_readings(limits: Mapping[str, Any]) -> tuple[Reading, ...]:
    """The readings that the setup itself states."""
    return tuple(Reading(*one) for one in limits["readings"])


def today(limits: Mapping[str, Any], readings: Sequence[Reading], grease: str | None) -> ChuckToday:
    """A chuck as a plan takes it with these readings, of the log and the setup, and this grease."""
    estimate = estimate_grip(tuple(readings), plate_of(limits)._replace(grease=grease))
    stated = limits["serviced"]
    serviced = stated is True or (stated is None and (grease == "good" or estimate.measured))
    return ChuckToday(estimate, min((one.pressure for one in readings), default=inf), serviced)


def still_hold(limits: Sequence[Mapping[str, Any]], chucks: Sequence[ChuckToday]) -> tuple[NDArray[np.bool_], Array]:
    """Do all the pressures that were set pass for certain, each setup with its chuck of today?

    Gives, for each setup, yes or no, and the floors of its steps in order, shape (setups, 2), nan where there is one
    step only [MPa].  No is no verdict: a full plan has to say.
    """
    count = len(limits)
    floors: Array = np.full((count, 2), np.nan)
    fine: NDArray[np.bool_] = np.ones(count, dtype=bool)
    rows = [(i, j, step) for i, one in enumerate(limits) for j, step in enumerate(one["steps"].values())]
    if not rows:
        return np.zeros(count, dtype=bool), floors
    lines = _Lines(limits, chucks)
    of, place = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    steps = [row[2] for row in rows]
    pressure, published, worst, most, least, likely = (
        np.array([step[name] for step in steps])
        for name in ("pressure", "published", "worst", "most", "least", "likely")
    )
    lost = np.array([step["lost"] for step in steps])
    spare = np.array([step["spare"] for step in steps])
    more = lines.safety[of]
    floor = np.maximum.reduce([lines.steady[of], lines.published.pressure(published * more, of),
                               lines.least_pressure(worst * more, of)])  # fmt: skip
    mark = lines.mark[of]
    good = (floor + mark <= pressure) & lines.usable[of]
    now_most, at_most = lines.most_grip(pressure, of)
    now_likely = lines.likely.grip(pressure, of)
    good &= np.abs(at_most - lost[:, 0]) <= SAME_THRESHOLD * pressure
    good &= np.abs(lines.likely.threshold[of] - lost[:, 1]) <= SAME_THRESHOLD * pressure
    covered = np.array([step["covered"] for step in steps])
    good &= _is_covered(covered, lines.least_grip(pressure, of) / np.maximum(least, CLEAR),
                        now_most / np.maximum(most, CLEAR))  # fmt: skip
    good &= _spared(spare, now_likely / np.maximum(likely, CLEAR))
    np.logical_and.at(fine, of, good)
    floors[of, place] = floor
    return fine, floors


def _is_covered(covered: Array, least: Array, most: Array) -> NDArray[np.bool_]:
    """Is enough to spare in some range that has today's least and most grip, as shares of the plan's, inside it?"""
    low, high = (np.array([row[end] for row in COVERS]) for end in (0, 1))
    inside = (least[:, None] >= low * (1 - CLEAR)) & (most[:, None] <= high * (1 + CLEAR))
    return np.asarray((inside & (covered >= SPARE)).any(axis=1))


def _spared(spare: Array, share: Array) -> NDArray[np.bool_]:
    """Is enough to spare at the shares on both sides of the one asked about?"""
    nodes = np.array(SHARES)
    inside = (share >= nodes[0]) & (share <= nodes[-1])
    high = np.clip(np.searchsorted(nodes, share - CLEAR), 1, len(nodes) - 1)
    row = np.arange(len(share))
    # The share of the plan itself is no new grip: what passed there passes.
    low = np.where(np.abs(share - nodes[high]) < CLEAR, high, high - 1)
    enough: NDArray[np.bool_] = np.minimum(spare[row, low], spare[row, high]) >= SPARE
    return np.asarray(inside & enough)


@dataclass(frozen=True)
class _Line:
    """Grip = slope x (pressure + gauge error - threshold), one for each setup."""

    slope: Array
    threshold: Array
    error: Array

    def grip(self, pressure: Array, of: NDArray[np.int_]) -> Array:
        return np.maximum(self.slope[of] * (pressure + self.error[of] - self.threshold[of]), 0.0)

    def pressure(self, grip: Array, of: NDArray[np.int_]) -> Array:
        return grip / self.slope[of] + self.threshold[of] - self.error[of]


class _Lines:
    """How each setup's chuck grips today, with the inputs of each rule: as ``Job.static_grip`` takes them."""

    def __init__(self, limits: Sequence[Mapping[str, Any]], chucks: Sequence[ChuckToday]) -> None:
        rows = [_values(one, chuck) for one, chuck in zip(limits, chucks, strict=True)]
        self.usable = np.array([row["usable"] for row in rows])
        self.steady = np.array([one["steady"] for one in limits])
        self.mark = np.array([one["mark"] for one in limits])
        self.safety = np.array([row["safety"] for row in rows])
        table = {name: np.array([row[name] for row in rows]) for name in rows[0] if name not in ("usable", "safety")}
        self.published = _Line(table["published"], table["likely t"], table["likely e"])
        self.likely = _Line(table["likely"], table["likely t"], table["likely e"])
        self._least = [_Line(table[f"least {end}"], table[f"{end} t"], table["worst e"]) for end in ("low", "high")]
        self._most = [_Line(table[f"most {end}"], table[f"{end} t"], table["best e"]) for end in ("low", "high")]

    def least_pressure(self, grip: Array, of: NDArray[np.int_]) -> Array:
        return np.maximum(*(line.pressure(grip, of) for line in self._least))

    def least_grip(self, pressure: Array, of: NDArray[np.int_]) -> Array:
        """The least that presses."""
        return np.minimum(*(line.grip(pressure, of) for line in self._least))

    def most_grip(self, pressure: Array, of: NDArray[np.int_]) -> tuple[Array, Array]:
        """The most that presses, and the pressure that is lost then."""
        low, high = (line.grip(pressure, of) for line in self._most)
        return np.maximum(low, high), np.where(low >= high, self._most[0].threshold[of], self._most[1].threshold[of])


def _values(limits: Mapping[str, Any], chuck: ChuckToday) -> dict[str, Any]:
    """Slopes and thresholds of one setup with its chuck of today."""
    found, (slope, area_low, area_high, *_) = chuck.estimate, limits["plate"]
    low, likely, high = found.share
    t_low, t_likely, t_high = limits["threshold"] or found.threshold
    if limits["threshold"] is None and not found.measured:
        t_likely = (t_low + t_high) / 2
    area = {"low": area_low * slope, "likely": slope, "high": area_high * slope}
    published = likely if found.measured else low
    return {
        # A reading at the pressure that is lost before the jaws grip says nothing: the plan refuses it.
        "usable": chuck.lowest - plate_of(limits).threshold[1] >= LEAST_LEFT_MPA and low > 0,
        "safety": _safety(limits, chuck.serviced),
        "published": grip_slope(found, published, t_likely, area["likely"]),
        "likely": grip_slope(found, likely, t_likely, area["likely"]),
        **{f"least {end}": grip_slope(found, low, t, area["low"]) for end, t in (("low", t_low), ("high", t_high))},
        **{f"most {end}": grip_slope(found, high, t, area["high"]) for end, t in (("low", t_low), ("high", t_high))},
        "low t": t_low, "likely t": t_likely, "high t": t_high,
        "worst e": limits["gauge"][0], "likely e": limits["gauge"][1], "best e": limits["gauge"][2],
    }  # fmt: skip


def _safety(limits: Mapping[str, Any], serviced: bool) -> float:
    """By how much a grip that is asked for may grow at the most with the state of the chuck.

    Both rules ask for a sum of which one part goes with the safety factor and the other stays.
    """
    if limits["fixed"] or serviced or not limits["was_serviced"]:
        return 1.0
    return max(table[IN_SERVICE].value / table[NEW].value for table in (SAFETY, SAFETY_OVERHUNG))


def grease_of(limits: Mapping[str, Any], *, overdue: bool, greased: bool) -> str | None:
    """Grease as a plan takes it: overdue is poor, entered is good where the setup says nothing."""
    stated: str | None = limits["grease"]
    return "poor" if overdue else "good" if greased and stated is None else stated
