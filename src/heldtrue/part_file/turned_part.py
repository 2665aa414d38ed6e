"""What a drawing says of a turned part, whatever file it came from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from heldtrue.part_file.outline import Outline

Side = Literal["outside", "inside", "face"]
FORMS = ("roundness", "cylindricity", "runout", "flatness")
"""The form tolerances of :class:`Tolerances`, under the names that a setup gives them."""


@dataclass(frozen=True)
class Tolerances:
    """What a drawing asks of one surface, full width, ``None`` where it asks nothing. [mm]

    ``size``: lower and upper deviation of the diameter, as a setup writes them.
    """

    size: tuple[float, float] | None = None
    roundness: float | None = None
    cylindricity: float | None = None
    runout: float | None = None
    flatness: float | None = None


@dataclass(frozen=True)
class TurnedSurface:
    """A cylinder or a flat face of the half section. [mm]

    ``name``: unique in the part, plain words ("outside Ø166", "face z 32").
    ``diameters``: equal for a cylinder, inner and outer for a face; ``z``: from, to; equal for a face.
    """

    name: str
    side: Side
    diameters: tuple[float, float]
    z: tuple[float, float]
    tolerances: Tolerances = Tolerances()


@dataclass(frozen=True)
class NotTurned:
    """Something on the part that no lathe turns: what it is, its size in words with unit, and where."""

    kind: str
    size: str
    at: str


@dataclass(frozen=True)
class NotRound:
    """A stretch of the section that is no cylinder though it stands there as one: a hexagon, socket or eccentric. [mm]

    ``diameters``: of the largest circle about the axis in it and the smallest round it; outside the section has the
    second, inside the first.  ``z``: from, to.
    """

    what: str
    side: Literal["outside", "inside"]
    diameters: tuple[float, float]
    z: tuple[float, float]


@dataclass(frozen=True)
class TurnedPart:
    """A part as read: its outline in the file's own place along the axis, in mm.

    ``axis_origin``, ``axis_direction``: where the axis of the part lies in the file; z of the outline runs along it.
    ``solid_volume``: of the solid as the kernel measures it; ``None`` where the file has no solid. [mm3]
    ``digest``: SHA-256 of the file's content, hex.
    ``notes``: all that the reader has to say, in sentences; ``not_round``: where the section only stands for something;
    ``off_centre``: how far that takes the centre of mass off the axis at the most. [mm]
    """

    source: str
    digest: str
    outline: Outline
    surfaces: tuple[TurnedSurface, ...]
    not_turned: tuple[NotTurned, ...] = ()
    axis_origin: tuple[float, float, float] = (0.0, 0.0, 0.0)
    axis_direction: tuple[float, float, float] = (0.0, 0.0, 1.0)
    solid_volume: float | None = None
    notes: tuple[str, ...] = field(default=())
    not_round: tuple[NotRound, ...] = ()
    off_centre: float = 0.0
