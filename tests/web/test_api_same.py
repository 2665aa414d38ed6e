"""Each operation of the API gives the document that the command line prints with ``--json`` for the same input."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from conftest import ROOT
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.planning.toml_file import read_toml
from heldtrue.records import FrictionReading, Greasing, ReplanSeen
from heldtrue.shop.enter import setup_named
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES
from web.test_api import ask, problems  # noqa: F401  a fixture

READINGS = ROOT / "examples" / "readings"
SHAFT, RING, FLANGE = (EXAMPLES / f"{name}.toml" for name in ("winch-shaft", "wear-ring", "gland-flange"))


MOMENTS = ("id", "at", "last_cut", "last_cut_at")


def table(path):
    return open_example(EXAMPLES, path.stem)


@pytest.fixture
def printed(desk, monkeypatch):
    """The document a command prints, of the same records."""
    monkeypatch.setenv("HELDTRUE_RECORDS", desk.records)
    monkeypatch.setenv("HELDTRUE_BY", "Noor")

    def run(*words, code=(0, 1), document=True):
        result = CliRunner().invoke(app, [*map(str, words), *(["--json"] if document else [])], catch_exceptions=False)
        assert result.exit_code in code, result.output
        return json.loads(result.stdout) if document else result.stdout

    return run


@pytest.fixture
def got(ask):  # noqa: F811
    """The document of an operation."""

    def asking(path, body=None, **more):
        answer = ask(path, body, "GET" if body is None else "POST", **more)
        assert answer.status_code == 200, answer.text
        return answer.json()

    return asking


def told(document):
    """The same without what differs from call to call: ids, moments."""
    if isinstance(document, dict):
        return {key: told(value) for key, value in document.items() if key not in MOMENTS}
    return [told(one) for one in document] if isinstance(document, list) else document


# Setups


def test_plan_compare_bore(got, printed, only_styles):
    for setup in (RING, SHAFT):
        assert got("/plan", table(setup)) == printed("plan", setup)
    only_styles("pie", jaws=(3,))
    assert got("/compare", table(RING)) == printed("compare", RING)
    assert got("/bore", table(RING)) == printed("bore", RING)


def test_ways(got, printed, only_styles):
    only_styles("pie", jaws=(3,))
    found = got("/ways", {"setup": table(SHAFT), "most": 1})
    shown = printed("ways", SHAFT, "--most", 1)
    assert {**found, "seconds": 0} == {**shown, "seconds": 0}
    assert found["ways"]
    assert found["dropped"]


def test_measure_and_assumptions(got, printed):
    for setup in (EXAMPLES / "valve-stem.toml",):
        found = got("/measure", table(setup))
        assert found == printed("measure", setup)
        assert found["measurements"]
        assert got("/assumptions", table(setup)) == printed("assumptions", setup)


def test_contact(got, printed):
    whole = printed("contact", SHAFT)
    assert got("/contact", {"setup": table(SHAFT)}) == whole
    lower = got("/contact", {"setup": table(SHAFT), "pressure": "330 psi"})
    assert lower == printed("contact", SHAFT, "--pressure", "330 psi")
    assert lower != whole


def test_recut(got, printed):
    setup = EXAMPLES / "gland-flange-repeat.toml"
    assert got("/recut", {"setup": table(setup)}) == printed("recut", setup)
    touched = got("/recut", {"setup": table(setup), "measured": "Ø97.55", "runout": "0.03 mm"})
    assert touched == printed("recut", setup, "--measured", "Ø97.55", "--runout", "0.03 mm")


def test_a_run_out_nobody_read_counts_at_its_worst_for_the_api_too(got):
    setup = table(SHAFT)
    setup["jaws"] |= {"last_cut": {"diameter": 59.985, "tooth": 14, "chuck": "CH-02", "machine": "lathe 1",
                                   "steps": []},
                      "tooth": 14, "in_order": True}  # fmt: skip
    unread = got("/recut", {"setup": setup, "measured": "59.5 mm"})
    assert unread["needed"]
    assert "a refit may not repeat to that" in unread["differs"][0]
    assert not got("/recut", {"setup": setup, "measured": "59.5 mm", "runout": "0 mm"})["needed"]


def test_what_the_records_know_counts_as_it_does_for_the_command(got, printed):
    alone = got("/plan", table(RING))
    number = table(RING)["chuck"]["number"]
    number = number["value"] if isinstance(number, dict) else number
    printed("run", "enter", RING, document=False)
    printed("chuck", "gauge", number, "--pressure", "20 bar", "--force", "30 kN", document=False)
    after = got("/plan", table(RING))
    assert after == printed("plan", RING)
    assert after["pressure"] != alone["pressure"]


def test_replan(got, desk, printed, ask):  # noqa: F811
    """A chuck that was greased too long ago, seen by the app, by the command, and by whoever looks at it then."""
    printed("run", "enter", SHAFT, document=False)
    first = got("/replan", {"chuck": "CH-02"})
    assert (first["looked_at"], first["first"], first["planned"], first["left"]) == (1, 1, 1, 0)
    desk.store.write(Greasing(at=datetime.now(UTC) - timedelta(days=30), by="Noor", chuck="CH-02"), by="Noor")
    assert got("/replan/standing")["left"] == 1
    found = got("/replan", {})
    assert [(one["setup"], one["was"], one["now"]) for one in found["turned"]] == [
        ("winch-shaft", "passes", "not proven")
    ]
    assert (found["stopped"], found["left"]) == (1, 0)
    again = printed("replan", "--workers", "1")
    assert again | {"seconds": 0, "planned": 1} == found | {"seconds": 0}
    assert got("/replan/standing") | {"seconds": 0, "planned": 1} == found | {"seconds": 0}
    assert got("/replan", {"material": "CuSn12"})["looked_at"] == 0
    assert "there is CH-02" in problems(ask("/replan", {"chuck": "ch-2"}), 422)[0]
    assert problems(ask("/replan/seen", {"id": "winch-shaft"}), 422)
    assert got("/replan/seen", {"id": "winch-shaft", "by": "Noor", "remark": "greased today"})["turned"] == []
    (row,) = desk.store.events(ReplanSeen)
    assert (row.setup, row.by, row.remark) == ("winch-shaft", "Noor", "greased today")


def test_move(got, printed):
    there = EXAMPLES / "chucks" / "250-wedge.toml"
    said = printed("move", SHAFT, "--chuck", there, "--machine", "L-9", "--max-speed", "3500")
    body = {"setup": table(SHAFT), "chuck": read_toml(there), "machine": "L-9", "max_speed": 3500}
    assert got("/move", body) == said
    printed("chuck", "add", there, "--id", "250-x", document=False)
    assert got("/move", {**body, "chuck": "250-x"}) == printed(
        "move", SHAFT, "--chuck", "250-x", "--machine", "L-9", "--max-speed", "3500"
    )


def test_materials(got, printed):
    assert got("/materials") == printed("materials")


# Readings


def test_indicator(got, printed):
    text = (READINGS / "winch-shaft-turned.csv").read_text()
    alone = got("/indicator", {"readings": text, "jaws": 3, "tolerance": "0.02 mm", "resolution": "0.001 mm"})
    assert alone == printed("indicator", READINGS / "winch-shaft-turned.csv", "--jaws", "3", "--tolerance", "0.02 mm",
                            "--resolution", "0.001 mm")  # fmt: skip
    typed = "0:5 60:7 120:4 180:-2 240:0 300:3"
    assert got("/indicator", {"typed": typed, "unit": "um", "side": "inside", "grip": "inside"}) == printed(
        "indicator", "--typed", typed, "--unit", "um", "--side", "inside", "--grip", "inside")  # fmt: skip
    assert got("/indicator", {"typed": typed, "units": "inch"}) == printed(
        "indicator", "--typed", typed, "--units", "inch")  # fmt: skip


def test_indicator_beside_the_plan(got, printed):
    csv = READINGS / "wear-ring-free.csv"
    beside = got("/indicator", {"readings": csv.read_text(), "setup": table(RING), "surface": "seal land"})
    assert beside == printed("indicator", csv, "--setup", RING, "--surface", "seal land")
    assert beside["against_plan"]


@pytest.mark.parametrize(
    ("seen", "words"),
    [
        ({"touch": "base", "gap": "0.10 mm"}, ("--gap", "0.10 mm at tip")),
        ({"touch": "tip", "gap": "0.05 mm", "taper": "0.02 mm"}, ("--gap", "0.05 mm at base", "--taper", "0.02 mm")),
        (
            {"parts": "50.022 50.001 25 bar\n50.022 50.001 25 bar clamped", "surface": "drum seat", "over": "40 mm"},
            ("--part", "50.022 50.001 25 bar", "--part", "50.022 50.001 25 bar clamped", "--surface", "drum seat",
             "--over", "40 mm"),
        ),
        ({"touch": "base", "length": "8 mm", "pressure": "330 psi"},
         ("--touch", "base", "--length", "8 mm", "--pressure", "330 psi")),
        ({"touch": "all"}, ("--touch", "all")),
    ],
)  # fmt: skip
def test_taper(got, printed, seen, words):
    assert got("/taper", {"setup": table(SHAFT), **seen}) == printed("taper", SHAFT, *words)


def test_drift(got, printed):
    csv = READINGS / "gland-flange-bores.csv"
    limits = [{"name": "bore_mm", "low": "61.99", "high": "62.02"}, {"name": "runout_um", "high": "20"}]
    said = printed("drift", csv, "--limits", "bore_mm=61.99..62.02", "--limits", "runout_um=..20")
    assert got("/drift", {"measurements": csv.read_text(), "limits": limits}) == said
    assert got("/drift", {"measurements": csv.read_text()}) == printed("drift", csv)


def test_learn(got, printed):
    printed("run", "enter", SHAFT, document=False)
    kept = got("/learn", {"id": "winch-shaft", "touch": "base", "gap": "0.05 mm", "by": "Noor", "remark": "hot"})
    assert kept["stored"]
    known = got("/learned", table(SHAFT))
    assert known == printed("learn", SHAFT)
    again = got("/learn", {"id": "winch-shaft", "force": "60 kN", "pressure": "330 psi", "by": "Noor",
                           "readings": (READINGS / "winch-shaft.csv").read_text(), "surface": "drum seat"})  # fmt: skip
    assert len(again["stored"]) == 2
    for rounds in ("5 6 5 8; 1 1 2 0; -3 -4 -3 -1; 8 8 10 7", "4 6 5 7; 1 3 2 0; -3 -5 -3 -1; 8 8 9 6"):
        study = {"again": rounds, "unit": "um", "dial": "D-7"}
        kept = got("/learn", {"id": "winch-shaft", "by": "Noor", **study})["stored"]
        assert kept[0].startswith("accepted for dial D-7")
    assert got("/learned", table(SHAFT)) == printed("learn", SHAFT)
    csv = READINGS / "winch-shaft.csv"
    asked = {"readings": csv.read_text(), "setup": table(SHAFT), "surface": "drum seat", "dial": "D-7"}
    said = got("/indicator", asked)
    assert said == printed("indicator", csv, "--setup", SHAFT, "--surface", "drum seat", "--dial", "D-7")
    assert any("repeatability of dial D-7" in words for words in said["words"])
    taper = {"parts": "50.022 50.001 25 bar", "surface": "drum seat", "dial": "D-7"}
    assert got("/taper", {"setup": table(SHAFT), **taper}) == printed(
        "taper", SHAFT, "--part", "50.022 50.001 25 bar", "--surface", "drum seat", "--dial", "D-7")  # fmt: skip


# Gauge ring and friction


def test_ring(got, printed, ask):  # noqa: F811
    folder, plate = ROOT / "examples" / "gauge-ring", EXAMPLES / "chucks" / "250-wedge.toml"
    ring, readings = (folder / name for name in ("ring-250.toml", "readings.toml"))
    body = {"chuck": read_toml(plate), "number": "GR-01", "most_pressure": "10"}
    said = printed("ring", "design", plate, "--number", "GR-01", "--most-pressure", "10")
    assert got("/ring/design", body) == said
    assert "narrower" in problems(ask("/ring/design", {**body, "widest": "5 mm"}), 422)[0]
    assert "the plates of" in problems(ask("/ring/design", {**body, "most_pressure": "40"}), 422)[0]
    printed("chuck", "add", plate, document=False)
    asked = {"chuck": "CH-04", "ring": read_toml(ring), "readings": read_toml(readings)}
    words = ("ring", "read", "CH-04", "--ring", ring, "--readings", readings)
    assert got("/ring/read", asked) == printed(*words)
    assert "no chuck" in problems(ask("/ring/read", {**asked, "chuck": "CH-05"}), 422)[0]
    six = {**asked, "ring": {**asked["ring"], "jaws": 6}}
    for path in ("/ring/read", "/ring/enter"):
        assert "for 6 jaws" in problems(ask(path, {**six, **({"by": "Noor"} if "enter" in path else {})}), 422)[0]
    kept = got("/ring/enter", {**asked, "by": "Noor"})
    assert len(kept["entered"]) == 3
    assert {**kept, "entered": []} == printed(*words)
    assert "entered twice" in problems(ask("/ring/enter", {**asked, "by": "Noor"}), 422)[0]
    assert len(got("/chucks/log/CH-04")["readings"]) == 3


def test_friction(got, printed, ask, desk):  # noqa: F811
    body = {"setup": table(FLANGE), "pressure": "6", "torque": ["60 N m", "65 N m", "58 N m"], "dry": False}
    words = ("friction", "read", FLANGE, "--pressure", "6 bar", "--torque", "60 N m", "--torque", "65 N m", "--torque",
             "58 N m", "--wet")  # fmt: skip
    assert got("/friction/read", body) == printed(*words)
    dry = got("/friction/read", {**body, "dry": True, "error": 2.0})
    assert dry == printed(*words, "--dry", "--error", "2")
    pulls = {**body, "torque": None, "pull": ["900 N", "950 N", "1 kN"]}
    assert got("/friction/read", pulls) == printed(
        *words[:5], "--pull", "900 N", "--pull", "950 N", "--pull", "1 kN", "--wet")  # fmt: skip
    for changed, why in (({"torque": None}, "torque or pull"), ({"pull": ["900 N"]}, "torque or pull"),
                         ({"torque": ["60 N m", "> 65 N m", "58 N m"]}, "made nothing slip"),
                         ({"torque": ["60 N m", "65 N m"]}, "2 slips"), ({"pressure": "8 mm"}, "pressure"),
                         ({"pressure": "0.01"}, "so little pressure")):  # fmt: skip
        assert why in problems(ask("/friction/read", {**body, **changed}), 422)[0]
    kept = got("/friction/enter", {**body, "id": "gland-flange", "by": "Noor"})
    assert kept["entered"] == desk.store.events(FrictionReading)[0].id
    assert "entered twice" in problems(ask("/friction/enter", {**body, "id": "gland-flange", "by": "Noor"}), 422)[0]
    assert len(desk.store.events(FrictionReading)) == 1


# The shelf


def test_a_set_from_its_cut_to_its_end(got, printed, desk):
    body = {"id": "winch-shaft", "setup": table(SHAFT), "by": "Noor"}
    cut = got("/shelf/cut", {**body, "remark": "new"})
    (row,) = cut["rows"]
    number = cut["card"]["id"]
    assert row["diameter"] == cut["standing"]["diameter"]
    assert cut == printed("shelf", "show", number)
    out = got("/shelf/out", {"jaw_set": number, "by": "Noor", "holder": "Ilse"})
    assert out["standing"]["holder"] == "Ilse"
    assert out == printed("shelf", "show", number) == got(f"/shelf/show/{number}")
    assert got("/shelf/find", {"setup": table(SHAFT)}) == printed("shelf", "find", SHAFT)
    back = got("/shelf/in", {"jaw_set": number, "by": "Noor", "place": "rack 2", "missing": [2]})
    assert (back["standing"]["place"], back["standing"]["missing"]) == ("rack 2", [2])
    worn = got("/shelf/condition", {"jaw_set": number, "by": "Noor", "state": "skim first", "remark": "worn"})
    assert worn["standing"]["condition"] == "skim first"
    assert [one.get("kind") for one in worn["rows"]] == ["bore", "out", "in", "condition"]
    assert got("/shelf") == printed("shelf", "list")
    assert got("/shelf/search", params={"what": "about 60"}) == printed("shelf", "search", "about 60")
    gone = got("/shelf/retire", {"jaw_set": number, "by": "Noor"})
    assert gone["card"]["retired"] is True
    assert got("/shelf") == []
    assert got("/shelf", params={"retired": "true"}) == printed("shelf", "list", "--retired")


def test_a_cut_is_recorded_as_the_command_does(got, printed, tmp_path, monkeypatch):
    body = {"id": "winch-shaft", "setup": table(SHAFT), "by": "Noor", "remark": "new"}
    ours = got("/shelf/cut", body)
    monkeypatch.setenv("HELDTRUE_RECORDS", str(tmp_path / "others"))
    printed("shelf", "cut", SHAFT, "--remark", "new", document=False)
    theirs = printed("shelf", "show", ours["card"]["id"])
    assert told(ours) | {"card": None} == told(theirs) | {"card": None}


def test_a_new_set_with_a_name_that_looks_like_a_path(got, ask, printed):  # noqa: F811
    body = {"jaw_set": "W 12/b", "style": "pie", "material": "aluminium 6061-T6", "place": "rack 1", "by": "Noor"}
    made = got("/shelf/add", body)
    assert made == got("/shelf/show/W%2012%2Fb") == printed("shelf", "show", "W 12/b")
    assert made["standing"]["place"] == "rack 1"
    assert "W 12/b" in problems(ask("/shelf/add", body), 409)[0]
    got("/shelf/out", {"jaw_set": "W 12/b", "by": "Noor"})
    assert problems(ask("/shelf/out", {"jaw_set": "W 12/b", "by": "Kim"}), 409)


# Chucks, runs, stock


def test_chucks(got, printed):
    file = EXAMPLES / "chucks" / "200-wedge.toml"
    body = {"chuck": "C-1", "plate": read_toml(file), "machine": "L-3", "grease_days": 5, "by": "Noor"}
    got("/chucks/add", body)
    read = got("/chucks/gauge", {"chuck": "C-1", "pressure": "330", "force": "50 kN", "device": "D1", "by": "Noor"})
    (row,) = read["readings"]
    assert row["force"] == 50_000
    assert row["pressure"] == pytest.approx(330 * 0.00689476, rel=1e-4)  # a bare number is in the gauge's own unit, psi
    greased = got("/chucks/grease", {"chuck": "C-1", "what": "paste", "by": "Noor"})
    assert greased["grease_due"] is not None
    assert greased == printed("chuck", "log", "C-1") == got("/chucks/log/C-1")
    assert got("/chucks") == printed("chuck", "list")
    printed("chuck", "add", file, "--id", "C-2", "--machine", "L-3", "--grease-days", "5", document=False)
    assert got("/chucks/log/C-2")["chuck"]["data"] | {"number": 0} == greased["chuck"]["data"] | {"number": 0}


def test_setups_and_runs(got, printed, desk):
    got("/setups/enter", {"id": "wear-ring", "setup": table(RING), "by": "Noor", "why": "first"})
    run = {"id": "wear-ring", "pressure": "18", "speed": 1200.0, "quantity": 40, "scrap": 1, "lot": "L7",
           "readings": {"runout_mm": 0.012}, "remark": "fine", "by": "Noor"}  # fmt: skip
    shown = got("/runs/add", run)
    assert shown == printed("run", "show", "wear-ring") == got("/setups/show/wear-ring")
    (row,) = shown["runs"]
    assert (row["quantity"], row["readings"], row["rough_pressure"]) == (40, {"runout_mm": 0.012}, pytest.approx(1.8))
    assert got("/setups") == printed("run", "list")
    held = got("/setups/file/wear-ring")
    assert held == setup_named(desk.store, "wear-ring")[1].to_dict()
    assert got("/plan", {**held, "boring": {**held["boring"]}})["verdict"] == "passes"


def test_stock(got, printed, tmp_path, monkeypatch):
    jaws, rings, tool = (EXAMPLES / one for one in
                         ("jaws/wide-250-steel.toml", "rings/shop.toml", "tools/boring-bar-16.toml"))  # fmt: skip
    got("/stock/machine", {"id": "L-3", "max_speed": 4000, "max_swing": "350 mm", "by": "Noor"})
    got("/stock/blank", {"id": "B-1", "jaws": read_toml(jaws), "in_stock": 4, "place": "bin 3", "by": "Noor"})
    raw = read_toml(rings)
    got("/stock/rings", {"rings": raw["ring"], "units": raw.get("units", "metric"), "place": "wall", "by": "Noor"})
    (made,) = got("/stock/tool", {"tool": read_toml(tool), "by": "Noor"})
    ours = got("/stock")
    assert ours == printed("stock", "list")
    assert made in ours
    monkeypatch.setenv("HELDTRUE_RECORDS", str(tmp_path / "others"))
    printed("stock", "machine", "L-3", "--max-speed", "4000", "--max-swing", "350 mm", document=False)
    printed("stock", "blank", jaws, "--id", "B-1", "--in-stock", "4", "--place", "bin 3", document=False)
    printed("stock", "rings", rings, "--place", "wall", document=False)
    printed("stock", "tool", tool, document=False)
    assert ours == printed("stock", "list")


def test_a_revision_names_the_setups_that_have_another(got, printed, ask, desk):  # noqa: F811
    got("/setups/enter", {"id": "wear-ring", "setup": table(RING), "by": "Noor"})
    card = setup_named(desk.store, "wear-ring")[0]
    said = got("/stock/revision", {"part": card.part, "revision": "Z", "by": "Noor"})
    assert said["setups_with_another"] == [{"id": "wear-ring", "revision": card.revision}]
    assert "no part" in problems(ask("/stock/revision", {"part": "none", "revision": "Z", "by": "Noor"}), 422)[0]
