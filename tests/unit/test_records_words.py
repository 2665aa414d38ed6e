"""Reading what somebody remembers; ids; what differs. No database."""

from datetime import UTC, datetime, timedelta

import pytest

import heldtrue.records
from heldtrue.errors import HeldtrueError, InputError
from heldtrue.records.differences import differences
from heldtrue.records.documents import FORMATS, STEPS, content_of, open_plan, open_setup, plan_document, setup_document
from heldtrue.records.errors import ConflictError, RecordsError, StoreVersionError
from heldtrue.records.events import SetCut, SetMove
from heldtrue.records.ids import new_id
from heldtrue.records.remembering import remembered
from heldtrue.records.standing import standing_of
from heldtrue.records.things import JawSet

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def test_public_names_are_sorted_and_there():
    names = heldtrue.records.__all__
    assert names == sorted(names)
    for name in names:
        assert getattr(heldtrue.records, name).__doc__
    with pytest.raises(AttributeError, match="no attribute 'Shelf'"):
        _ = heldtrue.records.Shelf


def test_the_errors_are_ours():
    assert issubclass(ConflictError, RecordsError)
    assert issubclass(StoreVersionError, RecordsError)
    assert issubclass(RecordsError, HeldtrueError)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("about 82", 80.36, 83.64),
        ("Ø82", 81.5, 82.5),
        ("82,5, aluminium", 82.4, 82.6),
        ("ca. 82 mm", 80.36, 83.64),
        ("80 to 84", 80.0, 84.0),
        ("between 84 and 80 mm", 80.0, 84.0),
        ("80-84", 80.0, 84.0),
        ("3.25 in", 82.296, 82.804),
        ("about 10", 8.5, 11.5),
        ("aluminium 6061-T6, 82", 81.5, 82.5),
        ("aluminium 6061, 82", 81.5, 82.5),
        ("82 in march", 81.5, 82.5),
    ],
)
def test_diameters(text, low, high):
    assert remembered(text, NOW).diameter == pytest.approx((low, high), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "since", "until"),
    [
        ("last spring", "2026-02-14", "2026-06-15"),
        ("last autumn", "2025-08-17", "2025-12-15"),  # this one is not over
        ("autumn", "2026-08-17", "2026-12-15"),
        ("last winter", "2025-11-16", "2026-03-15"),
        ("spring 2024", "2024-02-15", "2024-06-15"),
        ("in march", "2026-03-01", "2026-04-01"),
        ("december", "2025-12-01", "2026-01-01"),
        ("march 2023", "2023-03-01", "2023-04-01"),
        ("last month", "2026-10-01", "2026-11-01"),
        ("last week", "2026-11-16", "2026-11-23"),
        ("this week", "2026-11-23", "2026-11-30"),
        ("last year", "2025-01-01", "2026-01-01"),
        ("2024-05", "2024-05-01", "2024-06-01"),
        ("2024-05-03", "2024-05-03", "2024-05-04"),
        ("2024", "2024-01-01", "2025-01-01"),
        ("yesterday", "2026-11-24", "2026-11-25"),
        ("3 weeks ago", "2026-10-31", "2026-11-07"),
    ],
)
def test_dates(text, since, until):
    found = remembered(text, NOW)
    assert (f"{found.since:%Y-%m-%d}", f"{found.until:%Y-%m-%d}") == (since, until)
    assert found.diameter is None


def test_spring_of_the_south_begins_in_september():
    assert remembered("last spring", NOW, southern=True).since == datetime(2025, 8, 17, tzinfo=UTC)


def test_machine_chuck_side_style_and_words():
    found = remembered("jaws for the wear ring, segments, OD, on machine 3, chuck C-250, alu", NOW)
    assert (found.machine, found.chuck, found.side, found.style) == ("3", "c-250", "outside", "pie")
    assert found.words == ("wear", "ring", "aluminium")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "nothing to look for"),
        ("the jaws, that we used", "nothing to look for"),
        ("82, 94", "second diameter"),
        ("last spring, 2024", "second date"),
        ("2024-13", "is not a date"),
        ("99999 years ago", "before there were records"),
        ("january 0000", "0000 is no year"),
        ("spring of 9999", "9999 is no year"),
    ],
)
def test_what_cannot_be_looked_for(text, words):
    with pytest.raises(InputError, match=words):
        remembered(text, NOW)


def test_ids_sort_as_they_were_made_and_are_never_the_same():
    ids = [new_id() for _ in range(5000)]
    assert ids == sorted(set(ids))
    assert {len(one) for one in ids} == {22}


def test_differences_pair_tables_by_name():
    before = {"run": {"speed": 500}, "cut": [{"name": "rough", "feed": 0.25}, {"name": "finish", "feed": 0.1}]}
    after = {"run": {"speed": 500, "pressure": 18}, "cut": [{"name": "finish", "feed": 0.12}, {"name": "rough"}]}
    found = {change.where: (change.before, change.after) for change in differences(before, after)}
    assert found == {
        "run, pressure": (None, 18),
        "cut finish, place": (2, 1),
        "cut finish, feed": (0.1, 0.12),
        "cut rough, place": (1, 2),
        "cut rough, feed": (0.25, None),
    }
    assert differences(before, before) == ()
    assert {c.words for c in differences({"a": 1.0}, {"b": "x"})} == {"a: 1 → nothing", "b: nothing → x"}


def test_differences_pair_tables_without_names_by_place():
    found = differences({"s": [{"d": 1}, {"d": 2}]}, {"s": [{"d": 1}, {"d": 3}, {"d": 4}]})
    assert {(c.where, c.before, c.after) for c in found} == {
        ("s 2, d", 2, 3), ("s 3, place", None, 3), ("s 3, d", None, 4)
    }  # fmt: skip


def test_a_setup_opens_again_from_its_document(wear_ring):
    document = setup_document(wear_ring)
    assert (document["kind"], document["format"]) == ("setup", 1)
    assert open_setup(document) == wear_ring
    with pytest.raises(InputError, match="not the document of a plan"):
        open_plan(document)


def test_an_old_document_opens_after_the_schema_has_grown(monkeypatch):
    old = plan_document({"verdict": "passes", "limit": 500})
    monkeypatch.setitem(FORMATS, "plan", 3)
    monkeypatch.setitem(STEPS, ("plan", 1), lambda c: {"verdict": c["verdict"], "speed": {"limit": c["limit"]}})
    monkeypatch.setitem(STEPS, ("plan", 2), lambda c: c | {"seen": True})
    assert open_plan(old) == {"verdict": "passes", "speed": {"limit": 500}, "seen": True}
    assert old["content"] == {"verdict": "passes", "limit": 500}


def test_a_document_of_a_newer_program_says_so():
    with pytest.raises(StoreVersionError, match=r"this setup has format 9, .* up to 1: heldtrue 7\.0 wrote it"):
        content_of({"kind": "setup", "format": 9, "program": "7.0", "content": {}}, "setup")


def test_a_standing_is_folded_in_order_of_time_whatever_the_order_of_entry():
    def at(hours):
        return NOW + timedelta(hours=hours)

    card = JawSet(id="S-1")
    rows = [
        SetCut(jaw_set="S-1", at=at(3), by="a", diameter=84.0, web_left=8.0),
        SetCut(jaw_set="S-1", at=at(1), by="a", diameter=82.0, web_left=9.0),
        SetMove(jaw_set="S-1", at=at(2), by="a", kind="condition", condition="skim first", missing=(1,)),
        SetMove(jaw_set="S-1", at=at(4), by="b", kind="out"),
        SetMove(jaw_set="S-1", at=at(0), by="a", kind="moved", place="shelf 1"),
    ]
    for order in (rows, rows[::-1]):
        now = standing_of(card, order)
        assert (now.diameter, now.web_left, now.cuts_done, now.condition) == (84.0, 8.0, 2, "good")
        assert (now.holder, now.place, now.missing) == ("b", "shelf 1", (1,))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: SetCut(jaw_set="S", at=datetime(2026, 1, 1), by="a", diameter=1.0), "time with its time zone"),
        (lambda: SetCut(jaw_set="S", at=NOW, by="a", diameter=0.0), "diameter 0.0 must be a number, more than 0"),
        (lambda: SetCut(jaw_set="S", at=NOW, by="a", diameter=1.0, web_left=-1.0), "web_left -1.0"),
        (lambda: SetCut(jaw_set="S", at=NOW, by="a", diameter=1.0, side="top"), "side 'top' must be one of"),
        (lambda: SetCut(jaw_set="S", at=NOW, by=" ", diameter=1.0), "by is empty"),
        (lambda: SetCut(jaw_set="S", at=NOW, by="a", diameter=1.0, withdrawn=True), "withdrawn without corrects"),
        (lambda: JawSet(id=""), "1 to 100 printable"),
        (lambda: JawSet(id=" S"), "1 to 100 printable"),
        (lambda: JawSet(id="S" * 101), "1 to 100 printable"),
        (lambda: JawSet(id="S\n1"), "1 to 100 printable"),
    ],
)
def test_what_no_record_may_hold(make, words):
    with pytest.raises(InputError, match=words):
        make()
