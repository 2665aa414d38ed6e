"""Half sections out of DXF drawings made with ezdxf: known volumes, what is asked, what is refused."""

import sys
from math import cos, pi, sin
from pathlib import Path

import ezdxf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.part_file.choices import ChoiceNeededError, Choices
from heldtrue.part_file.dxf import read_dxf

sys.path.insert(0, str(Path(__file__).parent))
from drawings import CUP, FLANGE, INCH, RING, SHAFT, SLEEVE, UNSAID, Sheet, profile, volume_of

PARTS = {"ring": RING, "shaft": SHAFT, "flange": FLANGE, "cup": CUP, "sleeve": SLEEVE}


def read(content, **choices):
    return read_dxf("part.dxf", content, Choices(**choices))


def asked(content, **choices):
    with pytest.raises(ChoiceNeededError) as raised:
        read(content, **choices)
    return raised.value.question, {option.id for option in raised.value.options}


def refused(content, words, **choices):
    with pytest.raises(InputError, match=words) as raised:
        read(content, **choices)
    assert not isinstance(raised.value, ChoiceNeededError)


def document():
    made = ezdxf.new("R2010", setup=["linetypes"], units=4)
    made.layers.add("centre", linetype="CENTER")
    made.layers.add("hidden", linetype="HIDDEN")
    return made, made.modelspace()


@pytest.mark.parametrize("name", PARTS)
def test_both_halves_with_a_centre_line_hatching_dimensions_and_edges(name):
    outline = PARTS[name]
    part = read(Sheet().draw(outline))
    assert part.outline.volume == pytest.approx(volume_of(outline), rel=1e-6)
    assert [arc.radius for arc in part.outline.arcs] == pytest.approx([arc.radius for arc in outline.arcs], abs=1e-6)
    assert {s.name for s in part.surfaces} >= {"face z 0"}
    assert any("dimension" in note for note in part.notes)
    assert any("text" in note for note in part.notes)


@pytest.mark.parametrize("sheet", [
    Sheet(angle=33, at=(100, -40)), Sheet(angle=90), Sheet(as_polyline=True), Sheet(centre=False),
    Sheet(halves="upper"), Sheet(halves="lower"), Sheet(unit=25.4, code=INCH), Sheet(hatched=False, edges=False),
], ids=["tilted", "upright", "polyline", "no centre line", "upper", "lower", "inch", "two closed halves"])  # fmt: skip
def test_the_same_part_however_it_is_drawn(sheet):
    assert read(sheet.draw(CUP)).outline.volume == pytest.approx(volume_of(CUP), rel=1e-6)


@pytest.mark.parametrize("change", [
    lambda text: text.replace(b"\n", b"\r\n"), lambda text: text.replace(b"\n", b"\r"),
    lambda text: b"\xef\xbb\xbf" + text, lambda text: text + b"\r\n" * 200 + b"\x1a",
], ids=["windows", "old mac", "byte order mark", "blank end"])  # fmt: skip
def test_lines_may_end_as_any_system_ends_them(change):
    assert read(change(Sheet().draw(CUP))).outline.volume == pytest.approx(volume_of(CUP), rel=1e-6)


def test_a_body_that_is_not_there_is_not_passed_over():
    refused(Sheet().draw(CUP), "there is one area", body="area 2")


def test_an_old_drawing_with_polylines_and_arcs_seen_from_behind():
    made = ezdxf.new("R12", setup=["linetypes"])
    space, sheet = made.modelspace(), Sheet()
    for sign in (1, -1):
        points = [(*sheet.point(sign * p.start[0], p.start[1]), sheet._bulge(p, sign)) for p in CUP.pieces]
        space.add_polyline2d(points, format="xyb", close=True)
    space.add_line(sheet.point(0, -5), sheet.point(0, 55), dxfattribs={"linetype": "CENTER"})
    assert read(Sheet.text(made), units="mm").outline.volume == pytest.approx(volume_of(CUP), rel=1e-6)

    made, space = document()
    sheet._half(space, CUP, 1)
    for arc in space.query("ARC"):
        arc.dxf.center = (-arc.dxf.center.x, arc.dxf.center.y)
        arc.dxf.start_angle, arc.dxf.end_angle = 180 - arc.dxf.end_angle, 180 - arc.dxf.start_angle
        arc.dxf.extrusion = (0, 0, -1)
    space.add_line(sheet.point(0, -5), sheet.point(0, 55), dxfattribs={"layer": "centre"})
    assert read(Sheet.text(made)).outline.volume == pytest.approx(volume_of(CUP), rel=1e-6)


def test_the_axis_in_the_file_and_the_place_along_it():
    part = read(Sheet(angle=90, at=(12, 5)).draw(RING))
    assert part.axis_direction == pytest.approx((0, 1, 0), abs=1e-9)
    assert part.axis_origin == pytest.approx((12, 0, 0), abs=1e-9)
    assert part.outline.z == pytest.approx((5, 37), abs=1e-9)


def test_a_unit_the_header_does_not_say_is_asked():
    content = Sheet(code=UNSAID).draw(RING)
    assert asked(content) == ("units", {"mm", "inch"})
    assert read(content, units="mm").outline.volume == pytest.approx(volume_of(RING), rel=1e-6)
    assert read(content, units="inch").outline.volume == pytest.approx(25.4**3 * volume_of(RING), rel=1e-6)


def test_a_header_that_makes_the_part_huge_is_asked():
    assert asked(Sheet(code=6).draw(RING))[0] == "units"  # metres


def test_a_half_without_a_centre_line_is_asked_for_its_axis():
    content = Sheet(halves="upper", centre=False).draw(RING)
    question, options = asked(content)
    assert question == "axis"
    assert {"y 0", "x 0"} <= options
    assert read(content, axis="y 0").outline.volume == pytest.approx(volume_of(RING), rel=1e-6)
    refused(content, "axis: found", axis="the middle")


def test_two_centre_lines_that_fit_are_asked():
    tube = profile((40, 0), (60, 0), (60, 50), (40, 50))

    def across(space, point):
        space.add_line(point(-40, 25), point(40, 25), dxfattribs={"layer": "centre"})

    content = Sheet().draw(tube, across)
    assert asked(content) == ("axis", {"y 0", "x 25"})
    assert read(content, axis="y 0").outline.volume == pytest.approx(volume_of(tube), rel=1e-9)


def test_a_bore_that_is_only_drawn_hidden_is_never_taken_for_solid_without_asking():
    solid, tube = profile((0, 0), (60, 0), (60, 70), (0, 70)), profile((40, 0), (60, 0), (60, 70), (40, 70))

    def bore(space, point):
        for sign in (1, -1):
            space.add_line(point(20 * sign, 0), point(20 * sign, 70), dxfattribs={"layer": "hidden"})

    content = Sheet(hatched=False).draw(solid, bore)
    assert asked(content) == ("body", {"solid", "hollow"})
    assert read(content, body="hollow").outline.volume == pytest.approx(volume_of(tube), rel=1e-9)
    assert read(content, body="solid").outline.volume == pytest.approx(volume_of(solid), rel=1e-9)


def test_a_section_without_hatching_is_asked_whether_it_is_hollow():
    content = Sheet(hatched=False).draw(SLEEVE)
    assert asked(content)[0] == "body"
    assert read(content, body="hollow").outline.volume == pytest.approx(volume_of(SLEEVE), rel=1e-6)


def test_a_side_view_of_a_shaft_needs_no_hatching():
    assert read(Sheet(hatched=False).draw(SHAFT)).outline.volume == pytest.approx(volume_of(SHAFT), rel=1e-6)


def test_a_section_over_a_side_view():
    made, space = document()
    sheet = Sheet()
    sheet._half(space, SLEEVE, 1)
    space.add_hatch().paths.add_polyline_path([sheet.point(r, z) for r, z in SLEEVE.polygon(1e-4)])
    for r, z in ((20, 0), (20, 48), (22, 50), (22, 70)):
        space.add_line(sheet.point(r, z), sheet.point(0, z))
    space.add_lwpolyline([sheet.point(*p) for p in ((0, 0), (-30, 0), (-30, 70), (0, 70))])
    space.add_line(sheet.point(0, -5), sheet.point(0, 75), dxfattribs={"layer": "centre"})
    assert read(Sheet.text(made)).outline.volume == pytest.approx(volume_of(SLEEVE), rel=1e-9)


def test_hatching_that_was_taken_apart_into_lines_leaves_a_chamfer_at_its_slant():
    made, space = document()
    sheet = Sheet()
    for sign in (1, -1):
        sheet._half(space, SLEEVE, sign)  # its bore has a taper of 45 degrees
        area = Polygon([sheet.point(sign * r, z) for r, z in SLEEVE.polygon()])
        for k in range(-60, 160):
            cut = LineString([(1.5 * k - 200, -200), (1.5 * k + 200, 200)]).intersection(area)
            for one in getattr(cut, "geoms", [cut]):
                if one.length > 0.01:
                    space.add_line(*one.coords)
    for r, z in ((20, 0), (20, 48), (22, 50), (22, 70)):
        space.add_line(sheet.point(r, z), sheet.point(-r, z))
    space.add_line(sheet.point(0, -5), sheet.point(0, 75), dxfattribs={"layer": "centre"})
    assert read(Sheet.text(made)).outline.volume == pytest.approx(volume_of(SLEEVE), rel=1e-9)


def test_blocks_mirrored_and_in_one_another():
    made, space = document()
    block, outer = made.blocks.new("half"), made.blocks.new("part")
    Sheet()._half(block, SHAFT, 1)
    block.add_hatch().paths.add_polyline_path([Sheet().point(r, z) for r, z in SHAFT.polygon(1e-4)])
    outer.add_blockref("half", (0, 0))
    outer.add_blockref("half", (0, 0), dxfattribs={"yscale": -1})
    space.add_blockref("part", (10, 5), dxfattribs={"rotation": 20})
    assert read(Sheet.text(made)).outline.volume == pytest.approx(volume_of(SHAFT), rel=1e-6)


def test_what_is_not_turned_is_named_and_does_not_change_the_section():
    def more(space, point):
        space.add_circle(point(0, 60), 5)
        space.add_lwpolyline([point(*p) for p in ((4, 70), (4, 85), (-4, 85), (-4, 70))], close=True)

    part = read(Sheet(hatched=False).draw(SHAFT, more))
    assert part.outline.volume == pytest.approx(volume_of(SHAFT), rel=1e-6)
    assert {one.kind for one in part.not_turned} == {"hole across the axis", "hole, slot or recess"}


def test_a_view_from_the_end_gives_the_holes_and_no_outline():
    def end(space, point):
        for radius in (70, 40, 25):
            space.add_circle(point(0, 200), radius)
        for k in range(4):
            space.add_circle(point(55 * cos(pi / 4 + k * pi / 2), 200 + 55 * sin(pi / 4 + k * pi / 2)), 4.5)
        space.add_line(point(-80, 200), point(80, 200), dxfattribs={"layer": "centre"})
        space.add_lwpolyline([point(*p) for p in ((-150, -100), (150, -100), (150, 300), (-150, 300))], close=True)

    part = read(Sheet().draw(FLANGE, end))
    assert part.outline.volume == pytest.approx(volume_of(FLANGE), rel=1e-6)
    assert [(one.kind, one.size, one.at) for one in part.not_turned] == [
        ("hole along the axis", "Ø9 mm", "on Ø110")
    ] * 4


def test_a_hole_across_a_section_and_a_keyway_in_one_half_are_filled():
    made, space = document()
    sheet = Sheet()
    for sign in (1, -1):
        sheet._half(space, SLEEVE, sign)
        for loop in (((20, 0), (30, 0), (30, 20), (20, 20)),
                     ((20, 30), (30, 30), (30, 70), (22, 70), (22, 50), (20, 48))):  # fmt: skip
            space.add_hatch().paths.add_polyline_path([sheet.point(sign * r, z) for r, z in loop])
        for z in (20, 30):
            space.add_line(sheet.point(sign * 20, z), sheet.point(sign * 30, z))
    for r, z in ((20, 0), (20, 48), (22, 50), (22, 70)):
        space.add_line(sheet.point(r, z), sheet.point(-r, z))
    space.add_line(sheet.point(0, -5), sheet.point(0, 75), dxfattribs={"layer": "centre"})
    part = read(Sheet.text(made))
    assert part.outline.volume == pytest.approx(volume_of(SLEEVE), rel=1e-9)
    assert [one.size for one in part.not_turned] == ["10 mm along, 10 mm across"]


def test_a_curve_is_chords_and_says_so():
    made, space = document()
    space.add_ellipse((0, 0), (40, 0), 0.5, start_param=0, end_param=pi)
    space.add_line((-45, 0), (45, 0), dxfattribs={"layer": "centre"})
    part = read(Sheet.text(made))
    assert part.outline.volume == pytest.approx(4 / 3 * pi * 40 * 20 * 20, rel=1e-4)
    assert any("chords that stand off by 1 µm" in note for note in part.notes)


@pytest.mark.parametrize("gap", [1e-4, 0.01, 0.3, 3.0])
def test_a_gap_is_closed_up_to_two_micrometres_and_named_above(gap):
    made, space = document()
    space.add_lwpolyline([(0, 20), (0, 30), (50, 30), (50, 20), (gap, 20)])
    space.add_line((-5, 0), (60, 0), dxfattribs={"layer": "centre"})
    if gap < 0.002:
        assert read(Sheet.text(made)).outline.volume == pytest.approx(pi * 500 * 50, rel=1e-6)
    else:
        refused(Sheet.text(made), "open by|no line encloses")


def test_a_line_that_reaches_beyond_the_outline_is_refused():
    refused(Sheet().draw(SHAFT, lambda space, point: space.add_line(point(30, 10), point(60, 10))), "enclose nothing")


def test_halves_that_differ_both_ways_are_refused():
    made, space = document()
    for sign, outline in ((1, RING), (-1, RING.turned_round().moved(32))):
        Sheet()._half(space, outline, sign)
        space.add_hatch().paths.add_polyline_path([Sheet().point(sign * r, z) for r, z in outline.polygon()])
    space.add_line((-5, 0), (40, 0), dxfattribs={"layer": "centre"})
    refused(Sheet.text(made), "two halves differ")


def test_two_parts_on_one_axis_are_asked():
    made, space = document()
    for sign in (1, -1):
        for z in (0, 100):
            outline = RING.moved(z)
            Sheet()._half(space, outline, sign)
            space.add_hatch().paths.add_polyline_path([Sheet().point(sign * r, z) for r, z in outline.polygon()])
    space.add_line((-5, 0), (140, 0), dxfattribs={"layer": "centre"})
    assert asked(Sheet.text(made)) == ("body", {"area 1", "area 2"})
    assert read(Sheet.text(made), body="area 2").outline.z == pytest.approx((100, 132), abs=1e-9)


def test_two_parts_in_one_another_are_asked_and_a_thread_line_is_no_second_part():
    inner, outer = profile((40, 0), (60, 0), (60, 50), (40, 50)), profile((60, 0), (90, 0), (90, 50), (60, 50))
    made, space = document()
    for sign in (1, -1):
        for outline in (inner, outer):
            Sheet()._half(space, outline, sign)
            space.add_hatch().paths.add_polyline_path([Sheet().point(sign * r, z) for r, z in outline.polygon()])
    space.add_line((-5, 0), (55, 0), dxfattribs={"layer": "centre"})
    assert asked(Sheet.text(made)) == ("body", {"area 1", "area 2"})
    assert read(Sheet.text(made), body="area 2").outline.volume == pytest.approx(volume_of(outer), rel=1e-9)

    def thread(space, point):
        for sign in (1, -1):
            space.add_line(point(28 * sign, 0), point(28 * sign, 50))

    assert read(Sheet().draw(inner, thread)).outline.volume == pytest.approx(volume_of(inner), rel=1e-9)


def test_parts_hatched_in_two_ways_are_never_one():
    made, space = document()
    for sign in (1, -1):
        for z, angle in ((0, 45), (32, 135)):
            outline = RING.moved(z)
            Sheet()._half(space, outline, sign)
            hatch = space.add_hatch()
            hatch.set_pattern_fill("ANSI31", angle=angle)
            hatch.paths.add_polyline_path([Sheet().point(sign * r, z) for r, z in outline.polygon()])
    space.add_line((-5, 0), (70, 0), dxfattribs={"layer": "centre"})
    assert asked(Sheet.text(made)) == ("body", {"area 1", "area 2"})


def test_blocks_in_circles_end():
    made, space = document()
    a, b = made.blocks.new("A"), made.blocks.new("B")
    a.add_blockref("B", (0, 0))
    b.add_blockref("A", (0, 0))
    space.add_blockref("A", (0, 0))
    refused(Sheet.text(made), "in circles")


def test_an_array_of_a_million_blocks_ends():
    made, space = document()
    made.blocks.new("A").add_line((0, 0), (1, 0))
    space.add_blockref(
        "A", (0, 0), dxfattribs={"row_count": 1000, "column_count": 1000, "row_spacing": 1, "column_spacing": 1}
    )
    refused(Sheet.text(made), "more than 20,000")


@pytest.mark.parametrize(("content", "words"), [
    (b"", "empty"), (b"   \n", "empty"), (b"hello", "not a DXF"), (b"AC1032" + bytes(99), "DWG"),
    (b"x" * 18 + b"\r\n\x1a\x00" + bytes(99), "binary DXF"), (bytes(11_000_000), "larger than|empty"),
    (Sheet().draw(RING)[:-400], "cut off"), (Sheet.text(document()[0]), "no visible line"),
], ids=["nothing", "blank", "text", "dwg", "binary", "huge", "cut off", "nothing drawn"])  # fmt: skip
def test_what_is_no_drawing_is_said(content, words):
    refused(content, words)


GOOD = Sheet().draw(SLEEVE)
WORDS = [b"1e999", b"nan", b"-1", b"INSERT", b"SPLINE", b"\n", b"10\n", b"0", b"HATCH", b"1e15", b"ELLIPSE"]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_a_broken_drawing_gives_a_section_or_one_of_our_errors(data):
    begin = GOOD.index(b"ENTITIES")
    content = bytearray(GOOD)
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(begin, len(content) - 40))
        length = data.draw(st.integers(0, 30))
        content[at : at + length] = data.draw(st.one_of(st.binary(max_size=30), st.sampled_from(WORDS)))
    problem, part = "", None
    try:
        part = read(bytes(content))
    except HeldtrueError as error:
        problem = str(error)
    assert problem.startswith("part.dxf: ") if part is None else part.outline.volume > 0


def test_reading_a_file_fetches_and_runs_nothing():
    made, space = document()
    Sheet()._half(space, RING, 1)
    made.add_xref_def("/etc/hosts", "elsewhere")
    space.add_blockref("elsewhere", (0, 0))
    part = read(Sheet.text(made), axis="y 0")
    assert any("reference to another file" in note for note in part.notes)
