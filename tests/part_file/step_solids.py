"""Solids made with the kernel, with volumes it knows: what a shop turns, with what is milled and drilled into it."""

from __future__ import annotations

from math import cos, pi, sin
from pathlib import Path
from tempfile import TemporaryDirectory

from netgen.occ import Axes, Axis, Box, Cylinder, Dir, Pnt, Sphere, WorkPlane, X, Y, Z

HUB = [(20, 0), (60, 0), (60, 12), (35, 12), (28, 45), (20, 45)]
"""A flanged hub with a taper, (r, z)."""


def turned(corners):
    """The body that a straight profile (r, z) turns round z."""
    path = WorkPlane(Axes((0, 0, 0), n=-Y, h=X)).MoveTo(*corners[0])
    for corner in corners[1:]:
        path = path.LineTo(*corner)
    return path.Close().Face().Revolve(Axis((0, 0, 0), Z), 360)


def pin(radius, height, z=0.0, x=0.0, y=0.0):
    return Cylinder(Pnt(x, y, z), Z, r=radius, h=height)


def drill(radius, start, way, length):
    return Cylinder(Pnt(*start), way, r=radius, h=length)


def block(low, high):
    return Box(Pnt(*low), Pnt(*high))


def tube(outer, inner, height, z=0.0):
    return pin(outer, height, z) - pin(inner, height + 2, z - 1)


def hub():
    return turned(HUB)


def rooted_hub():
    """The hub with a rounding of 3 in its root."""
    body = hub()
    root = [edge for edge in body.edges if abs(edge.center.z - 12) < 1e-6 and edge.bounding_box[1].x < 40]
    return body.MakeFillet(root, 3.0)


def everything():
    """A hub with rounding, keyway, four axial holes, a cross hole and a flat."""
    body = rooted_hub() - block((-4, 10, -1), (4, 23.5, 60)) - block((55, -80, -1), (80, 80, 60))
    for x, y in ((47, 0), (-47, 0), (0, 47), (0, -47)):
        body = body - pin(4, 40, -1, x, y)
    return body - drill(3, (0, 0, 30), -X, 100)


def star_pocket(points):
    """A disc with a star sunk into it beside the axis: two walls for each point."""
    path = WorkPlane(Axes((0, 0, 15), n=Z, h=X))
    turns = [(pi * k / points, 15 - k % 2 * 4) for k in range(2 * points)]
    corners = [(35 + r * cos(turn), r * sin(turn)) for turn, r in turns]
    path = path.MoveTo(*corners[0])
    for corner in corners[1:]:
        path = path.LineTo(*corner)
    return pin(60, 20) - path.Close().Face().Extrude(10 * Z)


HUB_VOLUME = pi * (12 * (60**2 - 20**2) + 33 * (35**2 + 35 * 28 + 28**2) / 3 - 33 * 20**2)

TURNED = {
    "hub": (hub, HUB_VOLUME),
    "rooted hub": (rooted_hub, None),
    "pin with a ball end": (lambda: pin(20, 40) + Sphere(Pnt(0, 0, 40), 20), pi * 400 * 40 + 2 / 3 * pi * 8000),
    "ball": (lambda: Sphere(Pnt(0, 0, 0), 20), 4 / 3 * pi * 8000),
    "cone to a point": (lambda: turned([(0, 0), (30, 0), (30, 20), (0, 50)]), pi * 900 * 20 + pi * 900 * 10),
    "round ring": (
        lambda: WorkPlane(Axes((0, 0, 0), n=-Y, h=X)).MoveTo(40, 0).Circle(5).Face().Revolve(Axis((0, 0, 0), Z), 360),
        2 * pi * 40 * pi * 25,
    ),
    "grooves": (
        lambda: turned(
            [
                (20, 0),
                (60, 0),
                (60, 12),
                (50, 12),
                (50, 18),
                (60, 18),
                (60, 30),
                (45, 30),
                (45, 25),
                (30, 25),
                (30, 30),
                (20, 30),
            ]
        ),
        None,
    ),
    "stepped bore": (lambda: pin(40, 40) - pin(10, 20, 20) - pin(3, 30, 15), pi * (1600 * 40 - 100 * 20 - 9 * 5)),
}
"""Bodies that are turned all over: how they are made, and the volume by hand where there is one."""

MILLED = {
    "keyway in a bore": (lambda: hub() - block((-4, 10, -1), (4, 23.5, 60)), hub, ["keyway"]),
    "keyway on a shaft": (lambda: pin(20, 100) - block((-4, 15, 70), (4, 40, 95)), lambda: pin(20, 100), ["keyway"]),
    "hole in a keyway": (
        lambda: pin(20, 100) - block((-4, 15, 70), (4, 40, 95)) - drill(2, (0, -50, 82), Y, 100),
        lambda: pin(20, 100),
        ["keyway", "cross hole"],
    ),
    "keyway to the end": (lambda: pin(20, 100) - block((-4, 15, 70), (4, 40, 120)), lambda: pin(20, 100), ["keyway"]),
    "cross hole": (lambda: hub() - drill(4, (-100, 0, 30), X, 200), hub, ["cross hole", "cross hole"]),
    "axial holes": (lambda: hub() - pin(5, 40, -1, 47, 0) - pin(5, 40, -1, -47, 0), hub, ["axial hole", "axial hole"]),
    "flat": (lambda: hub() - block((50, -80, -1), (80, 80, 60)), hub, ["flat"]),
    "flat with a shoulder": (lambda: hub() - block((26, -80, 25), (80, 80, 60)), hub, ["flat"]),
    "flat through the bore": (
        lambda: turned([(10, 0), (60, 0), (60, 12), (35, 12), (35, 45), (10, 45)]) - block((5, -80, 25), (80, 80, 60)),
        lambda: turned([(10, 0), (60, 0), (60, 12), (35, 12), (35, 45), (10, 45)]),
        ["flat"],
    ),
    "slot round the axis": (
        lambda: tube(60, 20, 20) - tube(50, 40, 10, 15) * block((0, 0, 0), (80, 80, 80)),
        lambda: tube(60, 20, 20),
        ["slot round the axis"],
    ),
    "saw cut": (lambda: tube(50, 40, 10) - block((0, -2, -1), (60, 2, 20)), lambda: tube(50, 40, 10), ["flat", "flat"]),
    "everything": (everything, rooted_hub,
                   ["keyway", "axial hole", "axial hole", "axial hole", "axial hole", "cross hole", "flat"]),
}  # fmt: skip
"""Bodies with what is not turned: how they are made, the body as turned, and what has to be listed."""


def tilted(body):
    return body.Rotate(Axis(Pnt(0, 0, 0), Dir(1, 2, 3)), 37).Move((11, -7, 40))


def step_of(body):
    """The STEP file that the kernel writes."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "part.step"
        body.WriteStep(str(path))
        return path.read_bytes()
