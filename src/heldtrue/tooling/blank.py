"""Master jaws, blanks and what a set is to be cut to, as data; and the bore an earlier cut left in a set.

Radii and lengths in mm.  Stroke is counted from the middle of the jaw travel, outwards positive.  A top jaw is placed
by its zero mark: the blank reaches from ``ends[0]`` to ``ends[1]`` of it, outwards positive.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import cos, hypot, pi, sin

from heldtrue.mechanics.jaw_outline import FLAT, Outline, outline
from heldtrue.sentences import sentence

Point = tuple[float, float]
Say = Callable[[float], str]
"""How a length is said in messages."""

WEB_LIMIT_MM = 7.0
"""Least metal between bore and bolt pocket, or over a bolt head: common practice, no source (6 to 8)."""
SKIM_MM = 0.2
"""Least skim that cleans a used bore, per side: common practice, no source (0.15 to 0.25)."""


def in_mm(value: float) -> str:
    """A length in mm, to a hundredth."""
    return sentence("{:g mm}", round(value, 2) + 0.0)


@dataclass(frozen=True)
class Master:
    """The master jaws of a chuck.

    ``zeros``: radius of a top jaw's zero mark at mid-stroke, by tooth or position from the axis outwards; ``pitch`` of
    the teeth, None for tongue and groove; ``slot``: ends of the T-slot at mid-stroke; the rest as in the setup file.
    """

    jaws: int
    zeros: tuple[float, ...]
    pitch: float | None
    travel: float
    top_height: float = 0.0
    slot: tuple[float, float] | None = None
    nut_length: float = 0.0
    body_radius: float | None = None
    through_radius: float = 0.0

    @property
    def word(self) -> str:
        """What a place is called."""
        return "tooth" if self.pitch is not None else "position"


@dataclass(frozen=True)
class Bored:
    """How a set was cut last.

    ``radius`` of the bore as it was cut, its middle at mid-stroke on ``tooth``; ``depth`` of its seat from the front,
    and how far that may be off;
    ``shift``: how much further out the set stands than there, on that tooth at mid-stroke; ``relief``: width and depth
    of its corner relief, ``seat``: width of its seat face and how far the rest is set back, None where nobody recorded
    it; ``steps``: radius and height above the seat of each further diameter: above 0 from there to the mouth, below 0
    down to there behind the seat; None where nobody knows whether it has any.
    """

    radius: float
    depth: float
    tooth: int
    shift: float = 0.0
    relief: tuple[float, float] | None = None
    seat: tuple[float, float] | None = None
    depth_error: float = 0.0
    steps: tuple[Point, ...] | None = ()


@dataclass(frozen=True)
class OldBore:
    """The bore of an earlier cut where it stands now.

    ``radius`` it was cut to; ``off``: how far out its centre lies from the spindle axis; ``half_angle``: from the
    jaw's middle to the edge of it.  Off the axis it is not round any more as it turns: its middle and its edges turn
    on different radii.
    """

    radius: float
    off: float
    half_angle: float

    @property
    def middle(self) -> float:
        """Radius at the jaw's middle. [mm]"""
        return abs(self.radius + self.off)

    @property
    def edge(self) -> float:
        """Radius at its edges. [mm]"""
        return hypot(self.radius * cos(self.half_angle) + self.off, self.radius * sin(self.half_angle))

    def near(self, outward: float) -> float:
        """What a tool that cuts outwards (1) or inwards (-1) meets first. [mm]"""
        return min(self.middle, self.edge) if outward > 0 else max(self.middle, self.edge)

    def far(self, outward: float) -> float:
        """What it meets last: up to there the bore must be cut to clean all over. [mm]"""
        return max(self.middle, self.edge) if outward > 0 else min(self.middle, self.edge)


@dataclass(frozen=True)
class Blank:
    """A top jaw before it is cut.

    ``pocket``: diameter and depth of the bolt head's counterbore; ``head``: height of a bolt head; ``gap``: between
    pie segments where they grip; ``inner_end``: "flat" or "pointed"; ``bored``: None for a fresh blank.
    """

    style: str
    width: float
    ends: tuple[float, float]
    height: float
    holes: tuple[float, ...] = ()
    pocket: tuple[float, float] = (0.0, 0.0)
    head: float = 0.0
    gap: float = 0.0
    web_limit: float = WEB_LIMIT_MM
    bored: Bored | None = None
    inner_end: str = FLAT

    def outline(self, zero: float, jaws: int) -> Outline:
        """In plan, with its zero mark so far from the axis. Raises: ``GeometryError`` where nothing of it is there."""
        inner, outer = (zero + end for end in self.ends)
        return outline(self.style, jaws, (inner, outer), self.width, self.gap, self.inner_end)


def old_bore(master: Master, blank: Blank, bored: Bored, tooth: int, stroke: float) -> OldBore:
    """The bore of the last cut with the set on ``tooth`` at ``stroke``."""
    off = bored.shift + _zero(master, tooth) - _zero(master, bored.tooth) + stroke
    as_cut = blank.outline(_zero(master, tooth) + stroke, master.jaws).moved(-off)
    # A record that no such blank can have been cut to: the bore may reach as far round as any does.
    return OldBore(bored.radius, off, as_cut.half_angle_at(bored.radius) or pi / master.jaws)


def bored_as_found(
    master: Master, blank: Blank, bored: Bored, tooth: int, stroke: float, found: float, outward: float
) -> Bored:  # fmt: skip
    """The record of a set that stands on ``tooth`` at ``stroke``, with the radius that was touched off there. [mm]

    ``found``: where a tool touches the turning jaws first.
    """
    low, high = -bored.radius, found + bored.radius
    there = _zero(master, tooth) - _zero(master, bored.tooth) + stroke
    for _ in range(60):
        off = (low + high) / 2
        near = old_bore(master, blank, replace(bored, shift=off - there), tooth, stroke).near(outward)
        low, high = (off, high) if near < found else (low, off)
    return replace(bored, shift=(low + high) / 2 - there)


def _zero(master: Master, tooth: int) -> float:
    return master.zeros[min(max(tooth, 1), len(master.zeros)) - 1]


@dataclass(frozen=True)
class Wanted:
    """What the set is to be cut to.

    ``radius``: of the bore; ``relief``: how far the corner relief goes into the wall; ``ledge``: how far
    the seat must reach past the bore; ``depth`` of the seat from the front; ``entering``: radius of the part that must
    pass the open jaws, None if it need not; ``spread``: of the part's radius; ``swings``: name and radius of what turns
    clear; ``skim``: least to take off a used bore; ``half_angle``: from a jaw's middle to the edge of its bore, as the
    plan of the part counts it, None where nobody planned it.
    """

    side: str
    radius: float
    relief: float
    ledge: float
    depth: float
    entering: float | None = None
    spread: float = 0.0
    swings: tuple[tuple[str, float], ...] = ()
    skim: float = SKIM_MM
    half_angle: float | None = None

    @property
    def outward(self) -> float:
        """Direction in which the metal of the jaw lies: +1 for an outside grip, -1 for an inside grip."""
        return 1.0 if self.side == "outside" else -1.0
