"""Solids of the kernel with hexagons, sockets and eccentrics on turned parts."""

from math import cos, pi, sin

from netgen.occ import Face, Pnt, Segment, Vec, Wire
from step_solids import pin, turned


def prism(count, across, low, high, turn=0.1):
    """A prism of ``count`` flats about z, ``across`` them. [mm]"""
    corner = across / 2 / cos(pi / count)
    points = [Pnt(corner * cos(turn + 2 * pi * k / count), corner * sin(turn + 2 * pi * k / count), low)
              for k in range(count)]  # fmt: skip
    edges = [Segment(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)]
    return Face(Wire(edges)).Extrude(high - low, Vec(0, 0, 1))


def bolt(head=12.0):
    """A shank Ø20 x 60 with a hexagon head 36 across flats."""
    return turned([(0, 0), (10, 0), (10, 60), (0, 60)]) + prism(6, 36.0, 60, 60 + head)


def chamfered_bolt():
    """The same with the head turned off at 30 degrees, as bolts are."""
    cone = turned([(0, 0), (30, 0), (30, 60), (30, 69), (17, 72), (0, 72)])
    return bolt() * cone


def nut():
    """A hexagon 41 across flats with a bore Ø30 and a turned collar Ø60 below it."""
    return turned([(15, 0), (30, 0), (30, 8), (15, 8)]) + (prism(6, 41.0, 8, 30) - pin(15, 40, -1, 0, 0))


def socket_screw():
    """A head Ø40 with a blind hexagon socket of 14, on a shank Ø24."""
    body = turned([(0, 0), (12, 0), (12, 50), (20, 50), (20, 74), (0, 74)])
    return body - prism(6, 14.0, 62, 80)


def square_hole():
    """A disc Ø80 with a square hole of 20 right through."""
    return turned([(0, 0), (40, 0), (40, 15), (0, 15)]) - prism(4, 20.0, -1, 20)


def eccentric_shaft():
    """A shaft Ø30 with an eccentric Ø50, 6 mm off, in its middle."""
    return turned([(0, 0), (15, 0), (15, 80), (0, 80)]) + pin(25, 20, 30, 6, 0)


def eccentric_bush():
    """A ring Ø90 with a bore Ø40 that is 5 mm off the axis."""
    return turned([(0, 0), (45, 0), (45, 30), (0, 30)]) - pin(20, 40, -1, 5, 0)


def spanner_flats():
    """A turned shaft with two flats: no wall, as before."""
    return turned([(0, 0), (15, 0), (15, 60), (0, 60)]) - prism(4, 200.0, 40, 80).Move(Vec(112, 0, 0))
