"""The plan: plain frozen data in core units (mm, N, MPa, rev/min), ready for a screen, a sheet or JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heldtrue.planning.known import Known
from heldtrue.planning.setup import Setup, Source

Array = NDArray[np.float64]

State = Literal["passes", "fails", "not proven"]
PASSES: Literal["passes"] = "passes"
FAILS: Literal["fails"] = "fails"
NOT_PROVEN: Literal["not proven"] = "not proven"

CAUTIONS = (
    "Planning aid only. The plates of chuck, cylinder and machine rule.",
    "Measure the grip force with a gauge; the plate's figure is for a clean, greased chuck.",
    "Torque every jaw bolt; no bolt may bottom, no T-nut may pass the rim of the chuck.",
    "Read the gauge before every start: the last job's pressure may still be set.",
    "Door shut, low speed first, stand aside.",
    "Local rules and licensed practice decide. A part that lets go can kill.",
)


@dataclass(frozen=True)
class Check:
    """One question asked of the plan.

    ``value`` against ``limit`` in core units of ``kind`` (a kind of ``heldtrue.quantities``); ``margin``: share of the
    limit still free, negative where it fails, at the worst of every unknown; ``best_margin``: the same at the best;
    ``decided_by``: the input that moves it most, ``source`` where that input came from; ``measure``: what to measure
    to settle it.
    """

    name: str
    question: str
    state: State
    value: float
    limit: float
    kind: str
    margin: float
    best_margin: float
    decided_by: str
    source: Source
    measure: str = ""
    detail: str = ""


@dataclass(frozen=True)
class PressureStep:
    """One pressure and the cuts made at it. Pressures in MPa; ``recommended`` is None where there is no window."""

    name: str
    cuts: tuple[str, ...]
    floor: float
    floor_by: str
    ceiling: float
    ceiling_by: str
    recommended: float | None


@dataclass(frozen=True)
class PressureAdvice:
    """The pressure window.

    ``floor``, ``ceiling`` and ``recommended`` belong to the first step, the one that holds the heaviest cut; where
    two pressures are needed ``steps`` has two entries. ``used`` is the pressure at which the checks were made: stated,
    recommended, or the least that holds where there is no window.
    """

    floor: float
    ceiling: float
    recommended: float | None
    reason: str
    steps: tuple[PressureStep, ...]
    used: float
    openers: tuple[str, ...] = ()

    @property
    def has_window(self) -> bool:
        """Is there a pressure that holds and does not harm?"""
        return all(step.recommended is not None for step in self.steps)


@dataclass(frozen=True)
class SpeedAdvice:
    """The spindle limit to write, which every check is made at, and the top speed with these jaws. [rev/min]

    ``limits``: every limit on the top speed, by name.
    """

    limit: float
    reason: str
    top: float
    top_reason: str
    limits: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class GripForce:
    """Total grip of all jaws [N]: the least that holding may count on, and the most that distorts."""

    static_total: float
    dynamic_total: float
    per_jaw: float
    static_most: float
    dynamic_most: float


@dataclass(frozen=True)
class Lobe:
    """One harmonic of a released surface: ``order`` waves a turn, ``amplitude`` in mm."""

    order: int
    amplitude: float


@dataclass(frozen=True)
class SurfaceResult:
    """What the grip does to one machined surface, worst over the smallest, nominal and largest part. [mm]

    ``clamped_runout``: an indicator on a surface that was round before, part clamped and turned slowly.
    The rest after release; ``size_shift`` on diameter (radially symmetric part, not a form error).  ``cut_size`` and
    ``cut_taper``: what the finishing cut's own force leaves, on diameter: most, and difference from end to end.
    """

    name: str
    side: str
    clamped_runout: float
    released_roundness: float
    released_cylindricity: float
    released_flatness: float
    size_shift: float
    cut_size: float
    cut_taper: float
    lobes: tuple[Lobe, ...]
    worst_fit: str


@dataclass(frozen=True)
class Hold:
    """How one cut is held at the pressure used, at the worst of every unknown.

    ``factor``: by how much its load could grow; ``safety``: the factor asked for; ``grip_needed`` for it [N];
    ``handbook_factor``: torque and thrust against friction times grip, the second opinion.
    """

    cut: str
    case: str
    failure: str
    factor: float
    safety: float
    grip_needed: float
    speed_rpm: float
    tangential: float
    handbook_factor: float


@dataclass(frozen=True)
class ContactPrint:
    """Pressure of one jaw on the part for one fit: over z and over the angle from the jaw's middle.

    ``taper`` of the jaws per side [mm]; ``z_edges`` (m + 1) [mm]; ``angle_edges`` (s + 1) [rad] of half a jaw;
    ``pressure`` [MPa] and ``gap`` [mm] (m, s), not a number where the part has no surface (a groove).
    """

    fit: str
    part_diameter: float
    bore_diameter: float
    taper: float
    z_edges: tuple[float, ...]
    angle_edges: tuple[float, ...]
    pressure: Array
    gap: Array
    peak: float
    words: str


@dataclass(frozen=True)
class Shape:
    """One surface round the part: radial deviation clamped and released [mm] at ``angle`` from jaw 1 [rad]."""

    surface: str
    angle: Array
    clamped: Array
    released: Array


@dataclass(frozen=True)
class WindowMap:
    """Margin of the worst check over pressure [MPa] and spindle limit [rev/min], shape (pressures, speeds).

    ``holds`` counts only letting go, ``true`` only form and marking; positive is good.
    """

    pressure: Array
    speed_rpm: Array
    holds: Array
    true: Array


@dataclass(frozen=True)
class Plan:
    """Everything a setter asks of one setup."""

    setup: Setup
    verdict: State
    pressure: PressureAdvice
    speed: SpeedAdvice
    grip_force: GripForce
    holds: tuple[Hold, ...]
    surfaces: tuple[SurfaceResult, ...]
    checks: tuple[Check, ...]
    assumed: tuple[Known, ...]
    prints: tuple[ContactPrint, ...]
    shapes: tuple[Shape, ...]
    window: WindowMap
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS

    def check(self, name: str) -> Check:
        """The check of that name."""
        return next(check for check in self.checks if check.name == name)
