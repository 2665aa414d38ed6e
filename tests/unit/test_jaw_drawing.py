"""The dimensioned drawing of a bored jaw, the picture of its program, the sheet: on paper, readable, true."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date
from io import StringIO

import ezdxf
import pytest
from conftest import ROOT, example
from pypdf import PdfReader

from heldtrue.drawing.drafting import PAPERS, scale_that_fits, scale_words
from heldtrue.drawing.jaw_drawing import HEIGHT, WIDTH, bored_jaw, jaw_dxf, jaw_section, jaw_sheet, jaw_svg
from heldtrue.drawing.tool_path import draw_tool_path
from heldtrue.errors import InputError
from heldtrue.planning.boring import bore
from heldtrue.planning.boring_program import attempt
from heldtrue.planning.result import CAUTIONS, IN_SHORT
from heldtrue.program.proof import Finding
from heldtrue.sheets import jaw_sheet as sheets
from heldtrue.tooling.ring import Groove

NAMES = ("wear-ring", "gland-flange", "winch-shaft")
SVG = "{http://www.w3.org/2000/svg}"


pytestmark = pytest.mark.usefixtures("planned_once")


@pytest.fixture(scope="module")
def plans(planned_once):
    return {name: bore(example(name)) for name in NAMES}


def texts(svg):
    return [one.text for one in ET.fromstring(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("system", ["metric", "inch"])
def test_nothing_lies_off_the_paper(plans, name, system):
    sheet = jaw_sheet(bored_jaw(plans[name]), system)
    points = [p for stroke in sheet.strokes for p in stroke.points]
    points += [p for area in sheet.hatched for loop in area.loops for p in loop]
    points += [(dim.line, dim.b[1]) if dim.along == "y" else (dim.b[0], dim.line) for dim in sheet.dims]
    points += [label.at for label in sheet.labels]
    assert all(0 <= x <= WIDTH and 0 <= y <= HEIGHT for x, y in points)
    for wide, high in PAPERS.values():
        assert wide - 10 >= WIDTH
        assert high - 10 >= HEIGHT


@pytest.mark.parametrize("name", NAMES)
def test_the_drawing_says_every_size_of_the_bore(plans, name):
    plan = plans[name]
    found = texts(jaw_svg(bored_jaw(plan)))
    made = plan.design
    for words in (
        f"Ø{made.diameter:.3f}".rstrip("0").rstrip("."), f"{made.depth:g}", f"{made.relief[1]:g}",
        f"Jaw set {plan.setup.jaws.number}", f"tooth {plan.way.tooth} on every jaw",
    ):  # fmt: skip
        assert any(words in text for text in found), words


@pytest.mark.parametrize("name", NAMES)
def test_every_dimension_is_that_of_the_numbers(plans, name):
    plan, made = plans[name], plans[name].design
    found = {one.words("metric"): one.true_length for one in jaw_sheet(bored_jaw(plan)).dims}
    for start, end, length in (
        ("", " ±0.05", made.depth), ("to mid-grip ", "", made.grip_height), ("", " at front", made.mouth_diameter),
        ("Ø", f" ±0.05 {plan.ring.ring.kind}", plan.ring.set_to), ("zero mark ", "", plan.way.zero),
    ):  # fmt: skip
        alike = {w: v for w, v in found.items() if w.startswith(start) and w.endswith(end)}
        if end == " at front" and abs(made.mouth_diameter - made.diameter) < 5e-4:
            assert not alike
            continue
        assert any(value == pytest.approx(length, abs=1e-6) for value in alike.values()), (start, end, alike)
    lengths = list(found.values())
    for length in (made.height, made.diameter, *made.relief):
        assert any(value == pytest.approx(length, abs=6e-3) for value in lengths), length
    assert all(value > 0 for value in lengths)


def test_the_drawing_says_finish_run_in_pockets_part_and_caution(plans):
    for name in NAMES:
        plan = plans[name]
        text = " ".join(texts(jaw_svg(bored_jaw(plan))))
        wide, deep = plan.hardware.blank.pocket
        part = plan.setup.part
        for words in (
            IN_SHORT, "Ra 1.6 µm (63 µin)", f"{plan.design.run_in:g}°", f"pocket Ø{wide:g}, {deep:g} deep",
            f"{part.number} rev {part.revision}", "parallel within 0.01 mm",
        ):  # fmt: skip
            assert words in text, (name, words)


def test_a_groove_has_its_depth_on_the_drawing(plans):
    plan = plans["winch-shaft"]
    groove = Groove((80.0, 104.0), 4.0)
    jaw = replace(bored_jaw(plan), ring=replace(plan.ring, groove=groove))
    sheet = jaw_sheet(jaw)
    assert "groove 4 deep" in [label.words for label in sheet.labels]
    said = {one.words("metric") for one in sheet.dims}
    assert {"Ø80 groove", "Ø104 groove"} <= said


def test_notes_get_smaller_where_they_are_many_and_none_is_dropped_unsaid(plans):
    jaw = bored_jaw(plans["winch-shaft"])
    much = replace(jaw, notes=tuple(f"note {number} " + "and more of it " * 8 for number in range(2)))
    assert any("note 1" in label.words for label in jaw_sheet(much).labels)
    most = replace(jaw, notes=tuple(f"note {number} " + "and more of it " * 8 for number in range(12)))
    assert any(label.words == "more to know: see the steps" for label in jaw_sheet(most).labels)


@pytest.mark.parametrize("name", NAMES)
def test_the_section_has_the_bore_s_own_points(plans, name):
    plan = plans[name]
    jaw = bored_jaw(plan)
    outline = jaw_section(jaw)
    assert {(z, r) for r, z in plan.design.profile[:-1]} <= set(outline)
    # the program's line runs on to the corners of the jaws; the section shows their middle
    assert {r for _, r in outline} >= set(jaw.ends)
    assert min(r for _, r in outline) == jaw.ends[0]
    assert max(r for _, r in outline) == jaw.ends[1]


@pytest.mark.parametrize("system", ["metric", "inch"])
def test_the_dxf_is_sound_in_true_size_and_the_same_every_time(plans, system):
    jaw = bored_jaw(plans["wear-ring"])
    text = jaw_dxf(jaw, system)
    assert text == jaw_dxf(jaw, system)
    drawing = ezdxf.read(StringIO(text))
    assert drawing.audit().errors == []
    unit = 25.4 if system == "inch" else 1.0
    sizes = {round(d.get_measurement() * d.override().get("dimlfac") * unit, 2) for d in drawing.query("DIMENSION")}
    assert round(jaw.design.diameter, 2) in sizes
    true_size = [d.get_measurement() * unit for d in drawing.query("DIMENSION") if d.override().get("dimlfac") == 1.0]
    assert any(length == pytest.approx(jaw.design.depth, abs=1e-6) for length in true_size)  # the main view
    assert any(length == pytest.approx(jaw.design.height, abs=1e-6) for length in true_size)


def test_scales_are_the_usual_ones():
    assert scale_that_fits(100.0, 50.0, (120.0, 120.0)) == 1.0
    assert scale_that_fits(100.0, 50.0, (60.0, 120.0)) == 0.5
    assert (scale_words(2.0), scale_words(0.4)) == ("2:1", "1:2.5")


def test_what_cannot_be_placed_cannot_be_drawn(plans):
    with pytest.raises(InputError, match="nothing to draw"):
        bored_jaw(replace(plans["wear-ring"], design=None))


# The picture of a program


def test_the_picture_of_a_proved_program_says_how_true_it_is(plans):
    plan = plans["winch-shaft"]
    program = attempt(plan, ROOT / "examples").program
    svg = draw_tool_path(plan.job, program.moves, program.proof)
    found = " ".join(texts(svg))
    assert "proved" in found
    assert f"{program.proof.moves} moves" in found
    inch = " ".join(texts(draw_tool_path(plan.job, program.moves, program.proof, "inch")))
    assert " mm" not in inch


def test_a_failed_spot_is_ringed_where_it_is(plans):
    plan = plans["winch-shaft"]
    program = attempt(plan, ROOT / "examples").program

    def ring(at):
        bad = replace(program.proof, passed=False, findings=(Finding("gouge", "too deep", 33, 0.2, 0.001, at),))
        svg = draw_tool_path(plan.job, program.moves, bad)
        assert any("line 33: too deep" in text for text in texts(svg))
        (found,) = [c for c in ET.fromstring(svg).iter(f"{SVG}circle") if c.get("r") == "3.4"]
        return float(found.get("cx")), float(found.get("cy"))

    (x, y), (u, w) = ring((30.0, -20.0)), ring((32.0, -10.0))
    assert u > x  # z to the right
    assert w < y  # x upwards
    assert (u - x) / (y - w) == pytest.approx(5.0, rel=0.01)


# The sheet


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_the_jaw_sheet_has_drawing_and_steps(plans, paper, tmp_path):
    plan = plans["gland-flange"]
    program = attempt(plan, ROOT / "examples").program
    path = tmp_path / "sheet.pdf"
    made = sheets.jaw_sheet(plan, program, "metric", paper, file_name="bore-J-072.nc", printed=date(2026, 5, 4))
    path.write_bytes(made)
    pages = PdfReader(path).pages
    assert len(pages) in (2, 3)
    first, second = pages[0].mediabox, pages[1].mediabox
    assert (float(first.width), float(first.height)) == pytest.approx((float(second.height), float(second.width)))
    text = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages[1:]))
    said = ("J-072", "bore-J-072.nc", "2026-05-04", "GF-062 rev A", "boring bar 16", "tool T5, offset 5",
            "0.400 mm, tip position 4", "24 mm deep within 0.05 mm either way", "Ra 1.6 µm")  # fmt: skip
    for words in (*CAUTIONS, *said, *(step.name for step in plan.steps)):
        assert words in text
    with pytest.raises(InputError, match="is not known"):
        sheets.jaw_sheet(plan, program, "metric", "a3")


def test_a_part_that_fails_its_plan_is_said_on_the_sheet(plans):
    plan = replace(plans["gland-flange"], notes=("the plan of the part itself fails: see why",))
    assert "the plan of the part itself fails" in sheets.steps_text(plan)
