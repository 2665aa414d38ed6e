"""The drawing of a gauge ring: its section, and its face with the jaws, what presses, and where it is read."""

from __future__ import annotations

from math import cos, pi, sin

from heldtrue.drawing.drafting import Dim, Sheet, View, dxf_of, scale_that_fits, scale_words, svg_of
from heldtrue.drawing.svg import LEAST, LETTER, STRONG, Point
from heldtrue.drawing.wording import deviation, dimension, length_unit
from heldtrue.inspection.ring_design import HARDNESS, RingDesign, places_for
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.quantities import UnitSystem, format_quantity

WIDTH, HEIGHT = 186.0, 124.0
"""The sheet goes on A4 and on Letter, with room for the readings below. [mm]"""
SIZE_MM, WALL_MM, ROUND_MM = 0.02, 0.01, 0.005
"""Tolerances: of the gripped diameter, of the wall from place to place, of the read surface when free."""
CHAMFER_MM = 0.5
JAW_MM = 10.0
"""Length of a jaw as it is drawn. [mm of paper]"""


def ring_svg(made: RingDesign, system: UnitSystem = "metric", gauge: str = "bar") -> str:
    """The drawing as SVG."""
    return svg_of(ring_sheet(made, system, gauge))


def ring_dxf(made: RingDesign, system: UnitSystem = "metric", gauge: str = "bar") -> str:
    """The drawing as DXF, in mm or inch, in true size."""
    return dxf_of(ring_sheet(made, system, gauge))


def ring_sheet(made: RingDesign, system: UnitSystem, gauge: str) -> Sheet:
    """The drawing as a sheet."""
    ring = made.gauge.ring
    scale = scale_that_fits(2 * ring.outer, 2 * ring.outer, (70.0, 58.0))
    sheet = Sheet(
        WIDTH, HEIGHT, scale, f"Gauge ring {made.gauge.number}".strip(),
        f"Ø{dimension(2 * ring.outer, system)} / Ø{dimension(2 * ring.inner, system)} x "
        f"{dimension(ring.width, system)} {length_unit(system)}",
        system,
    )  # fmt: skip
    axis = 46.0
    _section(sheet, View(scale, (44.0, axis)), made)
    _face(sheet, View(scale, (130.0, axis)), made)
    _notes(sheet, made, gauge)
    return sheet


def _section(sheet: Sheet, view: View, made: RingDesign) -> None:
    ring, system = made.gauge.ring, sheet.system
    half = ring.width / 2
    for side in (1.0, -1.0):
        a, b = side * ring.inner, side * ring.outer
        loop = [view.at(p) for p in ((-half, a), (half, a), (half, b), (-half, b))]
        sheet.hatch([loop], angle=45.0, spacing=2.6)
        sheet.stroke(loop, "outline", closed=True)
    for radius in (ring.inner, ring.outer):
        for x in (-half, half):
            sheet.stroke([view.at((x, -radius)), view.at((x, radius))], "edge")
    left, right = view.at((-half, 0.0)), view.at((half, 0.0))
    sheet.stroke([(left[0] - 6.0, left[1]), (right[0] + 6.0, right[1])], "centre")
    outside = ring.side == "outside"
    size = f" {deviation(SIZE_MM, system)}/{deviation(-SIZE_MM, system)}"
    inner, outer = ("", size) if outside else (size, "")
    sheet.dim(
        Dim(view.at((-half, -ring.outer)), view.at((-half, ring.outer)), left[0] - 16.0, "y", view.scale, "Ø", outer)
    )
    sheet.dim(
        Dim(view.at((-half, -ring.inner)), view.at((-half, ring.inner)), left[0] - 7.0, "y", view.scale, "Ø", inner)
    )
    bottom = view.at((0.0, -ring.outer))[1]
    sheet.dim(Dim(view.at((-half, -ring.outer)), view.at((half, -ring.outer)), bottom + 8.0, "x", view.scale))
    read = view.at((0.0, ring.read))
    way = 9.0 if outside else -9.0
    sheet.leader([read, (right[0] + 4.0, read[1] + way)], "read here")


def _face(sheet: Sheet, view: View, made: RingDesign) -> None:
    """Seen from the tail: jaw 1 up, places counted clockwise."""
    gauge, ring = made.gauge, made.gauge.ring
    centre = view.at((0.0, 0.0))
    for radius in (ring.inner, ring.outer):
        sheet.circle(centre, radius * view.scale, "outline")
    outside = 1.0 if ring.side == "outside" else -1.0
    between = (made.roller or 3.0) * view.scale
    for jaw in range(gauge.jaws):
        angle = 2 * pi * jaw / gauge.jaws

        def at(away: float, across: float, angle: float = angle) -> Point:
            r = ring.gripped * view.scale + outside * away
            return (centre[0] + r * sin(angle) + across * cos(angle), centre[1] - r * cos(angle) + across * sin(angle))

        if made.roller is not None:
            sheet.circle(at(between / 2, 0.0), between / 2, "edge")
        else:
            half = gauge.half_angle * ring.gripped * view.scale
            sheet.stroke([at(0.2, -half), at(0.2, half), at(between, half), at(between, -half)], "edge", closed=True)
        block = [at(between, -6.0), at(between, 6.0), at(between + JAW_MM, 6.0), at(between + JAW_MM, -6.0)]
        sheet.stroke(block, "phantom", closed=True)
        sheet.text(at(between + JAW_MM / 2, 0.0), str(jaw + 1), anchor="middle", bold=True)
    places = places_for(gauge.jaws)
    for place in range(places):
        angle = 2 * pi * place / places
        r = ring.read * view.scale - outside * 3.4
        spot = (centre[0] + r * sin(angle), centre[1] - r * cos(angle) + 0.9)
        sheet.text(spot, str(place + 1), size=LEAST, anchor="middle")
    for turn in (0.0, pi / 2):
        reach = (ring.outer * view.scale) + 3.0
        dx, dy = reach * cos(turn), reach * sin(turn)
        sheet.stroke([(centre[0] - dx, centre[1] - dy), (centre[0] + dx, centre[1] + dy)], "centre")


def _notes(sheet: Sheet, made: RingDesign, gauge: str) -> None:
    ring, system = made.gauge.ring, sheet.system
    unit = length_unit(system)

    def mm(value: float) -> str:
        return f"{dimension(value, system)} {unit}"

    on, read = ("outside", "bore") if ring.side == "outside" else ("bore", "outside")
    most = "______" if made.most_pressure is None else pressure_text(made.most_pressure, gauge, "down")
    between = (
        f"{made.gauge.jaws} pads {mm(2 * made.gauge.half_angle * ring.gripped)} wide, fitted to the ring"
        if made.roller is None
        else f"{made.gauge.jaws} hardened dowel pins Ø{mm(made.roller)}, as long as the ring is wide"
    )
    lines = (
        f"Gauge ring {made.gauge.number}".strip() + f", scale {scale_words(sheet.scale)}",
        f"{made.material.name}; certificate: {made.strength:.0f} MPa yield, {HARDNESS}. "
        "Stress relieved before the last cuts.",
        f"Wall even to {mm(WALL_MM)}; {read} round to {mm(ROUND_MM)} when free, Ra 0.8; faces square; chamfers "
        f"{mm(CHAMFER_MM)}.",
        f"Jaws press on the {on} over {between}, at the middle of each jaw.",
        f"Engrave: number; most {most}, {format_quantity(made.most_grip, 'force', system)} in all; mark at jaw 1.",
        f"{made.per_kn * 1e3:.3g} µm high to low on the {read} for 1 kN of all jaws. Places 1 to "
        f"{places_for(made.gauge.jaws)} from jaw 1.",
    )  # fmt: skip
    for number, words in enumerate(lines):
        sheet.text((6.0, 98.0 + 4.6 * number), words, size=STRONG if number == 0 else LETTER, bold=number == 0)
