"""What an indicator or a feeler shows, beside what the plan of the setup expects.  Units: mm, MPa, N."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scipy.optimize import brentq

from heldtrue.errors import InputError
from heldtrue.inspection.budget import Budget, LobeComparison, compare_lobes, runout_budget
from heldtrue.inspection.causes import Diagnosis
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.planning.plan import plan_study
from heldtrue.planning.setup import Setup, Surface
from heldtrue.planning.study import Study

STATES = ("free", "clamped")
"""States of the part in which a surface can be read."""
MOST_LOBES = 3
"""Orders of the plan set beside the readings: the jaws' own and its first multiples."""
LEAST_SHARE = 0.1
"""A predicted lobe smaller than this share of the largest is left out."""


@dataclass(frozen=True)
class AgainstPlan:
    """Readings beside the plan.

    ``comparisons``: (state of the part, lobe); ``pressure`` the plan was made at [MPa], ``pressure_from`` in words;
    ``budget``: None without a run-out tolerance; ``words``: what to know of the comparison.
    """

    surface: Surface
    comparisons: tuple[tuple[str, LobeComparison], ...]
    pressure: float
    pressure_from: str
    budget: Budget | None
    words: tuple[str, ...]


def surface_of(setup: Setup, name: str | None, side: str | None = None) -> Surface:
    """The surface the readings were taken on.

    Raises: ``InputError`` where it is not there, or more than one could be meant.
    """
    there = ", ".join(f"{s.name} ({s.side})" for s in setup.surfaces) or "none"
    if name is not None:
        found = [s for s in setup.surfaces if s.name.casefold() == name.strip().casefold()]
        if not found:
            raise InputError(f'surface: found "{name}"; the setup has: {there}')
        if side is not None and found[0].side != side:
            raise InputError(f"side: found {side}; the surface {found[0].name} looks {found[0].side}")
        return found[0]
    able = [s for s in setup.surfaces if side is None or s.side == side]
    toleranced = [s for s in able if s.runout is not None]
    chosen = able if len(able) == 1 else toleranced
    if len(chosen) != 1:
        raise InputError(f"say which surface was read; the setup has: {there}")
    return chosen[0]


def grip_middle(setup: Setup) -> float:
    """Middle of the grip along the part. [mm]"""
    return 0.5 * (setup.grip.z[0] + setup.grip.z[1])


@dataclass(frozen=True)
class ExpectedLobe:
    """A lobe the plan expects: its ``amplitude`` [mm], and the pressure [MPa] at which half of it would be left, None
    where that is less than holds."""

    amplitude: float
    halved_at: float | None


@dataclass(frozen=True)
class Expected:
    """What the plan of a setup expects of one surface, before anybody has read it.

    ``lobes`` by state of the part and order; ``pressure`` [MPa], ``pressure_from`` in words; ``jaws``: how many;
    ``verdict`` of the plan.
    """

    surface: Surface
    lobes: dict[str, dict[int, ExpectedLobe]]
    pressure: float
    pressure_from: str
    jaws: int
    verdict: str


def against_plan(
    setup: Setup, surface: Surface, results: Sequence[IndicatorResult], found: Diagnosis,
    tolerance: float | None = None,
) -> AgainstPlan:  # fmt: skip
    """Lobes as read beside the plan's, and the run-out tolerance shared out: ``expected`` and ``beside`` in one."""
    states = tuple(state for state in STATES if _of_state(results, state) is not None)
    return beside(expected(setup, surface, states), results, found, tolerance)


def expected(setup: Setup, surface: Surface, states: Sequence[str] = STATES) -> Expected:
    """What the plan expects of a surface, free or clamped.  This solves; ``beside`` then takes no time.

    At the pressure the setup states for its run, else at the one advised for the finish.
    """
    study = Study.of(setup)
    plan = plan_study(study, helped=False)
    stated = setup.stated_pressure is not None
    step = plan.pressure.steps[-1]
    pressure = plan.pressure.used if stated or step.recommended is None else step.recommended
    came = "advised" if step.recommended is not None else "the least that holds: none is advised"
    jaws = study.job.jaws
    lobes = {
        state: {
            order: ExpectedLobe(size, _half(study, surface, pressure, state, order, size, step.floor))
            for order, size in _worth_showing(waves(study, surface, pressure, state), jaws).items()
        }
        for state in states
    }
    return Expected(surface, lobes, pressure, "stated" if stated else came, jaws, plan.verdict)


def beside(
    plan: Expected, results: Sequence[IndicatorResult], found: Diagnosis, tolerance: float | None = None
) -> AgainstPlan:
    """Readings beside what the plan expects; ``tolerance`` of the run-out, that of the surface if left out. [mm]

    A free part is compared with what the plan leaves after release; a clamped one with what clamping does to a surface
    that was round before.
    """
    compared: list[tuple[str, LobeComparison]] = []
    for state, lobes in plan.lobes.items():
        one = _of_state(results, state)
        if one is not None:
            sizes = {order: lobe.amplitude for order, lobe in lobes.items()}
            compared += [(state, _with_half(lobe, lobes[lobe.order])) for lobe in compare_lobes(one, sizes)]
    asked = tolerance if tolerance is not None else plan.surface.runout
    budget = None if asked is None else runout_budget(found, asked)
    words = _words(results, compared, plan.verdict)
    return AgainstPlan(plan.surface, tuple(compared), plan.pressure, plan.pressure_from, budget, words)


def waves(study: Study, surface: Surface, pressure: float, state: str) -> dict[int, float]:
    """Amplitude [mm] of each lobe of a surface, by order, at ``pressure``. [MPa]

    Free: what the finishing cut leaves, at its speed; clamped: at rest.  Both at the likely grip of the pressure.
    """
    speed = study.finishing_speed() if state == "free" else 0.0
    grip = study.likely_grip(pressure, speed)
    form = next(f for f in study.finished.under(grip).forms if f.surface.name == surface.name)
    return {order: abs(amplitude) for order, amplitude in zip(form.orders, form.amplitudes, strict=True)}


def _of_state(results: Sequence[IndicatorResult], state: str) -> IndicatorResult | None:
    """The first trace in this state; one of which nobody said it counts as clamped."""
    states = ("clamped", "not said") if state == "clamped" else ("free",)
    return next((r for r in results if r.trace.state in states), None)


def _worth_showing(found: dict[int, float], jaws: int) -> dict[int, float]:
    """The jaws' own order, and what is not small beside the largest."""
    largest = max(found.values(), default=0.0)
    kept = {n: a for n, a in found.items() if n == jaws or a >= LEAST_SHARE * largest}
    return dict(sorted(kept.items())[:MOST_LOBES])


def _half(
    study: Study, surface: Surface, pressure: float, state: str, order: int, size: float, floor: float
) -> float | None:
    """The pressure for half the lobe by the plan itself: the lobe does not go with the pressure alone, because jaws
    pull at speed and bear on more of the part the harder they press."""

    def left(at: float) -> float:
        return waves(study, surface, at, state)[order] - 0.5 * size

    least = min(study.likely["threshold"], 0.999 * pressure)
    half = brentq(left, least, pressure, xtol=1e-3) if left(least) < 0 < left(pressure) else None
    return None if half is None or half < floor else float(half)


def _with_half(one: LobeComparison, plan: ExpectedLobe) -> LobeComparison:
    """The comparison with the pressure for half the lobe, where the clamp explains it."""
    if one.verdict != "explained" or one.measured.value <= 0.0:
        return one
    if plan.halved_at is None:
        return replace(one, words="the clamp is the cause; half the lobe needs less than the pressure that holds: more "
                                  "wrap or more jaws")  # fmt: skip
    return replace(one, halved_at=plan.halved_at)


def _words(
    results: Sequence[IndicatorResult], compared: Sequence[tuple[str, LobeComparison]], verdict: str
) -> tuple[str, ...]:
    found = []
    if any(r.trace.state == "not said" for r in results):
        found.append("nobody said whether the part was clamped or free: it is taken as clamped")
    if any(state == "clamped" for state, _ in compared):
        found.append(
            "clamped, the plan tells what clamping does to a surface that was round before; a surface finished in this "
            "same clamping runs round until it is released: read it free"
        )
    if verdict != "passes":
        found.append(f"the plan of this setup: {verdict}")
    return tuple(found)
