"""Finding jaws: for a wanted setup, and by what somebody remembers. On both databases."""

import dataclasses
from datetime import UTC, datetime

import pytest

from heldtrue.records.matching import Wanted
from heldtrue.records.remembering import Remembered, remembered
from heldtrue.records.things import BlankRecord, JawSet, SetupRecord

from .shop import TEETH, cards, cut, day, move

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


@pytest.fixture
def shop(store):
    store.write(*cards(), by="Noor")
    for number in range(20, 26):
        store.write(JawSet(id=f"S-{number}", style="pie", material="aluminium 6061-T6", serration=TEETH), by="Noor")
    return store


def wanted(**more):
    return Wanted(**{"side": "outside", "diameter": 82.0, "depth": 14.0, "chuck": "C-250", "machine": "M-3"} | more)


def found(shop, **more):
    return [(match.standing.jaw_set, match.cost) for match in shop.find(wanted(**more)).matches]


def test_a_refit_comes_before_a_skim_before_a_recut(shop):
    shop.write(cut("S-20", diameter=81.0), cut("S-21", chuck="C-315", machine="M-4"), cut("S-22"), by="Noor")
    assert found(shop) == [("S-22", "re-fit"), ("S-21", "skim"), ("S-20", "re-cut")]
    first, second, third = shop.find(wanted()).matches
    assert (first.metal, second.metal, third.metal) == (0.0, 0.2, pytest.approx(0.5))
    assert second.words[0] == "skim it at the same diameter: it was cut on C-315, it was cut on machine M-4"
    assert third.words[0] == "cut it from Ø81 to Ø82"
    assert third.web_after == pytest.approx(8.5)


@pytest.mark.parametrize(
    ("side", "diameter", "metal", "teeth"),
    [
        ("outside", 81.5, 0.25, 0),  # 0.25 a side to cut away: enough to clean it
        ("outside", 81.8, 1.6, 1),  # 0.1 is too little: one tooth of 1.5 towards the axis
        ("outside", 84.0, 0.5, 1),  # too large by 1 a side
        ("outside", 78.0, 0.5, -1),  # 2 a side to spare, one tooth outwards saves 1.5
        ("inside", 82.5, 0.25, 0),
        ("inside", 80.0, 0.5, -1),  # too small outside by 1 a side: outwards
        ("inside", 86.0, 0.5, 1),
    ],
)
def test_teeth_spare_metal(shop, side, diameter, metal, teeth):
    shop.write(cut("S-20", diameter=diameter, side=side), by="Noor")
    (match,) = shop.find(wanted(side=side)).matches
    assert (match.metal, match.teeth) == (pytest.approx(metal), teeth)


def test_what_cannot_be_cut_is_not_offered(shop):
    shop.write(
        cut("S-20", diameter=79.6, web_left=7.1),  # needs 1.2, or 1.2 - 1.5 by a tooth: too little web
        cut("S-21", diameter=82.6, tooth=1),  # no tooth nearer to the axis
        cut("S-22", side="inside"),
        cut("S-23"), move("condition", "S-23", condition="scrap", at=day(1)),
        cut("S-24", diameter=120.0), by="Noor",
    )  # fmt: skip
    assert found(shop) == []


def test_sets_that_are_out_or_incomplete_come_last(shop):
    shop.write(cut("S-20"), move("out", "S-20", holder="Ilse", at=day(1)), cut("S-21", diameter=81.0),
               cut("S-22"), move("condition", "S-22", missing=(2,), at=day(1)), by="Noor")  # fmt: skip
    assert found(shop) == [("S-21", "re-cut"), ("S-20", "re-fit"), ("S-22", "re-fit")]
    words = [match.words for match in shop.find(wanted()).matches]
    assert "Ilse has it" in words[1]
    assert "jaw 2 is missing" in words[2]


def test_an_unknown_web_is_offered_last_and_said(shop):
    shop.write(cut("S-20", diameter=81.0, web_left=None), cut("S-21", diameter=80.0), by="Noor")
    assert found(shop) == [("S-21", "re-cut"), ("S-20", "re-cut")]
    assert "its web is not recorded: measure it first" in shop.find(wanted()).matches[1].words


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"depth": 20.0}, "its depth is 14 mm"),
        ({"chuck": None}, "it was cut on C-250"),
        ({"machine": "M-4"}, "it was cut on machine M-3"),
    ],
)
def test_why_a_set_of_that_diameter_is_skimmed(shop, change, words):
    shop.write(cut("S-20"), by="Noor")
    (match,) = shop.find(wanted(**change)).matches
    assert match.cost == "skim"
    assert words in match.words[0]


def test_no_match_says_what_blank_to_take(shop):
    assert shop.find(wanted()).words == ("no set can be brought to Ø82: take blank B-1 (4 there)",)
    blank = shop.get(BlankRecord, "B-1")
    shop.write(dataclasses.replace(blank, in_stock=0), by="Noor")
    assert shop.find(wanted()).words == ("no set can be brought to Ø82; blank B-1 would do, none is there",)
    assert shop.find(wanted(style="wide")).words == (
        f"no set can be brought to Ø82, and no blank with {TEETH}, wide is known",
    )


def recalled(shop, text):
    return [one.standing.jaw_set for one in shop.search(remembered(text, NOW))]


@pytest.fixture
def shelf(shop):
    april, autumn = datetime(2026, 4, 20, tzinfo=UTC), datetime(2025, 10, 5, tzinfo=UTC)
    shop.write(
        cut("S-20", diameter=82.4, at=april), cut("S-21", diameter=81.2, at=autumn),
        cut("S-22", diameter=82.0, at=april, machine="M-4", chuck="C-315"), cut("S-13", diameter=82.0, at=april),
        cut("S-23", diameter=140.0, at=april, side="inside"), by="Noor",
    )  # fmt: skip
    return shop


def test_a_material_is_the_same_however_it_is_spelled(shop):
    shop.write(JawSet(id="S-30", style="pie", material="6061", serration=TEETH), by="Noor")
    shop.write(cut("S-20"), cut("S-30"), cut("S-13"), by="Noor")
    for name in ("6061-T6 aluminium", "aluminium 6061-T6", "6061", "AlMg1SiCu"):
        assert {jaw_set for jaw_set, _ in found(shop, material=name)} == {"S-20", "S-30"}
    assert found(shop, material="7075") == []


def test_by_what_people_remember(shelf):
    assert recalled(shelf, "about 82, steel") == ["S-13"]
    assert recalled(shelf, "about 82, aluminium, last spring, machine 3") == ["S-20"]
    assert recalled(shelf, "about 82, aluminium, last spring") == ["S-22", "S-20"]
    assert recalled(shelf, "about 82, aluminium") == ["S-22", "S-20", "S-21"]
    assert recalled(shelf, "82, C45, lathe 3") == ["S-13"]
    assert recalled(shelf, "inside, machine 3") == ["S-23"]
    assert recalled(shelf, "in october 2025") == ["S-21"]
    assert recalled(shelf, "chuck 315") == ["S-22"]
    assert recalled(shelf, "machine 5") == []
    assert recalled(shelf, "bronze") == []
    assert recalled(shelf, "aluminium")[:4] == ["S-20", "S-22", "S-23", "S-21"]
    assert recalled(shelf, "wear ring") == ["S-12"]


def test_a_set_is_found_by_what_it_once_was(shelf):
    shelf.write(cut("S-20", diameter=96.0, kind="re-cut", at=datetime(2026, 6, 20, tzinfo=UTC)), by="Noor")
    (one,) = shelf.search(remembered("82.4, aluminium", NOW))
    assert (one.standing.jaw_set, one.cut.diameter, one.standing.diameter) == ("S-20", 82.4, 96.0)
    assert not one.is_still_so


def test_corrected_cuts_are_not_found(shelf):
    (row,) = shelf.history("S-20").rows
    shelf.write(dataclasses.replace(row, id="right", corrects=row.id, diameter=28.4), by="Noor")
    assert "S-20" not in recalled(shelf, "about 82")
    assert recalled(shelf, "about 28") == ["S-20"]


def test_wildcards_are_letters(shelf):
    assert shelf.search(Remembered(words=("%",))) == ()
    assert shelf.search(Remembered(words=("_",))) == ()


def test_no_more_than_asked_for(shelf):
    assert len(shelf.search(remembered("about 82", NOW), limit=2)) == 2
    latest = shelf.search(remembered("aluminium", NOW), limit=3)
    assert [one.standing.jaw_set for one in latest] == ["S-20", "S-22", "S-23"]  # never cut comes last, on both


def test_without_teeth_a_set_is_cut_where_it_stands(shop):
    groove = {"serration": "tongue and groove"}
    for number in (50, 51):
        shop.write(JawSet(id=f"S-{number}", **groove), by="Noor")
    shop.write(cut("S-50", diameter=84.0), cut("S-51", diameter=80.0), by="Noor")
    (match,) = shop.find(wanted(**groove)).matches
    assert (match.standing.jaw_set, match.metal, match.teeth) == ("S-51", 1.0, 0)


def test_a_set_that_was_cut_often_does_not_hide_the_others(shelf):
    shelf.write(*(cut("S-24", diameter=82.0, at=day(100 + n)) for n in range(12)), by="Noor")
    found = [one.standing.jaw_set for one in shelf.search(remembered("about 82", NOW), limit=3)]
    assert found == ["S-24", "S-22", "S-13"] or found == ["S-24", "S-13", "S-22"]


# Words of people, places and parts; and what is near


@pytest.fixture
def busy(shelf):
    """The shelf after somebody took a set, another was laid away, and a setup was made for a third."""
    shelf.write(move("out", "S-20", holder="Karin"), by="Karin")
    shelf.write(move("moved", "S-12", place="cabinet B4"), by="Noor")
    shelf.write(cut("S-24", diameter=60.0, by="Ilse"), by="Ilse")
    document = {"part": {"number": "WR-158"}}
    shelf.write(
        SetupRecord(id="ring", title="Wear ring, second side", part=None, jaw_set="S-13", document=document), by="Noor"
    )
    return shelf


def near(store, text):
    found = store.search(remembered(text, NOW))
    return [one.standing.jaw_set for one in found], {one.near for one in found}


def test_people_places_and_setups_are_words(busy):
    assert near(busy, "karin") == (["S-20"], {""})
    assert near(busy, "cabinet b4") == (["S-12"], {""})
    assert near(busy, "ilse") == near(busy, "60, cut by ilse") == (["S-24"], {""})
    assert near(busy, "B4") == (["S-12"], {""})
    assert near(busy, "about 82, second side") == (["S-13"], {""})


@pytest.mark.parametrize(("text", "left_out"), [
    ("82, aluminium, machine 3, chuck 315", "not machine 3"),
    ("about 82, aluminium, inside", "not inside"),
    ("about 82, aluminium, in 2019", "another time"),
    ("82, aluminium, nobody", 'not "nobody"'),
])  # fmt: skip
def test_what_does_not_fit_is_said_with_what_is_near(shelf, text, left_out):
    found, said = near(shelf, text)
    assert found
    assert said == {left_out}


def test_a_diameter_that_nobody_has_finds_the_nearest(shelf):
    found, said = near(shelf, "84, aluminium")
    assert found
    assert said == {"another diameter"}
    assert near(shelf, "700")[0] == []


@pytest.mark.parametrize(("text", "diameter"), [
    ("3 1/4 inch", 82.55), ("3-1/4 in, steel", 82.55), ('3 1/4"', 82.55), ("7/8 in", 22.225),
    ("about 3 1/4 inch", 82.55),
])  # fmt: skip
def test_fractions_of_an_inch(text, diameter):
    assert remembered(text, NOW).around == pytest.approx(diameter)


def test_a_fraction_without_its_unit_is_a_word():
    assert remembered("WS-3/4", NOW).words == ("ws-3/4",)
    assert remembered("7/8 bronze", NOW).around is None
