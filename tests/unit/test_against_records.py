"""What the records say against a job keeps its spindle still: other cuts, other chucks, other plates, other times."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from conftest import example

from heldtrue.planning.plan import plan
from heldtrue.records import (
    ChuckRecord,
    Greasing,
    JawSet,
    MachineRecord,
    Revision,
    RunRecord,
    SetCut,
    SetMove,
    StartDecision,
    open_store,
)
from heldtrue.shop.against_records import against
from heldtrue.shop.chuck_card import plate_table
from heldtrue.shop.chuck_log import with_chuck_log
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.gate import start
from heldtrue.shop.identity import look_of, looks_of
from heldtrue.shop.moving import move_known
from heldtrue.shop.put_right import taken_back, with_diameter
from heldtrue.shop.repeat import repeat_of
from heldtrue.shop.runs import RunMade, record_run

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
BEFORE = NOW - timedelta(days=2)


def sentences(setup, store, now, by=""):
    """What stands against a job, in words."""
    return tuple(one.sentence for one in against(setup, store, now, by))


@pytest.fixture(scope="module")
def shaft():
    return example("winch-shaft")


@pytest.fixture
def store(tmp_path, shaft):
    with open_store(tmp_path / "records") as opened:
        enter_setup(opened, shaft, "Noor", id="shaft")
        yield opened


def cut(**more):
    fits = {"side": "outside", "diameter": 59.985, "chuck": "CH-02", "tooth": 14, "cuts_left": 3, "bore_steps": ()}
    return SetCut(at=BEFORE, by="Ilse", jaw_set="J-031", **{**fits, **more})


def moved(kind="condition", **more):
    return SetMove(at=BEFORE, by="Ilse", jaw_set="J-031", kind=kind, **more)


def test_a_job_that_is_as_the_records_have_it_has_nothing_against_it(store, shaft):
    store.write(cut(), moved(condition="good"), by="Ilse")
    assert against(shaft, store, NOW, "Noor") == ()


@pytest.mark.parametrize(("row", "words"), [
    (cut(diameter=150.0), "last cut to Ø150"),
    (cut(side="inside"), "last cut to grip inside"),
    (cut(chuck="CH-04"), "last cut on chuck CH-04, the job runs on CH-02"),
    (cut(diameter=150.0, cuts_left=0), "no cut is left: take another set"),
    (moved(condition="skim first"), "marked 'skim first'"),
    (moved(condition="scrap"), "marked scrap"),
    (moved(kind="out", holder="Ilse"), "out with Ilse"),
    (moved(missing=(2,)), "jaw 2 of set J-031 is missing"),
])  # fmt: skip
def test_jaws_of_another_state_than_the_job_wants(store, shaft, row, words):
    if row.__class__ is SetCut and row.chuck == "CH-04":
        store.write(ChuckRecord(id="CH-04"), by="Ilse")
    store.write(row, by="Ilse")
    assert any(words in one for one in sentences(shaft, store, NOW, "Noor"))


def test_who_has_the_jaws_may_run_them(store, shaft):
    store.write(moved(kind="out", holder="noor "), by="Ilse")
    assert sentences(shaft, store, NOW, "Noor") == ()


def test_another_tooth_than_they_were_cut_on(store, shaft):
    store.write(cut(tooth=11), by="Ilse")
    assert any("last cut on tooth 11" in one for one in sentences(shaft.with_({"jaws.tooth": 14}), store, NOW))


@pytest.mark.parametrize(("change", "words"), [
    ({"chuck.max_draw_force": 44e3}, "highest draw force of chuck CH-02"),
    ({"chuck.max_speed_rpm": 9000.0}, "highest speed of chuck CH-02"),
    ({"chuck.actuator.pull_area": 15_000.0}, "piston area that pulls of chuck CH-02"),
    ({"chuck.jaws": 4, "jaws.count": 4}, "number of jaws of chuck CH-02"),
])  # fmt: skip
def test_another_plate_under_the_same_number(store, shaft, change, words):
    assert any(words in one for one in sentences(shaft.with_(change), store, NOW))


@pytest.mark.parametrize(("stated", "recorded", "agree"), [
    ({"diameter": 59.985, "diameter_error": 0.005}, {"diameter": 60.06, "diameter_error": 0.01}, False),  # cut since
    ({"diameter": 59.985, "diameter_error": 0.005}, {"diameter": 60.06}, False),
    ({"diameter": 56.0}, {"diameter": 60.06, "diameter_error": 0.01}, False),  # an older cut: counts with what it wants
    ({"diameter": 59.985, "diameter_error": 0.005}, {"diameter": 59.99, "diameter_error": 0.01}, True),
    ({"diameter": 59.985, "diameter_error": 0.005}, {"diameter": 59.985, "diameter_error": 0.08}, False),
    ({"diameter": 56.0}, {"diameter": 60.0, "diameter_error": 0.01}, True),
])  # fmt: skip
def test_a_setup_that_counts_with_another_bore_than_was_cut(store, shaft, stated, recorded, agree):
    """The must-fail: within 0.1 mm of the job, but not the bore that the plan is made with."""
    store.write(cut(**recorded), by="Ilse")
    said = sentences(shaft.with_({"jaws.last_cut": {**stated, "steps": []}}), store, NOW)
    assert any("the setup counts with Ø" in one for one in said) is not agree
    assert sentences(shaft, store, NOW) == ()  # takes the cut of the records


def test_jaws_that_were_cut_with_a_step_for_another_job(store, shaft):
    """The must-fail: the same diameter on the same chuck, but a step where this part is gripped."""
    nest = shaft.with_({"boring.steps": [{"diameter": 70.0, "z": 20.0}]})
    enter_setup(store, nest, "Noor", id="nest")
    store.write(cut(setup="nest", bore_steps=None), by="Ilse")
    assert any("last cut with other steps" in one for one in sentences(shaft, store, NOW))
    assert sentences(nest, store, NOW) == ()
    store.write(replace(cut(setup="shaft"), at=NOW), by="Ilse")
    assert sentences(shaft, store, NOW) == ()
    assert any("with other steps" in one for one in sentences(nest, store, NOW))


def test_a_chuck_that_stands_elsewhere(store, shaft):
    store.write(MachineRecord(id="lathe 9"), by="Noor")
    store.write(replace(store.get(ChuckRecord, "CH-02"), machine="lathe 9"), by="Noor")
    assert any("stands on lathe 9" in one for one in sentences(shaft, store, NOW))


def test_a_part_at_a_newer_revision(store, shaft):
    store.write(Revision(at=BEFORE, by="Ilse", part="WS-045", revision="D"), by="Ilse")
    assert any("at revision D since 2026-02-28" in one for one in sentences(shaft, store, NOW))


# Which one is meant


@pytest.mark.parametrize(("change", "meant"), [
    ({"chuck.number": "ch-02"}, "CH-02"), ({"chuck.number": "CH\u201102"}, "CH-02"),
    ({"chuck.number": "CH-2"}, "CH-02"), ({"chuck.number": "\u0421\u041d-02"}, "CH-02"),
    ({"jaws.number": "j 031"}, "J-031"), ({"jaws.number": "J-O31"}, "J-031"),
    ({"part.number": "ws-45"}, "WS-045"),
])  # fmt: skip
def test_a_number_that_looks_like_another_is_asked_about(store, shaft, change, meant):
    slip = shaft.with_(change)
    assert any(f"did you mean {meant}?" in one for one in sentences(slip, store, NOW))
    enter_setup(store, slip, "Noor", id="slip")
    assert any(f"did you mean {meant}?" in one for one in sentences(slip, store, NOW)), "a slip must not get a card"


@pytest.mark.parametrize(("one", "other"), [("CH-02", "CH-20"), ("J-031", "J-131"), ("A1", "B1"), ("1-02", "10-2")])
def test_numbers_that_differ_stay_apart(one, other):
    assert look_of(one) != look_of(other)


@pytest.mark.parametrize("more", [[], ["CH\u201102"], ["\u0421\u041d-02\n5"]])
def test_many_numbers_look_as_each_does_alone(more):
    numbers = ["CH-02", "1", "02", "A\n1", "1\n2", "\n", "", "0", "J-O31", "9-", "-9", "1-02", "10-2", *more]
    assert looks_of(numbers) == [look_of(one) for one in numbers]
    assert looks_of([]) == []
    assert look_of("1\n02") == look_of("1-02") != look_of("102")


def test_a_number_left_out_is_asked_for(store, shaft):
    bare = shaft.with_({"chuck.number": "", "jaws.number": ""})
    told = sentences(bare, store, NOW)
    assert any("state chuck: number" in one for one in told)
    assert any("state jaws: number" in one for one in told)


@pytest.mark.parametrize(
    ("change", "what", "words"),
    [({"chuck.number": "CH-20"}, "chuck", "did you mean CH-02?"), ({"jaws.number": "J-130"}, "jaws", "add it first")],
)
def test_a_number_that_nobody_knows_plans_and_does_not_start(store, shaft, change, what, words):
    """Two figures the wrong way round: its log, its cut and its scrap mark would not be asked."""
    typed = shaft.with_(change)
    (found,) = against(typed, store, NOW, "Noor")
    assert found.what == what
    assert words in found.sentence
    assert against(typed, store, NOW) == ()
    enter_setup(store, typed, "Noor", id="a new one")
    assert against(typed, store, NOW, "Noor") == ()


def test_a_retired_set_is_not_got_round_by_leaving_its_number_out(store, shaft):
    """It was the only one of the shop: a shop whose cards are all retired keeps cards all the same."""
    for kind, id in ((JawSet, "J-031"), (ChuckRecord, "CH-02")):
        store.write(replace(store.get(kind, id), retired=True), by="Ilse")
    for key, what in (("jaws.number", "jaws"), ("chuck.number", "chuck")):
        found = against(shaft.with_({key: None}), store, NOW, "Noor")
        assert any(one.what == what and "does not say which" in one.words for one in found), what


def test_a_shop_without_records_is_asked_nothing(tmp_path, shaft):
    with open_store(tmp_path / "empty") as empty:
        assert sentences(shaft.with_({"chuck.number": "", "jaws.number": ""}), empty, NOW) == ()


def test_a_retired_chuck_keeps_its_log(store, shaft):
    store.write(replace(store.get(ChuckRecord, "CH-02"), retired=True), by="Noor")
    store.write(Greasing(at=NOW - timedelta(days=40), by="Ilse", chuck="CH-02"), by="Ilse")
    assert any("chuck CH-02 is retired" in one for one in sentences(shaft, store, NOW))
    assert with_chuck_log(shaft, store, NOW)[0].chuck.grease == "poor"


# Time


def test_a_clock_behind_the_records(store, shaft):
    store.write(Greasing(at=NOW, by="Ilse", chuck="CH-02"), by="Ilse")
    assert sentences(shaft, store, NOW) == ()
    assert any("set the clock right" in one for one in sentences(shaft, store, NOW - timedelta(days=1)))


# At the gate


def test_a_newest_entry_that_was_taken_back_still_tells_of_the_clock(store, shaft):
    (greased,) = store.write(Greasing(at=NOW, by="Ilse", chuck="CH-02"), by="Ilse")
    store.write(taken_back(greased, by="Ilse", why="not greased"), by="Ilse")
    assert any("set the clock right" in one for one in sentences(shaft, store, NOW - timedelta(days=1)))


def test_a_cut_put_right_twice_still_comes_before_what_was_entered_after_it(store, shaft):
    """Ilse's clock was a week behind when she cut the set for another job; the cut before was put right, and again."""
    (first,) = store.write(cut(diameter=59.9), by="Ilse")
    (other,) = store.write(replace(cut(diameter=150.0), at=BEFORE - timedelta(days=7)), by="Ilse")
    for diameter in (59.95, 59.985):
        (first,) = store.write(with_diameter(first, diameter, by="Ilse", why="measured again"), by="Ilse")
    assert [one.what for one in against(shaft, store, NOW, "Noor")] == ["jaws"], other


def test_what_stands_against_a_job_is_said_before_its_pressure_and_an_override_stays_in_sight(store, shaft):
    gauge = plan(shaft).pressure.recommended
    asked = {"typed": "as advised", "by": "Noor"}
    assert start(store, shaft, "shaft", gauge, now=BEFORE, **asked).decision.may
    store.write(moved(condition="skim first"), by="Ilse")
    refused = start(store, shaft, "shaft", gauge, now=NOW, **asked)
    assert not refused.decision.may
    assert "skim first" in refused.decision.words
    alone = record_run(store, shaft, "shaft", RunMade(rough_pressure=gauge), by="Noor", now=NOW)
    assert alone.changed[0].startswith("run although the start of 2026-03-02 07:30 was refused")
    made = start(store, shaft, "shaft", gauge, now=NOW, override="skimmed by hand on the bench", **asked)
    assert made.goes
    run = record_run(store, shaft, "shaft", RunMade(rough_pressure=gauge), by="Noor", now=NOW)
    assert run.changed[0] == "started against the answer by Noor: skimmed by hand on the bench"
    later = NOW + timedelta(hours=1)
    again = start(store, shaft, "shaft", gauge, now=later, **asked)
    assert "the last start, 2026-03-02, was made against the answer by Noor" in again.decision.warnings[0]
    assert store.events(StartDecision, setup="shaft")[-1].verdict == "must not start"
    # Asking the gate once more hides nothing of how the last run was started.
    assert repeat_of(store, "shaft", shaft).override == made.row
    once_more = start(store, shaft, "shaft", gauge, now=later, **asked)
    assert "was made against the answer by Noor" in once_more.decision.warnings[0]


def test_pressures_that_may_still_be_set_are_said(store, shaft):
    gauge = plan(shaft).pressure.recommended
    store.write(RunRecord(at=BEFORE, by="Ilse", setup="shaft", chuck="CH-02", rough_pressure=2.2), by="Ilse")
    other = enter_setup(store, shaft, "Ilse", id="other")
    store.write(RunRecord(at=NOW, by="Ilse", setup=other.id, chuck="CH-02", finish_pressure=0.6), by="Ilse")
    told = start(store, shaft, "shaft", gauge, typed="as advised", by="Noor", now=NOW).decision.warnings
    assert any("the last run, 2026-02-28 by Ilse, was at 319 psi; the gauge shows" in one for one in told)
    assert any("the last job on CH-02, other on 2026-03-02, was at 87 psi: it may still be set" in one for one in told)


def test_jaw_sets_by_the_thousand_do_not_make_the_gate_wait_for_all(store, shaft, monkeypatch):
    asked = []
    real = type(store).all

    def counted(self, kind, **more):
        asked.append(kind)
        return real(self, kind, **more)

    monkeypatch.setattr(type(store), "all", counted)
    sentences(shaft, store, NOW)
    assert JawSet not in asked


def test_a_move_rests_on_what_the_records_know_as_well(store, shaft):
    """On the page and by the API as by the command."""
    plate = plate_table(store.get(ChuckRecord, "CH-02"))
    assert move_known(store, shaft, plate, None, NOW).plan.verdict == "not proven", "nobody entered a greasing there"
    store.write(Greasing(at=NOW, by="Ilse", chuck="CH-02"), by="Ilse")
    assert move_known(store, shaft, plate, None, NOW).plan.verdict == "passes"
    store.write(moved(condition="scrap"), by="Ilse")
    made = move_known(store, shaft, plate, None, NOW)
    assert made.plan.verdict == "not proven"
    assert any("marked scrap" in one.words for one in made.setup.contrary)
