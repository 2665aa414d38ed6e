"""Cylinders and faces of an outline: names, extent, and tolerances that move with the part."""

import sys
from dataclasses import replace
from math import tau
from pathlib import Path

from heldtrue.part_file.closing import Closed, Strand
from heldtrue.part_file.outline import Line, Outline
from heldtrue.part_file.surface_strands import strands_of
from heldtrue.part_file.surfaces import surfaces_of, with_tolerances
from heldtrue.part_file.turned_part import Tolerances

sys.path.insert(0, str(Path(__file__).parent))
from drawings import CUP, RING, profile


def test_every_cylinder_and_face_has_a_name_of_its_own():
    grooved = profile((0, 0), (40, 0), (40, 10), (36, 10), (36, 12), (40, 12), (40, 30), (0, 30))
    names = [one.name for one in surfaces_of(grooved)]
    assert names == ["face z 0", "outside Ø40, z 0 to 10", "face z 10", "outside Ø36", "face z 12",
                     "outside Ø40, z 12 to 30", "face z 30"]  # fmt: skip
    assert [one.name for one in surfaces_of(RING, "inch")][1] == "outside Ø6.5354"


def test_roundings_shorten_the_surfaces_and_are_none_themselves():
    found = {one.name: one for one in surfaces_of(CUP)}
    assert found["bore Ø70"].z == (13, 50)
    assert found["face z 8"].diameters == (0, 60)


def test_a_line_in_two_pieces_is_one_surface():
    points = [(70, 0), (83, 0), (83, 10), (83, 24), (70, 24)]
    outline = Outline(tuple(Line(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)))
    assert [one.z for one in surfaces_of(outline) if one.side == "outside"] == [(0, 24)]


def test_tolerances_stay_with_their_surface_when_the_part_is_turned_round():
    drawn = tuple(
        replace(one, tolerances=Tolerances(roundness=0.01)) if one.name == "outside Ø158" else one
        for one in surfaces_of(RING)
    )
    seated = RING.seated(low_end=False)
    asked = [one for one in with_tolerances(surfaces_of(seated), drawn, -1.0, 32.0) if one.tolerances.roundness]
    assert [(one.name, one.z) for one in asked] == [("outside Ø158", (0, 8))]
    assert not any(one.tolerances.roundness for one in with_tolerances(surfaces_of(seated), drawn, 1.0, 0.0))


def test_each_surface_has_its_own_strands_and_no_others():
    grooved = profile((0, 0), (40, 0), (40, 10), (36, 10), (36, 12), (40, 12), (40, 20), (40, 30), (30, 40), (0, 40))
    # a groove between two cylinders of one diameter, one of them in two halves, a taper, and a bore of that diameter
    bored = profile((40, 40), (60, 40), (60, 50), (40, 50))
    strands = [Strand(piece, frozenset((k,)), tau) for k, piece in enumerate((*grooved.pieces, *bored.pieces))]
    surfaces = [*surfaces_of(grooved), *surfaces_of(bored)]
    found = strands_of(surfaces, Closed(grooved, tuple(strands)))
    bearing = [(one.name, sorted(k for strand in own for k in strand.faces))
               for one, own in zip(surfaces, found, strict=True)]  # fmt: skip
    assert bearing == [
        ("face z 0", [0]), ("outside Ø40, z 0 to 10", [1]), ("face z 10", [2]), ("outside Ø36", [3]),
        ("face z 12", [4]), ("outside Ø40, z 12 to 30", [5, 6]), ("face z 40", [8]),
        ("face z 40", [10]), ("outside Ø60", [11]), ("face z 50", [12]), ("bore Ø40", [13]),
    ]  # fmt: skip
