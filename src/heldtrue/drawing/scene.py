"""How part and jaws lie on the paper of a section: scale, half or full, and where tolerance frames stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heldtrue.drawing import dimensions
from heldtrue.drawing.jaw_shape import JawShape
from heldtrue.drawing.svg import Point, text_width
from heldtrue.planning.profiles import outline
from heldtrue.planning.setup import Setup, Surface
from heldtrue.quantities import UnitSystem

LEFT, SLAB, TOP, BOTTOM, RIGHT = 11.0, 8.5, 5.0, 17.5, 9.0
"""Paper kept free for the gripped diameter, the chuck, labels above, dimensions below and the end. [mm]"""
MOST_FRAMES = 4
FRAME_GAP = 2.5
FRAME_OFF, NAME_ROOM = 8.0, 30.0
"""From the end of the part to the tolerance frames, and the most room their names may take. [mm]"""
CENTRE_MM = 9.0
"""Paper a tailstock centre takes. [mm]"""


@dataclass(frozen=True)
class Scene:
    """The geometry in mm of part and jaws, and how it lies on the paper."""

    setup: Setup
    jaw: JawShape
    part: list[Point]
    blank: list[Point]
    far: float
    scale: float
    x_face: float
    y_axis: float
    mirrored: bool
    frames_above: bool

    def at(self, r: float, z: float) -> Point:
        """The paper point of (r, z)."""
        return self.x_face + (z - self.jaw.chuck_face) * self.scale, self.y_axis - r * self.scale

    def loop(self, points: Sequence[Point], side: int = 1) -> list[Point]:
        """An outline on the paper; ``side`` -1 mirrors it below the axis."""
        return [self.at(side * r, z) for r, z in points]

    @property
    def sides(self) -> tuple[int, ...]:
        """The halves drawn."""
        return (1, -1) if self.mirrored else (1,)

    @property
    def end(self) -> float:
        """z of the finished part's far end."""
        return max(z for _, z in self.part)

    @property
    def far_end(self) -> float:
        """z of the far end of part and blank."""
        return max(z for _, z in self.part + self.blank)

    @property
    def top_radius(self) -> float:
        """The largest radius drawn."""
        return max(
            [r for r, _ in self.part + self.blank] + [self.far if self.jaw.outside else 0.0, self.jaw.seat_radii[1]]
        )


def that_fit(surfaces: list[Surface], system: UnitSystem, height: float) -> list[Surface]:
    """The first surfaces whose tolerance frames find room under each other."""
    room, shown = height - BOTTOM, list[Surface]()
    for surface in surfaces[:MOST_FRAMES]:
        room -= dimensions.frame_size(surface, system)[1] + FRAME_GAP
        if room < 0:
            break
        shown.append(surface)
    return shown


def arrange(setup: Setup, surfaces: list[Surface], system: UnitSystem, width: float, height: float) -> Scene:
    """Choose scale, half or full section, and whether tolerance frames stand beside or above the part."""
    jaw = JawShape.of(setup)
    part = outline(setup.part.profile)
    blank = outline(setup.part.blank) if setup.part.blank else []
    largest = max(r for r, _ in part + blank)
    far = jaw.far_radius
    if jaw.outside:
        far = min(far, max(jaw.radius + 0.4 * jaw.length, largest + 0.08 * largest))
    end = max(z for _, z in part + blank)
    reach, span = max(largest, far, jaw.seat_radii[1]), end - jaw.chuck_face
    sizes = [dimensions.frame_size(s, system) for s in surfaces]
    names = [min(text_width(s.name), NAME_ROOM) for s in surfaces]
    column = max([FRAME_OFF + size[0] for size in sizes] + [FRAME_OFF + name for name in names] + [RIGHT]) + 1.0
    band = max((size[1] for size in sizes), default=0.0) + 2.0

    centre = CENTRE_MM if setup.grip.centre else 0.0

    def fit(right: float, top: float) -> tuple[float, bool]:
        wide = (width - LEFT - SLAB - right - centre) / span
        half, full = (height - TOP - BOTTOM - top) / reach, (height - TOP - BOTTOM - top) / (2 * reach)
        return (min(wide, half), False) if full < 0.8 * min(wide, half) else (min(wide, full), True)

    beside, above = fit(column, 0.0), fit(RIGHT, band)
    frames_above = bool(surfaces) and above[0] > 1.3 * beside[0]
    scale, mirrored = above if frames_above else beside
    right, top = (RIGHT, band) if frames_above else (column, 0.0)
    free_across = width - LEFT - SLAB - right - centre - span * scale
    tall = reach * scale * (2 if mirrored else 1)
    free_down = height - TOP - BOTTOM - top - tall
    y_axis = TOP + top + free_down / 2 + reach * scale
    return Scene(
        setup,
        jaw,
        part,
        blank,
        far,
        scale,
        LEFT + SLAB + max(free_across, 0.0) / 2,
        y_axis,
        mirrored,
        frames_above,
    )
