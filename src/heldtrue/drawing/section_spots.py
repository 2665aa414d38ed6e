"""What can be pointed at on the section of a part in its jaws: its edges and corners, the jaws, the chuck."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.drawing.dimensions import asked_of
from heldtrue.drawing.scene import SLAB, Scene, arrange, that_fit
from heldtrue.drawing.svg import Point
from heldtrue.planning.setup import Setup
from heldtrue.quantities import UnitSystem

WIDTH, HEIGHT = 150.0, 100.0
"""Paper of the section on a page. [mm]"""


@dataclass(frozen=True)
class Spot:
    """Something that can be pointed at.

    ``key``: ``edge 2``, ``corner 0`` (of the part's outline, from 0), ``jaws`` or ``chuck``; ``lines``: where it is on
    the paper [mm], a corner one point; ``is_area``: the lines close, and all within is meant.
    """

    key: str
    lines: tuple[tuple[Point, ...], ...]
    is_area: bool = False


def section_spots(setup: Setup, system: UnitSystem) -> tuple[Spot, ...]:
    """The spots of ``draw_section`` at its usual size, in the order of the outline, then jaws and chuck."""
    toleranced = [one for one in setup.surfaces if asked_of(one)]
    scene = arrange(setup, that_fit(toleranced, system, HEIGHT), system, WIDTH, HEIGHT)
    corners = [(one.diameter / 2, one.z) for one in setup.part.profile]
    found = []
    for number, (here, following) in enumerate(zip(corners, [*corners[1:], corners[0]], strict=True)):
        found.append(_on_both(scene, f"corner {number}", [here]))
        if here != following and not here[0] == following[0] == 0.0:
            found.append(_on_both(scene, f"edge {number}", [here, following]))
    jaw = scene.jaw.section(min(setup.grip.z), scene.far)
    found.append(Spot("jaws", tuple(tuple(scene.loop(jaw, side)) for side in scene.sides), True))
    high = scene.y_axis - scene.top_radius * scene.scale
    low = 2 * scene.y_axis - high if scene.mirrored else scene.y_axis
    left, right = scene.x_face - SLAB, scene.x_face
    found.append(Spot("chuck", (((left, high), (right, high), (right, low), (left, low)),), True))
    return tuple(found)


def _on_both(scene: Scene, key: str, points: list[Point]) -> Spot:
    """A spot on every half that is drawn."""
    return Spot(key, tuple(tuple(scene.at(side * r, z) for r, z in points) for side in scene.sides))
