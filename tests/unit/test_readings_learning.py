"""What the shop's own readings teach of a chuck: found again, kept whatever happens to the card, used."""

import json
import re

import jsonschema
import numpy as np
import pytest
from conftest import ROOT
from test_readings_commands import READINGS, SHAFT, flat, run
from typer.testing import CliRunner

from heldtrue.cli import app as whole
from heldtrue.errors import InputError
from heldtrue.inspection.learning import Accepted
from heldtrue.inspection.shop_documents import learned_schema
from heldtrue.inspection.taper import Bearing
from heldtrue.planning.fitting import needed_taper
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.records import ChuckRecord, GaugeReading, IndicatorReading, JawSet, open_store
from heldtrue.shop.jaw_base import OnBase, end_gap, print_length
from heldtrue.shop.jaw_lean import base_reading
from heldtrue.shop.learned import BASE_PRIOR, accept, learned_base
from heldtrue.tooling.jaws import BASE

CHUCK = ROOT / "examples" / "chucks" / "200-wedge.toml"
FORCE = 20_000.0


@pytest.fixture(scope="module")
def model():
    return OnBase.of(Study.of(Setup.from_toml(SHAFT)), 2.5)


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """Records with the chuck of the winch shaft and its jaw set in them."""
    monkeypatch.setenv("HELDTRUE_RECORDS", str(tmp_path / "records"))
    monkeypatch.setenv("HELDTRUE_BY", "Noor")
    enter_chuck()
    with open_store(tmp_path / "records") as store:
        store.write(JawSet(id="J-031", style="standard"), by="Noor")
    return tmp_path / "records"


def enter_chuck():
    assert CliRunner().invoke(whole, ["chuck", "add", str(CHUCK), "--id", "CH-02"]).exit_code == 0


# The model on any base


def test_the_usual_base_is_the_plan_s(model):
    assert model.needed(BASE.tilt, FORCE) == pytest.approx(needed_taper(model.part, FORCE), rel=1e-12)
    planned = model.part.contact(model.fit, FORCE)
    assert model.contact(BASE.tilt, model.part.bore.taper, FORCE).gap == pytest.approx(planned.gap, abs=1e-9)


def test_a_softer_base_opens_further(model):
    gaps = [end_gap(model.contact(BASE.tilt / by, 0.0, FORCE), at_tip=True) for by in (3.0, 10.0, 30.0)]
    assert gaps == sorted(gaps)
    assert gaps[-1] > gaps[0] + 0.01
    prints = [print_length(model.contact(BASE.tilt / by, 0.0, FORCE), from_tip=False) for by in (3.0, 10.0, 30.0)]
    assert prints == sorted(prints, reverse=True)


def test_the_needed_taper_closes_the_gap(model):
    taper = model.needed(BASE.tilt / 20, FORCE)
    assert end_gap(model.contact(BASE.tilt / 20, taper, FORCE), at_tip=True) < 0.002 < 0.02 < taper


@pytest.mark.parametrize(("softer", "by"), [(9.0, "print"), (15.0, "gap"), (20.0, "both")])
def test_a_base_is_found_again_from_what_it_shows(model, softer, by):
    contact = model.contact(BASE.tilt / softer, 0.0, FORCE)
    gap = end_gap(contact, at_tip=True) if by != "print" else None
    run = print_length(contact, from_tip=False) if by != "gap" else None
    found = base_reading(model, Bearing("base", gap, run), FORCE, 0.0, "")
    assert abs(np.log(found.value * softer / BASE.tilt)) < 0.5 * found.relative
    # The model's own share is in it, and what a bore may be tapered by without anybody knowing.
    assert 0.3 <= found.relative <= 1.5


def test_an_unknown_taper_of_the_bore_is_not_taken_for_the_base(model):
    """Bored 10 µm off, which nobody knows: nineteen intervals of twenty hold the true base all the same."""
    rng, held = np.random.default_rng(2), []
    while len(held) < 40:
        tilt = BASE.tilt / rng.uniform(6.0, 25.0)
        gap = end_gap(model.contact(tilt, rng.normal(0.0, 0.01), FORCE), at_tip=True)
        leaf = np.floor(gap / 0.01) * 0.01
        if leaf < 0.02:
            continue
        found = base_reading(model, Bearing("base", leaf), FORCE, 0.0, "")
        held.append(abs(np.log(found.value / tilt)) < 1.96 * found.relative)
    assert np.mean(held) >= 0.9


def test_readings_that_say_nothing_of_the_base_are_refused(model):
    for seen, words in (
        (Bearing("all along"), "says nothing"),
        (Bearing("base", 1.5), "no base shows that"),
    ):
        with pytest.raises(InputError, match=words):
            base_reading(model, seen, FORCE, 0.0, "")


# What is kept


def test_without_readings_it_is_what_plans_assume(shop):
    with open_store(shop) as store:
        known = learned_base(store, store.get(ChuckRecord, "CH-02"), "standard")
    assert known.learned.source == "assumed"
    assert known.learned.median == pytest.approx(BASE.tilt)
    assert BASE_PRIOR.median == BASE.tilt


@pytest.mark.long
def test_readings_outlive_a_new_version_of_the_card(shop):
    said = flat(run("learn", SHAFT, "--gap", "0.02 mm at tip"))
    assert "accepted for standard jaws on chuck CH-02: gap of 0.020 mm at the tip" in said
    assert "measured (1 reading)" in said
    enter_chuck()  # writes the card anew from its file
    again = flat(run("learn", SHAFT, "--gap", "0.02 mm at tip"))
    assert "measured (1 reading)" in again, "the same figure twice on one day is one reading"
    assert "measured (2 readings)" in flat(run("learn", SHAFT, "--gap", "0.03 mm at tip"))
    with open_store(shop) as store:
        card = store.get(ChuckRecord, "CH-02")
        assert learned_base(store, card, "pie").learned.source == "assumed"


def test_a_reading_that_contradicts_is_kept_and_not_averaged_in(shop, monkeypatch):
    from datetime import UTC, datetime

    at = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
    with open_store(shop) as store:
        for value in (1e9, 1.1e9, 0.95e9, 2e10):
            card = store.get(ChuckRecord, "CH-02")
            accept(store, card, "jaw base", Accepted(value, 0.2, "feeler"), "Noor", at, style="standard")
        known = learned_base(store, store.get(ChuckRecord, "CH-02"), "standard")
    assert known.learned.count == 3
    assert [flag.index for flag in known.learned.flagged] == [3]
    assert known.learned.median == pytest.approx(1.02e9, rel=0.05)
    assert known.learned.low < known.learned.median < known.learned.high
    assert known.learned.high == pytest.approx(2e10)
    assert "N m/rad" in known.flag_words(known.learned.flagged[0], "metric")
    assert "ft lbf/rad" in known.words("inch")


def test_a_style_or_a_kind_nobody_knows_is_refused(shop):
    from datetime import UTC, datetime

    at = datetime(2026, 3, 2, tzinfo=UTC)
    with open_store(shop) as store:
        card = store.get(ChuckRecord, "CH-02")
        with pytest.raises(InputError, match="expected standard, wide, pie"):
            accept(store, card, "jaw base", Accepted(1e9, 0.2), "Noor", at, style="round")
        with pytest.raises(InputError, match="chuck's log"):
            accept(store, card, "grip share", Accepted(0.8, 0.05), "Noor", at)
        assert store.get(ChuckRecord, "CH-02").version == card.version


def test_two_grip_readings_in_the_log_sharpen_the_share_and_one_does_not(shop):
    before = flat(run("learn", SHAFT))
    assert "grip efficiency of chuck CH-02: 92% (85% to 100%), assumed" in before
    one = flat(run("learn", SHAFT, "--force", "45 kN", "--pressure", "20 bar"))
    assert re.search(r"CH-02: \d+% \(7\d% to 100%\), assumed", one)
    two = flat(run("learn", SHAFT, "--force", "57 kN", "--pressure", "25 bar"))
    low, high = map(int, re.search(r"CH-02: \d+% \((\d+)% to (\d+)%\), measured \(2 readings", two).groups())
    assert 0 < high - low < 25
    with open_store(shop) as store:
        row, _ = store.events(GaugeReading, chuck="CH-02")
    assert (row.force, row.pressure, row.by) == (45_000.0, 2.0, "Noor")


def test_indicator_readings_are_kept_with_the_jaw_set(shop):
    said = flat(run("learn", SHAFT, "--indicator", READINGS / "winch-shaft-turned.csv", "--surface", "drum seat"))
    assert "4 indicator readings of drum seat, kept with jaw set J-031" in said
    with open_store(shop) as store:
        rows = store.events(IndicatorReading)
    assert {row.jaw_set for row in rows} == {"J-031"}
    assert [row.z for row in rows] == [78.0, 110.0, 78.0, 110.0]
    assert all(len(row.angles) == 12 and row.clamped for row in rows)
    assert "turned 180°" in rows[2].remark


@pytest.mark.long
def test_what_is_learned_is_used_for_the_next_cut(shop):
    before = json.loads(run("taper", SHAFT, "--gap", "0.03 mm at tip", "--json").stdout)
    run("learn", SHAFT, "--gap", "0.03 mm at tip")
    after = json.loads(run("taper", SHAFT, "--gap", "0.03 mm at tip", "--json").stdout)
    assert "assumed" in before["base_from"]
    assert after["base_from"] == "stiffness of the base measured (1 reading)"
    assert after["by_plan"] > 2 * before["by_plan"] > 0


def test_the_learned_document_is_the_schema_s(shop):
    run("learn", SHAFT, "--gap", "0.03 mm at tip")
    document = json.loads(run("learn", SHAFT, "--json").stdout)
    jsonschema.validate(document, learned_schema())
    assert document["stored"] == []
    assert [one["readings"] for one in document["known"]] == [1, 0]
    assert document["known"][0]["unit"] == "N mm/rad"


def test_nothing_is_kept_without_a_name_or_a_chuck(shop, monkeypatch):
    monkeypatch.delenv("HELDTRUE_BY")
    assert "--by" in run("learn", SHAFT, "--gap", "0.03 mm at tip", code=2).output
    monkeypatch.setenv("HELDTRUE_BY", "Noor")
    assert "--force needs --pressure" in run("learn", SHAFT, "--force", "45 kN", code=2).output
    ring = ROOT / "examples" / "wear-ring.toml"
    assert "there is no chuck CH-04" in run("learn", ring, "--gap", "0.03 mm at tip", code=2).output
    with open_store(shop) as store:
        assert store.get(ChuckRecord, "CH-02").version == 1
