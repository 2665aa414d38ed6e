"""The job on the shop's other chucks: what is known of each goes with it, what was known of the stated one does not."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from conftest import ROOT, example
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.errors import InputError
from heldtrue.planning.hardware_file import chuck_table
from heldtrue.planning.plan import plan
from heldtrue.planning.result import PASSES
from heldtrue.planning.setup import Setup
from heldtrue.planning.toml_text import toml_of
from heldtrue.planning.way_document import ways_json
from heldtrue.planning.ways import SHOP_CHUCK, ways
from heldtrue.records import ChuckRecord, GaugeReading, Greasing, MachineRecord, open_store
from heldtrue.shop import other_chucks
from heldtrue.shop.from_records import with_records
from heldtrue.shop.other_chucks import MOST_KINDS, NOT_LOOKED_AT, on_other_chucks
from heldtrue.shop.stock import chuck_cards

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "records") as opened:
        yield opened


@pytest.fixture(scope="module")
def ring():
    """The wear ring on the chuck of its file, with everything that could be known of that chuck alone."""
    own = {"reason": "tried here", "spread": "uniform"}
    return example("wear-ring").with_({
        "chuck.number": "CH-01", "jaws.bored_pressure": 1.0, "jaws.base_tilt": 4e8, "run.pressure": 1.0,
        "assumptions.grip_share": own, "assumptions.spin_up": own,
    })  # fmt: skip


def add(store, number, file="250-wedge", machine=None, **more):
    table = {**chuck_table(ROOT / "examples" / "chucks" / f"{file}.toml"), **more}
    for card in chuck_cards(store, number, table, machine=machine, grease_days=30):
        store.write(card, by="Noor")


def test_nothing_that_was_known_of_the_stated_chuck_is_taken_for_another(store, ring):
    add(store, "CH-07", grease="good")
    there = on_other_chucks(ring, store, NOW)["CH-07"]
    assert there.chuck.number == "CH-07"
    assert there.chuck.grip_readings is None
    assert there.chuck.grease != "good", "what a file said once is not the grease of today"
    assert (there.jaws.bored_pressure, there.jaws.base_tilt, there.stated_pressure) == (None, None, None)
    assert there.assumptions.grip_share is None
    assert there.assumptions.spin_up is None
    assert (there.jaws.number, there.jaws.last_cut, there.jaws.bore_diameter) == ("", None, None)


def test_the_command_asks_with_the_setup_as_its_file_has_it(store, tmp_path, monkeypatch):
    """What was learned on the stated chuck went along, a cutting force too, and stood as stated for the others."""
    ring, seen = example("wear-ring").with_({"chuck.number": "CH-01"}), []
    add(store, "CH-01")
    store.write(GaugeReading(at=NOW, by="Ilse", chuck="CH-01", pressure=2.0, force=30e3), by="Ilse")
    assert with_records(ring, store, NOW)[0].chuck.grip_readings is not None

    def stop(setup, *_):
        seen.append(setup)
        raise InputError("far enough")

    monkeypatch.setattr(other_chucks, "on_other_chucks", stop)
    path = tmp_path / "ring.toml"
    path.write_text(toml_of(ring.to_dict()))
    assert CliRunner().invoke(app, ["ways", str(path), "--records", str(tmp_path / "records")]).exit_code == 2
    assert seen == [ring]


def test_the_log_of_a_chuck_goes_with_it(store, ring):
    add(store, "CH-07")
    before = on_other_chucks(ring, store, NOW)["CH-07"]
    store.write(Greasing(at=NOW - timedelta(days=1), by="Ilse", chuck="CH-07"), by="Ilse")
    store.write(GaugeReading(at=NOW, by="Ilse", chuck="CH-07", pressure=2.0, force=30e3), by="Ilse")
    after = on_other_chucks(ring, store, NOW)["CH-07"]
    assert before.chuck.grip_readings is None
    assert len(after.chuck.grip_readings) == 1
    assert after.chuck.grease == "good"


def test_what_the_records_say_against_a_chuck_keeps_its_ways_from_passing(store, ring):
    add(store, "CH-07", machine="LT-3")
    card = store.get(ChuckRecord, "CH-07")
    add(store, "ch-7")
    there = on_other_chucks(ring, store, NOW)[card.id]
    assert any("look like one" in one.words for one in there.contrary)
    found = ways(ring.with_({"chuck.number": "CH-01"}), ["pie"], chucks={card.id: there}, most=3)
    mine = [way for way in (*found.best, *found.beaten) if way.candidate.chuck == card.id]
    assert mine
    assert all(way.plan.verdict != PASSES for way in mine)


def test_a_retired_chuck_and_one_without_a_plate_are_none(store, ring):
    add(store, "CH-07")
    store.write(replace(store.get(ChuckRecord, "CH-07"), retired=True), by="Noor")
    store.write(ChuckRecord(id="CH-08", name="no plate"), by="Noor")
    add(store, "ch-1")
    assert on_other_chucks(ring, store, NOW) == {}, "ch-1 is the stated one, as somebody else writes it"


def test_of_chucks_alike_the_one_that_surely_grips_most_stands_for_them(store, ring):
    for number in ("CH-07", "CH-08"):
        add(store, number)
        store.write(Greasing(at=NOW - timedelta(days=1), by="Ilse", chuck=number), by="Ilse")
    for number, force in (("CH-07", 22e3), ("CH-08", 33e3)):
        for pressure in (1.0, 2.0):
            row = GaugeReading(at=NOW, by="Ilse", chuck=number, pressure=pressure, force=force * pressure / 2)
            store.write(row, by="Ilse")
    assert list(on_other_chucks(ring, store, NOW)) == ["CH-08"]


def test_a_chuck_elsewhere_brings_its_machine_and_what_is_known_of_it(store, ring):
    add(store, "CH-07", machine="LT-3")
    store.write(replace(store.get(MachineRecord, "LT-3"), max_speed_rpm=1200.0), by="Noor")
    there = on_other_chucks(ring, store, NOW)["CH-07"]
    assert (there.machine.name, there.machine.max_speed_rpm) == ("LT-3", 1200.0)
    assert not there.contrary


def test_more_kinds_than_are_looked_at_are_said(store, ring):
    for number in range(MOST_KINDS + 2):
        add(store, f"CH-{10 + number}", max_speed=2000 + 10 * number)
    found = on_other_chucks(ring, store, NOW)
    assert sum(isinstance(one, Setup) for one in found.values()) == MOST_KINDS
    assert sum(one == NOT_LOOKED_AT for one in found.values()) == 2
    answer = ways(example("wear-ring"), ["pie"], chucks={n: one for n, one in found.items() if isinstance(one, str)},
                  most=1)  # fmt: skip
    assert sum(one.what == NOT_LOOKED_AT for one in answer.dropped) == 2


@pytest.mark.long
def test_a_way_on_another_chuck_has_the_verdict_of_its_plan_with_the_records(store):
    """Six jaws that the shop has: no chuck is imagined, and taking the way over changes nothing."""
    ring = example("wear-ring").with_({"chuck.number": "CH-01"})
    add(store, "CH-06", "250-six-jaw")
    store.write(Greasing(at=NOW - timedelta(days=1), by="Ilse", chuck="CH-06"), by="Ilse")
    found = ways(ring, ["pie"], chucks=on_other_chucks(ring, store, NOW), most=6)
    listed = (*found.best, *found.beaten)
    assert not [way for way in listed if way.candidate.needs_chuck in (3, 6)]
    mine = [way for way in listed if way.candidate.chuck == "CH-06"]
    assert mine
    assert {way.cost for way in mine} == {SHOP_CHUCK}
    for way in mine[:2]:
        taken, _ = with_records(Setup.from_dict(way.setup.to_dict()), store, NOW)
        assert plan(taken, helped=False).verdict == way.plan.verdict
        assert way.setup.source("chuck.max_grip_force") != "assumed"
    assert '"chuck": "CH-06"' in ways_json(found)
