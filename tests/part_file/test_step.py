"""STEP files of two writers and of NIST: sections against volumes that are known another way."""

from collections import Counter
from dataclasses import replace
from functools import cache
from math import pi
from pathlib import Path

import numpy as np
import pytest
import step_solids as solids
from netgen.occ import Compound
from plain_step import TILTED, Bezier, Style, write

from heldtrue.errors import InputError
from heldtrue.part_file import step
from heldtrue.part_file.choices import ChoiceNeededError, Choices
from heldtrue.part_file.outline import Arc, Line, Outline, OutlineCorner, closed
from heldtrue.part_file.step import read_step

RING = (Path(__file__).parent / "files" / "nist_ftc_11_asme1.stp").read_bytes()
INCH = Choices(units="inch")


@cache
def made(name, tilt=False):
    body = (solids.TURNED.get(name) or solids.MILLED[name])[0]()
    return solids.step_of(solids.tilted(body) if tilt else body), body.mass


def polyline(*corners):
    return [Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]


FLANGE = closed([OutlineCorner(20, 0), OutlineCorner(60, 0, 2), OutlineCorner(60, 12), OutlineCorner(35, 12, 3),
                 OutlineCorner(28, 45), OutlineCorner(20, 45)])  # fmt: skip
POINT = Outline.of(polyline((0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 50.0)))
NOSE = Outline.of(
    [Line((0, 0), (20, 0)), Line((20, 0), (20, 15)), Arc((20, 15), (0, 35), (0, 15), True), Line((0, 35), (0, 0))]
)
BARREL = [
    Line((10, 0), (20, 0)),
    Bezier((20, 0), (26, 8), (27, 20), (20, 30)),
    Line((20, 30), (10, 30)),
    Line((10, 30), (10, 0)),
]
STYLES = [
    Style(),
    Style(halves=False, inch=True, degree=True, **TILTED),
    Style(surfaces="revolved", curves="trimmed", **TILTED),
    Style(surfaces="revolved", curves="spline", halves=False),
    Style(surfaces="spline", curves="spline", inch=True, **TILTED),
    Style(surfaces="spline", curves="circle", halves=False),
]


def test_the_published_ring_is_exact():
    part = read_step("ring.stp", RING, INCH)
    assert [one.diameters for one in part.surfaces if one.side != "face"] == [(1600.2, 1600.2), (812.8, 812.8)]
    assert sorted(arc.radius for arc in part.outline.arcs) == pytest.approx([1.5 * 25.4] * 2, abs=1e-6)
    assert part.outline.volume == pytest.approx(part.solid_volume, rel=1e-8)
    assert not part.not_turned


def test_a_file_without_a_unit_is_asked_about():
    with pytest.raises(ChoiceNeededError, match="no unit") as asked:
        read_step("ring.stp", RING)
    assert asked.value.question == "units"
    assert [option.id for option in asked.value.options] == ["mm", "inch"]
    inch, mm = (read_step("ring.stp", RING, Choices(units=unit), measured=False) for unit in ("inch", "mm"))
    assert inch.outline.volume == pytest.approx(mm.outline.volume * 25.4**3, rel=1e-9)


@pytest.mark.parametrize("tilt", [False, True])
@pytest.mark.parametrize("name", solids.TURNED)
def test_bodies_of_the_kernel_have_their_volume(name, tilt):
    content, mass = made(name, tilt)
    by_hand = solids.TURNED[name][1]
    part = read_step(name, content, measured=False)
    assert part.outline.volume == pytest.approx(mass if by_hand is None else by_hand, rel=1e-6)
    assert not part.not_turned


@pytest.mark.parametrize("tilt", [False, True])
@pytest.mark.parametrize("name", solids.MILLED)
def test_what_is_milled_is_listed_and_the_section_is_that_of_the_turned_body(name, tilt):
    content, _ = made(name, tilt)
    _, blank, kinds = solids.MILLED[name]
    part = read_step(name, content, measured=False)
    assert part.outline.volume == pytest.approx(blank().mass, rel=1e-6)
    assert Counter(one.kind for one in part.not_turned) == Counter(kinds)


def test_every_face_is_in_the_section_or_in_one_feature():
    for name in solids.MILLED:
        section = step.section_of(name, made(name)[0])
        rest = {face.id for face in section.faces} - section.turned.closed.faces
        left = [face for face in section.faces if face.id in rest]
        listed = [face for one in step.features(left, section.turned.view.axis, 60.0)
                  for face in one.faces]  # fmt: skip
        assert sorted(listed) == sorted(rest)


def test_very_many_faces_that_hang_together_are_one_entry():
    part = read_step("star.step", solids.step_of(solids.star_pocket(150)), measured=False)
    assert [one.kind for one in part.not_turned] == ["other faces"]
    assert part.not_turned[0].size.startswith("301 that hang together")
    assert part.outline.volume == pytest.approx(pi * 3600 * 20, rel=1e-6)


def test_a_curve_that_no_profile_has_is_refused():
    far = Bezier((20, 0), (4e5, 9e5), (1e5, -8e5), (20, 30))
    with pytest.raises(InputError, match="more than 20000 chords"):
        read_step("part.stp", write([BARREL[0], far, *BARREL[2:]]), measured=False)


def test_sizes_and_places_of_what_is_not_turned():
    part = read_step("hub.step", made("everything")[0])
    said = {(one.kind, one.size, one.at) for one in part.not_turned}
    assert ("keyway", "8 mm wide, 3.5 mm deep, 45 mm long", "z 0 to 45 at 90°") in said
    assert ("axial hole", "Ø8, 12 mm long", "on Ø94 at 90°, z 0 to 12") in said
    assert ("flat", "55 mm off the axis, 12 mm long", "z 0 to 12 at 0°") in said
    assert any(kind == "cross hole" and size.startswith("Ø6,") and at == "z 30 at 180°" for kind, size, at in said)
    assert any("take away" in note for note in part.notes)
    assert any("bore Ø40 is interrupted" in note for note in part.notes)


@pytest.mark.parametrize("style", STYLES, ids=lambda s: f"{s.surfaces}-{s.curves}-{'halves' if s.halves else 'whole'}")
@pytest.mark.parametrize("outline", [FLANGE, POINT, NOSE], ids=["flange", "point", "nose"])
def test_another_writer_gives_the_same_section(outline, style):
    part = read_step("part.stp", write(outline.pieces, style), measured=False)
    assert part.outline.volume == pytest.approx(outline.volume, rel=1e-6)
    assert len(part.outline.pieces) == len(outline.pieces)
    low = part.outline.z[0]
    for one, other in zip(sorted(corner(part.outline, low)), sorted(corner(outline, 0.0)), strict=True):
        assert one == pytest.approx(other, abs=1e-3)


def corner(outline, low):
    return [(round(piece.start[0], 3), piece.start[1] - low) for piece in outline.pieces]


def barrel_volume():
    nodes, weights = np.polynomial.legendre.leggauss(12)
    curve, total = BARREL[1], 0.0
    for x, w in zip(nodes, weights, strict=True):
        t, step_ = (x + 1) / 2, 1e-6
        (r, _), (_, before), (_, after) = curve.at(t), curve.at(t - step_), curve.at(t + step_)
        total += w / 2 * r * r * (after - before) / (2 * step_)
    return pi * total - pi * 100 * 30


@pytest.mark.parametrize("style", STYLES, ids=lambda s: f"{s.surfaces}-{s.curves}-{'halves' if s.halves else 'whole'}")
def test_a_free_curve_is_sampled_and_said(style):
    part = read_step("barrel.stp", write(BARREL, style), measured=False)
    assert part.outline.volume == pytest.approx(barrel_volume(), rel=5e-5)
    assert any("within 1 um" in note for note in part.notes)


def test_angles_in_degrees_that_the_file_calls_radians_are_found_by_the_edges():
    content = write(FLANGE.pieces, Style(degree=True, angle_said=False))
    part = read_step("hub.stp", content)
    assert part.outline.volume == pytest.approx(FLANGE.volume, rel=1e-6)
    assert part.solid_volume == pytest.approx(FLANGE.volume, rel=1e-6)
    assert any("degrees" in note for note in part.notes)


def test_several_bodies_are_asked_about_and_each_can_be_chosen():
    content = solids.step_of(Compound([solids.pin(20, 100), solids.tube(50, 40, 10)]))
    with pytest.raises(ChoiceNeededError) as asked:
        read_step("two.step", content)
    assert asked.value.question == "body"
    volumes = [read_step("two.step", content, Choices(body=option.id), measured=False).outline.volume
               for option in asked.value.options]  # fmt: skip
    assert volumes == pytest.approx([pi * 400 * 100, pi * 900 * 10], rel=1e-6)
    with pytest.raises(InputError, match="no body"):
        read_step("two.step", content, Choices(body="3"))


def test_two_hubs_in_one_body_are_two_axes():
    body = solids.tube(30, 15, 40) + solids.tube(30, 15, 40).Move((100, 0, 0)) + solids.block((29, -5, 10), (71, 5, 20))
    with pytest.raises(ChoiceNeededError) as asked:
        read_step("link.step", solids.step_of(body), measured=False)
    assert asked.value.question == "axis"
    assert all("along z" in option.what for option in asked.value.options)
    with pytest.raises(InputError, match="no turned part"):
        read_step("link.step", solids.step_of(body), Choices(axis="1"))


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (lambda: solids.block((0, 0, 0), (10, 20, 30)), "no turned face"),
        (lambda: solids.block((-40, -30, 0), (40, 30, 30)) - solids.pin(15, 40, -1), "no turned part: .*do not close"),
        (lambda: solids.pin(40, 40) - solids.pin(20, 10, 15), "hollow"),
        (lambda: solids.tube(40, 30, 40) - solids.tube(37, 33, 10, 15), "hollow"),
        (
            lambda: solids.tube(30, 15, 40) + (solids.block((0, -8, 10), (100, 8, 30)) - solids.pin(15, 60, -5)),
            "no turned part",
        ),
    ],
)
def test_what_is_no_turned_part_is_refused(body, words):
    with pytest.raises(InputError, match=words):
        read_step("part.step", solids.step_of(body()))


def test_a_section_that_misses_a_turned_face_does_not_pass(monkeypatch):
    """The kernel's volume catches what the text alone got wrong."""
    read = step._turned

    def thinner(*args):
        faces, found = read(*args)
        outline = closed([*FLANGE.corners()[:1], OutlineCorner(59, 0, 2), OutlineCorner(59, 12), *FLANGE.corners()[3:]])
        return faces, replace(found, closed=replace(found.closed, outline=outline))

    monkeypatch.setattr(step, "_turned", thinner)
    with pytest.raises(InputError, match="does not agree with the solid"):
        read_step("part.step", write(FLANGE.pieces))


ASSEMBLED = """
#9001=AXIS2_PLACEMENT_3D('',#9002,#9003,#9004);
#9002=CARTESIAN_POINT('',(0.,0.,0.));
#9003=DIRECTION('',(0.,0.,1.));
#9004=DIRECTION('',(1.,0.,0.));
#9005=CARTESIAN_POINT('',(100.,0.,5.));
#9006=DIRECTION('',(0.,1.,0.));
#9007=AXIS2_PLACEMENT_3D('',#9005,#9006,#9004);
#9008=SHAPE_REPRESENTATION('whole',(#9001,#9007),#{context});
#9009=ITEM_DEFINED_TRANSFORMATION('','',#9001,#9007);
#9010=(REPRESENTATION_RELATIONSHIP('','',#{home},#9008)
REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION(#9009) SHAPE_REPRESENTATION_RELATIONSHIP());
"""
MAPPED = """
#9001=AXIS2_PLACEMENT_3D('',#9002,#9003,#9004);
#9002=CARTESIAN_POINT('',(0.,0.,0.));
#9003=DIRECTION('',(0.,0.,1.));
#9004=DIRECTION('',(1.,0.,0.));
#9005=DIRECTION('',(0.,-1.,0.));
#9006=CARTESIAN_POINT('',(0.,0.,7.));
#9007=CARTESIAN_TRANSFORMATION_OPERATOR_3D('','',#9004,#9005,#9006,1.,#9003);
#9008=REPRESENTATION_MAP(#9001,#{home});
#9009=MAPPED_ITEM('',#9008,#9007);
#9010=SHAPE_REPRESENTATION('whole',(#9009),#{context});
"""


def placed(extra):
    rows = write(FLANGE.pieces).decode().splitlines()
    number = {name: next(row[1:].partition("=")[0] for row in rows if name in row)
              for name in ("ADVANCED_BREP_SHAPE_REPRESENTATION", "GEOMETRIC_REPRESENTATION_CONTEXT(3)")}  # fmt: skip
    home, context = number.values()
    return write(FLANGE.pieces, extra=extra.format(home=home, context=context))


def test_the_axis_of_a_part_in_an_assembly_is_where_the_assembly_puts_it():
    part = read_step("whole.stp", placed(ASSEMBLED), measured=False)
    assert part.axis_origin == pytest.approx((100, 0, 5), abs=1e-9)
    assert part.axis_direction == pytest.approx((0, 1, 0), abs=1e-9)
    assert part.outline.volume == pytest.approx(FLANGE.volume, rel=1e-9)


def test_a_mirrored_part_is_said_and_has_its_section():
    part = read_step("whole.stp", placed(MAPPED), measured=False)
    assert any("mirrored" in note for note in part.notes)
    assert part.axis_origin == pytest.approx((0, 0, 7), abs=1e-9)
    assert part.outline.volume == pytest.approx(FLANGE.volume, rel=1e-9)
