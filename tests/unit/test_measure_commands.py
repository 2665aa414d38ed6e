"""Gauge ring and friction from the command line: from the drawing of a ring to a plan that rests on what was read."""

import json
import shutil
import tomllib
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from conftest import ROOT, example
from pypdf import PdfReader
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.errors import InputError
from heldtrue.inspection.ring_file import gauge_ring, ring_from, ring_rounds, rounds_from
from heldtrue.inspection.ring_reading import read_ring
from heldtrue.mechanics.materials import friction_range, work_material
from heldtrue.planning.setup import Setup
from heldtrue.records import ChuckRecord, FrictionReading, GaugeReading, open_store
from heldtrue.shop.basis import basis_of
from heldtrue.shop.chuck_log import chuck_state
from heldtrue.shop.friction_log import pairing, with_friction
from heldtrue.shop.gauge_rings import CAUTIONS, rows_of, trial_for

CHUCK = ROOT / "examples" / "chucks" / "250-wedge.toml"
RING = ROOT / "examples" / "gauge-ring" / "ring-250.toml"
READINGS = ROOT / "examples" / "gauge-ring" / "readings.toml"
FLANGE = ROOT / "examples" / "gland-flange.toml"
TORQUES = ("--torque", "60 N m", "--torque", "65 N m", "--torque", "58 N m", "--wet")


@pytest.fixture
def shop(tmp_path, monkeypatch):
    monkeypatch.setenv("HELDTRUE_RECORDS", str(tmp_path / "records"))
    monkeypatch.setenv("HELDTRUE_BY", "Noor")
    return tmp_path


@pytest.fixture
def store(shop):
    run("chuck", "add", CHUCK)
    with open_store(shop / "records") as there:
        yield there


def run(*arguments, code=0):
    result = CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)
    assert result.exit_code == code, result.output
    return " ".join(result.output.split())


def as_json(*arguments, code=0):
    result = CliRunner().invoke(app, [*(str(a) for a in arguments), "--json"], catch_exceptions=False)
    assert result.exit_code == code, result.output
    return json.loads(result.stdout)


# rings


def test_a_ring_from_a_chuck_file_with_its_papers(shop):
    said = run("ring", "design", CHUCK, "--number", "GR-01", "--out", shop / "ring")
    assert "engrave: at most 30.0 bar" in said
    assert all(words in said for words in CAUTIONS)
    assert {one.name for one in (shop / "ring").iterdir()} == {
        "gauge-ring.toml", "gauge-ring.pdf", "gauge-ring.dxf", "readings.toml",
    }  # fmt: skip
    made = as_json("ring", "design", CHUCK, "--number", "GR-01")
    gauge, entry = ring_from(tomllib.loads((shop / "ring" / "gauge-ring.toml").read_text()), "x")
    assert (2 * gauge.ring.outer, 2 * gauge.ring.inner, gauge.ring.width) == pytest.approx(
        (made["outer"], made["inner"], made["width"])
    )
    assert entry.most_grip == pytest.approx(made["most_grip"])
    assert entry.most_pressure == pytest.approx(made["most_pressure"])
    words = " ".join(page.extract_text() for page in PdfReader(shop / "ring" / "gauge-ring.pdf").pages)
    assert all(" ".join(caution.split()[:4]) in " ".join(words.split()) for caution in CAUTIONS)
    assert rounds_from(tomllib.loads((shop / "ring" / "readings.toml").read_text()), "x").division == 0.001


def test_a_ring_for_less_pressure_and_by_diameter(store):
    full = as_json("ring", "design", "CH-04")
    less = as_json("ring", "design", "CH-04", "--most-pressure", "10 bar", "--diameter", "Ø120", "--units", "metric")
    assert less["most_grip"] < 0.4 * full["most_grip"]
    assert less["outer"] == 120
    assert run("ring", "design", "CH-04", "--most-pressure", "40 bar", code=2).startswith("the plates of")


def test_readings_become_rows_of_the_log_that_plans_rest_on(store):
    read = as_json("ring", "read", "CH-04", "--ring", RING, "--readings", READINGS, "--enter")
    rows = store.events(GaugeReading)
    assert [row.id for row in rows] == read["entered"]
    assert [row.error for row in rows] == pytest.approx([one["error"] for one in read["clamped"]])
    assert rows[0].device == "gauge ring GR-01"
    # The readings were drawn with 30 kN a MPa over 0.08 MPa.
    assert read["slope"]["low"] < 30_000 < read["slope"]["high"]
    assert read["threshold"]["low"] < 0.08 < read["threshold"]["high"]
    for one in read["clamped"]:
        assert one["grip"]["low"] < 30_000 * (one["pressure"] - 0.08) < one["grip"]["high"]
    assert "plans take" in run("chuck", "log", "CH-04")
    planned = CliRunner().invoke(app, ["plan", str(FLANGE)])
    assert "3 grip readings of CH-04 from the records" in " ".join(planned.output.split())


def test_the_same_readings_are_not_entered_twice(store):
    words = ("ring", "read", "CH-04", "--ring", RING, "--readings", READINGS, "--enter")
    slips = ("friction", "read", FLANGE, "--pressure", "6 bar", *TORQUES, "--enter")
    run(*words)
    assert "nothing was entered twice" in run(*words, code=2)
    assert len(store.events(GaugeReading)) == 3
    run(*slips)
    before = store.events(FrictionReading)
    assert "nothing was entered twice" in run(*slips, code=2)
    assert store.events(FrictionReading) == before
    run(*slips, "--dry")
    assert len(store.events(FrictionReading)) == len(before) + 1, "another trial with the same slips is another"


def test_what_is_read_too_coarsely_is_no_entry_of_the_log(store):
    """The log takes no error over 60 %: such a round would stand there as better than it is."""
    gauge, made = gauge_ring(RING)
    answer, card = read_ring(gauge, ring_rounds(READINGS)), store.get(ChuckRecord, "CH-04")
    first, *rest = answer.clamped
    assert len(rows_of(replace(answer, clamped=(replace(first, error=0.6), *rest)), made, card, NOW, "Noor")) == 3
    with pytest.raises(InputError, match="too coarse for the log"):
        rows_of(replace(answer, clamped=(replace(first, error=0.61), *rest)), made, card, NOW, "Noor")


def test_the_gauge_of_the_chuck_speaks(shop):
    file = shop / "psi.toml"
    file.write_text(CHUCK.read_text().replace('gauge = "bar"', 'gauge = "psi"'))
    assert "allow 435 psi" in run("ring", "design", file, "--most-pressure", "600 psi", code=2)


def test_a_coarser_gauge_leaves_more_open(store):
    run("ring", "read", "CH-04", "--ring", RING, "--readings", READINGS, "--enter")
    rows = store.events(GaugeReading)
    card = store.get(ChuckRecord, "CH-04")
    fine = chuck_state(store, card, rows[-1].at).estimate
    store.write(*(replace(row, id=f"x{i}", corrects=row.id, error=0.3) for i, row in enumerate(rows)), by="Noor")
    coarse = chuck_state(store, card, rows[-1].at).estimate
    assert coarse.share[0] < fine.share[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('jaws = 3', 'jaws = 6'), "for 6 jaws"),
        (('most_pressure = "30 bar"', 'most_pressure = "15 bar"'), "check it for a set"),
        (('inner = 115.4', 'inner = 152.4'), "no wall"),
        (('pad = 8', ''), "pads need their width"),
        (('units = "metric"', ''), "units is missing"),
        (('most_grip = "111 kN"', 'most_grip = "-1 kN"'), "most_grip is above 0"),
        (('jaws = 3', 'jaws = 3\ncolour = "red"'), "colour"),
    ],
)  # fmt: skip
def test_a_ring_that_does_not_fit_is_refused(shop, change, words):
    file = shop / "ring.toml"
    file.write_text(RING.read_text().replace(*change))
    assert words in run("ring", "read", CHUCK, "--ring", file, "--readings", READINGS, code=2)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("places=12", "places=11"), "12 readings"),
        (("places=12", ""), "either places"),
        (("places=12", "places=12\nangles = [0, 30]"), "either places"),
        (("division=0.001", "division=0"), "division"),
        (("[[round]]", "[[rounds]]"), "round"),
        (('pressure="8 bar"', 'pressure="8 mm"'), "pressure"),
    ],
)
def test_readings_that_are_none_are_refused(shop, change, words):
    text = READINGS.read_text()
    assert change[0] in text
    file = shop / "readings.toml"
    file.write_text(text.replace(*change))
    assert words in run("ring", "read", CHUCK, "--ring", RING, "--readings", file, code=2)


def test_nothing_is_entered_without_the_chuck_or_a_name(store, monkeypatch):
    read = ("ring", "read", "--ring", RING, "--readings", READINGS, "--enter")
    assert "--enter needs the chuck in the records" in run(*read, CHUCK, code=2)
    monkeypatch.delenv("HELDTRUE_BY")
    run(*read, "CH-04", code=2)
    assert store.events(GaugeReading) == ()


# friction


def test_friction_goes_from_slips_into_the_plans_of_that_pairing(store):
    before = run("plan", FLANGE)
    found = as_json("friction", "read", FLANGE, "--pressure", "6 bar", *TORQUES, "--enter")
    (row,) = store.events(FrictionReading)
    assert row.id == found["entered"]
    assert (row.low, row.high) == pytest.approx((found["friction"]["low"], found["friction"]["high"]), rel=1e-9)
    after = run("plan", FLANGE)
    assert "from 1 trial of this pairing" in after
    assert "from 1 trial" not in before
    wear = CliRunner().invoke(app, ["plan", str(ROOT / "examples" / "wear-ring.toml")])
    assert "trial of this pairing" not in wear.output


def test_slips_of_nothing_are_refused(store):
    tried = ("friction", "read", FLANGE, "--pressure")
    assert "give --torque or --pull" in run(*tried, "6 bar", "--wet", code=2)
    assert "say --wet or --dry" in run(*tried, "6 bar", *TORQUES[:6], "--enter", code=2)
    assert store.events(FrictionReading) == ()
    assert "made nothing slip" in run(*tried, "6 bar", *TORQUES[:4], "--torque", "80 N m held", "--wet", code=2)
    assert "so little pressure" in run(*tried, "0.5 bar", *TORQUES, code=2)
    huge = ("--torque", "600 ft lbf", "--torque", "650 ft lbf", "--torque", "580 ft lbf")
    assert "friction would be" in run(*tried, "6 bar", *huge, "--wet", code=2)


def test_a_page_to_try_friction_with(store, shop):
    run("friction", "sheet", FLANGE, "--out", shop / "friction.pdf")
    words = " ".join(" ".join(page.extract_text() for page in PdfReader(shop / "friction.pdf").pages).split())
    made = trial_for(Setup.from_toml(FLANGE))
    assert "clamp with 3.0 bar" in words
    assert "GF-062" in words
    assert all(" ".join(caution.split()[:4]) in words for caution in CAUTIONS)
    # 2 T / (G d), both ends: friction and grip at their low ends, and at their high ends.
    assert made.torque == pytest.approx(
        [mu * g * 90.0 / 2 for mu, g in zip(made.friction, made.grip[::2], strict=True)]
    )
    assert made.pull == pytest.approx([mu * g for mu, g in zip(made.friction, made.grip[::2], strict=True)])


def trial(setup, at, *, low=0.1, likely=0.13, high=0.16, oiled=True, **more):
    of = pairing(setup)
    return FrictionReading(at=at, by="Noor", material=of.material, surface=of.surface, jaw_material=of.jaw_material,
                           face=of.face, oiled=oiled, low=low, likely=likely, high=high, slips=4, **more)  # fmt: skip


def bare(**changes):
    """The wear ring with nothing stated of friction."""
    table = example("wear-ring").with_(changes).to_dict() if changes else example("wear-ring").to_dict()
    table["jaws"].pop("friction", None)
    table["jaws"].pop("friction_range", None)
    return Setup.from_dict(table)


NOW = datetime.now().astimezone()


def test_a_trial_narrows_what_the_table_leaves_open(store):
    setup = bare()
    store.write(trial(setup, NOW - timedelta(days=3)), by="Noor")
    known, words = with_friction(setup, store, NOW)
    assert known.jaws.friction_range == pytest.approx((0.1, 0.16), abs=0.07)
    assert len(words) == 1
    assert basis_of(setup, store, NOW).chuck_log != ()


def test_no_trial_promises_more_than_the_tables_best(store):
    setup = bare()
    store.write(trial(setup, NOW, low=0.5, likely=0.6, high=0.7), by="Noor")
    best = friction_range(work_material(setup.part.material).group, "smooth", pairing(setup).surface).most
    assert with_friction(setup, store, NOW)[0].jaws.friction_range[0] <= best


def test_every_trial_counts_at_its_low_end(store):
    setup = bare()
    store.write(trial(setup, NOW - timedelta(days=9)), trial(setup, NOW, low=0.08, likely=0.1, high=0.12), by="Noor")
    assert with_friction(setup, store, NOW)[0].jaws.friction_range[0] == pytest.approx(0.08)


@pytest.mark.parametrize(("row", "words"), [({"oiled": False}, "tried dry"), ({"days": 500}, "over 365 days old")])
def test_a_dry_or_an_old_trial_only_makes_a_plan_more_careful(store, row, words):
    setup = bare()
    at = NOW - timedelta(days=row.pop("days", 1))
    store.write(trial(setup, at, low=0.3, likely=0.33, high=0.4, **row), by="Noor")
    known, said = with_friction(setup, store, NOW)
    assert known == setup
    assert words in said[0]
    store.write(trial(setup, at, low=0.02, likely=0.04, high=0.05, **row), by="Noor")
    assert with_friction(setup, store, NOW)[0].jaws.friction_range[0] == pytest.approx(0.02)


def test_a_stated_friction_is_only_ever_lowered(store):
    setup = example("wear-ring").with_({"jaws.friction": 0.12})
    store.write(trial(setup, NOW, low=0.14, likely=0.15, high=0.16), by="Noor")
    assert with_friction(setup, store, NOW) == (setup, ())
    store.write(trial(setup, NOW, low=0.05, likely=0.06, high=0.07), by="Noor")
    assert with_friction(setup, store, NOW)[0].jaws.friction_range[0] == pytest.approx(0.05)


def test_another_pairing_is_left_alone(store):
    setup = bare()
    for key in ("material", "surface", "jaw_material", "face"):
        store.write(replace(trial(setup, NOW), **{key: "something else"}), by="Noor")
    assert with_friction(setup, store, NOW) == (setup, ())


def test_a_clone_of_the_example_reads_the_same(shop):
    shutil.copy(RING, shop / "ring.toml")
    first = as_json("ring", "read", CHUCK, "--ring", RING, "--readings", READINGS)
    again = as_json("ring", "read", CHUCK, "--ring", shop / "ring.toml", "--readings", READINGS)
    assert first == again
