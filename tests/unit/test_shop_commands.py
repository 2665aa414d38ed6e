"""The shop's memory from the command line: a job from the first cut of its jaws to the next run."""

import json
import shutil
from datetime import date

import pytest
from conftest import ROOT
from pypdf import PdfReader
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.planning.result import CAUTIONS, IN_SHORT

SHAFT = ROOT / "examples" / "winch-shaft.toml"
CHUCK = ROOT / "examples" / "chucks" / "200-wedge.toml"


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A folder of records of its own, and a name."""
    monkeypatch.setenv("HELDTRUE_RECORDS", str(tmp_path / "records"))
    monkeypatch.setenv("HELDTRUE_BY", "Noor")
    return tmp_path


def run(*arguments, code=0):
    result = CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)
    assert result.exit_code == code, result.output
    return " ".join(result.output.split())


def test_the_gate_in_the_largest_words_and_in_the_records(shop):
    refused = run("start", SHAFT, "--gauge", "170 psi", code=1)
    assert "MUST NOT START" in refused
    assert "tips out of the jaws during 'rough thread end'" in refused
    assert all(words in refused for words in CAUTIONS)
    assert "MAY START" in run("start", SHAFT, "--gauge", "395 psi")
    shown = run("run", "show", SHAFT)
    assert "gate at 170 psi: must not start Noor" in shown
    assert "gate at 395 psi: may start Noor" in shown


def test_an_override_is_kept_with_its_reason(shop):
    run("start", SHAFT, "--gauge", "300 psi", "--override", "no", code=2)
    kept = run("start", SHAFT, "--gauge", "300 psi", "--override", "no cut, checking run-out at 100 rev/min")
    assert "MUST NOT START, overridden" in kept
    assert "overridden: no cut" in run("run", "show", "winch-shaft")


def test_a_start_as_json_is_one_object(shop):
    result = CliRunner().invoke(app, ["start", str(SHAFT), "--gauge", "170 psi", "--json"])
    decision = json.loads(result.stdout)
    assert result.exit_code == 1
    assert decision["may_start"] is False
    weakest = decision["loads"][0]
    assert weakest["factor"] < weakest["asked"]
    assert weakest["holds_to"] < weakest["speed"]
    assert decision["cautions"] == list(CAUTIONS)


def test_nothing_is_entered_without_a_name(shop, monkeypatch):
    monkeypatch.delenv("HELDTRUE_BY")
    assert "give your name" in run("start", SHAFT, "--gauge", "395 psi", code=2)
    assert not (shop / "records").exists()
    assert "MAY START" in run("start", SHAFT, "--gauge", "395 psi", "--by", "Ilse")


def test_looking_makes_no_records(shop):
    for words in (("shelf", "list"), ("shelf", "find", SHAFT), ("chuck", "list"), ("run", "list"), ("check",)):
        assert "there are no records in" in run(*words, code=2)
    assert not (shop / "records").exists()
    run("plan", SHAFT)
    assert not (shop / "records").exists()


def test_a_set_from_its_cut_to_the_next_setup(shop):
    day = date.today()
    assert "cut 1 recorded" in run("shelf", "cut", SHAFT)
    found = CliRunner().invoke(app, ["shelf", "search", "about 60, today"]).stdout
    assert "J-031" in found or date.today() != day, "at midnight it was yesterday"
    assert "take J-031: put it on as it was cut" in run("shelf", "find", SHAFT)
    assert "J-031" in run("shelf", "search", "about 60")
    assert "no set fits" in run("shelf", "search", "about 200", code=1)
    assert "out, Ilse" in run("shelf", "out", "J-031", "--holder", "Ilse")
    assert "Ilse has it" in run("shelf", "find", SHAFT)
    run("shelf", "out", "J-031", "--holder", "Juma", code=2)
    assert "in, cabinet 2" in run("shelf", "in", "J-031", "--place", "cabinet 2", "--missing", "2")
    assert "jaw 2 missing" in run("shelf", "show", "J-031")
    assert "skim first" in run("shelf", "condition", "J-031", "skim first")
    assert "skim it at the same diameter" in run("shelf", "find", SHAFT)
    stands = json.loads(CliRunner().invoke(app, ["shelf", "list", "--json"]).stdout)
    assert stands[0]["diameter"] == pytest.approx(59.985)
    run("shelf", "retire", "J-031", "--yes")
    assert "no jaw set" in run("shelf", "list")


def test_what_is_typed_off_a_gauge_is_in_its_unit(shop):
    """The chuck of this metric setup has a psi gauge: 25 read off it is no 25 bar."""
    assert "must not start at 25 psi (1.7 bar)" in run("start", SHAFT, "--gauge", "25", code=1)
    assert "a gauge shows 0 or more" in run("start", SHAFT, "--gauge", "-5 psi", code=2)
    run("chuck", "add", CHUCK)
    assert "give its unit" in run("chuck", "gauge", "CH-02", "--pressure", "300", "--force", "46", code=2)
    assert "the plate of CH-02 promises" in run(
        "chuck", "gauge", "CH-02", "--pressure", "300", "--force", "4600 kN", code=2
    )
    impossible = ("--pressure", "30", "--force", "46 kN")  # 300 was meant
    assert "at 30 psi, where the plates" in run("chuck", "gauge", "CH-02", *impossible, code=2)
    too_high = ("--pressure", "3000 psi", "--force", "46 kN")
    assert "--pressure: found" in run("chuck", "gauge", "CH-02", *too_high, code=2)
    assert "300 psi" in run("chuck", "gauge", "CH-02", "--pressure", "300", "--force", "46 kN")


def test_a_set_that_was_cut_is_not_cut_anew(shop):
    run("shelf", "cut", SHAFT)
    assert "cannot be cut as planned" in run("shelf", "cut", SHAFT, code=2)
    assert "this set was cut before" in run("bore", SHAFT, code=1)
    assert "has jaws 1 to 3" in run("shelf", "in", "J-031", "--missing", "7", code=2)


def test_a_set_nobody_knows_is_named(shop):
    run("shelf", "add", "S-9", "--style", "pie", "--material", "aluminium 6061-T6", "--place", "rack 1")
    assert "there are: S-9" in run("shelf", "out", "S-8", code=2)


def test_a_set_that_no_setup_could_ask_for_is_refused(shop):
    for more, said in (
        (("--material", "wood"), "'wood' is not known"),
        (("--material", "1045", "--serration", "2 mm"), 'teeth "2 mm" are not known'),
    ):
        assert said in run("shelf", "add", "S-9", "--style", "pie", *more, code=2)
    run("shelf", "add", "S-9", "--style", "pie", "--material", "1045", "--serration", "tongue and groove")
    assert "C45 steel, normalised" in run("shelf", "list")


def test_the_chuck_s_log_reaches_the_plan(shop):
    run("chuck", "add", CHUCK, "--machine", "lathe 1", "--grease-days", "14")
    before = json.loads(CliRunner().invoke(app, ["plan", str(SHAFT), "--json"]).stdout)
    for pressure, force in (("200 psi", "20 kN"), ("300 psi", "31 kN"), ("400 psi", "42 kN")):
        log = run("chuck", "gauge", "CH-02", "--pressure", pressure, "--force", force)
    assert "from 3 read" in log
    run("chuck", "grease", "CH-02", "--what", "the white one")
    after = CliRunner().invoke(app, ["plan", str(SHAFT), "--json"])
    assert "3 grip readings of CH-02 from the records" in " ".join(after.stderr.split())
    assert json.loads(after.stdout)["pressure"]["floor"] > before["pressure"]["floor"]
    assert "CH-02" in run("chuck", "list")
    run("chuck", "gauge", "CH-02", "--pressure", "300 psi", "--force", "85 kN")
    log = run("chuck", "log", "CH-02")
    assert "does not fit" in log
    assert IN_SHORT in " ".join(log.split())
    run("chuck", "withdraw", "CH-02", "9", "--why", "no such entry", code=2)
    assert "does not fit" not in run("chuck", "withdraw", "CH-02", "4", "--why", "wrong scale of the gauge")
    for pressure, force in (("200 psi", "-20 kN"), ("200 kg", "20 kN")):
        run("chuck", "gauge", "CH-02", "--pressure", pressure, "--force", force, code=2)


def test_what_the_shop_owns_is_kept_and_a_blank_is_offered_where_no_set_will_do(shop):
    examples = ROOT / "examples"
    blank = (examples / "jaws" / "standard-200-steel.toml", "--id", "B-200", "--in-stock")
    run(
        "stock",
        "blank",
        examples / "jaws" / "standard-200-steel.toml",
        "--id",
        "B-200",
        "--in-stock",
        "3",
        "--place",
        "rack 4",
    )
    assert "take blank B-200 (3 there, rack 4)" in run("shelf", "find", SHAFT)
    run("stock", "blank", *blank, "0")
    assert "none is there" in run("shelf", "find", SHAFT)
    run("stock", "rings", examples / "rings" / "shop.toml")
    run("stock", "tool", examples / "tools" / "boring-bar-16.toml")
    run("stock", "machine", "lathe 7", "--max-speed", "4000", "--max-swing", "350 mm")
    listed = run("stock", "list")
    for words in ("B-200", "R1 Ø40", "boring bar 16", "nose radius 0.4 mm", "lathe 7 to 4000 rev/min"):
        assert words in listed
    run("stock", "tool", examples / "rings" / "shop.toml", code=2)


def test_a_new_revision_names_the_setups_that_have_the_old_one(shop):
    run("run", "enter", SHAFT)
    assert "setup winch-shaft still has revision C" in run(
        "stock", "revision", "WS-045", "D", "--changes", "thread longer"
    )
    run("stock", "revision", "NO-1", "A", code=2)


def test_a_run_says_what_changed(shop, tmp_path):
    run("run", "enter", SHAFT, "--why", "first time")
    assert "unchanged" in run("run", "enter", SHAFT)
    run("run", "add", SHAFT, "--pressure", "395 psi", "--quantity", "12", "--reading", "runout_mm=0,012")
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    changed = tmp_path / "examples" / "winch-shaft.toml"
    changed.write_text(SHAFT.read_text().replace("depth = 2.5", "depth = 2.0", 1))
    sheet = tmp_path / "sheet.pdf"
    run("plan", changed, "--sheet", sheet)
    printed = " ".join(PdfReader(sheet).pages[0].extract_text().split())
    assert "changed since the last run" in printed
    added = run("run", "add", changed, "--quantity", "3")
    assert "rough drum seat, depth: 2.5 → 2" in added
    assert "12 good, 0 scrap" in run("run", "show", changed)
    assert "3 good, 0 scrap" in run("run", "list")
    assert "expected a name with its unit" in run("run", "add", SHAFT, "--reading", "runout", code=2)


@pytest.mark.parametrize("size", ["50x25", "25x25", "40x30", "50x50"])
def test_a_tag_for_the_set_and_each_jaw(shop, size):
    run("shelf", "cut", SHAFT)
    run("tag", "print", "J-031", "--pdf", shop / "tag.pdf", "--size", size)
    pages = PdfReader(shop / "tag.pdf").pages
    assert len(pages) == 4
    width, height = (float(one) for one in size.split("x"))
    for number, page in enumerate(pages):
        assert float(page.mediabox.width) / 72 * 25.4 == pytest.approx(width, abs=0.1)
        assert float(page.mediabox.height) / 72 * 25.4 == pytest.approx(height, abs=0.1)
        text = page.extract_text()
        assert "J-031" in text
        assert number == 0 or str(number) in text
    text = " ".join(pages[1].extract_text().split())
    assert IN_SHORT in text
    if size in ("50x25", "50x50"):
        for words in (
            "Ø59.985 mm",
            "pressure: see the plan",
            "speed: see the plan",
            "WS-045 rev C",
            "cut 20",
            "run-out ____",
            "place ____",
        ):
            assert words in text, words


def test_a_cut_is_counted_with_those_before_the_records(shop, tmp_path):
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    jaws = tmp_path / "examples" / "jaws" / "standard-200-steel.toml"
    jaws.write_text(jaws.read_text().replace("cuts_done = 0", "cuts_done = 2", 1))
    setup = tmp_path / "examples" / "winch-shaft.toml"
    assert "no such cut is recorded" in run("shelf", "cut", setup, code=2)  # nobody says where the last one was
    setup.write_text(
        setup.read_text()
        + """
[jaws.last_cut]
diameter = 59.0
depth = 43.0
tooth = 14
chuck = "CH-02"
machine = "lathe 1"
steps = []
"""
    )
    told = run("shelf", "cut", setup, "--measured", "Ø59")
    assert "cut 3 recorded" in told
    assert "1 of its cuts are in the records" in told


def test_a_size_no_label_has_is_refused(shop):
    run("shelf", "cut", SHAFT)
    assert "a label is 20 to 120 mm" in run("tag", "print", "J-031", "--pdf", shop / "t.pdf", "--size", "5x5", code=2)
    assert "width x height" in run("tag", "print", "J-031", "--pdf", shop / "t.pdf", "--size", "wide", code=2)


def test_blank_tags_are_linked_later_and_only_once(shop):
    run("shelf", "cut", SHAFT)
    run("shelf", "add", "S-9", "--style", "pie", "--material", "aluminium 6061-T6")
    assert "T-00001 to T-00003" in run("tag", "blank", "--pdf", shop / "b.pdf", "--count", "3")
    assert "T-00004 to T-00005" in run("tag", "blank", "--pdf", shop / "b.pdf", "--count", "2")
    assert "T-00002 is on J-031" in run("tag", "link", "T-00002", "J-031")
    assert "on set J-031 already" in run("tag", "link", "T-00002", "S-9", code=2)


def test_the_records_come_back_from_a_copy_and_from_an_export(shop, monkeypatch):
    run("shelf", "cut", SHAFT)
    copy = run("backup", shop / "copies").split("copied to ")[1]
    run("export", shop / "plain")
    run("shelf", "retire", "J-031", "--yes")
    assert "sound" in run("check")
    assert "restored to" in run("restore", copy, "--yes")
    assert "J-031" in run("shelf", "list")
    assert "rows copied" in run("copy", shop / "second")
    monkeypatch.setenv("HELDTRUE_RECORDS", str(shop / "third"))
    assert "rows imported" in run("import", shop / "plain")
    assert "J-031" in run("shelf", "list")
    assert "sound" in run("check")


def test_restore_asks(shop):
    run("shelf", "cut", SHAFT)
    copy = run("backup", shop / "copies").split("copied to ")[1]
    result = CliRunner().invoke(app, ["restore", copy], input="n\n")
    assert result.exit_code == 2
    assert "nothing changed" in result.output


def test_a_move_says_the_pressure_on_the_other_gauge(shop):
    moved = run("move", SHAFT, "--chuck", ROOT / "examples" / "chucks" / "250-wedge.toml", code=1)
    assert "the same draw force there" in moved
    assert "piston area" in moved
    assert "bar" in moved


def test_completion_is_offered():
    assert "--install-completion" in run("--help")
