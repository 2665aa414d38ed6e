"""``heldtrue indicator``, ``taper`` and ``drift``: what a setter reads, a program reads, what is on paper."""

import json
import re
from xml.etree import ElementTree

import jsonschema
import pytest
import typer
from conftest import ROOT
from pypdf import PdfReader
from typer.testing import CliRunner

from heldtrue.cli import _PlainErrors
from heldtrue.commands import readings
from heldtrue.inspection.document import indicator_schema
from heldtrue.inspection.shop_documents import drift_schema, taper_schema
from heldtrue.planning.result import CAUTIONS

EXAMPLES = ROOT / "examples"
READINGS = EXAMPLES / "readings"
SHAFT, RING = EXAMPLES / "winch-shaft.toml", EXAMPLES / "wear-ring.toml"
LIMITS = ("--limits", "bore_mm=61.99..62.02", "--limits", "runout_um=..20")
PAGES = {"a4": (595, 842), "us-letter": (612, 792)}

app = typer.Typer(cls=_PlainErrors, pretty_exceptions_enable=False)
for command in (readings.indicator, readings.taper, readings.drift, readings.learn):
    app.command()(command)


def run(*arguments, code=0):
    result = CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)
    assert result.exit_code == code, result.output
    return result


def flat(result):
    """What was printed, whatever the width of the screen."""
    return re.sub(r"\s+", " ", result.stdout)


# Indicator


def test_the_answer_comes_before_the_figures():
    printed = run("indicator", READINGS / "winch-shaft-turned.csv").stdout
    order = [
        "jaws: explains 0.014 mm",
        "jaw 2 alone high by about 0.010 mm",
        "Causes, largest first",
        "run-out as read (TIR)",
        "jaw 1",
        "Cautions",
    ]
    places = [printed.index(words) for words in order]
    assert places[:3] == sorted(places[:3])
    assert places[2] < places[3] < places[5]
    assert all(words in printed for words in CAUTIONS)


def test_what_cannot_be_told_names_the_one_test_and_what_its_outcomes_mean():
    printed = flat(run("indicator", READINGS / "winch-shaft.csv"))
    first = printed.split("there is one error")[0]
    assert "cannot tell: " in first
    assert all(cause in first for cause in ("jaws", "part", "seat or chip"))  # one plane, one clamping
    assert "there is one error: offset 0.017 mm" in printed
    assert "Next test: " in printed
    assert "- jaws, if the same " in printed
    assert "reading 6 at 150° is +0.015 mm off the rest and was left out" in printed


def test_typed_readings_are_read_like_those_of_a_file():
    typed = " ".join(f"{d}:{v}" for d, v in zip(range(0, 360, 60), (5, 7, 4, -2, 0, 3), strict=True))
    printed = flat(run("indicator", "--typed", typed, "--unit", "um"))
    assert "run-out as read (TIR) 0.0090 mm" in printed
    assert "run-out as read (TIR) 9.000 mm" in flat(run("indicator", "--typed", typed))


def test_the_same_offset_is_a_high_jaw_outside_and_a_low_one_inside():
    path = READINGS / "winch-shaft.csv"
    assert "jaw 2 alone high" in run("indicator", path).stdout
    assert "jaw 2 alone low" in run("indicator", path, "--grip", "inside").stdout
    of_setup = run("indicator", path, "--setup", RING, "--surface", "seal land").stdout  # gripped inside
    assert "jaw 2 alone low" in of_setup


def test_a_free_part_is_not_told_to_be_released():
    printed = flat(run("indicator", READINGS / "wear-ring-free.csv"))
    assert "Next test: read it clamped" in printed
    assert "release the part and read" not in printed
    assert "jaws" not in printed.split("Next test")[0]  # nothing holds it


def test_inch_readers_get_inches_only():
    printed = run("indicator", READINGS / "pump-sleeve-tilted.csv", "--units", "inch", "--tolerance", ".0015").stdout
    assert not re.search(r"\d mm\b", printed)
    assert "tilt in 4 in" in printed
    assert ".00150 in" in printed


def test_a_short_setup_comparison_says_what_the_pressure_explains():
    printed = flat(run("indicator", READINGS / "wear-ring-free.csv", "--setup", RING))
    assert "the 3 lobes, free, beside the plan: explained" in printed
    assert "run-out tolerance 0.030 mm" in printed
    assert "Beside the plan, seal land, at 4.3 bar (advised)" in printed


def test_the_document_is_the_schema_s_and_says_the_same():
    for arguments in (
        (READINGS / "winch-shaft.csv",),
        (READINGS / "winch-shaft-turned.csv", "--setup", SHAFT, "--surface", "drum seat"),
        (READINGS / "wear-ring-free.csv", "--setup", RING),
    ):
        document = json.loads(run("indicator", *arguments, "--json").stdout)
        jsonschema.validate(document, indicator_schema())
        assert document["cautions"] == list(CAUTIONS)
    assert document["against_plan"][0]["verdict"] == "explained"
    assert document["against_plan"][0]["measured"]["value"] == pytest.approx(0.0049, abs=2e-4)
    assert document["budget"]["tolerance"] == 0.03
    assert document["traces"][0]["lobes"][0]["order"] == 3


@pytest.mark.parametrize(("arguments", "words"), [
    ((), "give either a file of readings or --typed readings"),
    ((READINGS / "winch-shaft.csv", "--typed", "1 2 3 4 5 6"), "give either a file"),
    ((READINGS / "nowhere.csv",), "cannot read"),
    ((READINGS / "winch-shaft.csv", "--surface", "drum seat"), "need --setup"),
    ((READINGS / "winch-shaft.csv", "--setup", SHAFT, "--surface", "rim"), "drum seat (outside), thread end"),
    ((READINGS / "winch-shaft.csv", "--unit", "um"), "header"),
    (("--typed", "1 2 3 4"), "at least 6"),
])  # fmt: skip
def test_what_is_wrong_is_said_with_status_2(arguments, words):
    assert words in re.sub(r"\s+", " ", run("indicator", *arguments, code=2).output)


def test_a_wrong_cell_is_blamed_by_row_and_column(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("angle_deg,reading_um\n" + "\n".join(f"{d},{'x' if d == 90 else d}" for d in range(0, 360, 30)))
    assert 'row 5, column "reading_um": found "x"' in run("indicator", path, code=2).output


def test_letters_of_other_tables_are_read(tmp_path):
    text = "angle_deg;reading_µm\n" + "\n".join(f"{d};{d % 7},5" for d in range(0, 360, 30))
    for encoding in ("utf-8-sig", "cp1252", "utf-16"):
        path = tmp_path / f"{encoding}.csv"
        path.write_bytes(text.encode(encoding))
        assert "run-out as read (TIR) 0.0060 mm" in flat(run("indicator", path))
    (tmp_path / "book.csv").write_bytes(b"PK\x03\x04\0\0\0\0")
    assert "save the table as CSV" in run("indicator", tmp_path / "book.csv", code=2).output


# Paper and pictures


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_a_page_holds_the_answer_and_the_cautions(tmp_path, paper):
    sheet = tmp_path / "indicator.pdf"
    run("indicator", READINGS / "wear-ring-free.csv", "--setup", RING, "--sheet", sheet, "--paper", paper)
    (page,) = PdfReader(sheet).pages
    assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(PAGES[paper], abs=1)
    words = re.sub(r"\s+", " ", page.extract_text())
    for wanted in (
        "cannot tell",
        "Next test",
        "clamp",
        "3 lobes",
        "Where the run-out",
        CAUTIONS[-1],
    ):
        assert wanted in words


def test_each_characteristic_has_a_page_of_its_own(tmp_path):
    sheet = tmp_path / "drift.pdf"
    run("drift", READINGS / "gland-flange-bores.csv", *LIMITS, "--sheet", sheet)
    pages = PdfReader(sheet).pages
    assert len(pages) == 2
    assert "re-cut due within" in pages[0].extract_text()
    assert "no trend to be seen" in pages[1].extract_text()


def test_pictures_are_well_formed_and_show_every_reading(tmp_path):
    run("indicator", READINGS / "winch-shaft.csv", "--drawings", tmp_path)
    run("drift", READINGS / "gland-flange-bores.csv", *LIMITS, "--drawings", tmp_path)
    names = {"indicator-1.svg", "drift-1-bore.svg", "drift-2-runout.svg"}
    assert {path.name for path in tmp_path.iterdir()} == names
    for name in names:
        root = ElementTree.fromstring((tmp_path / name).read_text())
        assert not [e for e in root.iter() if any("nan" in str(v) for v in e.attrib.values())]
    drawn = ElementTree.fromstring((tmp_path / "indicator-1.svg").read_text())
    rings = [
        e for e in drawn.iter("{http://www.w3.org/2000/svg}circle") if e.get("r") == "0.9" and e.get("stroke") != "none"
    ]
    assert len(rings) == 11  # 12 less the one left out


def test_readings_are_never_overwritten_by_their_own_page(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_text((READINGS / "winch-shaft.csv").read_text())
    assert "it holds the readings themselves" in run("indicator", path, "--sheet", path, code=2).output
    assert path.read_text().startswith("#")


# Taper


def test_a_gap_at_the_tip_says_the_next_cut_per_side_and_on_diameter():
    printed = flat(run("taper", SHAFT, "--gap", "0.05 mm at tip"))
    document = json.loads(run("taper", SHAFT, "--gap", "0.05 mm at tip", "--json").stdout)
    jsonschema.validate(document, taper_schema())
    assert f"take {document['per_side']:.3f} mm per side ({document['on_diameter']:.3f} mm on diameter) off" in printed
    assert "one cut, one reading" in printed
    assert CAUTIONS[-1] in printed
    assert not document["stop"]
    # Part and jaw give way where they touch: the contact needs more lean than the gap it leaves.
    assert document["change"]["low"] > 0.05
    assert document["change"]["low"] < document["by_contact"] < document["change"]["high"]
    assert document["part"] is None


def test_a_jaw_that_bears_all_along_is_left_alone():
    document = json.loads(run("taper", SHAFT, "--touch", "all", "--taper", "0.02", "--json").stdout)
    assert document["stop"]
    assert document["per_side"] == document["taper_now"] == 0.02


def test_a_small_gap_is_no_reason_to_stop_where_part_and_jaw_hide_the_rest():
    document = json.loads(run("taper", SHAFT, "--gap", "0.004 mm at tip", "--json").stdout)
    assert not document["stop"]
    assert document["change"]["low"] < document["by_contact"] < document["change"]["high"]


def test_a_short_print_asks_for_more_taper_than_a_long_one():
    short, long = (
        json.loads(run("taper", SHAFT, "--touch", "base", "--length", length, "--json").stdout)
        for length in ("12 mm", "30 mm")
    )
    assert short["change"]["value"] > 2 * long["change"]["value"] > 0
    for one in (short, long):
        assert one["change"]["low"] < one["by_contact"] < one["change"]["high"]
    tip = json.loads(run("taper", SHAFT, "--touch", "tip", "--length", "12 mm", "--json").stdout)
    assert tip["change"]["value"] < 0
    assert tip["change"]["low"] < tip["by_contact"] < tip["change"]["high"]


@pytest.mark.parametrize(("arguments", "words"), [
    ((), "say what was seen"),
    (("--gap", "0.1 mm"), "expected a gap and where"),
    (("--touch", "base"), 'give --length "8 mm"'),
    (("--gap", "0.1 mm at tip", "--touch", "tip"), "do not go together"),
    (("--touch", "all", "--length", "8 mm"), "no end to measure to"),
    (("--gap", "5 mm at tip"), "expected 0 to 2 mm"),
    (("--touch", "base", "--length", "60 mm"), "less than the grip of 40 mm"),
])  # fmt: skip
def test_a_feeler_reading_that_cannot_be_is_refused(arguments, words):
    assert words in re.sub(r"\s+", " ", run("taper", SHAFT, *arguments, code=2).output)


# Drift


def test_what_is_due_is_said_first():
    lines = run("drift", READINGS / "gland-flange-bores.csv", *LIMITS).stdout.splitlines()
    assert lines[0] == "bore"
    assert re.fullmatch(r"re-cut due within \d+ parts; the trend meets the limit after \d+", lines[1].strip())
    assert lines[2].startswith("cannot tell whether it drifts all along or stepped, +")
    printed = "\n".join(lines)
    assert "insert changed, before part 23: level −0.0091 mm" in printed
    assert "jaws skimmed, before part 41: level −0.011 mm" in printed


def test_the_drift_document_is_the_schema_s():
    document = json.loads(run("drift", READINGS / "gland-flange-bores.csv", *LIMITS, "--json").stdout)
    jsonschema.validate(document, drift_schema())
    bore, runout = document["series"]
    assert bore["upper"] == 62.02
    assert runout["upper"] == pytest.approx(0.02)
    assert runout["lower"] is None
    assert [piece["first"] for piece in bore["pieces"]] == [1, 23, 41]
    assert bore["recut_in"] < bore["parts_left"]["value"]


def test_jaw_sets_are_told_apart_and_shown_in_inches():
    printed = run(
        "drift", READINGS / "pump-sleeve-seats.csv", "--units", "inch", "--limits", "seat=2.749..2.752"
    ).stdout
    assert "seat, jaws J-118" in printed
    assert "seat, jaws J-072" in printed
    assert "least 2.7490 in, most 2.7520 in" in printed
    assert not re.search(r"\d mm\b", printed)


@pytest.mark.parametrize(("typed", "words"), [
    ("bore", "expected a column and its limits"),
    ("bore=1", "expected a column and its limits"),
    ("bore=..", "expected a column and its limits"),
    ("hole=1..2", "which is no column; found bore, runout"),
    ("bore=62.02..61.99", "is not below the upper"),
    ("bore=one..two", "--limits"),
])  # fmt: skip
def test_limits_that_cannot_be_are_refused(typed, words):
    output = run("drift", READINGS / "gland-flange-bores.csv", "--limits", typed, code=2).output
    assert words in re.sub(r"\s+", " ", output)


def test_limits_are_read_in_the_unit_of_their_name_or_their_own():
    assert readings.limit("runout_um=..20", "metric") == ("runout", (None, pytest.approx(0.02)))
    assert readings.limit("bore=2.5 in..", "metric") == ("bore", (pytest.approx(63.5), None))
    assert readings.limit("off_um=-5..5", "metric") == ("off", (pytest.approx(-0.005), pytest.approx(0.005)))
