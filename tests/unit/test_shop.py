"""Where plans meet the shop's memory: setups, jaws, chucks, starts, moves."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from conftest import ROOT, example, floor, planned

from heldtrue.errors import InputError
from heldtrue.planning.boring import bore
from heldtrue.planning.hardware_file import chuck_table
from heldtrue.planning.inputs import prepare
from heldtrue.planning.jaw_layout import lay_out_used
from heldtrue.planning.plan import plan
from heldtrue.planning.setup import Setup
from heldtrue.planning.way_space import GripPlace, candidate
from heldtrue.planning.ways import NEW, OTHER_CHUCK, RECUT
from heldtrue.quantities import parse_quantity
from heldtrue.records import (
    ChuckRecord,
    GaugeReading,
    Greasing,
    JawSet,
    MachineRecord,
    PartRecord,
    RunRecord,
    SetCut,
    SetMove,
    SetupRecord,
    StartDecision,
    open_setup,
    open_store,
)
from heldtrue.shop.against_records import against
from heldtrue.shop.chuck_log import chuck_state, plate_of, with_chuck_log
from heldtrue.shop.enter import changes_of, enter_setup, setup_named
from heldtrue.shop.find_setup import SetupFinder
from heldtrue.shop.from_records import with_records
from heldtrue.shop.gate import start
from heldtrue.shop.moving import move
from heldtrue.shop.put_right import taken_back
from heldtrue.shop.repeat import repeat_of
from heldtrue.shop.shelf import Reading, limits_of, new_jaw_set, record_cut, wanted_of, with_standing
from heldtrue.shop.tags import what_is
from heldtrue.shop.way_costs import costs_on

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
CHUCKS = ROOT / "examples" / "chucks"


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "records") as opened:
        yield opened


@pytest.fixture(scope="module")
def shaft():
    return example("winch-shaft")


def psi(value):
    return parse_quantity(f"{value} psi", "pressure")


# Setups


def test_a_setup_brings_its_cards_along(store, shaft):
    card = enter_setup(store, shaft, "Noor", id="winch-shaft", plan=planned("winch-shaft"))
    assert card.version == 1
    for kind, id in ((MachineRecord, "lathe 1"), (ChuckRecord, "CH-02"), (PartRecord, "WS-045"), (JawSet, "J-031")):
        assert store.get(kind, id).version == 1
    assert open_setup(store.get(SetupRecord, "winch-shaft").document) == shaft
    assert plan(open_setup(card.document)).verdict == planned("winch-shaft").verdict


def test_an_unchanged_setup_is_no_new_version_and_a_changed_one_is(store, shaft):
    enter_setup(store, shaft, "Noor", id="s")
    assert enter_setup(store, shaft, "Noor", id="s").version == 1
    changed = shaft.with_({"cuts.0.feed": 0.2})
    assert enter_setup(store, changed, "Noor", id="s", why="lighter").version == 2
    assert [one.why for one in store.versions(SetupRecord, "s")] == ["", "lighter"]


def test_the_chuck_of_an_inch_setup_goes_into_a_metric_one():
    sleeve = example("pump-sleeve-inch")
    table = example("winch-shaft").to_dict()
    table["chuck"] = sleeve.chuck_table()
    there = Setup.from_dict(table)
    assert there.chuck.max_draw_force == pytest.approx(sleeve.chuck.max_draw_force)
    assert there.source("chuck.max_draw_force") == sleeve.source("chuck.max_draw_force")


def test_a_setup_is_found_by_file_and_by_id(store, shaft):
    path = ROOT / "examples" / "winch-shaft.toml"
    assert setup_named(store, path)[0] is None
    enter_setup(store, shaft, "Noor", id="winch-shaft")
    assert setup_named(store, "winch-shaft")[1] == shaft
    assert setup_named(store, path)[0].id == "winch-shaft"
    with pytest.raises(InputError, match="neither a setup file nor the id"):
        setup_named(store, "winch-shift")


# The gate


def test_a_start_is_recorded_with_name_gauge_and_reason(store, shaft):
    made = start(store, shaft, "w", psi(170), typed="170 psi", by="Noor", now=NOW)
    assert not made.goes
    (row,) = store.events(StartDecision, setup="w")
    assert (row.verdict, row.by, row.gauge_text, row.at) == ("must not start", "Noor", "170 psi", NOW)
    assert "tips out of the jaws during 'rough thread end'" in row.reason
    assert row.setup_version == 1
    good = start(store, shaft, "w", psi(395), typed="395 psi", by="Noor", now=NOW)
    assert good.goes
    assert store.events(StartDecision, setup="w")[-1].verdict == "may start"


def test_an_override_needs_a_reason_and_stays_a_must_not(store, shaft):
    with pytest.raises(InputError, match="is no reason"):
        start(store, shaft, "w", psi(170), typed="170 psi", by="Noor", now=NOW, override="ok")
    assert store.all(SetupRecord) == ()
    made = start(
        store, shaft, "w", psi(300), typed="300 psi", by="Noor", now=NOW, override="dry run, no cut, 200 rev/min"
    )
    assert made.goes
    assert made.overridden
    assert store.events(StartDecision)[0].verdict == "must not start"
    assert store.events(StartDecision)[0].override_reason.startswith("dry run")
    with pytest.raises(InputError, match="give your name"):
        start(store, shaft, "w", psi(300), typed="300 psi", by=" ", now=NOW)


@pytest.mark.parametrize(("more", "word"), [
    ({"condition": "scrap"}, "marked scrap"), ({"condition": "good", "missing": (2,)}, "jaw 2 of set J-031 is missing"),
])  # fmt: skip
def test_jaws_that_are_scrap_or_not_all_there_must_not_start(store, shaft, more, word):
    card = enter_setup(store, shaft, "Noor", id="s")
    asked, gauge = {"typed": "as advised", "by": "Noor", "now": NOW}, planned("winch-shaft").pressure.recommended
    assert start(store, shaft, "s", gauge, **asked).decision.may
    store.write(SetMove(at=NOW, by="Noor", jaw_set=card.jaw_set, kind="condition", **more), by="Noor")
    made = start(store, shaft, "s", gauge, **asked)
    assert not made.decision.may
    assert word in made.decision.words
    assert word in made.row.reason
    assert any(word in one.sentence for one in with_records(shaft, store, NOW)[0].contrary)


def test_another_set_than_the_planned_one_must_not_start(store, shaft):
    card = enter_setup(store, shaft, "Noor", id="s")
    stands = store.get(JawSet, card.jaw_set)
    store.write(replace(stands, style="wide", material="7075-T6"), by="Noor")
    words = "; ".join(one.words for one in against(shaft, store, NOW))
    assert "the style of jaw set J-031 is wide by the shelf, standard in the setup" in words
    assert "the material of jaw set J-031 is 7075-T6 aluminium by the shelf" in words
    gauge = planned("winch-shaft").pressure.recommended
    assert not start(store, shaft, "s", gauge, typed="as advised", by="Noor", now=NOW).decision.may


def test_a_set_bored_for_the_other_side_is_not_taken_as_bored_for_this(store, shaft):
    card = enter_setup(store, shaft, "Noor", id="s")
    cut = SetCut(at=NOW, by="Noor", jaw_set=card.jaw_set, side="inside", diameter=60.0, depth=12.0, tooth=14)
    store.write(cut, by="Noor")
    assert with_standing(shaft, store) == (shaft, ())
    assert any("last cut to grip inside" in one.words for one in against(shaft, store, NOW))


def test_an_override_of_a_start_that_may_be_is_not_kept(store, shaft):
    made = start(store, shaft, "w", psi(395), typed="395 psi", by="Noor", now=NOW, override="because I said so")
    assert not made.overridden


# The chuck's log


def read(store, chuck, pairs, at, by="Ilse"):
    rows = [
        GaugeReading(at=at + timedelta(minutes=n), by=by, chuck=chuck, pressure=p, force=f)
        for n, (p, f) in enumerate(pairs)
    ]
    store.write(*rows, by=by)


@pytest.fixture
def logged(store, shaft):
    enter_setup(store, shaft, "Noor", id="w")
    slope = 0.9 * plate_of(shaft).slope
    read(store, "CH-02", [(p, slope * (p - 0.1)) for p in (1.0, 2.0, 3.0)], NOW - timedelta(days=20))
    return store, slope


def test_plans_rest_on_the_readings_of_a_greased_chuck(logged, shaft):
    store, slope = logged
    store.write(Greasing(at=NOW - timedelta(days=1), by="Ilse", chuck="CH-02"), by="Ilse")
    state = chuck_state(store, store.get(ChuckRecord, "CH-02"), NOW, plate_of(shaft))
    assert state.days == (20, 19, 19)
    assert state.estimate.measured
    assert state.estimate.grip(2.0) == pytest.approx(slope * 1.9, rel=0.02)
    assert state.estimate.share[1] == pytest.approx(0.9, rel=0.02)
    taken, words = with_chuck_log(shaft, store, NOW)
    assert "3 grip readings of CH-02" in words[0]
    known = {one.label for one in plan(taken, helped=False).assumed}
    assert known < {one.label for one in planned("winch-shaft").assumed}  # measured now


def test_readings_of_other_days_count_for_less_in_a_chuck_that_is_overdue(logged, shaft):
    """A dry chuck loses grip that a reading of last month knows nothing of."""
    store, _ = logged
    floors = []
    for day in (1, 30):
        store.write(Greasing(at=NOW - timedelta(days=day), by="Ilse", chuck="CH-02"), by="Ilse")
        floors.append(floor(with_chuck_log(shaft, store, NOW + timedelta(days=0 if day == 1 else 8))[0]))
    assert floors[1] > 1.2 * floors[0]


def test_a_grip_that_has_fallen_is_said_and_planned_with_what_is_left(logged, shaft):
    store, slope = logged
    before, _ = with_chuck_log(shaft, store, NOW)
    read(store, "CH-02", [(p, 0.6 * slope * (p - 0.1)) for p in (1.0, 2.0, 3.0)], NOW - timedelta(hours=1))
    state = chuck_state(store, store.get(ChuckRecord, "CH-02"), NOW)
    assert state.fallen
    assert state.change == pytest.approx(0.6, rel=0.03)
    assert "the grip has fallen by" in state.words[0]
    assert len(state.used) == 3
    after, words = with_chuck_log(shaft, store, NOW)
    assert any("fallen" in one for one in words)
    assert floor(after) > 1.1 * floor(before)


def test_the_log_counts_where_the_setup_states_readings_of_its_own(store, shaft):
    """A fall that the log knows must not be hidden by what a file once said."""
    enter_setup(store, shaft, "Noor", id="w")
    slope = plate_of(shaft).slope
    stated = shaft.with_({"chuck.grip_readings": [
        {"pressure": p, "force": 0.95 * slope * (p - 0.1), "days": 0} for p in (1.5, 2.5)]})  # fmt: skip
    read(store, "CH-02", [(p, 0.5 * slope * (p - 0.1)) for p in (1.5, 2.5)], NOW - timedelta(hours=1))
    gauge = floor(stated) * 1.05
    assert start(store, stated, "own", gauge, typed="", by="Noor", now=NOW - timedelta(days=2)).goes is False
    both, _ = with_chuck_log(stated, store, NOW)
    assert len(both.chuck.grip_readings) == 4
    assert not start(store, stated, "w", gauge, typed="", by="Noor", now=NOW).goes


def test_a_reading_over_the_plate_opens_nothing(store, shaft):
    enter_setup(store, shaft, "Noor", id="w")
    before = floor(with_chuck_log(shaft, store, NOW)[0])
    read(store, "CH-02", [(psi(300), 85e3)], NOW - timedelta(hours=1))
    taken, words = with_chuck_log(shaft, store, NOW)
    assert floor(taken) >= before
    assert any("does not fit" in one for one in words)
    assert not start(store, shaft, "w", psi(250), typed="250 psi", by="Noor", now=NOW).goes


def test_a_few_per_cent_less_is_no_fall(logged):
    store, slope = logged
    read(store, "CH-02", [(p, 0.97 * slope * (p - 0.1)) for p in (1.0, 2.0)], NOW - timedelta(hours=1))
    assert not chuck_state(store, store.get(ChuckRecord, "CH-02"), NOW).fallen


def test_one_wild_reading_moves_nothing_and_is_named(store, shaft):
    enter_setup(store, shaft, "Noor", id="w")
    pairs = [(1 + 0.25 * n, 20e3 * (1 + 0.25 * n - 0.1)) for n in range(10)]
    pairs[4] = (pairs[4][0], 3 * pairs[4][1])
    read(store, "CH-02", pairs, NOW - timedelta(days=1))
    state = chuck_state(store, store.get(ChuckRecord, "CH-02"), NOW)
    assert state.estimate.grip(2.0) == pytest.approx(20e3 * 1.9, rel=0.03)
    assert state.estimate.doubtful == (4,)
    assert "does not fit the others" in " ".join(state.words)


def test_readings_that_scatter_are_planned_at_their_low_end_and_said(store, shaft):
    """One slip of the pen must never turn a must-not into a may."""
    enter_setup(store, shaft, "Noor", id="w")
    weak = [(psi(200), 10e3), (psi(300), 15e3), (psi(400), 20e3)]
    read(store, "CH-02", weak, NOW - timedelta(hours=2))
    assert not start(store, shaft, "w", psi(395), typed="395 psi", by="Noor", now=NOW).goes
    read(store, "CH-02", [(psi(300), 60e3)], NOW - timedelta(hours=1))
    after = start(store, shaft, "w", psi(395), typed="395 psi", by="Noor", now=NOW)
    assert not after.goes
    assert any("does not fit" in words for words in after.from_log)
    two_groups = [(psi(200), 22e3), (psi(300), 33e3), (psi(400), 44e3), (psi(200), 12e3), (psi(300), 18e3)]
    read(store, "CH-02", two_groups, NOW - timedelta(minutes=40))
    assert not start(store, shaft, "w", psi(395), typed="395 psi", by="Noor", now=NOW).goes


def test_a_cut_far_from_the_planned_one_is_not_kept(store, shaft):
    with pytest.raises(InputError, match="was not planned"):
        record_cut(store, bore(shaft), "Noor", NOW, id="w", diameter=Reading(500.0))


def test_overdue_grease_is_poor_whatever_the_file_says(store, shaft):
    enter_setup(store, shaft, "Noor", id="w")
    store.write(Greasing(at=NOW - timedelta(days=30), by="Ilse", chuck="CH-02"), by="Ilse")
    said_good = shaft.with_({"chuck.grease": "good"})
    taken, words = with_chuck_log(said_good, store, NOW)
    assert taken.chuck.grease == "poor"
    assert "grease was due" in words[0]
    store.write(Greasing(at=NOW - timedelta(days=1), by="Ilse", chuck="CH-02"), by="Ilse")
    silent = shaft.with_({"chuck.grease": None})
    assert with_chuck_log(silent, store, NOW)[0].chuck.grease == "good"
    assert with_chuck_log(said_good, store, NOW)[0].chuck.grease == "good"


def test_a_chuck_without_a_card_changes_nothing(store, shaft):
    assert with_chuck_log(shaft, store, NOW) == (shaft, ())


# The shelf


def test_a_cut_made_as_planned_is_found_again_for_the_same_setup(store, shaft):
    stands = record_cut(store, bore(shaft), "Noor", NOW, id="w").standing
    assert (stands.diameter, stands.tooth, stands.chuck, stands.cuts_done) == (pytest.approx(59.985), 14, "CH-02", 1)
    found = store.find(wanted_of(shaft))
    assert found.matches[0].cost == "re-fit"
    other = wanted_of(shaft.with_({"chuck.number": "CH-04"}))
    assert store.find(other).matches[0].cost == "skim"


def test_a_plan_knows_the_last_cut_of_its_jaws_from_the_records(store, shaft):
    assert with_standing(shaft, store) == (shaft, ())
    kept = record_cut(store, bore(shaft), "Noor", NOW, id="w", diameter=Reading(59.991, 0.004), depth=Reading(43.03))
    assert kept.stamp == "J-031, tooth 14, Ø59.991 mm, 43.030 mm deep, cut 1"
    assert kept.words == ()
    known, words = with_standing(shaft, store)
    last = known.jaws.last_cut
    assert (last.diameter, last.diameter_error) == (pytest.approx(59.991), 0.004)
    assert (last.depth, last.depth_error) == (pytest.approx(43.03), 0.02)
    assert None not in (last.relief_width, last.relief_depth, last.seat_land, last.seat_relief)
    assert (known.jaws.tooth, known.jaws.cuts_done) == (14, 1)
    assert words == ("last cut of J-031 from the records: Ø59.991 mm, measured within 0.0040 mm",)
    found = prepare(known).known["jaw bore"]
    assert (found.low, found.likely, found.high) == pytest.approx((59.987, 59.991, 59.995))
    assert found.source == "measured"


def test_a_cut_nobody_measured_is_known_no_better_than_before(store, shaft):
    kept = record_cut(store, bore(shaft), "Noor", NOW, id="w")
    assert "Ø59.985 mm planned" in kept.stamp
    assert "measure it" in kept.words[0]
    found = prepare(with_standing(shaft, store)[0]).known["jaw bore"]
    assert (found.low, found.high, found.source) == (pytest.approx(59.935), pytest.approx(60.035), "assumed")


def test_a_cut_as_stated_that_nobody_measured_changes_nothing(store):
    ring = Setup.from_toml(ROOT / "examples" / "wear-ring.toml").with_({"jaws.number": "J-9"})
    record_cut(store, bore(ring), "Noor", NOW, id="r")
    assert prepare(with_standing(ring, store)[0]).known["jaw bore"] == prepare(ring).known["jaw bore"]


def test_where_setup_and_records_say_two_bores_the_plan_counts_with_both(store, shaft):
    record_cut(store, bore(shaft), "Noor", NOW, id="w", diameter=Reading(60.02, 0.005))
    found = prepare(with_standing(shaft.with_({"jaws.bore_diameter": 59.985}), store)[0]).known["jaw bore"]
    assert (found.low, found.high) == pytest.approx((59.975, 60.025))


@pytest.mark.parametrize("moved", [{"tooth": 12}, {"chuck": "CH-09"}])
def test_a_bore_measured_on_another_tooth_or_chuck_is_not_measured_here(shaft, moved):
    last = {"diameter": 60.0, "diameter_error": 0.004, "tooth": 14, "chuck": shaft.chuck.number}
    here = shaft.with_({"jaws.tooth": 14, "jaws.bore_diameter": None, "jaws.last_cut": last})
    known = prepare(here).known["jaw bore"]
    assert (known.low, known.high, known.source) == (pytest.approx(59.996), pytest.approx(60.004), "measured")
    known = prepare(here.with_({"jaws.last_cut": last | moved})).known["jaw bore"]
    assert (known.low, known.high, known.source) == (pytest.approx(59.935), pytest.approx(60.05), "assumed")


def test_a_bore_measured_out_of_its_tolerance_takes_the_pass_away(store):
    ring = Setup.from_toml(ROOT / "examples" / "wear-ring.toml").with_({"jaws.number": "J-9"})
    assert plan(ring).verdict == "passes"
    kept = record_cut(store, bore(ring), "Noor", NOW, id="r", diameter=Reading(140.09))
    assert "outside what was planned" in kept.words[0]
    told, _ = with_records(ring, store, NOW)
    assert not told.contrary  # near enough to be this bore: the plan itself has to see it
    made = plan(told)
    assert made.verdict == "not proven"
    assert [check.state for check in made.checks if check.name.startswith("roundness")] == ["not proven"]


@pytest.mark.parametrize(("given", "why"), [
    ({"diameter": Reading(None, 0.01)}, "without the diameter that was measured"),
    ({"diameter": Reading(59.99, 0.0)}, "found 0 mm; 0.0005 to 0.1 mm"),
    ({"diameter": Reading(59.99, 0.5)}, "found 0.5 mm"),
    ({"diameter": Reading(float("nan"))}, "a diameter of nan mm"),
    ({"diameter": Reading(59.99, float("nan"))}, "found nan mm"),
    ({"depth": Reading(4.3)}, "a depth of 4.3 mm was not planned"),
    ({"depth": Reading(43.0, 0.3)}, "error of the depth"),
])  # fmt: skip
def test_what_cannot_have_been_measured_is_not_kept(store, shaft, given, why):
    with pytest.raises(InputError, match=why):
        record_cut(store, bore(shaft), "Noor", NOW, id="w", **given)
    assert store.events(SetCut) == ()


def test_the_old_seat_is_metal_as_high_as_it_may_stand(shaft):
    used = shaft.with_({"jaws.last_cut": {"diameter": 56.0, "depth": 40.0, "tooth": 14, "steps": []}, "jaws.tooth": 14})
    rough = used.with_({"jaws.last_cut.depth_error": 0.1})
    seats = [lay_out_used(prepare(one), 56.0)[0].design(0.0).metal[-1][1] for one in (used, rough)]
    assert seats[1] - seats[0] == pytest.approx(0.1)


def test_a_set_without_a_number_is_not_recorded(store, shaft):
    with pytest.raises(InputError, match="cannot be found again"):
        record_cut(store, bore(shaft.with_({"jaws.number": None})), "Noor", NOW, id="w")


def test_limits_of_a_set_come_from_its_plan(store, shaft):
    assert limits_of(store, "J-031") == (None, "bar", None)
    made = planned("winch-shaft")
    enter_setup(store, shaft, "Noor", id="w", plan=made)
    pressure, unit, speed = limits_of(store, "J-031")
    assert unit == "psi"
    assert pressure == pytest.approx(made.pressure.ceiling)
    assert speed == pytest.approx(made.speed.top)


def test_what_changed_since_the_last_run_is_said(store, shaft):
    card = enter_setup(store, shaft, "Noor", id="w")
    assert changes_of(store, "w", shaft) == ()
    store.write(
        RunRecord(at=NOW, by="Noor", setup="w", setup_version=card.version, chuck="CH-02", quantity=5), by="Noor"
    )
    assert changes_of(store, "w", shaft) == ("last run 2026-03-02",)
    words = changes_of(store, "w", shaft.with_({"cuts.0.feed": 0.2}))
    assert any("feed" in one for one in words[1:])


def test_what_changed_is_told_by_value_not_by_how_it_is_written(store, shaft):
    """Units spelled out, or what the records add to a plan, are no change of the setup."""
    card = enter_setup(store, shaft, "Noor", id="w")
    store.write(RunRecord(at=NOW, by="Noor", setup="w", setup_version=card.version, quantity=5), by="Noor")
    feed = shaft.cuts[0].feed
    spelled = shaft.with_({"cuts.0.feed": f"{feed / 25.4!r} in/rev"})
    assert changes_of(store, "w", spelled) == ("last run 2026-03-02",)
    repeat = repeat_of(store, "w", shaft)
    assert (repeat.version, repeat.last.quantity, repeat.changes) == (card.version, 5, ("last run 2026-03-02",))
    assert repeat_of(store, "nobody", shaft).last is None


def found(finder, store, words):
    shown, count = finder.find(store, words)
    assert count == len(shown)
    return [one.id for one in shown]


def test_a_saved_setup_is_found_by_what_somebody_remembers(store, shaft):
    sleeve, ring, finder = example("pump-sleeve-inch"), example("wear-ring"), SetupFinder()
    for id, setup, by in (("shaft", shaft, "Noor"), ("sleeve", sleeve, "Ilse"), ("ring", ring, "Noor")):
        enter_setup(store, setup, by, id=id)
    store.write(RunRecord(at=NOW, by="Tomas", setup="ring", quantity=5), by="Tomas")
    inch = sleeve.grip.diameter / 25.4
    for words, wanted in (
        ("", ["ring", "shaft", "sleeve"]), ("bronze", ["ring"]), ("wr-158", ["ring"]), ("RING second", ["ring"]),
        ("ø140", ["ring"]), ("138", []), ("about 137", ["ring"]), ("~137", ["ring"]),
        ("5 1/2 inch", ["ring"]), ("5 1/2 inches", ["ring"]), ("140 bronze noor", ["ring"]),
        ("140 bronze ilse", []), ("tomas", ["ring"]), ("lathe 3", ["ring", "sleeve"]), ("J-118", ["ring"]),
        (f"{inch:.3f} in", ["sleeve"]), (f"{inch:.3f}", ["sleeve"]), (f"{inch:.3f} mm", []), ("nothing such", []),
    ):  # fmt: skip
        assert sorted(found(finder, store, words)) == sorted(wanted), words
    assert found(finder, store, "")[0] == "ring", "the last that ran comes first"
    enter_setup(store, ring.with_({"title": "Ring for the big pump"}), "Noor", id="ring")
    assert found(finder, store, "big pump") == ["ring"], "a new version is read again"
    assert finder.find(store, "", limit=1)[1] == 3


def test_a_scanned_sheet_leads_to_its_setup(store, shaft):
    enter_setup(store, shaft, "Noor", id="w")
    assert what_is(store, "w").kind == "setup"
    assert what_is(store, "J-031").kind == "set"
    assert what_is(store, "x").kind == "unknown"


# Another machine


def test_another_machine_keeps_the_draw_force_not_the_pressure(shaft):
    there = chuck_table(CHUCKS / "250-wedge.toml", jaws=3)
    moved = move(shaft, there, {"name": "lathe 3", "max_speed": 3500})
    assert moved.pressure_there != pytest.approx(moved.pressure_here)
    here_area, there_area = shaft.chuck.actuator.pull_area, moved.setup.chuck.actuator.pull_area
    assert moved.pressure_there * there_area == pytest.approx(moved.pressure_here * here_area)
    assert moved.draw_force == pytest.approx(moved.pressure_here * here_area)
    assert "piston area" in {one.what for one in moved.differences}


def test_what_blocks_on_another_machine_comes_first(shaft):
    six = move(shaft, chuck_table(CHUCKS / "250-six-jaw.toml"))
    assert six.blocked
    if six.setup is not None:
        assert six.differences[0].blocks
    weak = chuck_table(CHUCKS / "200-wedge.toml")
    weak["actuator"]["max_pressure"] = "5 bar"
    blocked = move(shaft, weak)
    assert blocked.blocked
    assert any("the cylinder takes" in one.there for one in blocked.differences) or "pressure" in blocked.why


def test_a_move_to_itself_changes_nothing(shaft):
    moved = move(shaft, shaft.chuck_table())
    assert moved.differences == ()
    assert moved.pressure_there == pytest.approx(moved.pressure_here)
    assert moved.plan.verdict == planned("winch-shaft").verdict


def test_a_broken_chuck_file_names_everything_wrong(tmp_path):
    path = tmp_path / "chuck.toml"
    path.write_text('units = "metric"\nname = "x"\nmax_draw_force = "34 kg m"\nsped = 3\n')
    with pytest.raises(InputError) as caught:
        chuck_table(path)
    assert len(caught.value.problems) >= 3


def test_a_reading_taken_back_is_said_until_the_chuck_is_read_again(store, shaft):
    enter_setup(store, shaft, "Noor", id="s")
    (row,) = store.write(GaugeReading(at=NOW, by="Ilse", chuck="CH-02", pressure=2.0, force=20e3), by="Ilse")
    words = "was taken back and nothing was read since"
    assert not any(words in one for one in with_records(shaft, store, NOW)[1])
    store.write(taken_back(row, by="Ilse", why="wrong scale"), by="Ilse")
    assert any(words in one for one in with_records(shaft, store, NOW)[1])
    again = GaugeReading(at=NOW + timedelta(hours=1), by="Ilse", chuck="CH-02", pressure=2.0, force=40e3)
    store.write(again, by="Ilse")
    assert not any(words in one for one in with_records(shaft, store, NOW + timedelta(hours=2))[1])


# What a way to hold costs


def test_the_jaws_of_a_way_cost_what_the_shelf_has(store, shaft):
    job = prepare(shaft)
    asked = costs_on(store)
    where = GripPlace("outside", 60.0, (1.0, 40.0))
    long, six = (candidate(shaft, job.jaws, where, "standard", jaws) for jaws in (3, 6))
    setup = long.setup_of(shaft)
    assert asked(long, setup) == (NEW, "")
    serration = wanted_of(setup).serration
    store.write(new_jaw_set("J-7", "standard", setup.jaws.material, serration=serration, jaws=3), by="Noor")
    cut = SetCut(
        at=NOW,
        by="Noor",
        jaw_set="J-7",
        side="outside",
        diameter=56.0,
        depth=40.0,
        tooth=14,
        web_left=20.0,
        bore_steps=(),
    )
    store.write(cut, by="Noor")
    cost, jaw_set = asked(long, setup)
    assert (cost, jaw_set) == (RECUT, "J-7")
    store.write(SetMove(at=NOW + timedelta(hours=1), by="Kim", jaw_set="J-7", kind="out"), by="Kim")
    assert asked(long, setup) == (NEW, ""), "somebody has it: it is no set to count on"
    assert asked(six, six.setup_of(shaft)) == (OTHER_CHUCK, "")
