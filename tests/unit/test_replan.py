"""Every setup of the records planned again: what turned, what stands, and that the gate never lets more through."""

import csv
import io
import json
import random
import tomllib
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest
from conftest import ROOT, example, longer, planned

from heldtrue.errors import InputError
from heldtrue.inspection.learning import Accepted
from heldtrue.planning.plan import plan
from heldtrue.planning.result import PASSES
from heldtrue.records import (
    ChuckRecord,
    GaugeReading,
    Greasing,
    JawSet,
    RecordsError,
    Replanned,
    ReplanSeen,
    Revision,
    SetCut,
    SetMove,
    SetupRecord,
    open_store,
)
from heldtrue.records.replans import FAILED, FULL, KEPT_LIMITS
from heldtrue.shop.basis import basis_of
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.from_records import with_records
from heldtrue.shop.gate import NOT_REPLANNED, start
from heldtrue.shop.learned import accept
from heldtrue.shop.put_right import taken_back
from heldtrue.shop.replanning import look as looking
from heldtrue.shop.replanning import run as running
from heldtrue.shop.replanning import state
from heldtrue.shop.replanning.compare import OTHER_PRESSURE, goes_by
from heldtrue.shop.replanning.document import replan_csv, replan_json
from heldtrue.shop.replanning.run import Which, replan, see
from heldtrue.shop.replanning.settle import turned_of
from heldtrue.shop.replanning.shortcut import Known, Shortcut
from heldtrue.shop.replanning.standing import not_looked_at, stopping
from heldtrue.shop.replanning.state import FACES, State, content_of, key_of, program, sources

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
CHUCK = "CH-02"


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "records") as opened:
        yield opened


@pytest.fixture
def shop(store):
    """Two jobs on two chucks, planned once."""
    for name in ("winch-shaft", "gland-flange"):
        enter_setup(store, example(name), "Noor", id=name)
    replan(store, at=NOW)
    return store


def later(days):
    return NOW + timedelta(days=days)


def greased(store, days=0.0):
    store.write(Greasing(at=later(days), by="Noor", chuck=CHUCK), by="Noor")


def read_grip(store, share, days=0.0):
    """Two readings of the shaft's chuck at a share of its plate."""
    chuck = example("winch-shaft").chuck
    slope = chuck.max_grip_force / chuck.max_draw_force * chuck.actuator.pull_area
    for number, pressure in enumerate((1.6, 2.1)):
        at = later(days) + timedelta(minutes=number)
        force = share * slope * (pressure - 0.08)
        store.write(GaugeReading(at=at, by="Noor", chuck=CHUCK, pressure=pressure, force=force), by="Noor")


@pytest.fixture
def plans(monkeypatch):
    """The setups that were planned in full."""
    made, really = [], running.look
    monkeypatch.setattr(running, "look", lambda store, id, at: made.append(id) or really(store, id, at))
    return made


# What is looked at, and how often


def test_a_state_is_looked_at_once(shop, plans):
    again = replan(shop, at=later(0.5))
    assert (again.looked_at, again.known, again.unchanged, again.planned) == (2, 2, 2, 0)
    assert plans == []


def test_a_lost_fifth_of_the_grip_turns_what_a_full_plan_turns(shop):
    read_grip(shop, 0.62)
    found = replan(shop, at=later(0.01))
    turned = {one.setup: one for one in found.turned}
    for id in ("winch-shaft", "gland-flange"):
        now = plan(with_records(example(id), shop, later(0.01))[0])
        was = planned(id)
        if now.verdict == was.verdict and id not in turned:
            steps = {step.name: step for step in now.pressure.steps}
            for one in was.pressure.steps:
                assert steps[one.name].floor <= one.recommended <= steps[one.name].ceiling
        else:
            assert (turned[id].was, turned[id].reason != "") == ("passes", True)
            assert turned[id].now in (now.verdict, OTHER_PRESSURE)
    assert "winch-shaft" in turned


def test_only_setups_of_that_chuck_are_looked_at_again(shop, plans):
    enter_setup(shop, example("wear-ring"), "Noor", id="wear-ring")
    replan(shop, at=NOW)
    plans.clear()
    read_grip(shop, 0.62)
    found = replan(shop, at=later(0.01))
    assert "wear-ring" not in plans
    assert (found.known, found.planned) == (2, 1)


def test_kept_limits_decide_where_the_pressures_still_pass(shop, plans):
    wide = example("gland-flange").chuck.number
    greased_on = NOW - timedelta(days=1)
    shop.write(Greasing(at=greased_on, by="Noor", chuck=wide), by="Noor")
    found = replan(shop, which=Which(chuck=wide), at=later(0.01))
    assert (found.shortened, found.planned) == (found.looked_at, 0)
    assert plans == []
    # The plan that left them stands as it did, and nothing more is asked before a start.
    (row,) = shop.replanned(["gland-flange"], every=True)
    assert (row.how, row.verdict) == (FULL, PASSES)
    assert running.standing(shop, later(0.01)).left == 0
    assert not not_looked_at(shop, example("gland-flange"), later(0.01))


def test_what_kept_limits_say_is_written_where_something_else_stood_last(shop, plans):
    wide = example("gland-flange").chuck.number
    (full,) = shop.replanned(["gland-flange"], every=True)
    worse = replace(full, state="worse", verdict="fails", limits="", first_at=later(0.01), last_at=later(0.01))
    shop.keep_replanned([worse])
    shop.write(Greasing(at=NOW - timedelta(days=1), by="Noor", chuck=wide), by="Noor")
    assert not_looked_at(shop, example("gland-flange"), later(0.02))
    assert running.standing(shop, later(0.02)).left == 1
    for days in (0.02, 0.03):  # and once
        found = replan(shop, which=Which(chuck=wide), at=later(days))
        assert (found.looked_at, found.planned, found.turned) == (1, 0, [])
        row = shop.replanned(["gland-flange"])[0]
        assert (row.how, row.verdict, row.base, row.last_at) == (KEPT_LIMITS, PASSES, full.state, later(0.02))
    assert not not_looked_at(shop, example("gland-flange"), later(0.03))
    assert plans == []


def test_the_gate_no_longer_refuses_what_turned_in_a_state_that_is_past(shop, plans):
    """The report said nothing, the gate went on by the plan of the worse state, and no re-plan could end it."""
    wide = example("gland-flange").chuck.number
    (full,) = shop.replanned(["gland-flange"], every=True)
    steps = {name: step if step["pressure"] is None else
             {**step, "pressure": step["pressure"] * 1.2, "floor": step["pressure"] * 1.1}
             for name, step in full.steps.items()}  # fmt: skip
    worse = replace(full, state="worse", steps=steps, first_at=later(0.01), last_at=later(0.01))
    shop.keep_replanned([worse])
    assert stopping(shop, example("gland-flange"))
    shop.write(Greasing(at=NOW - timedelta(days=1), by="Noor", chuck=wide), by="Noor")
    assert replan(shop, which=Which(chuck=wide), at=later(0.02)).turned == []
    assert stopping(shop, example("gland-flange")) == ()
    assert not not_looked_at(shop, example("gland-flange"), later(0.02))
    assert plans == []


def test_a_check_out_of_jaws_is_no_new_plan(shop, plans, monkeypatch):
    jaw_set = shop.get(SetupRecord, "winch-shaft").jaw_set
    shop.write(SetMove(at=NOW, by="Noor", jaw_set=jaw_set, kind="out", holder="Ilse"), by="Noor")
    from heldtrue.shop.replanning import look

    monkeypatch.setattr(look, "judged", lambda study: pytest.fail("it was planned"))
    assert replan(shop, at=later(0.01)).turned == []
    assert plans == ["winch-shaft"]


@pytest.mark.parametrize("what", ["cut", "plate", "revision"])
def test_what_changes_under_a_setup_is_planned_anew(shop, plans, what):
    card = shop.get(SetupRecord, "winch-shaft")
    if what == "cut":
        shop.write(SetCut(at=NOW, by="Noor", jaw_set=card.jaw_set, diameter=72.0, depth=12.0), by="Noor")
    elif what == "plate":
        chuck = shop.get(ChuckRecord, card.chuck)
        shop.write(replace(chuck, data={**chuck.data, "max_draw_force": "20 kN"}), by="Noor")
    else:
        shop.write(Revision(at=NOW, by="Noor", part=card.part, revision="Z"), by="Noor")
    (turned,) = replan(shop, at=later(0.01), which=Which(chuck=CHUCK)).turned
    assert plans == ["winch-shaft"]
    assert (turned.was, turned.now) == ("passes", "not proven")
    assert turned.pressures == {}


@pytest.mark.parametrize("stated", [
    {"chuck.grease": "poor"}, {"chuck.grip_readings": [{"pressure": 2.0, "force": 40000.0, "days": 3}]},
])  # fmt: skip
def test_limits_are_shared_only_where_the_setups_say_the_same_of_their_chuck(stated):
    """The must-fail: what one setup states itself another may have out of a log, and a log goes on."""
    silent = example("winch-shaft").with_({"chuck.grease": None, "chuck.grip_readings": None})
    said = silent.with_(stated)
    assert key_of(said, said.chuck) == key_of(said, said.chuck)
    assert key_of(said, said.chuck) != key_of(said, silent.chuck)


def test_a_base_read_on_its_own_chuck_is_a_new_state_and_one_read_on_another_is_none(shop, plans):
    """A plan rests on what its own chuck showed: what another showed must not make it less careful."""

    def read_base(chuck, tilt):
        for number, times in enumerate((1.0, 1.02)):
            accept(shop, shop.get(ChuckRecord, chuck), "jaw base", Accepted(tilt * times, 0.2, "feeler"), "Noor",
                   later(number / 10), style=example("winch-shaft").jaws.style)  # fmt: skip

    def planned_base(at):
        return with_records(example("winch-shaft"), shop, later(at))[0].jaws.base_tilt_range

    other = example("gland-flange").chuck.number
    assumed = planned_base(0.3)
    read_base(other, 2e8)
    assert planned_base(0.5) == assumed
    assert replan(shop, which=Which(chuck=CHUCK), at=later(0.5)).known == 1
    plans.clear()
    read_base(CHUCK, 6e7)
    replan(shop, which=Which(chuck=CHUCK), at=later(0.6))
    assert plans == ["winch-shaft"]
    own = planned_base(0.6)
    assert own != assumed
    read_base(other, 2.4e8)
    assert planned_base(0.7) == own
    assert replan(shop, which=Which(chuck=CHUCK), at=later(0.7)).known == 1
    assert plans == ["winch-shaft"]


def test_another_version_of_the_program_plans_all_of_it_anew(shop, plans, monkeypatch):
    monkeypatch.setattr(state, "program", lambda: "another")
    assert replan(shop, at=later(0.01)).planned == 2
    assert sorted(plans) == ["gland-flange", "winch-shaft"]


def test_whatever_a_plan_may_come_out_of_is_part_of_the_program(monkeypatch):
    """All floors from the shop down, and no floor above it: these only show."""
    rules = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]
    layers = [layer.split(" : ") for layer in rules[0]["layers"]]
    at = layers.index(["heldtrue.shop"])
    above, below = ({one.split(".")[1] for layer in part for one in layer} for part in (layers[:at], layers[at:]))
    assert above | {"__main__"} == {name.removesuffix(".py") for name in FACES}
    there = {path for path, _ in sources()}
    assert below <= {path.split("/")[0].removesuffix(".py") for path in there}
    assert {"inspection/learning.py", "records/standing.py", "quantities.py", "kept_answers.py"} <= there
    before = program()
    monkeypatch.setattr(state, "sources", lambda: [("inspection/learning.py", b"another rule")])
    program.cache_clear()
    try:
        assert program() != before
    finally:
        monkeypatch.undo()
        program.cache_clear()


def test_overdue_grease_is_seen_by_its_date_alone(shop):
    greased(shop)
    assert replan(shop, at=later(1)).turned == []
    (turned,) = replan(shop, at=later(9)).turned
    assert (turned.setup, turned.was, turned.now) == ("winch-shaft", "passes", "not proven")
    greased(shop, 9.1)
    assert replan(shop, at=later(9.2)).turned == []


def test_an_old_state_that_comes_back_is_the_newest_again(shop):
    read_grip(shop, 0.62)
    assert replan(shop, at=later(0.01)).turned
    for one in shop.events(GaugeReading):
        taken = GaugeReading(at=one.at, by="Noor", chuck=CHUCK, pressure=one.pressure, force=one.force,
                             corrects=one.id, withdrawn=True)  # fmt: skip
        shop.write(taken, by="Noor")
    assert replan(shop, at=later(0.02)).turned == []
    assert start_shaft(shop, 0.02).goes


# Filters


def test_filters(store):
    for name in ("winch-shaft", "wear-ring"):
        enter_setup(store, example(name), "Noor", id=name)
    ids = {one.id for one in Which(material="CuSn12").of(store)}
    assert ids == {"wear-ring"}
    assert {one.id for one in Which(machine="lathe 1").of(store)} == {"winch-shaft"}
    assert {one.id for one in Which(jaw_set="J-031", material="CuSn12").of(store)} == set()
    for name in ("chuck", "machine", "jaw_set", "part", "revision"):
        with pytest.raises(InputError, match=r"nobody's.*there are: \w"):
            Which(**{name: "nobody's"}).of(store)
    assert {one.id for one in Which(jaw_set="J-031").of(store)} == {"winch-shaft"}
    with pytest.raises(InputError, match="not known"):
        Which(material="cheese").of(store)


def test_a_setup_is_found_by_the_chuck_it_names_itself(store):
    """Its card was entered while no chuck of that number was in the records."""
    enter_setup(store, example("winch-shaft"), "Noor", id="s")
    store.write(replace(store.get(SetupRecord, "s"), chuck=None), by="Noor")
    assert [one.id for one in Which(chuck=CHUCK).of(store)] == ["s"]
    enter_setup(store, example("gland-flange"), "Noor", id="other")
    assert [one.id for one in Which(chuck=CHUCK, part=example("winch-shaft").part.number).of(store)] == ["s"]


def test_a_setup_of_another_material_than_the_card_of_its_part_is_found_by_both(store):
    """The must-fail: a rule for a steel changes, and the setup that is really of it is not looked at."""
    enter_setup(store, example("winch-shaft"), "Noor", id="s")
    card = example("winch-shaft").part.material
    enter_setup(store, example("winch-shaft").with_({"part.material": "16MnCr5"}), "Noor", id="s")
    for material in (card, "16MnCr5"):
        assert [one.id for one in Which(material=material).of(store)] == ["s"]
    assert Which(material="CuSn12").of(store) == ()


def test_a_material_without_a_card_of_its_part_is_found(store):
    enter_setup(store, example("wear-ring"), "Noor", id="bare")
    store.write(replace(store.get(SetupRecord, "bare"), part=None), by="Noor")
    assert [one.id for one in Which(material="CuSn12").of(store)] == ["bare"]


# What cannot be planned


def spoil(store, id, change):
    """A setup's card as a hand, or an older program, may have left it."""
    card = store.get(SetupRecord, id)
    document = json.loads(json.dumps(card.document))
    change(document["content"])
    store.write(replace(card, document=document), by="Noor")


@pytest.mark.parametrize(("change", "reason"), [
    (lambda c: c.pop("cut"), "cut"),
    (lambda c: [c["chuck"].pop(key) for key in ("max_grip_force", "max_draw_force")], "; chuck: max_grip_force"),
    (lambda c: c["chuck"]["actuator"].update(pull_area=None), "pull_area"),
    (lambda c: c["part"].update(material="unobtainium"), "unobtainium"),
    (lambda c: c.clear(), "missing"),
])  # fmt: skip
def test_what_cannot_be_planned_is_listed_and_the_rest_goes_on(shop, change, reason):
    spoil(shop, "winch-shaft", change)
    for minutes in (1, 2):  # and again: it may have been put right outside the records
        found = replan(shop, at=NOW + timedelta(minutes=minutes))
        assert [one.setup for one in found.failed] == ["winch-shaft"]
        assert reason in found.failed[0].reason
        assert (found.looked_at, found.unchanged) == (2, 1)
    assert shop.replanned(["winch-shaft"])[0].verdict == FAILED


def test_in_slices_what_cannot_be_planned_is_not_tried_twice(shop, plans):
    """The must-fail: setups that cannot be planned took the time of every slice, and the rest was never reached."""
    spoil(shop, "gland-flange", lambda c: c.pop("cut"))
    greased(shop)
    read_grip(shop, 0.62)
    ahead = [replan(shop, at=later(0.01), seconds=0) for _ in range(3)]
    assert plans == ["gland-flange", "winch-shaft"]
    assert [one.left for one in ahead] == [1, 0, 0]
    assert [[one.setup for one in report.failed] for report in ahead] == [["gland-flange"]] * 3
    assert (ahead[-1].looked_at, ahead[-1].known) == (2, 2)
    assert running.standing(shop, later(0.01)).left == 0


def test_a_setup_that_breaks_the_program_is_listed_and_the_rest_goes_on(shop, monkeypatch):
    really = running.look

    def breaks(store, id, at):
        if id == "gland-flange":
            raise ZeroDivisionError("nobody thought of this")
        return really(store, id, at)

    monkeypatch.setattr(running, "look", breaks)
    monkeypatch.setattr(state, "program", lambda: "another")
    found = replan(shop, at=later(0.01))
    assert [(one.setup, one.reason) for one in found.failed] == [
        ("gland-flange", "ZeroDivisionError: nobody thought of this")
    ]
    assert (found.looked_at, found.planned) == (2, 1)


def test_records_that_are_away_say_nothing_of_a_setup(shop, monkeypatch):
    """The must-fail: kept as "cannot be planned", it would stand so until something changes."""

    def away(*_):
        raise RecordsError("the server is away")

    spoil(shop, "winch-shaft", lambda c: c["cut"][0].update(feed=0.11))
    monkeypatch.setattr(looking, "with_records", away)
    with pytest.raises(RecordsError, match="away"):
        replan(shop, at=later(0.01))
    monkeypatch.undo()
    assert [one.verdict for one in shop.replanned()] == [PASSES, PASSES]
    assert replan(shop, at=later(0.01)).failed == []


def test_what_never_passed_is_no_news_and_is_listed(shop):
    enter_setup(shop, example("winch-shaft").with_({"cuts.0.feed": 0.6}), "Noor", id="heavy")
    for minutes in (1, 2):
        found = replan(shop, at=NOW + timedelta(minutes=minutes))
        assert (found.turned, found.unchanged, len(found.stopped)) == ([], 3, 0)
        assert [(one.setup, one.chuck) for one in found.refused] == [("heavy", CHUCK)]
        assert found.refused[0].reason
    assert json.loads(replan_json(found))["refused"][0]["setup"] == "heavy"
    (line,) = csv.DictReader(io.StringIO(replan_csv(found)))
    assert (line["setup"], line["chuck"], line["was"], line["now"]) == ("heavy", CHUCK, "", found.refused[0].verdict)
    assert line["reason"] == found.refused[0].reason
    assert line["rough"] == line["finish"] == line["all cuts"] == line["unit"] == ""
    assert [one.setup for one in running.standing(shop, NOW + timedelta(minutes=3)).refused] == ["heavy"]


def test_a_cut_that_was_of_another_set_is_a_new_state_of_both(shop, plans):
    """The must-fail: put right with the number of another set, a cut goes from a set without a row of its own."""
    jaws = example("winch-shaft").jaws.number
    shop.write(JawSet(id="J-900", style="pie", material="aluminium 6061-T6"), by="Noor")

    def cut(diameter, hour):
        return SetCut(at=later(hour / 24), by="Noor", jaw_set=jaws, side="outside", diameter=diameter, bore_steps=())

    size = example("winch-shaft").grip.diameter
    (wrong, right) = shop.write(cut(size + 3, 1), cut(size, 2), by="Noor")
    replan(shop, at=later(0.2))
    passes = shop.replanned(["winch-shaft"])[0]
    assert passes.verdict == PASSES
    moved = replace(right, id=cut(size, 3).id, jaw_set="J-900", corrects=right.id, remark="it was set J-900")
    shop.write(moved, by="Noor")
    told, _ = with_records(example("winch-shaft"), shop, later(0.3))
    assert any("was last cut" in one.words for one in told.contrary)
    (turned,) = replan(shop, at=later(0.3)).turned
    assert turned.setup == "winch-shaft"
    assert "was last cut" in turned.reason
    assert wrong.id < right.id


def test_a_chuck_whose_card_has_no_plate_is_planned_by_the_setup(shop):
    shop.write(replace(shop.get(ChuckRecord, CHUCK), data={}), by="Noor")
    read_grip(shop, 0.62)
    found = replan(shop, at=later(0.01))
    assert found.failed == []
    assert [one.setup for one in found.turned] == ["winch-shaft"]


# Stop and go on, any order, twice


def test_what_is_stopped_goes_on_where_it_was(store, plans):
    for name in ("winch-shaft", "gland-flange", "wear-ring"):
        enter_setup(store, example(name), "Noor", id=name)

    def stop(progress):
        if progress.done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        replan(store, at=NOW, watch=stop)
    assert len(store.replanned()) == 2
    plans.clear()
    assert replan(store, at=NOW).looked_at == 3
    assert len(plans) == 1


def test_progress_has_a_rate_and_a_time_left(store):
    enter_setup(store, example("winch-shaft"), "Noor", id="s")
    seen = []
    replan(store, at=NOW, watch=seen.append)
    assert (seen[-1].done, seen[-1].all) == (1, 1)
    assert seen[-1].rate > 0
    assert seen[-1].left == 0
    assert seen[0].left is None or seen[0].done


def row(state, minute, verdict="passes", how=FULL, **more):
    at = NOW + timedelta(minutes=minute)
    return Replanned(setup="s", state=state, rest="r", version=1, content="c", verdict=verdict, how=how, first_at=at,
                     last_at=at, **more)  # fmt: skip


def test_rows_may_come_in_any_order_and_twice(tmp_path):
    rows = [row("a", 1), row("b", 2, "fails"), row("a", 3), row("b", 1.5, how=KEPT_LIMITS), row("c", 0, FAILED),
            row("c", 0.5)]  # fmt: skip
    found = []
    for number, order in enumerate((rows, rows[::-1], [*rows, *rows], rows[3:] + rows[:3])):
        with open_store(tmp_path / str(number)) as store:
            enter_setup(store, example("winch-shaft"), "Noor", id="s")
            for one in order:
                store.keep_replanned([one])
            found.append(store.replanned(["s"], every=True))
            assert store.check() == ()
    assert all(one == found[0] for one in found)
    assert [(one.state, one.verdict, one.how) for one in found[0]] == [
        ("c", "passes", FULL), ("b", "fails", FULL), ("a", "passes", FULL),
    ]  # fmt: skip


# The gate


def start_shaft(store, days):
    gauge = planned("winch-shaft").pressure.recommended
    return start(store, example("winch-shaft"), "winch-shaft", gauge, typed="as advised", by="Noor", now=later(days))


def test_the_gate_knows_at_once_and_until_somebody_has_looked(shop):
    assert start_shaft(shop, 0).goes
    greased(shop)
    assert NOT_REPLANNED in start_shaft(shop, 9).decision.warnings
    replan(shop, at=later(9))
    greased(shop, 9.1)  # what turned it is put right, but nobody has re-planned or looked since
    made = start_shaft(shop, 9.2)
    assert not made.goes
    assert any("was re-planned: it was 'passes' and now 'not proven'" in one for one in made.decision.reasons)
    see(shop, "winch-shaft", "Noor", later(9.3))
    assert start_shaft(shop, 9.4).goes


def test_a_job_under_another_number_is_the_same_job(shop):
    greased(shop)
    replan(shop, at=later(9))
    greased(shop, 9.1)
    gauge = planned("winch-shaft").pressure.recommended
    made = start(shop, example("winch-shaft"), "copy", gauge, typed="", by="Noor", now=later(9.2))
    assert not made.goes


def test_a_new_version_of_the_card_alone_lets_nothing_start(shop):
    greased(shop)
    replan(shop, at=later(9))
    greased(shop, 9.1)
    shop.write(replace(shop.get(SetupRecord, "winch-shaft"), remark="nothing else"), by="Noor")
    assert not start_shaft(shop, 9.2).goes
    replan(shop, at=later(9.3))
    assert start_shaft(shop, 9.4).goes


def test_looking_never_makes_a_start_out_of_a_refusal(shop):
    greased(shop)
    replan(shop, at=later(9))
    see(shop, "winch-shaft", "Noor", later(9.1))
    made = start_shaft(shop, 9.2)
    assert not made.goes
    assert not any("was re-planned" in one for one in made.decision.reasons)
    assert replan(shop, at=later(9.3)).turned == []


def test_an_answer_on_a_screen_falls_when_a_re_plan_turns(shop):
    greased(shop)
    before = basis_of(example("winch-shaft"), shop, later(9))
    replan(shop, at=later(9))
    assert basis_of(example("winch-shaft"), shop, later(9)).changes(before) == ("replanned",)


def test_a_setup_that_is_changed_is_planned_anew(shop):
    greased(shop)
    replan(shop, at=later(9))
    greased(shop, 9.1)
    lighter = example("winch-shaft").with_({"cuts.0.feed": 0.15})
    enter_setup(shop, lighter, "Noor", id="winch-shaft", plan=plan(lighter))
    assert replan(shop, at=later(9.2)).turned == []


def test_what_passes_again_and_falls_again_turns_again(shop):
    greased(shop)
    replan(shop, at=later(9))
    see(shop, "winch-shaft", "Noor", later(9.1))
    greased(shop, 9.2)
    (better,) = replan(shop, at=later(9.3)).turned
    assert (better.was, better.now, better.stops) == ("not proven", "passes", False)
    assert start_shaft(shop, 9.4).goes
    (worse,) = replan(shop, at=later(20)).turned
    assert (worse.was, worse.now, worse.stops) == ("passes", "not proven", True)


def test_what_passes_as_it_once_did_after_somebody_looked_and_falls_again_turns_again(shop):
    """The must-fail: what came back was first seen before the look, and the shop started by it all the same."""
    assert shop.replanned(["winch-shaft"])[0].verdict == PASSES
    read_grip(shop, 0.4, 1)
    (worse,) = replan(shop, which=Which(chuck=CHUCK), at=later(1.1)).turned
    assert worse.now != PASSES
    see(shop, "winch-shaft", "Noor", later(1.2))
    for one in shop.events(GaugeReading, chuck=CHUCK):
        shop.write(taken_back(one, by="Noor", why="another chuck"), by="Noor")
    assert replan(shop, at=later(1.3)).planned == 0
    assert shop.replanned(["winch-shaft"])[0].verdict == PASSES
    assert stopping(shop, example("winch-shaft")) == ()
    read_grip(shop, 0.4, 2)
    (again,) = replan(shop, at=later(2.1)).turned
    assert (again.setup, again.was, again.stops) == ("winch-shaft", PASSES, True)
    assert stopping(shop, example("winch-shaft"))


def test_looking_needs_something_to_look_at(store):
    enter_setup(store, example("winch-shaft"), "Noor", id="s")
    with pytest.raises(InputError, match="never re-planned"):
        see(store, "s", "Noor", NOW)
    with pytest.raises(InputError, match="there is no setup"):
        see(store, "nobody's", "Noor", NOW)
    assert store.events(ReplanSeen) == ()


def test_the_plan_kept_with_a_setup_is_what_it_is_compared_with(store):
    enter_setup(store, example("winch-shaft"), "Noor", id="winch-shaft", plan=planned("winch-shaft"))
    read_grip(store, 0.5)
    (turned,) = replan(store, at=later(0.01)).turned
    assert (turned.was, turned.stops) == ("passes", True)


@pytest.mark.parametrize("name", ["winch-shaft", "wear-ring", "pump-sleeve-inch", "valve-stem"])
def test_a_setup_is_known_by_its_content_whichever_way_it_came(name):
    from heldtrue.planning.setup import Setup

    setup = example(name)
    assert content_of(Setup.from_dict(setup.to_dict(as_corners=True))) == content_of(setup)
    assert content_of(Setup.from_dict(json.loads(json.dumps(setup.to_dict())))) == content_of(setup)
    assert content_of(setup.with_(pressure=1.0)) != content_of(setup)


# For other programs


def test_json_and_csv_have_the_names_that_others_rely_on(shop):
    greased(shop)
    spoil(shop, "gland-flange", lambda c: c.pop("cut"))
    found = replan(shop, at=later(9))
    document = json.loads(replan_json(found))
    assert {"looked_at", "unchanged", "turned", "failed", "seconds"} <= set(document)
    (turned,) = document["turned"]
    assert set(turned) == {"setup", "chuck", "was", "now", "reason", "pressure"}
    assert set(document["failed"][0]) == {"setup", "reason"}
    rows = list(csv.DictReader(io.StringIO(replan_csv(found))))
    assert [(one["setup"], one["now"]) for one in rows] == [
        ("winch-shaft", "not proven"), ("gland-flange", "cannot be planned"),
    ]  # fmt: skip


def test_a_number_that_a_spreadsheet_would_compute_is_marked(store):
    enter_setup(store, example("winch-shaft"), "Noor", id="=1+1")
    spoil(store, "=1+1", lambda c: c.pop("cut"))
    assert replan_csv(replan(store, at=NOW)).splitlines()[1].startswith("'=1+1")


def test_new_cards_do_not_ask_for_plans(shop, plans):
    shop.write(JawSet(id="J-900", style="pie", material="aluminium 6061-T6"), ChuckRecord(id="CH-77"), by="Noor")
    assert replan(shop, at=later(0.01)).known == 2
    assert plans == []


def test_a_chuck_that_looks_like_another_does(shop):
    shop.write(ChuckRecord(id="CH-O2"), by="Noor")
    (turned,) = replan(shop, at=later(0.01)).turned
    assert "look like one" in turned.reason


# The shortcut beside full plans


@pytest.mark.parametrize(("seed", "entries"), [(1, 3), *longer(*((seed, 7) for seed in range(1, 7)))])
def test_with_kept_limits_the_same_turns_as_with_full_plans_alone(tmp_path, monkeypatch, seed, entries):
    """A season of readings, grease and runs on two chucks: after each entry both find the same."""
    draw, days, shortened = random.Random(seed), 0.0, 0
    with open_store(tmp_path / "short") as short, open_store(tmp_path / "long") as full:
        stores = (short, full)
        for store in stores:
            for name in ("winch-shaft", "gland-flange", "pump-sleeve-inch"):
                enter_setup(store, example(name), "Noor", id=name)
        chucks = {one.chuck.number: one for one in map(example, ("winch-shaft", "gland-flange", "pump-sleeve-inch"))}
        for _ in range(entries):
            days += draw.choice([0.1, 1.0, 5.0, 40.0])
            number = draw.choice(sorted(chucks))
            rows = entry(number, chucks[number], days, draw)
            found = []
            for store in stores:
                store.write(*rows, by="Noor")
                with monkeypatch.context() as patch:
                    if store is full:
                        patch.setattr(Shortcut, "floors", lambda self, asked: [None] * len(asked))
                    found.append(replan(store, at=later(days + 0.01)))
            shortened += found[0].shortened
            said = [[(one.setup, one.was, one.now, one.reason) for one in report.turned] for report in found]
            assert said[0] == said[1]
            assert found[0].failed == found[1].failed
    assert shortened > 0


def entry(number, setup, days, draw):
    """What somebody enters of a chuck: grease, or two readings that agree more or less."""
    at = later(days)
    if draw.random() < 0.4:
        return [Greasing(at=at, by="Noor", chuck=number)]
    actuator = setup.chuck.actuator
    area = actuator.pull_area if setup.grip.side == "outside" else actuator.push_area
    slope = draw.uniform(0.6, 0.98) * setup.chuck.max_grip_force / setup.chuck.max_draw_force * area
    return [GaugeReading(at=at + timedelta(seconds=n), by="Noor", chuck=number, pressure=p,
                         force=slope * (p - 0.06) * draw.gauss(1, 0.015))
            for n, p in enumerate((draw.uniform(1.0, 1.5), draw.uniform(1.6, 2.2)))]  # fmt: skip


def full_plan(**more):
    """A full plan that passed at 1.5 MPa."""
    more = {"planned": {}, "steps": {"rough": {"pressure": 1.5, "floor": 1.0, "floor_by": "hold", "ceiling": 2.0,
                                               "ceiling_by": "yield"}}} | more  # fmt: skip
    return row("then", 1, **more)


def plan_kept(pressure, verdict=PASSES, step="rough"):
    return {"verdict": verdict, "pressures": {step: pressure}}


LOOKED = ReplanSeen(at=NOW, by="Noor", setup="s", version=1, verdict=PASSES, steps={"rough": {"pressure": 1.5}})


@pytest.mark.parametrize(("planned", "others", "seen"), [
    (plan_kept(1.6), [], None), (plan_kept(1.5, "fails"), [], None), (plan_kept(1.5, step="finish"), [], None),
    ({}, [row("before", 0, "fails")], None), ({}, [row("since", 2)], None), ({}, [], LOOKED),
])  # fmt: skip
def test_what_the_shop_goes_by_beside_the_plan_is_compared(planned, others, seen):
    """The must-fail: taken as unchanged, a setup that was set to another pressure would never turn."""
    full = full_plan(planned=planned)
    assert not goes_by(full, [*others, full], seen)
    assert not goes_by(full_plan(verdict="fails"), [full], None)


@pytest.mark.parametrize("planned", [{}, plan_kept(1.5), plan_kept(1.5 * (1 + 4e-7)), plan_kept(1.5 * (1 - 4e-7))])
def test_what_the_shop_goes_by_alone_never_turns_while_its_pressures_hold(planned):
    full = full_plan(planned=planned)
    assert goes_by(full, [full], None)
    for floor in (0.5, 1.4, 1.5):
        held = Shortcut.outcome.__get__(SimpleNamespace(now=NOW))(Known(full, State("r", "now")), {"rough": floor})
        assert held.state == "now"
        assert turned_of(held, [full], None) is None


def test_what_kept_limits_said_is_dropped_when_more_is_known(shop):
    for minute in range(3):
        greased(shop, minute)
        replan(shop, at=later(minute + 0.5))
    rows = shop.replanned(["winch-shaft", "gland-flange"], every=True)
    assert sum(one.how == KEPT_LIMITS for one in rows) <= 2
