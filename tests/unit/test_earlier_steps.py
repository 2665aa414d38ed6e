"""A set that was bored as a nest: what its steps took away is known when its next bore is planned, started or found."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from conftest import example
from test_program_jobs import nest_setup

from heldtrue.errors import InputError
from heldtrue.planning.boring import bore, recut
from heldtrue.planning.caveats import caveat_words
from heldtrue.planning.plan import plan
from heldtrue.records import SetCut, SetupRecord, open_store
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.from_records import with_records
from heldtrue.shop.gate import start
from heldtrue.shop.put_right import with_steps
from heldtrue.shop.shelf import planned_cut, record_cut, wanted_of, with_standing
from heldtrue.shop.typed import typed_steps

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
LATER = NOW + timedelta(hours=1)
STEPS = ({"diameter": 100, "z": 25}, {"diameter": 65.5, "z": -4})
NO_METAL = "the last cut left no metal"


def long_bush(**changes):
    """A bush without a flange: gripped all along the wall that the step of the nest cut away."""
    return nest_setup((), **{
        "part.profile": [[62, 0], [90, 0], [90, 60], [62, 60]], "part.blank": [[58, 0], [90, 0], [90, 62], [58, 62]],
        "surface": [{"name": "gland bore", "side": "inside", "diameter": 62, "z": [0, 60]}],
        "grip.z": [2, 38], "jaws.grip_height": 35, **changes,
    })  # fmt: skip


@pytest.fixture
def store(tmp_path):
    """The set of both parts was bored as the nest of one of them."""
    with open_store(tmp_path / "records") as opened:
        record_cut(opened, bore(nest_setup(STEPS)), "Noor", NOW, id="nest")
        yield opened


def of_nobody(store, **changes):
    """The cut as it was entered, but for no setup that is kept, and as given."""
    (row,) = store.events(SetCut, jaw_set="J-072")
    store.write(replace(row, id=f"{row.id}-2", at=NOW + timedelta(minutes=1), setup=None, **changes), by="Noor")


def sentences(setup, store):
    return [one.words for one in with_records(setup, store, LATER)[0].contrary]


def test_a_cut_keeps_its_steps_and_the_next_plan_reads_them(store):
    assert store.standing("J-072").bore_steps == ((100.0, 25.0), (65.5, -4.0))
    last = with_standing(long_bush(), store)[0].jaws.last_cut
    assert [(one.diameter, one.z) for one in last.steps] == [(100.0, 25.0), (65.5, -4.0)]


def test_a_part_that_would_hang_on_an_earlier_step_is_no_refit(store):
    """Bore, chuck, machine and tooth are as recorded, and the step took the wall away."""
    made = recut(with_standing(long_bush(**{"jaws.in_order": True}), store)[0])
    assert made.needed
    assert any("other steps" in one for one in made.differs)
    again = recut(with_standing(nest_setup(STEPS, **{"jaws.in_order": True}), store)[0])
    assert not any("other steps" in one for one in again.differs)


@pytest.mark.parametrize("kept", [True, False])
def test_a_wall_that_an_earlier_step_took_gets_no_program(store, kept):
    if not kept:
        of_nobody(store)
    setup = with_standing(long_bush(**{"jaws.tooth": 20}), store)[0]
    made = recut(setup, 88.0)
    assert not made.can_be_cut
    assert any(NO_METAL in one for one in made.refusals)
    without = setup.with_({"jaws.last_cut.steps": []})
    assert recut(without, 88.0).can_be_cut, recut(without, 88.0).refusals


def test_a_step_that_grips_needs_metal_too(store):
    """The new part is gripped on its collar as well, where the last cut was wider."""
    of_nobody(store, bore_steps=((104.0, 25.0),))
    collar = nest_setup([{"diameter": 98, "z": 25, "grips": True}], **{"jaws.tooth": 21, "boring.seat_land": 8})
    setup = with_standing(collar, store)[0]
    assert any(NO_METAL in one for one in recut(setup, 89.0).refusals)
    free = recut(setup.with_({"boring.steps": [{"diameter": 100, "z": 25}]}), 89.0)
    assert free.can_be_cut, free.refusals


def test_what_an_earlier_nest_took_is_in_the_record_of_every_cut_after_it(store):
    """Cut with a smaller step since: the wall that the first one took is still not there."""
    again = nest_setup([{"diameter": 99, "z": 25}], **{"jaws.tooth": 21, "boring.seat_land": 8})
    record_cut(store, planned_cut(with_standing(again, store)[0], 89.0), "Noor", LATER, id="again")
    stands = store.standing("J-072")
    assert stands.cuts_done == 2
    assert (99.0, 25.0) in stands.bore_steps
    old = [one for one in stands.bore_steps if one[0] > 99.1 and one[1] > 0]
    assert old, stands.bore_steps
    assert any(z < 0 and d > 60 for d, z in stands.bore_steps), "nor is what it took behind the seat"


def test_a_used_set_whose_steps_nobody_recorded_is_taken_at_its_worst(store):
    of_nobody(store, bore_steps=None)
    setup = with_standing(long_bush(**{"jaws.tooth": 20}), store)[0]
    assert setup.jaws.last_cut.steps is None
    made = recut(setup, 88.0)
    assert not made.can_be_cut
    assert any("not known whether the last cut of these jaws had steps" in one for one in made.refusals)
    with pytest.raises(Exception, match="cannot be cut as planned"):
        planned_cut(setup, 88.0)
    assert recut(setup.with_({"jaws.last_cut.steps": []}), 88.0).can_be_cut


def test_steps_from_before_they_were_recorded_are_those_of_the_setup_that_was_cut(store):
    (row,) = store.events(SetCut, jaw_set="J-072")
    store.write(replace(row, id=f"{row.id}-2", corrects=row.id, bore_steps=None), by="Noor")
    assert [one.diameter for one in with_standing(long_bush(), store)[0].jaws.last_cut.steps] == [100.0, 65.5]
    # Changed since: which of its versions was cut is not known.
    enter_setup(store, nest_setup(()), "Noor", id="nest", why="no steps")
    assert len(store.versions(SetupRecord, "nest")) == 2
    assert with_standing(long_bush(), store)[0].jaws.last_cut.steps is None
    assert any("not recorded" in one and "steps" in one for one in sentences(nest_setup(()), store))


@pytest.mark.parametrize("recorded", [((100.0, 25.0), (65.5, -4.0)), None])
def test_a_job_for_other_steps_does_not_start(store, recorded):
    """The setup of the cut is not kept: the record alone knows the steps, or that nobody knows them."""
    of_nobody(store, bore_steps=recorded)
    for setup, fits in ((long_bush(), False), (nest_setup(STEPS), recorded is not None)):
        told = sentences(setup, store)
        assert any("steps" in one for one in told) is not fits, told
    bush = enter_setup(store, long_bush(), "Noor", id="bush")
    known = with_records(long_bush(), store, LATER)[0]
    assert plan(known).verdict == "not proven"
    gauge = plan(long_bush()).pressure.recommended
    answer = start(store, long_bush(), bush.id, gauge, typed="as advised", by="Noor", now=LATER).decision
    assert not answer.may
    assert "steps" in answer.words


def test_a_stated_last_cut_with_other_steps_is_not_proven():
    """Without records: what the tag of the set says."""
    last = {"diameter": 89.975, "depth": 40.0, "chuck": "CH-04"}
    setups = [long_bush(**{"jaws.last_cut": {**last, **more}})
              for more in ({"steps": []}, {}, {"steps": [{"diameter": 100, "z": 25}]})]  # fmt: skip
    reasons = [" ".join(caveat_words(one)) for one in setups]
    assert "steps" not in reasons[0]
    assert "not known whether the last cut of these jaws had steps" in reasons[1]
    assert "other steps" in reasons[2]
    assert [plan(one).verdict for one in setups[1:]] == ["not proven", "not proven"]


def test_the_shelf_knows_the_steps_of_a_set(store):
    def cost(setup):
        found = store.find(wanted_of(setup)).matches
        return found[0] if found else None

    assert cost(nest_setup(STEPS)).cost == "re-fit"
    plain = cost(long_bush())
    assert plain.cost == "re-cut"
    assert 1.5 * plain.teeth >= (100 - 89.975) / 2 + 0.2, "so far in that the step of Ø100 is cleaned"
    assert "cut it from Ø100" in plain.words[0]
    assert any("behind its seat" in one for one in plain.words)
    of_nobody(store, bore_steps=None)
    unknown = cost(nest_setup(STEPS))
    assert unknown.cost == "skim"
    assert any("steps are not recorded" in one for one in unknown.words)


def test_what_nobody_recorded_is_entered_with_the_cut(store):
    of_nobody(store, bore_steps=None)
    (row,) = (one for one in store.history("J-072").counting if one.id == store.standing("J-072").last_cut)
    for words in ("100", "100 25 3", "R50 25", "no steps", "100 25;"):
        with pytest.raises(InputError):
            typed_steps(words, "metric")
    store.write(with_steps(row, typed_steps("Ø100 25; 65.5 -4", "metric"), by="Ilse", why="looked"), by="Ilse")
    assert store.standing("J-072").bore_steps == ((100.0, 25.0), (65.5, -4.0))
    assert store.standing("J-072").cuts_done == 2
    assert sentences(nest_setup(STEPS), store) == []
    assert typed_steps("none", "metric") == ()
    assert typed_steps("2 1", "inch") == ((50.8, 25.4),)


def test_a_record_takes_no_step_that_is_none():
    for wrong in ([[100]], [["x", 1]], [[-3, 1]], [[100, float("nan")]], [100, 2], [[True, 1]]):
        with pytest.raises(InputError, match="bore_steps"):
            SetCut(at=NOW, by="Noor", jaw_set="J", diameter=90.0, bore_steps=wrong)


# The depth of the last cut


FLANGE = {"diameter": 89.975, "depth": 24.0, "tooth": 21, "chuck": "CH-04", "machine": "lathe 3", "steps": []}


def flange(**last):
    of_it = {"jaws.tooth": 21, "jaws.in_order": True, "jaws.last_cut": {**FLANGE, **last}}
    return example("gland-flange").with_(of_it)


@pytest.mark.parametrize(("depth", "fits"), [
    (12.0, False), (23.6, False), (23.8, True), (24.2, True), (26.2, True), (29.0, False),
])  # fmt: skip
def test_a_set_bored_to_another_depth_is_no_refit_and_no_proven_plan(depth, fits):
    """The must-fail: the diameter is as recorded, and half of the grip is not there."""
    setup = flange(depth=depth)
    assert any("deep, wanted 24 mm" in one for one in recut(setup).differs) is not fits
    assert any("another depth" in one for one in caveat_words(setup)) is not fits


def test_a_set_bored_to_another_depth_does_not_start(tmp_path):
    setup = example("gland-flange").with_({"jaws.number": "J-072"})
    with open_store(tmp_path / "deep") as store:
        record_cut(store, bore(setup), "Noor", NOW, id="flange")
        (row,) = store.events(SetCut)
        assert not any("deep" in one for one in sentences(setup, store))
        store.write(replace(row, id=f"{row.id}-2", at=NOW + timedelta(minutes=1), depth=12.0), by="Noor")
        assert any("12.000 mm deep, the job wants 24.000 mm" in one for one in sentences(setup, store))


@pytest.mark.parametrize("last", [{"depth": None}, None])
def test_a_used_set_whose_depth_nobody_knows_gets_no_program(last):
    """The must-fail: bored 12 deep for another part, the program went 23.75 deep through what it took for air."""
    setup = example("gland-flange-repeat")
    stated = None if last is None else {**FLANGE, "diameter": 89.5, **last}
    made = recut(setup.with_({"jaws.last_cut": stated}), 89.55)
    assert not made.can_be_cut
    assert any("not known how deep these jaws were bored last" in one for one in made.refusals)
    assert recut(setup, 89.55).can_be_cut
