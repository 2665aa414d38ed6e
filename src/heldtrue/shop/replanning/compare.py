"""What a re-plan turned: how a setup stands now against what the shop last went by."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isclose
from typing import Any

from heldtrue.planning.gauge_words import Rounding, pressure_text
from heldtrue.planning.result import PASSES
from heldtrue.records import Replanned, ReplanSeen
from heldtrue.records.replans import FAILED

OTHER_PRESSURE = "passes at another pressure"
ROUNDED = 1e-6
"""Share by which a pressure may lie outside a window through rounding of units."""


@dataclass(frozen=True)
class Baseline:
    """What the shop goes by: a verdict, and the pressure set in each step [MPa]; ``what`` it is, and of when."""

    verdict: str
    pressures: Mapping[str, float]
    what: str
    at: datetime | None = None


@dataclass(frozen=True)
class Turned:
    """A setup whose outcome is another than the shop goes by.

    ``was``, ``now``: the verdict, or ``passes at another pressure``; ``pressures`` to set now by step [MPa], empty
    where there are none; ``unit`` of the gauge.
    """

    setup: str
    chuck: str
    was: str
    now: str
    reason: str
    pressures: Mapping[str, float]
    unit: str = "bar"

    @property
    def stops(self) -> bool:
        """May it no longer start as it did?"""
        return self.was == PASSES


def baseline_of(rows: Sequence[Replanned], now: Replanned, seen: ReplanSeen | None) -> Baseline | None:
    """What a setup is compared with: what somebody looked at last, else the plan kept with it, else its first re-plan.

    ``rows``: all of its card's version.  From an outcome that does not pass the shop goes on to the first that does:
    whoever was refused then may have started since.  None where ``now`` is the first that is known.
    """
    # A state that comes back after another is a state the shop has gone by.
    there = [one for one in rows if one.verdict != FAILED]
    came_back = any(one.state != now.state and one.first_at > mine.first_at for mine in there
                    if mine.state == now.state for one in there)  # fmt: skip
    others = sorted((one for one in there if came_back or one.state != now.state),
                    key=lambda one: (one.first_at, one.state))  # fmt: skip
    found: Baseline | None = None
    if seen is not None:
        found = Baseline(seen.verdict, pressures_of(seen.steps), f"looked at by {seen.by}", seen.at)
        others = [one for one in others if one.last_at > seen.at]  # also what stood before the look and came back
    elif now.planned:
        found = Baseline(now.planned["verdict"], now.planned["pressures"], "the plan kept with the setup")
    for one in others:
        if found is None or (found.verdict != PASSES and one.verdict == PASSES and one.first_at < now.last_at):
            found = Baseline(one.verdict, pressures_of(one.steps), "re-planned", one.first_at)
    return found


def turned(now: Replanned, base: Baseline | None, unit: str) -> Turned | None:
    """Whether a setup has turned, and why; None where it stands as before. ``unit`` of its gauge."""
    if base is None or now.verdict == FAILED:
        return None
    pressures = pressures_of(now.steps) if now.verdict == PASSES else {}
    chuck = now.names.get("chuck", "")
    if now.verdict != base.verdict:
        return Turned(now.setup, chuck, base.verdict, now.verdict, now.reason, pressures, unit)
    outside = _outside(now.steps, base.pressures, unit) if now.verdict == PASSES else ""
    return Turned(now.setup, chuck, PASSES, OTHER_PRESSURE, outside, pressures, unit) if outside else None


def goes_by(full: Replanned, rows: Sequence[Replanned], seen: ReplanSeen | None) -> bool:
    """Does the shop go by just this full plan that passed, so that nothing has turned while its pressures hold?

    It is the only one of ``rows``, nobody looked at another, and the plan kept with the setup says the same.  No is no
    answer: ``baseline_of`` and ``turned`` have to say.
    """
    plain = seen is None and len(rows) == 1 and full.verdict == PASSES
    return plain and (not full.planned or (
        full.planned["verdict"] == PASSES and same_pressures(full.planned["pressures"], pressures_of(full.steps))
    ))  # fmt: skip


def same_pressures(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    """Are the pressures of two plans the same but for the rounding of units?"""
    return one.keys() == other.keys() and all(
        isclose(pressure, other[name], rel_tol=ROUNDED / 2) for name, pressure in one.items()
    )


def pressures_of(steps: Mapping[str, Any]) -> dict[str, float]:
    """The pressure that is set in each step that has one. [MPa]"""
    return {name: step["pressure"] for name, step in steps.items() if step.get("pressure") is not None}


def _outside(steps: Mapping[str, Any], pressures: Mapping[str, float], unit: str) -> str:
    """Why a pressure that was set is no longer one to set; empty where all still are."""
    for name, pressure in pressures.items():
        step = steps.get(name)
        if step is None:
            return f"the step '{name}' is no longer one of its steps"
        low, high = step["floor"], step["ceiling"]
        if low is None or pressure < low * (1 - ROUNDED):
            end = "no pressure is enough" if low is None else f"the floor is now {_say(low, unit, 'up')}"
            end += f", set by '{step['floor_by']}'"
        elif high is not None and pressure > high * (1 + ROUNDED):
            end = f"the ceiling is now {_say(high, unit, 'down')}, set by '{step['ceiling_by']}'"
        else:
            continue
        return f"{name}: {_say(pressure, unit)} was set, {end}"
    return ""


def _say(pressure: float, unit: str, rounding: Rounding = "near") -> str:
    return pressure_text(pressure, unit, rounding)
