"""A plan as the words and numbers of a page: plain data, both units, made in the worker and sent to the browser."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import isfinite

from heldtrue.drawing.wording import form_length, gauge_unit, in_units, other_pressure_unit, value_text
from heldtrue.planning.caveats import caveats_of
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.known import Known
from heldtrue.planning.result import FAILS, NOT_PROVEN, PASSES, Check, Plan, PressureStep
from heldtrue.quantities import UnitSystem
from heldtrue.web.plan.map_data import MapLook, map_look


@dataclass(frozen=True)
class CheckRow:
    """One check: ``margin`` in words, ``value`` and ``limit`` in both units."""

    name: str
    question: str
    state: str
    value: str
    limit: str
    margin: str
    decided_by: str
    source: str
    measure: str


@dataclass(frozen=True)
class StepRow:
    """One pressure step: every pressure as (gauge unit, the other unit)."""

    name: str
    recommended: tuple[str, str] | None
    floor: tuple[str, str]
    floor_by: str
    ceiling: tuple[str, str]
    ceiling_by: str


@dataclass(frozen=True)
class Answer:
    """The plan of one setup.

    ``full``: False for the quick look, where only the worst case of each load was held again; ``seconds``: how long it
    took; ``drawings``: SVG by name; ``map``: to look up any pressure and speed; ``stated``: the pressure of the run
    where the setup states one; ``caveat``: what all of it rests on
    and nobody read; ``from_log``: what the records changed in the setup; ``problems``: why there is no
    plan, and then everything else is empty.
    """

    verdict: str = ""
    because: str = ""
    decided_by: str = ""
    measure_first: str = ""
    steps: tuple[StepRow, ...] = ()
    stated: tuple[str, str] | None = None
    reason: str = ""
    openers: tuple[str, ...] = ()
    speed: str = ""
    speed_reason: str = ""
    top: str = ""
    top_reason: str = ""
    grip: tuple[tuple[str, str], ...] = ()
    checks: tuple[CheckRow, ...] = ()
    assumed: tuple[tuple[str, str, str, str], ...] = ()
    surfaces: tuple[tuple[str, str, str], ...] = ()
    notes: tuple[str, ...] = ()
    caveat: str = ""
    cautions: tuple[str, ...] = ()
    from_log: tuple[str, ...] = ()
    drawings: tuple[tuple[str, str], ...] = ()
    problems: tuple[str, ...] = ()
    map: MapLook | None = None
    full: bool = True
    seconds: float = 0.0


def answer_of(plan: Plan, drawings: dict[str, str], *, full: bool, seconds: float) -> Answer:
    """What a page shows of a plan. ``seconds``: how long it took."""
    system, gauge = plan.setup.units, gauge_unit(plan)
    ranked = worst_first(plan)
    decider = ranked[0] if ranked else None
    run = plan.setup.run
    force = partial(both, kind="force", system=system)
    return Answer(
        verdict=plan.verdict,
        because="" if decider is None else f"{decider.question} {margin_words(decider)}",
        decided_by="" if decider is None else f"{decider.decided_by} ({decider.source})",
        measure_first=next((known.measure for known in _deciding(plan, ranked) if known.measure), ""),
        steps=tuple(_step(plan, step) for step in plan.pressure.steps),
        stated=None if run is None or run.pressure is None else _pressures(plan, run.pressure),
        reason=plan.pressure.reason,
        openers=plan.pressure.openers,
        speed=f"{plan.speed.limit:.0f} rev/min", speed_reason=plan.speed.reason,
        top=f"{plan.speed.top:.0f} rev/min", top_reason=plan.speed.top_reason,
        grip=(
            ("all jaws, at rest, at least", force(plan.grip_force.static_total)),
            ("all jaws, at speed, at least", force(plan.grip_force.dynamic_total)),
            ("per jaw, at rest", force(plan.grip_force.per_jaw)),
            ("all jaws, at most", force(plan.grip_force.dynamic_most)),
        ),
        checks=tuple(_check(check, system, gauge) for check in ranked),
        assumed=tuple(_assumed(known, system, gauge) for known in _deciding(plan, ranked)),
        surfaces=tuple(
            (one.name, _form(one.clamped_runout, system),
             _form(one.released_flatness if one.side == "face" else one.released_roundness, system))
            for one in plan.surfaces
        ),
        notes=tuple(in_units(note, system) for note in plan.notes),
        caveat="; ".join(caveats_of(plan.setup)), cautions=plan.cautions,
        drawings=tuple(drawings.items()), map=map_look(plan), full=full, seconds=seconds,
    )  # fmt: skip


def both(value: float, kind: str, system: UnitSystem, gauge: str = "") -> str:
    """A value [core] in the units of the setup, with the other system's in brackets where they differ."""
    other: UnitSystem = "inch" if system == "metric" else "metric"
    first = value_text(value, kind, system, gauge)
    if kind == "pressure" and gauge:
        second = value_text(value, kind, system, other_pressure_unit(gauge, system))
    else:
        second = value_text(value, kind, other)
    return first if first == second or not isfinite(value) else f"{first} ({second})"


def worst_first(plan: Plan) -> list[Check]:
    """The checks: what may let go first of those that do not pass, then those that fail, then by what is to spare."""
    order = {FAILS: 0, NOT_PROVEN: 1, PASSES: 2}

    def gravity(check: Check) -> tuple[bool, bool, int, float]:
        passes = check.state == PASSES
        return passes, not passes and not _holds(check), order[check.state], check.margin

    return sorted(plan.checks, key=gravity)


def _holds(check: Check) -> bool:
    return check.name.startswith("hold:")


def margin_words(check: Check) -> str:
    """How far a check is from its limit."""
    if not isfinite(check.margin) or check.margin > 9.99:
        return "ample" if check.margin > 0 else "not at all"
    if check.margin >= 0:
        return f"{check.margin:.0%} to spare"
    if _holds(check):
        return f"short by {-check.margin:.0%}"
    return "far over" if check.margin < -9.99 else f"{-check.margin:.0%} beyond the limit"


def _step(plan: Plan, step: PressureStep) -> StepRow:
    return StepRow(
        step.name, None if step.recommended is None else _pressures(plan, step.recommended),
        _pressures(plan, step.floor, "up"), step.floor_by, _pressures(plan, step.ceiling, "down"), step.ceiling_by,
    )  # fmt: skip


def _pressures(plan: Plan, value: float, rounding: str = "near") -> tuple[str, str]:
    """A gauge pressure in the gauge's own unit and in the other; a floor is rounded up, a ceiling down."""
    unit = gauge_unit(plan)
    if not isfinite(value):
        return "none", ""
    say: Callable[[str], str] = lambda one: pressure_text(value, one, rounding)  # type: ignore[arg-type]  # noqa: E731
    return say(unit), say(other_pressure_unit(unit, plan.setup.units))


def _check(check: Check, system: UnitSystem, gauge: str) -> CheckRow:
    return CheckRow(
        check.name, check.question, check.state, both(check.value, check.kind, system, gauge),
        both(check.limit, check.kind, system, gauge), margin_words(check), check.decided_by, check.source,
        check.measure,
    )  # fmt: skip


def _deciding(plan: Plan, ranked: list[Check]) -> list[Known]:
    """Assumed inputs, those that decide the tightest checks first, those that no measurement moves last."""
    ranks: dict[str, int] = {}
    for number, check in enumerate(ranked):
        ranks.setdefault(check.decided_by, number)
    return sorted(plan.assumed, key=lambda known: (not known.is_open, ranks.get(known.label, len(ranks))))


def _assumed(known: Known, system: UnitSystem, gauge: str) -> tuple[str, str, str, str]:
    best = both(known.best, known.kind, system, gauge) if known.is_open else ""
    return known.label, both(known.worst, known.kind, system, gauge), best, known.measure


def _form(value: float, system: UnitSystem) -> str:
    other: UnitSystem = "inch" if system == "metric" else "metric"
    return f"{form_length(value, system)} ({form_length(value, other)})"
