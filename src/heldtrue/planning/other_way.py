"""A way to hold a part that is not chuck jaws alone, as data: what it needs, what it allows, what nobody knows yet."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.planning.result import Check, State

MANDREL, COLLET, FACE, CENTRE, STEADY, PADS = "mandrel", "collet", "face clamp", "centre", "steady rest", "pads"
"""Kinds of ways."""
TAPER, SLEEVE = "taper", "sleeve"
"""How an even grip is made: segments that a taper moves, stiff, so that they can press harder on one side; or a thin
sleeve under oil, whose pressure is the same everywhere."""
EACH, ALL_ROUND = "each", "in all"
"""What a clamping force counts."""
OUTER_STRAPS, INNER_STRAPS = "from outside", "through the bore"
"""Where the clamps of a face come from."""
RING = 0
"""Number of stations of a clamp that is a whole ring."""

# What must be known or bought.
TOOL_FORCE, TOOL_RANGE, TOOL_SPEED, TOOL_ROUND, STOP_FACE, PLATE, CLAMP_FORCE, RESTS, BULL_CENTRE, TAILSTOCK = (
    "greatest force", "expansion range", "tool speed", "tool roundness", "stop face", "plate", "clamping force",
    "rests below", "bull centre", "tailstock",
)  # fmt: skip
# What is assumed, or good to know.
SIZE_SHIFT, COLLAPSE, SEGMENTS, SLITS, SIDEWAYS, UNDER_CUT, STATIONS, STRAPS, FLAT_SEAT, NOT_COMPUTED = (
    "size shift", "collapse", "segment mass", "slits", "even under side force", "under the cut", "stations", "straps",
    "flat seat", "not computed",
)  # fmt: skip


@dataclass(frozen=True)
class Fact:
    """One thing to know, buy or mind: ``code`` above, what it is about, and a value [core unit of ``kind``].

    ``most``: the other end, where it is a range.
    """

    code: str
    subject: str = ""
    value: float | None = None
    kind: str = ""
    most: float | None = None


@dataclass(frozen=True)
class Held:
    """The surface that is held.

    ``side``: outside, inside or face; ``diameters``: inner and outer of a face, twice the same of a cylinder; ``z``
    from and to, of a face twice the same. [mm]
    """

    name: str
    side: str
    diameters: tuple[float, float]
    z: tuple[float, float]


@dataclass(frozen=True)
class ForceStep:
    """Cuts made at one force: the least that holds them and the most that does no harm [N], and the checks that say so.

    ``best_floor``, ``best_ceiling``: the same with every unknown at its best.
    """

    name: str
    cuts: tuple[str, ...]
    floor: float
    floor_by: str
    ceiling: float
    ceiling_by: str
    best_floor: float
    best_ceiling: float

    @property
    def is_open(self) -> bool:
        """Is there a force that holds and does not harm?"""
        return self.floor <= self.ceiling

    @property
    def may_be_open(self) -> bool:
        """Could there be one, with everything unknown at its best?"""
        return self.best_floor <= self.best_ceiling


@dataclass(frozen=True)
class OtherWay:
    """One such way.

    ``kind`` and ``means``: how the grip is made, or where clamps come from; ``stations``: of a face clamp (``RING``:
    all round); ``surface``: what is held, None where nothing else is; ``state``: never ``passes`` for a tool whose
    plate nobody has read; ``checks`` at the force ``used``; ``steps``: forces, one for all cuts or one each for rough
    and finish; of a centre, gauge pressures; ``used``: the force of ``checks``, in the kind of the window;
    ``needs``: what must be known or bought first; ``notes``: what is assumed and good to know; ``area``: that an even
    grip presses on [mm2], 0 for others.
    """

    kind: str
    means: str
    surface: Held | None
    state: State
    checks: tuple[Check, ...] = ()
    steps: tuple[ForceStep, ...] = ()
    used: float = 0.0
    needs: tuple[Fact, ...] = ()
    notes: tuple[Fact, ...] = ()
    stations: int = RING
    area: float = 0.0
    measure: str = "force"

    @property
    def window(self) -> tuple[float, float, str] | None:
        """Least and most force of the first step and their kind; None where some cut has no window. [N or MPa]"""
        if not self.steps or not all(step.is_open for step in self.steps):
            return None
        return self.steps[0].floor, self.steps[0].ceiling, self.measure

    @property
    def is_computed(self) -> bool:
        """Was it computed, or is it only named?"""
        return bool(self.steps)
