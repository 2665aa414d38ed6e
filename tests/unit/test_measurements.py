"""Which measurement pays: findings are entered as a user would, and the judge decides."""

import json

import pytest
from conftest import ROOT, longer
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.errors import InputError
from heldtrue.planning.inputs import prepare
from heldtrue.planning.odds.assumptions import KEYS, assumptions_of
from heldtrue.planning.odds.measurements import measurements
from heldtrue.planning.odds.measuring_table import asks_of
from heldtrue.planning.odds.odds_words import chance_words
from heldtrue.planning.odds.shares import decides
from heldtrue.planning.odds.spreads import UNDECIDED, spreads_of
from heldtrue.planning.plan import plan, plan_study
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.way_space import GripPlace, candidate
from heldtrue.planning.window import setting_of

UNKNOWN_FRICTION = ("winch-shaft", {"jaws.friction": None})
UNKNOWN_GREASE = ("winch-shaft", {"chuck.grip_readings": None, "chuck.grease": None})


def example(name, changes=None):
    return Setup.from_toml(ROOT / "examples" / f"{name}.toml").with_(changes or {})


@pytest.fixture(scope="module")
def ranked():
    kept = {}

    def get(name, changes):
        key = name, str(changes)
        if key not in kept:
            study = Study.of(example(name, changes))
            made = plan_study(study, helped=False)
            kept[key] = study, made, measurements(study, made.pressure)
        return kept[key]

    return get


def test_a_pull_test_comes_first_where_friction_decides(ranked):
    _, made, found = ranked(*UNKNOWN_FRICTION)
    assert made.verdict == "not proven"
    assert found[0].name == "friction"
    assert 0.05 < found[0].chance < 0.6
    assert found[0].after.width > found[0].now.width


@pytest.mark.long
@pytest.mark.parametrize(("name", "changes"), [UNKNOWN_FRICTION, *longer(UNKNOWN_GREASE)])
def test_a_chance_is_the_share_of_findings_that_a_full_plan_passes(name, changes, ranked):
    """Each finding at the middle of a sixth of the spread, planned in full."""
    study, _, found = ranked(name, changes)
    best = found[0]
    spread = spreads_of(study.job)[best.name]
    shares = [(i + 0.5) / 6 for i in range(6)]
    passed = 0
    for value in (float(spread.at(share)) for share in shares):
        setup = study.job.setup.with_(best.ask.found(study.job, value))
        passed += plan(setup, helped=False).verdict == "passes"
    assert best.chance == pytest.approx(passed / 6, abs=0.17)


@pytest.mark.parametrize(
    ("name", "changes"), [UNKNOWN_FRICTION, *longer(UNKNOWN_GREASE, ("gland-flange", {}), ("wear-ring", {}))]
)
def test_knowing_more_never_narrows_the_window_on_average(name, changes, ranked):
    _, _, found = ranked(name, changes)
    for one in found:
        if one.after.steps == one.now.steps:
            assert one.after.width >= one.now.width - 0.02 * max(one.now.ceiling, 0.1), one.name


@pytest.mark.parametrize(("name", "changes"), [("wear-ring", {}), *longer(UNKNOWN_FRICTION, ("gland-flange", {}))])
def test_what_is_taken_over_from_the_plan_is_what_pressing_again_says(name, changes, ranked, monkeypatch):
    """A finding that moves nothing of form and strength takes their limits over; none other does."""
    study, made, found = ranked(name, changes)
    monkeypatch.setattr(Study, "presses_as", lambda *_: False)
    for one, again in zip(found, measurements(study, made.pressure), strict=True):
        assert (one.name, one.chance) == (again.name, again.chance)
        for end in ("floor", "ceiling", "steps"):
            assert getattr(one.after, end) == pytest.approx(getattr(again.after, end), rel=1e-9), one.name


def test_what_passes_cannot_be_turned_into_a_pass(ranked):
    _, made, found = ranked("winch-shaft", {})
    assert made.verdict == "passes"
    assert {one.chance for one in found} == {0.0}


def test_nothing_is_asked_that_was_stated_or_measured():
    asked = asks_of(prepare(example("winch-shaft")))
    stated = {known.name for known in prepare(example("winch-shaft")).known.values() if known.source == "stated"}
    assert not set(asked) & stated
    assert "friction" not in asked
    assert "friction" in asks_of(prepare(example(*UNKNOWN_FRICTION)))


@pytest.mark.parametrize("path", sorted((ROOT / "examples").glob("*.toml")), ids=lambda path: path.stem)
def test_every_finding_can_be_entered(path):
    """What a measurement would put in the setup is a setup: at both ends and the middle of what it may find."""
    job = prepare(Setup.from_toml(path))
    spreads = spreads_of(job)
    for name, ask in asks_of(job).items():
        values = ask.values or tuple(float(spreads[name].at(share)) for share in (0.05, 0.5, 0.95))
        entered = 0
        for value in values:
            try:
                changed = prepare(job.setup.with_(ask.found(job, value)))
            except InputError:
                continue  # contradicts what is stated: no finding
            entered += 1
            there, before = changed.known[name if name in changed.known else "bored pressure"], job.known[name]
            if name != "grip share":  # what readings say of the threshold, the share does not
                assert there.high - there.low <= (before.high - before.low) * 1.001 + 1e-9, name
        assert entered, name


def test_every_input_has_a_row_with_a_key_or_says_that_none_changes_it():
    job = prepare(example("valve-stem"))
    rows = assumptions_of(job)
    assert [row.known.name for row in rows] == list(job.known)
    for row in rows:
        assert (row.spread is None) == (row.known.name in UNDECIDED)
        assert row.change or row.known.name == "yield"
    assert set(job.known) - set(KEYS) == {"yield"}


def test_shares_name_what_decides_and_add_up():
    study = Study.of(example(*UNKNOWN_GREASE))
    made = plan_study(study, helped=False)
    found = decides(study, setting_of(study, made.pressure), made.answer.leading)
    assert found.shares[0].name == "grip share"
    assert 0.5 < found.shares[0].share <= 1.0
    assert sum(one.share for one in found.shares) + found.together == pytest.approx(1.0, abs=0.06)
    assert found.counts.sum() > 8000


# What the setup file states


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({"cutting_data": {"range": [2500, 2100], "reason": "x"}}, "does not run from low to high"),
        ({"cutting_data": {"range": [2100, 2500], "reason": " "}}, "it is empty"),
        ({"cutting_data": {"range": [2100, 2500]}}, "reason"),
        ({"friction": {"reason": "a guess"}}, "says nothing: give spread"),
        ({"friction": {"spread": "bell", "reason": "x"}}, "bell"),
        ({"friction": {"range": [0.1, 0.2], "reason": "x"}}, "range"),
        ({"grip": {"spread": "uniform", "reason": "x"}}, "grip"),
        ({"cutting_data": {"range": [20, 30], "reason": "x"}}, "its middle is better than all that is seen"),
        ({"cutting_data": {"range": [500, 2100], "reason": "x"}}, "its middle is better than all that is seen"),
        ({"cutting_data": {"range": [2300, 2310], "reason": "x"}}, "no shop knows it nearer than 5%"),
        ({"off_centre": {"spread": "lognormal", "reason": "x"}}, "above 0"),
    ],
)
def test_an_assumption_that_cannot_be_is_refused_in_words(table, said):
    raw = example("valve-stem").to_dict() | {"assumptions": table, "units": "metric"}
    with pytest.raises(InputError, match=said):
        spreads_of(prepare(Setup.from_dict(raw)))


def test_a_stated_range_moves_the_worst_case_and_a_spread_alone_does_not():
    base = example("winch-shaft")
    spread = base.with_({"assumptions.friction": {"spread": "normal", "reason": "pull tests of the winter"}})
    ranged = base.with_({"assumptions.cutting_data": {"range": [3000, 3700], "reason": "spindle load"}})
    before, same, more = (plan(setup, helped=False) for setup in (base, spread, ranged))
    assert [check.margin for check in same.checks] == [check.margin for check in before.checks]
    assert more.check("hold: rough thread end").margin < before.check("hold: rough thread end").margin
    known = prepare(ranged).known["cutting data"]
    assert (known.low, known.high, known.source) == (3000, 3700, "stated")


def test_what_the_shop_assumes_of_its_jaws_and_surface_is_not_taken_over_to_others():
    own = {"assumptions.jaw_yield": {"range": [200, 300], "reason": "hardness"},
           "assumptions.friction": {"spread": "uniform", "reason": "pull tests"},
           "assumptions.cutting_data": {"range": [2200, 2600], "reason": "spindle load"}}  # fmt: skip
    setup = example("valve-stem", own)
    job = prepare(setup)
    same = GripPlace("outside", setup.grip.diameter, setup.grip.z, stated=True)
    kept = candidate(setup, job.jaws, same, setup.jaws.style, job.jaws).setup_of(setup)
    assert kept.assumptions == setup.assumptions
    other = GripPlace("outside", 60.0, (3.0, 20.0))
    moved = candidate(setup, job.jaws, other, "pie", job.jaws).changes
    assert moved["assumptions.jaw_yield"] is None
    assert moved["assumptions.friction"] is None
    assert "assumptions.cutting_data" not in moved


def test_a_weaker_part_that_is_stated_is_the_softer_one_that_marks():
    job = prepare(example("valve-stem", {"assumptions.part_yield": {"range": [690, 800], "reason": "annealed"}}))
    assert job.known["part yield"].worst == 690
    assert job.known["yield"].worst == 215


# Words and documents


def test_a_chance_is_said_no_finer_than_it_was_looked_for():
    assert [chance_words(x) for x in (0.0, 0.01, 0.52, 0.99)] == ["no", "about 5 %", "about 50 %", "yes"]


@pytest.mark.long
def test_the_commands_say_it(tmp_path, monkeypatch):
    monkeypatch.setenv("HELDTRUE_RECORDS", str(tmp_path / "none"))
    path = str(ROOT / "examples" / "valve-stem.toml")
    shown = CliRunner().invoke(app, ["measure", path, "--json"])
    assert shown.exit_code == 0
    document = json.loads(shown.stdout)
    assert {"name", "what", "chance", "window_now", "window_after", "minutes"} <= document["measurements"][0].keys()
    assert document["leading"] == "hold: rough guide"
    assert document["shares"][0]["share"] >= document["shares"][-1]["share"]
    shown = CliRunner().invoke(app, ["assumptions", path, "--json"])
    rows = {row["name"]: row for row in json.loads(shown.stdout)["assumptions"]}
    assert rows["cutting data"]["spread"] == "lognormal"
    assert rows["seat"]["spread"] is None
