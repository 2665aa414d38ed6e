"""The floor sheet: one side where it fits, nothing cut, nothing small, with all that keeps a setter safe on it."""

import io
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache, partial
from pathlib import Path

import plan_fixture as fixture
import pytest
from conftest import example, longer
from pypdf import PdfReader

from heldtrue.drawing.all_pictures import all_drawings
from heldtrue.drawing.section import draw_section
from heldtrue.errors import InputError
from heldtrue.planning.entries import Run
from heldtrue.planning.odds.odds_words import odds_words
from heldtrue.planning.plan import plan
from heldtrue.planning.result import CAUTIONS, FORM, Odds
from heldtrue.planning.setup import Setup
from heldtrue.records import RunRecord, SetCut, StartDecision
from heldtrue.sheets.content import floor_content
from heldtrue.sheets.floor_sheet import floor_sheet
from heldtrue.sheets.title_block import code_of, fields
from heldtrue.shop.repeat import Repeat

MOST_ON_IT = ("extreme", "two-pressures")
PLANS = [*MOST_ON_IT, *longer(*sorted(name for name in fixture.ALL if name not in MOST_ON_IT))]
"""By hand: one with everything too long, one of two pressures; the long run has the usual ones."""
EXAMPLES = Path(__file__).parents[2] / "examples"
PAPERS = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}


@cache
def sheet(name: str, system: str, paper: str) -> bytes:
    """The sheet of a plan made by hand, set once for all tests that look at it."""
    return floor_sheet(fixture.ALL[name](), system, paper)


@cache
def read(pdf: bytes) -> str:
    """The text of all pages, spaces as one, ligatures undone."""
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    for joined, apart in (
        ("ﬁ", "fi"),
        ("ﬂ", "fl"),
        ("ﬀ", "ff"),
        ("ﬃ", "ffi"),
        ("ﬄ", "ffl"),
        ("‑", "-"),
        ("\u2060", ""),
        ("\u200b", ""),
    ):
        text = text.replace(joined, apart)
    return re.sub(r"\s+", " ", text)


def scale(matrix) -> float:
    """How much a matrix enlarges, turned or not."""
    return abs(matrix[0] * matrix[3] - matrix[1] * matrix[2]) ** 0.5


@cache
def largest_type(pdf: bytes) -> list[tuple[float, str]]:
    """Font sizes on the page with their texts, the largest first."""
    found: list[tuple[float, str]] = []

    def visit(text, cm, tm, _font, size):
        if text.strip():
            found.append((size * scale(cm) * scale(tm), text.strip()))

    for page in PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(visitor_text=visit)
    return sorted(found, key=lambda pair: -pair[0])


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("system", ["metric", *longer("inch")])
@pytest.mark.parametrize("name", PLANS)
def test_every_page_is_of_the_paper_asked_for_and_numbered(name, system, paper):
    pages = PdfReader(io.BytesIO(sheet(name, system, paper))).pages
    width, height = PAPERS[paper]
    for number, page in enumerate(pages):
        assert float(page.mediabox.width) == pytest.approx(width / 25.4 * 72, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(height / 25.4 * 72, abs=0.1)
        assert f"{number + 1} of {len(pages)}" in page.extract_text().replace("\u200b", "")


@pytest.mark.parametrize("paper", PAPERS)
def test_a_usual_sheet_is_one_side_and_an_overfull_one_two_or_more(paper):
    assert len(PdfReader(io.BytesIO(sheet("two-pressures", "metric", paper))).pages) == 1
    assert len(PdfReader(io.BytesIO(sheet("extreme", "metric", paper))).pages) > 1


LEAST_POINTS = 7.5


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", PLANS)
def test_nothing_is_smaller_than_seven_and_a_half_points(name, paper):
    sizes = largest_type(sheet(name, "metric", paper))
    assert sizes[-1][0] >= LEAST_POINTS - 0.02, sizes[-3:]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", PLANS)
def test_every_caution_is_there_in_full(name, paper):
    text = read(sheet(name, "metric", paper))
    for caution in CAUTIONS:
        assert caution in text
    assert "printed copy: check revision" in text


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", PLANS)
def test_nothing_is_cut_off_and_nothing_left_out(name, paper):
    """Every text of the content is on it in full, between the margins, whatever its length."""
    pdf, plan = sheet(name, "metric", paper), fixture.ALL[name]()
    content, text = floor_content(plan, "metric"), squeezed(read(pdf))
    said = [content["title"], content["verdict"]["words"], *content["notes"], *content["start"]]
    said += [words for pair in content["fields"] for words in pair]
    said += [row[key] for row in content["checks"] for key in ("name", "value", "spare", "by")]
    said += [words for row in (*content["assumed"], *content["acceptance"]) for words in row]
    for words in said:
        assert squeezed(words) in text, words
    width, height = (side / 25.4 * 72 for side in PAPERS[paper])
    for page in PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(visitor_text=partial(check_inside, width, height))


def check_inside(width, height, text, cm, tm, _font, _size):
    """Does a text begin on the paper, clear of what a printer cannot reach?"""
    if text.strip():
        x, y = (cm[0] * tm[4] + cm[2] * tm[5] + cm[4], cm[1] * tm[4] + cm[3] * tm[5] + cm[5])
        assert 5.0 / 25.4 * 72 < x < width - 10, text
        assert 5.0 / 25.4 * 72 < y < height - 10, text


def squeezed(words: str) -> str:
    """Words without any space: a line may end anywhere."""
    words = words.replace("\u2011", "-")
    return re.sub(r"[\s\u200b\u2060\u00a0]+", "", words)


def test_what_a_setter_needs():
    text = read(floor_sheet(fixture.wear_ring_plan()))
    for wanted in (
        "Wear ring, second side", "WR-158 rev B", "CuSn12", "lathe 3", "250 mm wedge chuck",
        "3 pie, aluminium 6061-T6",
        "jaws open", "Ø140 (+0.04 / 0) (Ø5.5118)", "12 (z 2 to 14) / 18", "18.0", "bar", "(261 psi)",
        "must not start below 14.0 bar (204 psi)", "not above 23.0 bar (333 psi)", "gauge reads", "initials", "time",
        "S 1450", "rev/min", "rough land: turn, 1.5 mm deep, 0.25 mm/rev, 160 m/min", "NOT PROVEN",
        "friction, jaw on part", "Measure this first:", "a torque wrench or a pull on a clamped part",
        "52.0, at least 60.0 kN",
        "0.0080, at most 0.010 mm", "left when released, likely to worst", "round 0.0080 to 0.013 mm",
        "run-out 0.0080 to 0.019 mm",
        "round 0.02, run-out 0.03", "Door shut, low speed first", "sheet rev", "author", "printed ______",
        "the bore is not marked as datum",
    ):  # fmt: skip
        assert wanted in text, wanted


def test_inch_sheet_on_a_psi_gauge():
    text = read(floor_sheet(fixture.bush_plan(), "inch", "us-letter"))
    for wanted in (
        "261", "psi", "(18.0 bar)",
        "must not start below 204 psi (14.0 bar)", "Ø3.2283 (.000 / −.002) (Ø82)", "jaws close",
        "rough bore: bore, .0787 in deep, .0118 in/rev", "261, at most 435 psi", "PASSES", "counted on:",
    ):  # fmt: skip
        assert wanted in text, wanted


@pytest.mark.parametrize("name", ["wear-ring", "bush", "two-pressures"])
def test_the_pressure_is_the_largest_type_and_the_speed_the_second(name):
    plan = fixture.ALL[name]()
    sizes = largest_type(floor_sheet(plan))
    numbers = [box["number"] for box in floor_content(plan, "metric")["pressure"]["boxes"]]
    count = len(numbers)
    assert [text for _, text in sizes[:count]] == numbers
    assert sizes[count][1] == "S 1450"
    assert sizes[count - 1][0] > sizes[count][0] > sizes[count + 1][0]


def test_no_window_prints_no_pressure_to_set():
    text = read(floor_sheet(fixture.no_window_plan()))
    for wanted in (
        "NO WINDOW", "Do not start from this sheet.",
        "no pressure for all cuts: 'hold: rough land' needs 19.0 bar, 'roundness: seal land' allows 12.0 bar", "FAILS",
        "Would help: grip 20.0 mm long instead of 12.0 mm; 'rough land' 0.800 mm deep instead of 1.50 mm; six",
        "Checks were made at 19.0 bar.",
        "holds from 19.0 bar (hold: rough land), good up to 12.0 bar (roundness: seal land)",
        "SPINDLE LIMIT the checks were made at",
    ):  # fmt: skip
        assert wanted in text, wanted
    assert "must not start below" not in text
    assert "gauge reads" not in text


def test_the_pressure_and_speed_of_the_checks_are_said_as_they_were():
    plan = fixture.no_window_plan()
    one = plan.pressure.steps[0]
    steps = (
        replace(one, name="rough", cuts=("rough land",), finished=False),
        replace(one, name="finish", cuts=("finish land",), ceiling=2.5, recommended=2.2),
    )
    two = replace(plan, pressure=replace(plan.pressure, steps=steps), speed=replace(plan.speed, limit=0.0))
    content = floor_content(two, "metric")
    assert content["pressure"]["tried"] == "Checks were made at 19.0 bar (rough), 22.0 bar (finish)."
    assert (content["speed"]["label"], content["speed"]["number"]) == ("SPINDLE LIMIT", "NO SPEED")
    slower = floor_content(replace(two, speed=replace(plan.speed, limit=1400.0)), "metric")["speed"]
    assert (slower["label"], slower["number"]) == ("SPINDLE LIMIT", "S 1400")


def test_what_nobody_looked_at_stands_in_the_verdict():
    table = example("wear-ring").to_dict()
    del table["grip"]["seat"]
    made = plan(Setup.from_dict(table))
    content = floor_content(made, "metric")
    words = content["verdict"]
    assert words["state"] == "not proven"
    assert words["words"].startswith("Do not run. Whether there is a seat is not said")
    assert "no pressure" not in words["words"]
    assert "measure" not in words["words"]
    assert content["pressure"]["boxes"][0]["how"] == "not proven: see below"
    assert "inside: ← jaws open →, seat not said" in [text for _, text in content["fields"]]
    assert not any("part hard on its seat" in line for line in content["start"])
    section = draw_section(made)
    assert ">seat not said<" in section
    assert ">seat<" not in section


def with_odds(made, part, *, state=None):
    """A plan with these odds at every check, and where said with this state."""
    parts = made.setup.part.quantity
    odds = Odds(part, parts and part, parts, part / 20)
    checks, ranked = (tuple(replace(one, odds=odds, state=state or one.state) for one in some)
                      for some in (made.checks, made.answer.ranked))  # fmt: skip
    return replace(made, checks=checks, answer=replace(made.answer, ranked=ranked))


def test_odds_are_the_smallest_thing_said_of_the_checks_and_say_that_they_decide_nothing():
    made = with_odds(fixture.no_window_plan(), 0.01)
    pdf = floor_sheet(made)
    text, sizes = read(pdf), largest_type(pdf)
    assert odds_words(made) in text
    assert "for one part about 1 in 100" in odds_words(made)
    assert text.index("FAILS") < text.index("Most likely to go wrong")
    odds = max(size for size, words in sizes if "Most likely to go wrong" in words)
    assert odds < max(size for size, words in sizes if words in [one.name for one in made.checks])
    assert odds < max(size for size, words in sizes if words == "FAILS") / 1.9
    assert "Odds" not in read(floor_sheet(fixture.no_window_plan())), "where none are known nothing is said"


def test_small_odds_of_a_plan_that_does_not_pass_are_not_printed():
    """They would read as leave to run: NOT PROVEN, and one in a million."""
    rare = {name: floor_content(with_odds(fixture.ALL[name](), 1e-6), "metric")["odds"] for name in fixture.ALL}
    for name, lines in rare.items():
        assert bool(lines) == (fixture.ALL[name]().verdict == "passes"), name
    assert {bool(lines) for lines in rare.values()} == {True, False}
    assert floor_content(with_odds(fixture.no_window_plan(), 0.3), "metric")["odds"]


def test_two_pressures_have_a_gate_and_a_gauge_box_each():
    text = read(floor_sheet(fixture.two_pressure_plan()))
    assert text.count("gauge reads") == 2
    for wanted in ("17.5", "7.0", "must not start below 14.0 bar", "must not start below 5.5 bar", "rough: rough land"):
        assert wanted in text, wanted


def test_a_stated_pressure_inside_the_window_is_the_one_to_set():
    plan = fixture.make_plan(fixture.wear_ring_setup(run=Run(pressure=2.0)))
    box = floor_content(plan, "metric")["pressure"]["boxes"][0]
    assert (box["number"], box["how"]) == ("20.0", "as stated")


@pytest.mark.parametrize(("stated", "why"), [(1.0, "below the floor"), (2.5, "above the ceiling")])
def test_a_stated_pressure_outside_the_window_is_not_to_be_set(stated, why):
    plan = fixture.make_plan(fixture.wear_ring_setup(run=Run(pressure=stated)))
    pressure = floor_content(plan, "metric")["pressure"]
    assert pressure["kind"] == "none"
    assert pressure["headline"] == f"NOT AT {10 * stated:.1f} bar"
    assert why in pressure["reason"]
    assert "advised: 18.0 bar" in pressure["reason"]


def test_the_number_to_set_never_reads_below_the_floor():
    plan = fixture.wear_ring_plan()
    step = replace(plan.pressure.steps[0], floor=1.4031, recommended=1.4032)
    narrow = replace(plan, pressure=replace(plan.pressure, steps=(step,), floor=1.4031, recommended=1.4032))
    box = floor_content(narrow, "metric")["pressure"]["boxes"][0]
    assert (box["number"], box["floor"]) == ("14.1", "14.1 bar (204 psi)")


def test_a_failing_plan_says_so_next_to_its_pressure():
    plan = fixture.make_plan(fixture.wear_ring_setup(), state="fails")
    text = read(floor_sheet(plan))
    assert "the plan fails: do not run" in text
    assert "Do not run. " in text


@pytest.mark.parametrize(
    ("state", "words"),
    [("fails", "THE PLAN FAILS: DO NOT RUN."), ("not proven", "NOT PROVEN: MEASURE BEFORE RUNNING."), ("passes", "")],
)
def test_a_plan_of_two_pressures_that_does_not_pass_says_so_under_them(state, words):
    two = fixture.two_pressure_plan()
    text = read(floor_sheet(fixture.make_plan(two.setup, state=state, pressure=two.pressure)))
    assert f"{words} two pressures: roughing needs more".strip() in text
    assert ("THE PLAN" in text, "BEFORE RUNNING" in text) == (state == "fails", state == "not proven")


@pytest.mark.parametrize(("system", "value"), [("metric", "0.0080 to 0.013 mm"), ("inch", ".00031 to .00050 in")])
def test_tolerances_that_come_out_alike_stand_once_and_their_value_goes_to_the_next_line(system, value):
    plan = fixture.wear_ring_plan()
    rules = plan.check("roundness: seal land").rules
    alike = fixture.with_checks(plan, [replace(c, rules=rules) if c.group == FORM else c for c in plan.checks])
    lines = []

    def visit(text, cm, tm, _font, _size):
        if text.strip():
            lines.append((cm[5] + cm[3] * tm[5], text.replace("\u00a0", " ").replace("\u2060", "").strip(" ,\u200b\n")))

    PdfReader(io.BytesIO(floor_sheet(alike, system))).pages[0].extract_text(visitor_text=visit)
    (place,) = [number for number, (_, text) in enumerate(lines) if text.replace("‑", "-") == "round and run-out"]
    assert lines[place + 1][1] == value
    assert 5.0 < lines[place][0] - lines[place + 1][0] < 12.0


def test_verdict_names_the_deciding_input_in_words():
    verdict = floor_content(fixture.wear_ring_plan(), "metric")["verdict"]
    assert verdict["words"].replace("\u00a0", " ") == (
        "Do not run before it is measured. The part turns in the jaws during 'rough land' at z = 32.0 mm: "
        "torque carried 260 N m, needed 300 N m with safety; decided by friction, jaw on part (assumed). "
        "Measure first: friction, jaw on part: a torque wrench or a pull on a clamped part."
    )


@pytest.mark.parametrize("system", ["metric", "inch"])
def test_no_number_of_the_verdict_is_parted_from_its_unit(system):
    words = floor_content(fixture.no_window_plan(), system)["verdict"]["words"]
    assert re.findall(r"[\d.]+\s(?:mm|in|N\sm|ft\slbf)\b", words), "it names lengths and moments"
    assert not re.search(r"\d (?:mm|in|N|ft)\b|N m|ft lbf", words)


def test_failing_checks_come_first_and_none_is_counted_only():
    states = [row["state"] for row in floor_content(fixture.extreme_plan(), "metric")["checks"]]
    assert states == sorted(states, key=["fails", "not proven", "passes"].index)
    assert "more, see" not in read(sheet("extreme", "metric", "a4"))


RUN = RunRecord(
    at=datetime(2026, 5, 4, 9, tzinfo=UTC), by="Noor", setup="wear-ring", rough_pressure=1.15, finish_pressure=0.43,
    speed_rpm=400.0, quantity=12, scrap=1, lot="H-77", readings={"runout_mm": 0.012}, remark="jaw 2 skimmed",
)  # fmt: skip
CUT = SetCut(at=datetime(2026, 5, 3, tzinfo=UTC), by="Noor", jaw_set="J-118", diameter=140.02, depth=14.0, tooth=35,
             pressure=0.42)  # fmt: skip


def test_a_repeat_has_all_that_a_setter_would_have_to_look_up():
    setup = example("wear-ring").with_({"part.operation": "2 of 2", "part.program": "O1582 v3", "jaws.tooth": None})
    made = fixture.make_plan(setup)
    known = Repeat("wear-ring", 4, RUN, ("last run 2026-05-04", "cuts rough land, feed: 0.25 → 0.3"), CUT)
    pdf = floor_sheet(made, repeat=known, printed=date(2026, 6, 1))
    text = read(pdf)
    for wanted in (
        "operation 2 of 2", "O1582 v3", "J-118", "tooth on every jaw 35", "Ø140.02, 14 deep", "4.2 bar, 2026-05-03",
        "M12 12.9: 110 N m (81.1 ft lbf)", "wear-ring, version 4", "setup wear-ring", "printed 2026-06-01",
        "2026-05-04, Noor, set 11.5 bar / 4.3 bar, S 400, 12 good, 1 scrap, lot H-77, runout mm 0.012, jaw 2 skimmed",
        "What changed since the last run", "rough land, feed: 0.25 → 0.3",
    ):  # fmt: skip
        assert wanted in text, wanted
    assert "What changed" not in read(floor_sheet(made)), "a setup that never ran has no such heading"
    quiet = read(floor_sheet(made, repeat=Repeat("wear-ring", 4, RUN, ("last run 2026-05-04",), CUT)))
    assert "nothing on record" in quiet


def test_a_start_against_the_answer_is_on_the_sheet():
    row = StartDecision(
        at=datetime(2026, 5, 4, 8, tzinfo=UTC), by="Noor", setup="wear-ring", gauge_pressure=0.4,
        verdict="must not start", reason="the floor is 11 bar",
        override_reason="gauge swapped, hand gauge shows 12 bar",
    )  # fmt: skip
    words = "Last start was made against the answer 2026-05-04, Noor: gauge swapped, hand gauge shows 12 bar"
    plan = fixture.wear_ring_plan()
    for known in (Repeat("wear-ring", 4, override=row), Repeat("wear-ring", 4, RUN, ("last run",), CUT, row)):
        assert words in read(floor_sheet(plan, repeat=known))
    assert "against the answer" not in read(floor_sheet(plan, repeat=Repeat("wear-ring", 4, RUN, ("last run",), CUT)))


@pytest.mark.parametrize("paper", PAPERS)
def test_every_change_since_the_last_run_is_on_the_sheet(paper):
    changes = tuple(f"cuts land {number}, feed: 0.{number}1 → 0.{number}2" for number in range(9))
    known = Repeat("wear-ring", 4, RUN, ("last run 2026-05-04", *changes), CUT)
    text = read(floor_sheet(fixture.wear_ring_plan(), "metric", paper, repeat=known))
    assert "9 changes: read all of them" in text
    for words in changes:
        assert words in text


def test_no_torque_is_printed_for_bolts_whose_class_nobody_stated():
    setup = example("wear-ring").with_({"jaws.bolt_class": None})
    assert ["jaw bolts", "M12 class ____ torque ____"] in fields(fixture.make_plan(setup), "metric", Repeat())


def test_the_code_on_the_sheet_leads_to_the_setup():
    code = code_of(example("wear-ring"), Repeat("wear-ring", 4))
    assert code["words"] == "setup wear-ring"
    assert code_of(example("wear-ring"), Repeat())["words"] == "jaw set J-118"
    assert code_of(example("wear-ring").with_({"jaws.number": ""}), Repeat()) is None


@pytest.mark.parametrize(
    "nasty",
    [
        "#panic(1)",
        "$x^2$",
        "*bold* _it_",
        "\\u{41}",
        'say "no"',
        "@ref <label>",
        "[link](x)",
        "`raw`",
        "// not // a comment",
        "é ж µ Ø",
    ],
)
def test_what_people_write_is_printed_as_written(nasty):
    text = read(floor_sheet(fixture.make_plan(fixture.wear_ring_setup(title=nasty))))
    assert nasty in text


def with_cut(plan, **changes):
    return replace(plan, surfaces=tuple(replace(s, **changes) for s in plan.surfaces))


def test_what_the_cut_leaves_is_said_where_it_can_be_seen():
    plan = fixture.bush_plan()
    seen = with_cut(plan, cut_size=0.0123, cut_taper=0.0034)
    text = read(floor_sheet(seen))
    assert "cut: Ø −0.012, taper 0.0034 mm" in text, "a bore comes small"
    assert "cut: Ø −.00048, taper .00013 in" in read(floor_sheet(seen, "inch"))
    assert "taper" not in read(floor_sheet(with_cut(plan, cut_size=0.0123, cut_taper=0.0009)))
    assert "cut: Ø +0.012 mm" in read(floor_sheet(with_cut(fixture.shaft_plan(), cut_size=0.0123, cut_taper=0.0)))
    assert "cut: Ø" not in read(floor_sheet(plan))


def test_digits_that_mean_nothing_are_not_printed():
    plan = fixture.wear_ring_plan()
    wild = replace(
        with_cut(plan, released_roundness=6.781, clamped_runout=6.543),
        verdict="fails",
    )
    found = tuple(
        replace(
            c, state="fails", value=6.781, margin=-677.1, rules=tuple(replace(rule, value=6.781) for rule in c.rules)
        )
        if c.kind == "length"
        else replace(c, state="passes")
        for c in plan.checks
    )
    text = read(floor_sheet(fixture.with_checks(wild, found)))
    assert text.count("round and run-out over 1 mm") == len(plan.surfaces)
    assert "over 1, at most 0.010 mm" in text
    assert "far over the limit" in text
    assert "6.78" not in text
    assert "6.54" not in text
    assert "678" not in text


def test_letters_the_typeface_lacks_do_not_stop_the_sheet():
    assert (
        len(PdfReader(io.BytesIO(floor_sheet(fixture.make_plan(fixture.wear_ring_setup(title="端面 旋盤"))))).pages)
        == 1
    )


def test_nothing_to_say_is_said():
    setup = fixture.wear_ring_setup(surfaces=(), cuts=(), title="")
    plan = replace(
        fixture.make_plan(setup), holds=(), checks=(), surfaces=(), assumed=(), shapes=(), notes=(), prints=(),
        answer=fixture.answer(setup, (), assumed=()),
    )  # fmt: skip
    text = read(floor_sheet(plan))
    assert "no cut was checked" in text
    assert "no check was made" in text
    assert "nothing" in text


def test_same_plan_same_bytes():
    assert floor_sheet(fixture.bush_plan()) == floor_sheet(fixture.bush_plan())


def test_unknown_paper():
    with pytest.raises(InputError, match="paper 'a3' is not known; known are a4, us-letter"):
        floor_sheet(fixture.bush_plan(), paper="a3")


def test_fonts_are_inside():
    page = PdfReader(io.BytesIO(floor_sheet(fixture.bush_plan()))).pages[0]
    for font in page["/Resources"]["/Font"].values():
        descendant = font.get_object()["/DescendantFonts"][0].get_object()
        descriptor = descendant["/FontDescriptor"].get_object()
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)


def test_template_is_packaged_beside_its_module():
    from heldtrue.sheets.floor_sheet import TEMPLATE

    assert TEMPLATE.is_file()


PRINTED = ("wear-ring", "valve-stem")


@pytest.mark.parametrize(
    "name", [*PRINTED, *longer(*sorted(path.stem for path in EXAMPLES.glob("*.toml") if path.stem not in PRINTED))]
)
def test_every_shipped_example_can_be_drawn_and_printed(name):
    path = EXAMPLES / f"{name}.toml"
    from heldtrue import Setup, plan

    setup = Setup.from_toml(path)
    made = plan(setup)
    for svg in all_drawings(made, setup.units).values():
        ET.fromstring(svg)
    for paper in PAPERS:
        text = read(floor_sheet(made, setup.units, paper))
        assert all(caution in text for caution in CAUTIONS)
        assert ("must not start below" in text) == made.pressure.has_window
