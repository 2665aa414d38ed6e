"""What a boring program has to cut, with which tool, and what it must stay clear of.

Program coordinates: x is a radius [mm] (the text has diameters), z = 0 on the front face of the jaws, negative towards
the chuck.  Spindle axis at x = 0.
"""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]

FINISH_SHARE, FINISH_SLACK_MM = 1.5, 0.06
"""A move that makes the finished line may take this many allowances and this much more: rounds in corners, steps."""
RUN_IN_MM, RUN_IN_STEP_MM = 2.0, 0.1
"""The finish comes in along the mouth's chamfer from so far off the faces at the most, to within a step."""


@dataclass(frozen=True)
class BoringTool:
    """A turning or boring tool. [mm, deg]

    ``quadrant``: which way the imaginary tip lies from the nose centre, 1 to 9 as lathes count tip positions (1: +x +z,
    2: -x +z, 3: -x -z, 4: +x -z, 5 to 8 on the axes, 9 the nose centre itself), as x and z run in the program;
    ``shank``: outline of insert and holder relative to the nose centre, a closed polygon (x, z); ``lead_angle``: from
    the feed direction along -z to the main cutting edge, 95 for the usual bar; ``edge_length``: how much of that edge
    cuts (6 mm: common practice, no source).
    """

    number: int
    name: str
    nose_radius: float
    quadrant: int
    lead_angle: float
    shank: tuple[Point, ...]
    offset: int | None = None
    edge_length: float = 6.0

    @property
    def offset_number(self) -> int:
        """Offset that goes with the tool: the tool's own number where none is said."""
        return self.number if self.offset is None else self.offset


@dataclass(frozen=True)
class Cutting:
    """How to cut: depth of a roughing pass on radius [mm], what is left for the finish, feeds [mm/rev], speeds.

    ``semi_allowance``: what a pass before the finish leaves for it, on radius, before the program stops to measure; 0
    for none.  ``spring_passes``: how often the finish is gone over again.  ``deburr``: is the mouth gone
    over once more?
    """

    pass_depth: float
    finish_allowance: float
    rough_feed: float
    finish_feed: float
    surface_speed: float
    spindle_limit: float
    fixed_speed: float | None = None
    semi_allowance: float = 0.0
    spring_passes: int = 0
    deburr: bool = False


@dataclass(frozen=True)
class MachineLimits:
    """Travel of the tool tip, x as radius [mm], and the spindle. [rev/min]"""

    x: tuple[float, float]
    z: tuple[float, float]
    max_speed: float


@dataclass(frozen=True)
class KeepOut:
    """Something the tool must not touch: a closed polygon (x, z) [mm] by name (ring, bolt head, chuck face)."""

    name: str
    outline: tuple[Point, ...]


@dataclass(frozen=True)
class ProbeAt:
    """What a probing cycle is told: diameter it should find, height of the place, how far off it may be. [mm]

    ``most``: on diameter; the cycle has to end in an alarm where more would be corrected.
    """

    size: float
    z: float
    most: float
    jaws: int


@dataclass(frozen=True)
class BoringJob:
    """One program's work.

    ``metal``: half section of the jaw before the cut, closed; ``finished``: the shape to leave, an open line from the
    mouth at the front face to where the tool leaves the metal, in cutting order of the finish pass; ``grip``: "outside"
    (the tool cuts an inner surface, approach from small x) or "inside" (it turns an outer surface, from large x);
    ``face_off``: how far the metal stands above z = 0, which the program turns off first, over the whole front;
    ``measure``: what the stop before the finish says, line by line, where ``cutting.semi_allowance`` is above 0;
    ``size_at_stop``: the size to be measured there, with its unit, which a comment must show; empty for none;
    ``probe``: what a probing cycle is told instead, where the template has one.
    """

    title: str
    grip: str
    metal: tuple[Point, ...]
    finished: tuple[Point, ...]
    keep_out: tuple[KeepOut, ...]
    tool: BoringTool
    cutting: Cutting
    limits: MachineLimits
    clearance: float
    comments: tuple[str, ...] = ()
    stops: tuple[str, ...] = ()
    measure: tuple[str, ...] = ("measure, enter the wear offset",)
    size_at_stop: str = ""
    face_off: float = 0.0
    probe: ProbeAt | None = None
