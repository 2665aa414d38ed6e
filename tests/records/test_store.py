"""The contract of the store, on both databases."""

import dataclasses
import sqlite3
import threading

import pytest
from sqlalchemy import text

from heldtrue.errors import InputError
from heldtrue.records.database import FILE_NAME
from heldtrue.records.errors import ConflictError, RecordsError
from heldtrue.records.events import (
    FrictionReading,
    GaugeReading,
    Greasing,
    IndicatorReading,
    Photo,
    ReplanSeen,
    Revision,
    RunRecord,
    SetCut,
    SetMove,
    StartDecision,
)
from heldtrue.records.kinds import EVENTS, THINGS
from heldtrue.records.store import open_store
from heldtrue.records.things import ChuckRecord, JawSet, MachineRecord, SetupRecord, Tag

from .shop import DOCUMENT, MONDAY, TEETH, cards, cut, day, move


@pytest.fixture
def shop(store):
    store.write(*cards(), by="Noor", why="first day")
    return store


def test_what_is_written_comes_back_equal(place):
    with open_store(place) as first:
        written = first.write(*cards(), by="Noor")
    with open_store(place) as again:
        for card in written:
            assert card.version == 1
            assert again.get(type(card), card.id) == card


def one_of_each():
    decision = StartDecision(
        at=day(3), by="Ilse", setup="WR-158/20", gauge_pressure=1.172, gauge_text="170 psi", verdict="must not start",
        reason="holds at 500 rev/min, lets go at 1420 rev/min", override_reason="door shut, 400 rev/min",
    )  # fmt: skip
    photo = Photo.of(b"\x89PNG\x00\xff", at=day(1), by="Noor", name="bore.png")
    run = RunRecord(
        at=day(3), by="Ilse", setup="WR-158/20", machine="M-3", chuck="C-250", jaw_set="S-12", decision=decision.id,
        rough_pressure=1.8, finish_pressure=0.9, speed_rpm=500.0, quantity=11, scrap=1, lot="7741",
        readings={"runout_mm": 0.018}, changed=("jaws re-cut",),
    )  # fmt: skip
    return (
        photo, Revision(at=day(0), by="Ilse", part="WR-158", revision="C", changes="seal land 0.02 → 0.015"),
        cut(setup="WR-158/20", photo=photo.id, ring="R-60", tool="T-25", taper=-0.011, cuts_left=3),
        move("in", place="shelf 3, bin 2", condition="good", missing=(2,)), decision, run,
        IndicatorReading(at=day(3), by="Ilse", run=run.id, surface="seal land", z=28.0, angles=(0.0, 2.1, 4.2),
                         deviations=(0.0, 0.004, -0.002)),
        GaugeReading(at=day(2), by="Noor", chuck="C-250", pressure=2.0, force=41_000.0, device="gauge 1"),
        Greasing(at=day(2), by="Noor", chuck="C-250", grease="paste"),
        FrictionReading(at=day(2), by="Noor", material="C45", surface="turned", jaw_material="C15", face="smooth",
                        oiled=True, low=0.1, likely=0.13, high=0.16, slips=4, setup="S-1", jaw_set="J-031"),
        ReplanSeen(at=day(2), by="Noor", setup="WR-158/20", version=1, verdict="fails",
                   steps={"rough": {"pressure": 1.15}}),
    )  # fmt: skip


def test_every_kind_of_history_comes_back_equal(shop):
    rows = one_of_each()
    assert {type(row) for row in rows} == set(EVENTS)
    written = shop.write(*rows, by="Ilse")
    for row, back in zip(rows, written, strict=True):
        assert shop.events(type(row)) == (back,)
        if isinstance(row, RunRecord | StartDecision):
            assert (row.setup_version, back.setup_version) == (0, 1)
            row = dataclasses.replace(row, setup_version=1)
        assert back == row


def test_the_second_of_two_editors_is_told_and_nothing_is_lost(place):
    with open_store(place) as noors, open_store(place) as ilses:
        noors.write(*cards(), by="Noor")
        hers, his = ilses.get(JawSet, "S-12"), noors.get(JawSet, "S-12")
        noors.write(dataclasses.replace(his, remark="jaw 2 is nicked"), by="Noor")
        mine = dataclasses.replace(hers, material="aluminium 7075-T6", name="")
        with pytest.raises(ConflictError, match=r"Noor changed it on .* differ in .*remark.*name.*material") as caught:
            ilses.write(cut(), mine, by="Ilse")
        assert caught.value.mine == mine
        assert caught.value.theirs == noors.get(JawSet, "S-12")
        assert caught.value.theirs.remark == "jaw 2 is nicked"
        assert ilses.history("S-12").rows == ()  # the cut went with it
        ilses.write(dataclasses.replace(caught.value.theirs, name=""), by="Ilse")
        kept = noors.versions(JawSet, "S-12")
        assert [v.card.version for v in kept] == [1, 2, 3]
        assert [v.by for v in kept] == ["Noor", "Noor", "Ilse"]
        assert [v.card.remark for v in kept] == ["", "jaw 2 is nicked", "jaw 2 is nicked"]


def test_a_card_that_is_there_is_not_entered_again(shop):
    with pytest.raises(ConflictError, match="machine M-3 is there already, entered by Noor on"):
        shop.write(MachineRecord(id="M-3"), by="Ilse")
    with pytest.raises(InputError, match="no machine 'M-9' in the records to change"):
        shop.write(MachineRecord(id="M-9", version=2), by="Ilse")


def test_every_version_of_a_setup_opens(shop):
    first = shop.get(SetupRecord, "WR-158/20")
    plan = {"kind": "plan", "format": 1, "program": "0.1.0", "content": {"verdict": "passes"}}
    shop.write(dataclasses.replace(first, revision="C", plan=plan), by="Ilse", why="drawing changed")
    old, new = shop.versions(SetupRecord, "WR-158/20")
    assert (old.card.revision, old.card.plan, old.card.document) == ("B", None, DOCUMENT)
    assert (new.card.revision, new.card.plan, new.why) == ("C", plan, "drawing changed")
    with pytest.raises(InputError, match="setup WR-158/20 has versions 1 to 2, not 3"):
        shop.write(RunRecord(at=MONDAY, by="Ilse", setup="WR-158/20", setup_version=3), by="Ilse")


def test_a_correction_is_a_new_row_and_the_standing_follows(shop):
    wrong = cut(diameter=82.0, at=day(0))
    shop.write(wrong, by="Noor")
    right = cut(diameter=28.0, at=day(0), corrects=wrong.id, remark="digits swapped")
    shop.write(right, by="Noor")
    assert shop.standing("S-12").diameter == 28.0
    assert shop.standing("S-12").cuts_done == 1
    assert shop.events(SetCut) == (right,)
    assert set(shop.history("S-12").rows) == {wrong, right}
    assert shop.history("S-12").counting == (right,)
    with pytest.raises(ConflictError, match="was corrected already, by Noor"):
        shop.write(cut(corrects=wrong.id), by="Ilse")


def test_a_cut_written_to_the_wrong_set_moves_to_the_right_one(shop):
    wrong = cut("S-13")
    shop.write(wrong, by="Noor")
    assert shop.standing("S-13").diameter == 82.0
    shop.write(cut("S-12", corrects=wrong.id), by="Noor")
    assert (shop.standing("S-13").diameter, shop.standing("S-13").cuts_done) == (None, 0)
    assert shop.standing("S-12").diameter == 82.0
    assert shop.check() == ()


def test_what_never_happened_is_taken_back(shop):
    first, second = cut(at=day(0)), cut(at=day(5), diameter=84.0, kind="re-cut")
    shop.write(first, second, by="Noor")
    shop.write(dataclasses.replace(second, id="undo", corrects=second.id, withdrawn=True), by="Noor")
    assert shop.standing("S-12").diameter == 82.0
    assert shop.events(SetCut) == (first,)
    assert len(shop.events(SetCut, corrected=True)) == 3


def test_the_standing_is_the_last_word_whatever_was_entered_last(shop):
    shop.write(cut(at=day(9), diameter=84.0, kind="re-cut", web_left=8.0), by="Noor")
    shop.write(cut(at=day(1), diameter=82.0), move("moved", at=day(10), place="shelf 1"), by="Noor")
    now = shop.standing("S-12")
    assert (now.diameter, now.web_left, now.cuts_done, now.place) == (84.0, 8.0, 2, "shelf 1")
    assert now.jaw_order == (1, 2, 3)


def test_a_set_that_is_out_is_not_given_to_a_second_person(shop):
    shop.write(move("in", place="shelf 3"), move("out", at=day(1), holder="Ilse"), by="Noor")
    assert shop.standing("S-12").holder == "Ilse"
    with pytest.raises(ConflictError, match="S-12 is out already: Ilse has it"):
        shop.write(move("out", at=day(2), holder="Tomás"), by="Tomás")
    shop.write(move("in", at=day(3), missing=(3,)), by="Ilse")
    now = shop.standing("S-12")
    assert (now.holder, now.place, now.missing) == ("", "shelf 3", (3,))


def test_half_an_action_is_never_there(shop):
    with pytest.raises(InputError, match=r"set cut .*: machine 'M-77' is not in the records \(machines\)"):
        shop.write(move("in", place="shelf 3"), cut(machine="M-77"), by="Noor")
    assert shop.events(SetMove) == ()
    assert shop.standing("S-12").place == ""


def test_an_answer_that_got_lost_may_be_asked_for_again(shop):
    row = cut()
    run = RunRecord(at=day(3), by="Ilse", setup="WR-158/20")
    assert shop.write(row, run, by="Noor") == shop.write(row, run, by="Noor")
    assert shop.standing("S-12").cuts_done == 1
    with pytest.raises(ConflictError, match="is there already with other content"):
        shop.write(dataclasses.replace(row, diameter=90.0), by="Noor")


def test_the_same_picture_is_kept_once(shop):
    first = Photo.of(b"picture", at=day(1), by="Noor")
    shop.write(first, by="Noor")
    shop.write(Photo.of(b"picture", at=day(2), by="Ilse"), by="Ilse")
    assert shop.events(Photo) == (first,)


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (lambda: cut(remark="a\0b"), "NUL"),
        (lambda: cut(remark="\udc80"), "half a character at place 1"),
        (lambda: MachineRecord(id="M-8", data={"a": float("nan")}), "not a number"),
        (lambda: MachineRecord(id="M-8", name=3), "must be a str"),
        (lambda: cut(tooth=2.5), "must be a int"),
        (lambda: ChuckRecord(id="C-1", machine=""), "not in the records"),
    ],
)
def test_what_cannot_be_kept_is_refused_on_both(shop, broken, words):
    with pytest.raises(InputError, match=words):
        shop.write(broken(), by="Noor")
    assert shop.check() == ()


def test_text_comes_back_as_it_was(shop):
    for name in ("Ø 82 – “pie” 爪 'n", "'; DROP TABLE parts; --", " spaced ", "line\nbreak\ttab\r", "ﬃ🔩", "%_\\"):
        card = MachineRecord(
            id=f"M {len(name)} {name.strip()[:1]}", name=name, remark=name, data={name: [name, 1, 0.1]}
        )
        (written,) = shop.write(card, by=name.strip() or "x", why=name)
        assert shop.get(MachineRecord, card.id) == written


def test_ids_sort_by_their_bytes_on_both(store):
    ids = ["a", "B", "ä", "Z", "10", "9", "_"]
    store.write(*(Tag(id=one) for one in ids), by="Noor")
    assert [card.id for card in store.all(Tag)] == sorted(ids)


def test_retired_cards_are_kept_but_not_offered(shop):
    card = shop.get(MachineRecord, "M-4")
    shop.write(dataclasses.replace(card, retired=True), by="Noor")
    assert [m.id for m in shop.all(MachineRecord)] == ["M-3"]
    assert [m.id for m in shop.all(MachineRecord, retired=True)] == ["M-3", "M-4"]


def test_the_latest_of_a_history(shop):
    rows = [GaugeReading(at=day(n), by="Noor", chuck="C-250", pressure=2.0, force=40e3 + n) for n in range(5)]
    shop.write(*rows, GaugeReading(at=day(9), by="Noor", chuck="C-315", pressure=2.0, force=1e3), by="Noor")
    assert shop.events(GaugeReading, chuck="C-250", newest=2) == tuple(rows[3:])
    with pytest.raises(InputError, match="no colour to look for"):
        shop.events(GaugeReading, colour="red")


def test_the_history_of_a_set_has_runs_and_readings_of_it(shop):
    rows = one_of_each()
    written = shop.write(*rows, by="Ilse")
    kinds = [type(row) for row in shop.history("S-12").rows]
    assert sorted(k.__name__ for k in kinds) == ["IndicatorReading", "RunRecord", "SetCut", "SetMove"]
    assert shop.last_run("WR-158/20") in written
    assert shop.last_run("WR-158/20").readings == {"runout_mm": 0.018}


def test_an_empty_history_says_so(shop):
    assert shop.history("S-13").rows == ()
    assert shop.standing("S-13").diameter is None
    assert shop.last_run("WR-158/20") is None
    for ask in (shop.history, shop.standing, lambda one: shop.get(JawSet, one), lambda one: shop.versions(JawSet, one)):
        with pytest.raises(InputError, match="there is no jaw set 'S-99'"):
            ask("S-99")


def test_nothing_and_nobody_is_refused(shop):
    with pytest.raises(InputError, match="nothing to write"):
        shop.write(by="Noor")
    with pytest.raises(InputError, match="give the name"):
        shop.write(Tag(id="t"), by=" ")


def test_history_cannot_be_changed_behind_the_stores_back(shop):
    shop.write(cut(), by="Noor")
    for statement in ("UPDATE set_cuts SET diameter = 1", "DELETE FROM set_cuts", "DELETE FROM versions",
                      "UPDATE actions SET by = 'x'"):  # fmt: skip
        with pytest.raises(Exception, match="only added to"):
            shop.database.write(lambda c, s=statement: c.execute(text(s)))
    assert shop.standing("S-12").diameter == 82.0
    assert shop.events(SetCut)[0].diameter == 82.0


def test_threads_share_one_store(shop):
    def bore(number):
        for n in range(5):
            shop.write(cut(at=day(number + n / 10), diameter=80.0 + number), by=f"hand {number}")

    threads = [threading.Thread(target=bore, args=(n,)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert shop.standing("S-12").cuts_done == 30
    assert shop.check() == ()


def test_reading_alone(place):
    with open_store(place) as writer:
        writer.write(*cards(), by="Noor")
        with open_store(place, read_only=True) as reader:
            assert len(reader.all(JawSet)) == 2
            with pytest.raises(Exception, match="opened for reading alone"):
                reader.write(Tag(id="t"), by="Noor")


def test_every_kind_of_card_is_in_the_shop():
    kept = {type(card) for card in cards()} | {Tag}
    missing = {kind.__name__ for kind in THINGS.keys() - kept}
    assert missing == {"ActuatorRecord"}
    assert TEETH


def test_the_database_itself_refuses_a_reference_to_nothing(shop):
    """Whatever our own checks would miss."""
    statement = text(
        "INSERT INTO tags (id, version, retired, remark, data, jaw_set) VALUES ('t', 1, :no, '', '{}', 'S-99')"
    )
    with pytest.raises(RecordsError, match="nothing was changed"):
        shop.database.write(lambda c: c.execute(statement, {"no": False}))
    assert shop.all(Tag) == ()


def test_a_writer_has_the_file_to_itself_from_its_first_word(folder):
    """Begun later, two who have read the same could both go on to write."""
    with open_store(folder) as store:

        def work(connection):
            other = sqlite3.connect(folder / FILE_NAME, timeout=0.0, isolation_level=None)
            with pytest.raises(sqlite3.OperationalError):
                other.execute("BEGIN IMMEDIATE")
            other.close()

        store.database.write(work)
