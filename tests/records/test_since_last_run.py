"""What is different since the last run of a setup, from documents, cards and history. On both databases."""

import dataclasses

import pytest

from heldtrue.errors import InputError
from heldtrue.records.differences import since_last_run
from heldtrue.records.documents import open_setup, setup_document
from heldtrue.records.events import GaugeReading, Greasing, RunRecord
from heldtrue.records.things import SetupRecord

from .shop import cards, cut, day, move


@pytest.fixture
def shop(store, wear_ring):
    store.write(*cards(), by="Noor")
    card = store.get(SetupRecord, "WR-158/20")
    store.write(dataclasses.replace(card, document=setup_document(wear_ring)), cut(at=day(0)), by="Noor")
    return store


def run(**more):
    given = {"at": day(3), "by": "Ilse", "setup": "WR-158/20", "machine": "M-3", "chuck": "C-250", "jaw_set": "S-12",
             "rough_pressure": 1.8, "finish_pressure": 0.9, "lot": "7741"}  # fmt: skip
    return RunRecord(**given | more)


def changes(shop, planned=None):
    return {change.where: (change.before, change.after) for change in since_last_run(shop, "WR-158/20", planned)}


def test_nothing_before_the_first_run_and_nothing_after_it(shop):
    assert changes(shop, run()) == {}
    shop.write(run(), by="Ilse")
    assert changes(shop) == {}
    assert changes(shop, run(at=day(9))) == {}
    with pytest.raises(InputError, match="no setup 'WR-1'"):
        since_last_run(shop, "WR-1")


def test_a_changed_setup_file_is_told_field_by_field(shop, wear_ring):
    shop.write(run(), by="Ilse")
    changed = wear_ring.with_({"cuts.1.feed": 0.2, "run.pressure": 2.0})
    card = shop.get(SetupRecord, "WR-158/20")
    shop.write(dataclasses.replace(card, document=setup_document(changed), revision="C"), by="Ilse")
    found = changes(shop)
    assert found["setup: revision"] == ("B", "C")
    assert found["setup: cut rough land, feed"] == (0.25, 0.2)
    assert found["setup: run, pressure"][0] is None
    assert len(found) == 3
    first, second = (v.card for v in shop.versions(SetupRecord, "WR-158/20")[1:])
    assert (open_setup(first.document), open_setup(second.document)) == (wear_ring, changed)


def test_the_version_it_ran_with_counts_not_the_one_before_now(shop, wear_ring):
    shop.write(run(), by="Ilse")
    for feed in (0.2, 0.25):  # changed and changed back
        card = shop.get(SetupRecord, "WR-158/20")
        changed = wear_ring.with_({"cuts.1.feed": feed})
        shop.write(dataclasses.replace(card, document=setup_document(changed)), by="Ilse")
    assert changes(shop) == {}


def test_jaws_that_were_cut_since(shop):
    shop.write(run(), cut(at=day(5), diameter=84.0, web_left=8.0, kind="re-cut"), by="Ilse")
    shop.write(move("condition", at=day(6), condition="skim first"), by="Ilse")
    assert changes(shop) == {
        "jaws S-12: diameter": (82.0, 84.0),
        "jaws S-12: web_left": (9.0, 8.0),
        "jaws S-12: cuts_done": (1, 2),
        "jaws S-12: condition": ("good", "skim first"),
    }


def test_a_chuck_that_was_greased_and_measured_since(shop):
    shop.write(Greasing(at=day(1), by="Noor", chuck="C-250"), run(), by="Ilse")
    assert changes(shop) == {}
    shop.write(Greasing(at=day(4), by="Noor", chuck="C-250"),
               GaugeReading(at=day(4), by="Noor", chuck="C-250", pressure=2.0, force=40e3), by="Noor")  # fmt: skip
    assert changes(shop) == {"chuck C-250: greased": (None, day(4)), "chuck C-250: grip gauge readings": (None, 1)}


def test_the_run_itself(shop):
    shop.write(run(), by="Ilse")
    planned = run(at=day(9), machine="M-4", chuck="C-315", finish_pressure=1.1, lot="8002", jaw_set="S-13")
    assert changes(shop, planned) == {
        "run: machine": ("M-3", "M-4"),
        "run: chuck": ("C-250", "C-315"),
        "run: jaw_set": ("S-12", "S-13"),
        "run: finish_pressure": (0.9, 1.1),
        "run: lot": ("7741", "8002"),
    }
    words = [change.words for change in since_last_run(shop, "WR-158/20", planned)]
    assert "run: finish_pressure: 0.9 → 1.1" in words


def test_a_run_taken_back_is_no_last_run(shop):
    first, second = run(), run(at=day(5), finish_pressure=2.2)
    shop.write(first, second, by="Ilse")
    assert shop.last_run("WR-158/20").finish_pressure == 2.2
    shop.write(dataclasses.replace(second, id="undo", corrects=second.id, withdrawn=True), by="Ilse")
    assert shop.last_run("WR-158/20").finish_pressure == 0.9
