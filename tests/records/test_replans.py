"""What re-planning found, kept by both databases; and digests of what setups rest on."""

from dataclasses import replace
from itertools import permutations

import pytest
from sqlalchemy import text

from heldtrue.records.errors import RecordsError
from heldtrue.records.events import FrictionReading, Revision, RunRecord
from heldtrue.records.replans import FAILED, FULL, KEPT_LIMITS, Replanned
from heldtrue.records.things import ChuckRecord, JawSet, MachineRecord, PartRecord, SetupRecord

from .shop import DOCUMENT, cards, cut, day, move

SETUP = "WR-158/20"


@pytest.fixture
def shop(store):
    store.write(*cards(), by="Noor", why="first day")
    return store


def row(state, when, verdict="passes", how=FULL, **more):
    more = {"setup": SETUP, "rest": "r", "version": 1, "content": "c"} | more
    return Replanned(state=state, verdict=verdict, how=how, first_at=day(when), last_at=day(when),
                     steps={"rough": {"pressure": 1.5, "ceiling": None}}, names={"chuck": "C-250"}, **more)  # fmt: skip


def test_a_row_comes_back_equal(shop):
    one = row("a", 1, key="k", limits='{"plate":[1.5]}', planned={"verdict": "passes", "pressures": {"rough": 1.5}})
    shop.keep_replanned([one])
    assert shop.replanned() == shop.replanned([SETUP]) == shop.replanned([SETUP], every=True) == (one,)
    assert shop.replanned_like("k") == one
    assert shop.replanned_like("another") is None
    assert shop.setups_like("c") == (SETUP,)
    assert shop.check() == ()


def test_whatever_the_order_the_same_stands(shop):
    rows = [row("a", 1), row("b", 2, "fails"), row("a", 3), row("c", 2.5, how=KEPT_LIMITS), row("b", 0.5, FAILED)]
    found = set()
    for order in list(permutations(rows))[::5]:
        shop.database.write(lambda connection: connection.execute(text("DELETE FROM replans")))
        for one in order:
            shop.keep_replanned([one])
            shop.keep_replanned([one])
        found.add(
            tuple((r.state, r.verdict, r.how, r.first_at, r.last_at) for r in shop.replanned([SETUP], every=True))
        )
    assert found == {(("b", "fails", FULL, day(2), day(2)), ("a", "passes", FULL, day(1), day(3)))}


def test_a_state_seen_again_is_the_newest(shop):
    shop.keep_replanned([row("a", 1), row("b", 2, "fails")])
    assert shop.replanned()[0].state == "b"
    shop.seen_again([(SETUP, "a"), (SETUP, "never")], day(3))
    assert shop.replanned()[0].state == "a"
    assert shop.replanned()[0].first_at == day(1)


def test_of_two_of_one_moment_the_worse_stands(shop):
    shop.keep_replanned([row("a", 1), row("b", 1, "fails")])
    assert shop.replanned()[0].state == "b"


def test_rows_of_an_older_card_are_dropped(shop):
    shop.keep_replanned([row("a", 1)])
    shop.keep_replanned([row("b", 2, version=2)])
    assert [one.state for one in shop.replanned([SETUP], every=True)] == ["b"]


def test_a_setup_that_is_not_there_has_no_outcome(shop):
    with pytest.raises(RecordsError):
        shop.keep_replanned([row("a", 1, setup="nobody's")])
    assert shop.replanned() == ()


def test_a_damaged_outcome_is_no_outcome(shop):
    shop.keep_replanned([row("a", 1, "fails")])
    shop.database.write(lambda connection: connection.execute(text("UPDATE replans SET verdict = 'passes'")))
    with pytest.raises(RecordsError, match="not as it was written"):
        shop.replanned()


def rest(shop):
    return shop.rests(shop.setups_in_short(), {})[SETUP]


CHANGES = {
    "its card": lambda s: replace(s.get(SetupRecord, SETUP), revision="C"),
    "its chuck": lambda s: replace(s.get(ChuckRecord, "C-250"), grease_days=7),
    "its machine": lambda s: replace(s.get(MachineRecord, "M-3"), max_speed_rpm=3000.0),
    "its part": lambda s: replace(s.get(PartRecord, "WR-158"), retired=True),
    "its jaws": lambda s: replace(s.get(JawSet, "S-12"), material="C45"),
    "a cut": lambda s: cut(),
    "the setup its jaws were cut for": lambda s: replace(s.get(SetupRecord, "x"), title="other steps"),
    "a move": lambda s: move("condition", condition="scrap"),
    "a revision": lambda s: Revision(at=day(1), by="Noor", part="WR-158", revision="C"),
    "friction": lambda s: FrictionReading(at=day(1), by="Noor", material="CuSn12", surface="turned", jaw_material="C15",
                                          face="smooth", oiled=True, low=0.1, likely=0.12, high=0.14, slips=3),
}  # fmt: skip


@pytest.mark.parametrize("what", CHANGES)
def test_what_a_setup_rests_on_changes_its_digest(shop, what):
    shop.write(SetupRecord(id="x", document=DOCUMENT), by="Noor")
    shop.write(cut(setup="x"), by="Noor")
    before = rest(shop)
    assert rest(shop) == before
    shop.write(CHANGES[what](shop), by="Noor")
    assert rest(shop) != before


@pytest.mark.parametrize("change", [
    lambda s: replace(s.get(ChuckRecord, "C-315"), grease_days=7), lambda s: cut(jaw_set="S-13"),
    lambda s: RunRecord(at=day(1), by="Noor", setup=SETUP, chuck="C-250", quantity=3),
])  # fmt: skip
def test_what_it_does_not_rest_on_does_not(shop, change):
    before = rest(shop)
    shop.write(change(shop), by="Noor")
    assert rest(shop) == before


def test_setups_in_short(shop):
    there = SetupRecord(id="x", document=DOCUMENT, chuck="C-315")
    shop.write(there, SetupRecord(id="y", document=DOCUMENT, retired=True), by="Noor")
    assert [one.id for one in shop.setups_in_short()] == [SETUP, "x"]
    assert [one.id for one in shop.setups_in_short(chuck="C-315")] == ["x"]
    assert shop.setups_in_short()[0].names == {"chuck": "C-250", "machine": "M-3", "part": "WR-158", "jaw_set": "S-12"}


def test_what_was_clamped(shop):
    runs = [RunRecord(at=day(n), by="Noor", setup=SETUP, chuck="C-250", quantity=10 + n, scrap=1) for n in (2, 1)]
    first, _ = shop.write(*runs, by="Noor")
    assert shop.clamped("C-250") == ((day(1), 12), (day(2), 13))
    shop.write(replace(first, id="other", corrects=first.id, quantity=5, setup_version=1), by="Noor")
    assert shop.clamped("C-250") == ((day(1), 12), (day(2), 6))


def test_every_entry_has_a_number(shop):
    before = shop.last_entry()
    shop.keep_replanned([row("a", 1)])
    assert shop.last_entry() == before, "what is derived is no entry"
    shop.write(cut(), by="Noor")
    assert shop.last_entry() == before + 1


def test_derived_rows_are_not_exported(shop):
    shop.keep_replanned([row("a", 1)])
    names = set()
    shop.read_rows(lambda rows: names.update(name for name, _ in rows))
    assert "replans" not in names
