"""The plan: plain frozen data in core units (mm, N, MPa, rev/min), ready for a screen, a sheet or JSON."""

from __future__ import annotations

from dataclasses import dataclass, field
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
IN_SHORT = "Planning aid only: the plates rule. Door shut. A part that lets go can kill."
"""The cautions where there is room for one line."""


HOLD, LEFT, PLATE, STEADY, FORM, CUT, MARK, YIELD = (
    "hold", "grip left", "plate", "steady pressure", "form", "under the cut", "marking", "yield",
)  # fmt: skip
"""Groups of checks."""
PUBLISHED, WORST_CASE, LIKELY_VALUE, WORST_VALUE = "published rule", "worst case", "likely value", "worst value"
"""Names of the rules that a check may be held to."""


@dataclass(frozen=True)
class Rule:
    """One rule of a check: ``value`` against ``limit`` in the kind of the check; ``margin``: share to spare."""

    name: str
    value: float
    limit: float
    margin: float


@dataclass(frozen=True)
class Failure:
    """How a load would get the part out of the jaws: what happens first, and by how much.

    ``mode``: slip round, slip along, tip or lift; ``cut``: that does it, or the spin-up; ``case`` within it; ``radius``
    and ``reach`` of the tool from the axis and the seat [mm]; ``needs``: what must be carried, safety included, and
    ``carries``: what the grip carries of it; a moment [N mm] for slip round and tip, else a force [N]: ``kind``.
    """

    mode: str
    cut: str
    case: str
    radius: float
    reach: float
    needs: float
    carries: float
    kind: str


@dataclass(frozen=True)
class Odds:
    """How likely a check goes wrong, beside the worst case that decides.

    ``part``: probability for one part, with no more digits than its error allows, 0 where it is under one in a
    million; ``batch``: that any of ``parts`` parts does (None where nobody stated how many); ``error``: half the width
    of the 95 % interval of ``part``.
    """

    part: float
    batch: float | None
    parts: int | None
    error: float


@dataclass(frozen=True)
class Check:
    """One question asked of the plan.

    ``value`` against ``limit`` in core units of ``kind`` (a kind of ``heldtrue.quantities``) by the rule that leaves
    least; ``rules``: every rule that must hold; ``margin``: share still free by that rule, negative where it
    fails; ``best_margin``: the same where every unknown is at its best; ``decided_by``: the input that moves it
    most, ``source`` where that input came from; ``measure``: what to measure to settle it.  ``group`` and ``subject``
    say what it is about: a group above, and the cut, surface, body or plate.  ``least``: must the value be at
    least the limit?  ``failure``: of a hold, what happens first.
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
    group: str = ""
    subject: str = ""
    least: bool = False
    rules: tuple[Rule, ...] = ()
    failure: Failure | None = None
    odds: Odds | None = field(default=None, compare=False)

    @property
    def tighter(self) -> Rule | None:
        """The rule that leaves least; the first of two alike, None where there is one rule only."""
        return min(self.rules, key=lambda rule: rule.margin, default=None)


@dataclass(frozen=True)
class PressureStep:
    """One pressure and the cuts made at it. Pressures in MPa; ``recommended`` is None where there is no window.

    ``floor_by``, ``ceiling_by``: names of the checks that end the window; ``finished``: do these cuts leave the
    finished surfaces?
    """

    name: str
    cuts: tuple[str, ...]
    finished: bool
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
    steps: tuple[PressureStep, ...]
    used: float

    @property
    def has_window(self) -> bool:
        """Is there a pressure that holds and does not harm?"""
        return all(step.recommended is not None for step in self.steps)


@dataclass(frozen=True)
class SpeedAdvice:
    """The spindle limit to write and the top speed with these jaws. [rev/min]

    ``limit`` is the speed that the checks were made at, or the top speed where that is less.

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
    """What the likely grip does to one machined surface, in the size of the part that is worst for it. [mm]

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
    """How one cut is held at the pressure used, by the rule that leaves least.

    ``factor``: what is reached of the safety factor asked for, ``safety``; ``grip_needed`` at rest for it [N];
    ``handbook_factor``: friction times grip over torque and thrust, the second opinion: inputs of the published rule.
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
class Remedy:
    """One change after which the check that stands in the way would pass, everything else as it is.

    ``what``: grip length, bored diameter, depth, feed, speed, centre, seat, friction, measure, wrap, jaws;
    ``subject``: the cut or input that it is about; ``was`` and ``to`` in core units of ``kind``, None where there is no
    figure.
    """

    what: str
    subject: str = ""
    was: float | None = None
    to: float | None = None
    kind: str = ""


@dataclass(frozen=True)
class Answer:
    """What a setter must know first, made once and shown by every face.

    ``ranked``: all checks, what may let go first, then what fails, then by what is to spare; ``leading``: the first of
    them; ``alike``: how many others have its state; ``open_inputs``: assumed inputs, those that decide the tightest
    checks first; ``measure_first``: the input whose measurement would change most; ``remedies``: what would make the
    leading check pass, smallest change first; ``caveats``: codes of what the whole plan rests on and nobody looked at.
    """

    ranked: tuple[Check, ...]
    leading: Check | None
    alike: int
    open_inputs: tuple[Known, ...]
    measure_first: Known | None
    remedies: tuple[Remedy, ...]
    caveats: tuple[str, ...]


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
    answer: Answer
    assumed: tuple[Known, ...]
    prints: tuple[ContactPrint, ...]
    shapes: tuple[Shape, ...]
    window: WindowMap
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS

    def check(self, name: str) -> Check:
        """The check of that name."""
        return next(check for check in self.checks if check.name == name)
