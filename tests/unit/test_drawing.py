"""The pictures: well-formed, inside their paper, true to the plan, and saying what colour says in other ways too."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from math import hypot, pi

import numpy as np
import plan_fixture as fixture
import pytest

from heldtrue.drawing.all_pictures import all_drawings, write_drawings
from heldtrue.drawing.chuck_face import draw_chuck_face
from heldtrue.drawing.contact_print import SHADES, draw_contact_print, draw_contact_prints
from heldtrue.drawing.fields import free_spot, hatch_below_zero, join, zero_lines
from heldtrue.drawing.jaw_shape import JawShape
from heldtrue.drawing.polar import draw_polar
from heldtrue.drawing.section import draw_section
from heldtrue.drawing.svg import ACCENT, FONTS, Picture, hatch, shorten, text_width, wrap
from heldtrue.drawing.window import draw_window
from heldtrue.drawing.wording import dimension, form_length, small_length, value_text
from heldtrue.errors import InputError
from heldtrue.planning.gauge_words import pressure_number

SVG = "{http://www.w3.org/2000/svg}"
PLANS = sorted(fixture.ALL)


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(f"{SVG}text")]


def all_text(svg: str) -> str:
    return "\n".join(texts(svg))


def luminance(colour: str) -> float:
    red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    return 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("name", PLANS)
def test_every_picture_is_well_formed_and_named(name, system):
    found = all_drawings(fixture.ALL[name](), system)
    assert {"section.svg", "chuck-face.svg", "contact-print.svg", "window.svg"} < set(found)
    assert len(found) == 4 + len(fixture.ALL[name]().shapes)
    for svg in found.values():
        root = ET.fromstring(svg)
        assert root.tag == f"{SVG}svg"
        assert root.find(f"{SVG}title").text
        assert root.get("font-family") == FONTS
        assert "nan" not in svg
        assert "inf" not in re.sub(r">[^<]*<", "><", svg)


@pytest.mark.parametrize("name", PLANS)
def test_no_text_starts_or_ends_off_the_paper(name):
    for file, svg in all_drawings(fixture.ALL[name]()).items():
        root = ET.fromstring(svg)
        _, _, width, height = (float(v) for v in root.get("viewBox").split())
        for element in root.iter(f"{SVG}text"):
            x, y = float(element.get("x")), float(element.get("y"))
            size = float(element.get("font-size"))
            wide = text_width(element.text or "", size) / 1.06
            if element.get("transform"):
                assert 0 <= x <= width, (file, element.text)
                assert 0 <= y <= height, (file, element.text)
                continue
            left = {"start": x, "middle": x - wide / 2, "end": x - wide}[element.get("text-anchor", "start")]
            assert left >= -0.3, (file, element.text)
            assert left + wide <= width + 0.3, (file, element.text)
            assert size * 0.5 <= y <= height, (file, element.text)


@pytest.mark.parametrize("name", PLANS)
def test_no_line_leaves_the_paper(name):
    for file, svg in all_drawings(fixture.ALL[name]()).items():
        root = ET.fromstring(svg)
        _, _, width, height = (float(v) for v in root.get("viewBox").split())
        for element in root.iter(f"{SVG}path"):
            for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", element.get("d")):
                assert -0.5 <= float(x) <= width + 0.5, (file, element.get("d")[:80])
                assert -0.5 <= float(y) <= height + 0.5, (file, element.get("d")[:80])


def test_section_states_the_grip():
    svg = draw_section(fixture.wear_ring_plan())
    words = all_text(svg)
    for wanted in ("Ø140", "+0.04", "gripped 12", "overhang 18", "seat", "chuck face", "seal land", "dimensions in mm"):
        assert wanted in words
    assert "inside grip" in svg


def test_section_in_inch_drops_the_leading_zero():
    words = all_text(draw_section(fixture.bush_plan(), "inch"))
    for wanted in ("Ø3.2283", "gripped .8661", "flange face", ".0006", "dimensions in inch"):
        assert wanted in words


def test_section_of_a_shaft_has_its_centre_and_no_seat():
    words = texts(draw_section(fixture.shaft_plan()))
    assert "centre" in words
    assert "seat" not in words


def test_section_counts_the_frames_it_leaves_out():
    plan = fixture.extreme_plan()
    assert "more toleranced surfaces without their frames" in all_text(draw_section(plan))


def test_part_and_jaws_are_hatched_against_each_other():
    root = ET.fromstring(draw_section(fixture.bush_plan()))
    slopes = set()
    for path in root.iter(f"{SVG}path"):
        lines = re.findall(r"M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)(?=M|$)", path.get("d"))
        if len(lines) > 10:
            x0, y0, x1, y1 = (float(v) for v in lines[len(lines) // 2])
            slopes.add(round((y1 - y0) / (x1 - x0)))
    assert slopes == {-1, 1}


@pytest.mark.parametrize(
    ("setup", "outside"), [(fixture.bush_setup(), True), (fixture.wear_ring_setup(), False)], ids=["outside", "inside"]
)
def test_jaws_stand_on_the_right_side_of_the_gripped_surface(setup, outside):
    jaw = JawShape.of(setup)
    radii = [r for r, z in jaw.section(min(setup.grip.z), jaw.far_radius) if z > min(setup.grip.z)]
    assert min(radii) >= jaw.radius if outside else max(radii) <= jaw.radius
    across = [hypot(x, y) for x, y in jaw.face()]
    assert (min(across) if outside else max(across)) == pytest.approx(jaw.radius, rel=1e-6)


@pytest.mark.parametrize(
    "make", [fixture.wear_ring_setup, fixture.bush_setup, fixture.shaft_setup, fixture.six_jaw_setup]
)
def test_neighbouring_jaws_do_not_meet(make):
    from shapely import Polygon
    from shapely.affinity import rotate

    jaw = JawShape.of(make())
    one = Polygon(jaw.face())
    assert one.is_valid
    assert one.intersection(rotate(one, 360 / jaw.count, origin=(0, 0))).area < 1e-6


def test_usual_jaws_stand_in_for_sizes_not_given():
    jaw = JawShape.of(fixture.shaft_setup())
    assert (jaw.width, jaw.length) == (80.0, 95.0)


def test_chuck_face_numbers_every_jaw_with_jaw_1_on_top():
    svg = draw_chuck_face(fixture.six_jaw_plan())
    assert [t for t in texts(svg) if t.isdigit()] == list("123456")
    root = ET.fromstring(svg)
    heights = {t.text: float(t.get("y")) for t in root.iter(f"{SVG}text") if (t.text or "").isdigit()}
    assert heights["1"] == min(heights.values())
    assert "6 standard jaws, inside grip on Ø120 mm" in all_text(svg)


def test_pie_jaws_show_their_gap():
    assert "gap 3" in all_text(draw_chuck_face(fixture.wear_ring_plan()))


def test_polar_states_enlargement_tolerance_and_two_line_styles():
    svg = draw_polar(fixture.wear_ring_plan(), "seal land")
    words = all_text(svg)
    assert re.search(r"deviation enlarged [\d ]+ times", words)
    assert "drawing allows roundness 0.020 mm" in words
    assert "released, likely: 0.0090 mm" in words
    assert "clamped, likely: 0.0090 mm" in words
    curves = [p for p in ET.fromstring(svg).iter(f"{SVG}path") if (p.get("d") or "").count("L") == 360]
    assert {bool(curve.get("stroke-dasharray")) for curve in curves} == {True, False}


def test_polar_drawn_to_the_stated_enlargement():
    plan = fixture.wear_ring_plan()
    svg = draw_polar(plan, "seal land")
    factor = float(re.search(r"enlarged ([\d ]+) times", all_text(svg))[1].replace(" ", ""))
    (released,) = [
        p for p in ET.fromstring(svg).iter(f"{SVG}path")
        if (p.get("d") or "").count("L") == 360 and not p.get("stroke-dasharray")
    ]  # fmt: skip
    points = np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+)", released.get("d")), float)
    base = next(float(c.get("r")) for c in ET.fromstring(svg).iter(f"{SVG}circle") if c.get("stroke-dasharray"))
    centre = next(
        (float(c.get("cx")), float(c.get("cy")))
        for c in ET.fromstring(svg).iter(f"{SVG}circle")
        if c.get("stroke-dasharray")
    )
    drawn = np.ptp(np.hypot(*(points - centre).T)) / base * 79.0 / factor
    # the enlargement is printed with two figures
    assert drawn == pytest.approx(np.ptp(plan.shapes[0].released), rel=0.06)


def test_polar_of_an_unknown_surface():
    with pytest.raises(KeyError, match="no shape of surface 'rim'"):
        draw_polar(fixture.wear_ring_plan(), "rim")


def test_contact_print_shows_every_fit_its_peak_and_what_is_open():
    svg = draw_contact_print(fixture.wear_ring_plan())
    words = all_text(svg)
    for wanted in ("smallest part", "middle part", "largest part", "peak 58.0", "peak 33.0", "MPa", "open"):
        assert wanted in words
    assert "ksi" in all_text(draw_contact_print(fixture.wear_ring_plan(), "inch"))


def test_contact_print_mirrors_the_half_that_is_computed():
    plan = fixture.six_jaw_plan()
    rows, columns = plan.prints[0].pressure.shape
    root = ET.fromstring(draw_contact_print(plan))
    cells = [p for p in root.iter(f"{SVG}path") if p.get("fill") in SHADES]
    assert len(cells) == rows * 2 * columns
    first_row = [cell.get("fill") for cell in cells[: 2 * columns]]
    assert first_row == first_row[::-1]


def grooved(one):
    """The same print with the second band a groove of the part."""
    pressure, gap = one.pressure.copy(), one.gap.copy()
    pressure[1], gap[1] = np.nan, np.nan
    return replace(one, pressure=pressure, gap=gap)


def test_groove_is_a_labelled_break_without_shade():
    plan = fixture.six_jaw_plan()
    whole = draw_contact_print(plan)
    svg = draw_contact_print(replace(plan, prints=tuple(grooved(p) for p in plan.prints)))
    assert "nan" not in svg
    assert all_text(svg).count("groove") == len(plan.prints)
    assert "groove" not in all_text(whole)
    shaded = [sum(p.get("fill") in SHADES for p in ET.fromstring(one).iter(f"{SVG}path")) for one in (svg, whole)]
    rows, columns = plan.prints[0].pressure.shape
    assert shaded[0] == shaded[1] - len(plan.prints) * 2 * columns
    assert shaded[1] == len(plan.prints) * 2 * columns * rows


def test_peak_stands_beside_a_groove_not_in_it():
    plan = fixture.six_jaw_plan()
    one = plan.prints[0]
    pressure = one.pressure.copy()
    pressure[0], pressure[1, 3] = np.nan, 99.0
    svg = draw_contact_prints([replace(one, pressure=pressure, peak=99.0)])
    assert "peak 99.0" in all_text(svg)


@pytest.mark.parametrize(
    ("taper", "system", "words"),
    [(0.05, "metric", "taper 0.05 a side"), (-0.0254, "inch", "taper −.001 a side"), (1e-6, "metric", ""),
     (0.0, "metric", "")],
)  # fmt: skip
def test_taper_of_the_jaws_is_said_when_there_is_one(taper, system, words):
    plan = fixture.shaft_plan()
    svg = draw_contact_prints([replace(plan.prints[0], taper=taper)], system)
    assert words in all_text(svg)
    assert ("taper" in all_text(svg)) == bool(words)


def test_prints_in_rows_have_one_scale_and_their_own_heads():
    prints = [replace(p, peak=p.peak) for p in fixture.wear_ring_plan().prints] * 2
    svg = draw_contact_prints(prints, title="By bore", heads=[f"choice {i}" for i in range(6)], columns=3)
    root = ET.fromstring(svg)
    assert root.find(f"{SVG}title").text == "By bore"
    assert float(root.get("viewBox").split()[3]) == 160.0
    assert [t for t in texts(svg) if t.startswith("choice")] == [f"choice {i}, Ø{d}" for i, d in enumerate(
        dimension(p.part_diameter, "metric") for p in prints)]  # fmt: skip
    heights = {t.text: float(t.get("y")) for t in root.iter(f"{SVG}text") if (t.text or "").startswith("choice")}
    assert len(set(heights.values())) == 2
    assert texts(svg).count("58.0") == 2, "the end of the scale, once a row"


def test_digits_that_mean_nothing_are_not_shown():
    assert form_length(1.0001, "metric") == "over 1 mm"
    assert form_length(0.9999, "metric") == "1.000 mm"
    assert form_length(-3.0, "inch") == "over .040 in"
    plan = fixture.wear_ring_plan()
    wild = replace(plan.shapes[0], released=1000 * plan.shapes[0].released, clamped=1000 * plan.shapes[0].clamped)
    words = all_text(draw_polar(replace(plan, shapes=(wild,)), "seal land"))
    assert words.count("over 1 mm") == 2


def test_contact_print_without_contact_says_so():
    assert "no contact to show" in all_text(draw_contact_print(replace(fixture.wear_ring_plan(), prints=())))


def test_shades_darken_evenly_in_grey():
    lightness = [116 * luminance(shade) ** (1 / 3) - 16 for shade in SHADES]
    steps = -np.diff(lightness)
    assert (steps > 6).all()
    assert steps.max() / steps.min() < 1.9


def test_window_labels_its_regions_its_limits_and_both_units():
    words = texts(draw_window(fixture.wear_ring_plan()))
    for wanted in (
        "set 18.0",
        "floor 14.0",
        "ceiling 23.0",
        "spindle limit 1450",
        "bar",
        "psi",
        "not held",
        "out of tolerance",
    ):
        assert wanted in words
    assert "holds and" in words or "holds and stays true" in words


def test_window_in_gauge_unit_whatever_the_system():
    words = texts(draw_window(fixture.bush_plan(), "metric"))
    assert "set 261" in words
    assert "floor 204" in words


def test_no_window_marks_what_was_checked_and_sets_nothing():
    words = texts(draw_window(fixture.no_window_plan()))
    assert "checked at 19.0" in words
    assert not any(word.startswith("set ") for word in words)


def test_what_was_checked_stands_at_the_speed_it_was_checked_at_and_no_limit_is_named_where_there_is_none():
    plan = fixture.no_window_plan()
    stopped = replace(plan, speed=replace(plan.speed, limit=0.0))
    crosses = []
    for one in (plan, stopped):
        svg = draw_window(one)
        cross = next(e for e in ET.fromstring(svg).iter(f"{SVG}circle") if e.get("r") == "2" or e.get("r") == "2.0")
        crosses.append(float(cross.get("cx")))
        assert ("spindle limit 1450" in texts(svg)) == (one is plan)
    assert "spindle limit 0" not in texts(svg)
    speeds = plan.window.speed_rpm
    share = (1450.0 - speeds[0]) / (speeds[-1] - speeds[0])
    assert crosses == pytest.approx([13.0 + share * (110.0 - 26.0)] * 2, abs=0.01)


def test_two_pressures_have_two_points():
    words = texts(draw_window(fixture.two_pressure_plan()))
    assert "rough: set 17.5" in words
    assert "finish: set 7.0" in words


def test_window_survives_a_map_with_holes():
    plan = fixture.wear_ring_plan()
    holds, true = plan.window.holds.copy(), plan.window.true.copy()
    holds[:, 0], true[0, :] = np.nan, np.inf
    svg = draw_window(replace(plan, window=replace(plan.window, holds=holds, true=true)))
    ET.fromstring(svg)
    assert "nan" not in svg


def test_lines_that_are_answers_are_dark_enough_for_a_grey_print():
    assert luminance(ACCENT) < 0.09


def test_user_text_is_escaped():
    plan = fixture.extreme_plan()
    ET.fromstring(draw_section(plan))
    picture = Picture(10, 10, "a<b&\x00\"'")
    picture.text((1, 5), "<script>&\x07")
    root = ET.fromstring(picture.svg())
    assert root.find(f"{SVG}text").text == "<script>& "


def test_written_whole_beside_nothing_else(tmp_path):
    folder = tmp_path / "new" / "pictures"
    paths = write_drawings(fixture.bush_plan(), folder, "inch")
    assert [p.name for p in paths] == [
        "section.svg", "chuck-face.svg", "polar-bore.svg", "polar-flange-face.svg", "contact-print.svg", "window.svg",
    ]  # fmt: skip
    assert sorted(p.name for p in folder.iterdir()) == sorted(p.name for p in paths)
    before = {p: p.read_text() for p in paths}
    write_drawings(fixture.bush_plan(), folder, "inch")
    assert {p: p.read_text() for p in paths} == before


def test_nothing_is_written_when_the_place_is_a_file(tmp_path):
    place = tmp_path / "taken"
    place.write_text("mine")
    with pytest.raises((InputError, FileExistsError)):
        write_drawings(fixture.bush_plan(), place)
    assert place.read_text() == "mine"


def test_surfaces_of_one_name_get_files_of_their_own():
    plan = fixture.wear_ring_plan()
    names = set(all_drawings(replace(plan, shapes=plan.shapes * 3)))
    assert {"polar-seal-land.svg", "polar-seal-land-2.svg", "polar-seal-land-3.svg"} <= names


def test_a_name_that_is_no_file_name_still_gets_a_file():
    plan = fixture.wear_ring_plan()
    odd = replace(plan.shapes[0], surface="../端面")
    assert "polar-surface.svg" in all_drawings(replace(plan, shapes=(odd,)))


def test_plan_without_cuts_surfaces_or_shapes_can_be_drawn():
    plan = replace(
        fixture.make_plan(fixture.wear_ring_setup()), setup=fixture.wear_ring_setup(surfaces=(), cuts=()), shapes=(),
        surfaces=(), checks=(), holds=(),
    )  # fmt: skip
    for svg in all_drawings(plan).values():
        ET.fromstring(svg)


# ---------------------------------------------------------------- the tools


def test_hatching_fills_a_square_with_a_hole_only():
    square = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]
    hole = [(4.0, 4.0), (6.0, 4.0), (6.0, 6.0), (4.0, 6.0)]
    lines = hatch([square, hole], spacing=0.1)
    length = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in lines)
    assert length * 0.1 == pytest.approx(100 - 4, rel=0.01)
    assert not any(
        4.1 < (a[0] + b[0]) / 2 < 5.9 and 4.1 < (a[1] + b[1]) / 2 < 5.9 and hypot(b[0] - a[0], b[1] - a[1]) < 2
        for a, b in lines
    )


def test_zero_lines_join_into_one_circle():
    y, x = np.mgrid[0:41, 0:41]
    field = np.hypot(x - 20.0, y - 20.0) - 12.3
    lines = join(zero_lines(field))
    assert len(lines) == 1
    radii = [hypot(px - 20, py - 20) for px, py in lines[0]]
    assert max(abs(r - 12.3) for r in radii) < 0.05
    length = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(lines[0], lines[0][1:], strict=False))
    assert length == pytest.approx(2 * pi * 12.3, rel=0.01)


def test_hatching_by_sign_covers_half():
    field = np.tile(np.linspace(-1, 1, 50), (50, 1))
    lines = hatch_below_zero(field, 40.0, 30.0, spacing=1.0, rising=True)
    assert max(max(a[0], b[0]) for a, b in lines) == pytest.approx(20.0, abs=0.4)


def test_free_spot_lies_in_the_mask():
    mask = np.zeros((40, 60), dtype=bool)
    mask[10:30, 20:55] = True
    row, column = free_spot(mask, 10, 6)
    assert 13 <= row <= 27
    assert 25 <= column <= 50
    assert free_spot(mask, 40, 6) is None


def test_words():
    assert shorten("short", 50) == "short"
    assert shorten("a very long name indeed", 12).endswith("…")
    assert text_width(shorten("a very long name indeed", 12)) <= 12
    assert all(text_width(line) <= 20 for line in wrap("one two three four five six seven", 20))
    assert wrap("one two three four five six seven", 10, lines=2)[-1].endswith("…")


def test_numbers_are_rounded_to_the_safe_side():
    assert pressure_number(1.4001, "bar", "up") == "14.1"
    assert pressure_number(1.4, "bar", "up") == "14.0"
    assert pressure_number(1.4099, "bar", "down") == "14.0"
    assert pressure_number(1.4, "psi", "up") == "204"
    assert pressure_number(1.4, "MPa") == "1.40"


@pytest.mark.parametrize(
    ("value", "metric", "inch"),
    [
        (140.0, "140", "5.5118"),
        (0.05, "0.05", ".002"),
        (12.7, "12.7", ".500"),
        (25.4, "25.4", "1.000"),
        (0.0, "0", ".000"),
    ],
)
def test_dimensions_as_drawings_have_them(value, metric, inch):
    assert dimension(value, "metric") == metric
    assert dimension(value, "inch") == inch


def test_a_small_length_is_never_shown_as_nothing():
    assert small_length(1e-6, "metric") == "<0.0001 mm"
    assert small_length(1e-6, "inch") == "<.00001 in"
    assert small_length(0.0, "metric") == "0.0000 mm"


def test_values_of_every_kind_have_words():
    assert value_text(41.0, "stress", "metric") == "41.0 MPa"
    assert value_text(720.0, "mass moment", "metric") == "0.720 kg m"
    assert value_text(float("inf"), "ratio", "metric") == "no limit"
    assert value_text(1.8, "pressure", "metric", "bar") == "18.0 bar"
    assert value_text(30000.0, "force", "inch") == "6744 lbf"
    assert value_text(3.0, "no such kind", "metric") == "3.00"
