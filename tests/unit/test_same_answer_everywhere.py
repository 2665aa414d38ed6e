"""Plan, gate, comparison, terminal, sheet, JSON and page say one and the same."""

import io
import json

import pytest
from conftest import EXAMPLES, assert_same_checks, example, longer, planned
from fault_setups import study, thin_sleeve
from rich.console import Console

from heldtrue.planning.document import to_json
from heldtrue.planning.judge import Setting, Step, judge_step
from heldtrue.planning.odds.odds_words import is_seen, odds_words, part_words
from heldtrue.planning.phrases import MODES, lead_words, measure_words
from heldtrue.planning.plan import plan, plan_study
from heldtrue.planning.result import FAILS, FORM, HOLD, NOT_PROVEN, PASSES
from heldtrue.planning.start_gate import start_of
from heldtrue.quantities import parse_quantity
from heldtrue.sheets.content import floor_content
from heldtrue.terminal.plan import show_plan
from heldtrue.web.answer import answer_of

SOME = ("wear-ring", "winch-shaft", "valve-stem")
"""One that passes with two pressures, one with one, and one that fails."""
NAMES = [*SOME, *longer(*(path.stem for path in EXAMPLES if path.stem not in SOME))]


def plain(words):
    """Without the marks that keep words together."""
    for mark, usual in (("\u00a0", " "), ("\u2011", "-"), ("\u2060", "")):
        words = words.replace(mark, usual)
    return " ".join(words.split())


def on_terminal(one):
    out = io.StringIO()
    show_plan(Console(file=out, width=1000, no_color=True), one, one.setup.units)
    return plain(out.getvalue().replace("│", " "))


def faces(one):
    """Every text that says what decides, by face."""
    sheet, page = floor_content(one, one.setup.units), answer_of(one, {}, full=True, seconds=0.0)
    return {
        "terminal": on_terminal(one), "sheet": plain(sheet["verdict"]["words"]),
        "JSON": plain(json.loads(to_json(one))["answer"]["words"]), "page": plain(page.because),
    }  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_one_check_decides_on_every_face(name):
    one = planned(name)
    lead, leading = plain(lead_words(one, one.setup.units)), one.answer.leading
    for face, words in faces(one).items():
        assert lead in words, face
    sheet, page = floor_content(one, one.setup.units), answer_of(one, {}, full=True, seconds=0.0)
    written = json.loads(to_json(one))
    assert leading.name == page.checks[0].name == written["answer"]["leading"] == one.answer.ranked[0].name
    assert len(sheet["checks"]) == len(one.checks)
    asked = {check.state != PASSES for check in one.checks if check.name == leading.name}
    assert asked == {one.verdict != PASSES}
    assert one.verdict == sheet["verdict"]["state"] == written["verdict"] == page.verdict


@pytest.mark.parametrize("name", NAMES)
def test_what_to_measure_first_is_said_in_the_same_words(name):
    one = planned(name)
    first = measure_words(one.answer.measure_first)
    assert first
    page, sheet = answer_of(one, {}, full=True, seconds=0.0), floor_content(one, one.setup.units)
    assert first == page.measure_first == sheet["measure_first"] == json.loads(to_json(one))["answer"]["measure_first"]
    assert (f"Measure first: {plain(first)}" in on_terminal(one)) == (one.verdict != PASSES)


@pytest.mark.parametrize("name", NAMES)
def test_odds_are_said_in_the_same_words_and_never_where_the_verdict_is(name):
    one = planned(name)
    said = odds_words(one)
    assert said.endswith("Odds decide nothing: the worst case does.")
    page, sheet = answer_of(one, {}, full=True, seconds=0.0), floor_content(one, one.setup.units)
    assert said == page.odds == " ".join(sheet["odds"])
    assert plain(said) in on_terminal(one)
    for face, words in faces(one).items():
        assert face == "terminal" or "dds" not in words, face
    for row, check in zip(page.checks, one.answer.ranked, strict=True):
        assert (part_words(check.odds) in row.odds) == any(is_seen(other.odds) for other in one.checks)


def test_how_the_part_lets_go_is_said_on_every_face():
    one = planned("valve-stem")
    assert one.verdict == FAILS
    assert one.answer.leading.failure.mode == "tip"
    for face, words in faces(one).items():
        assert "tips out of the jaws during 'rough guide'" in words, face
    assert not any(other in words for other in MODES.values() if "tips" not in other for words in faces(one).values())


def test_no_window_is_said_only_of_the_step_that_has_none():
    """The stem's rough cuts tip out at any pressure; its finish has a window."""
    one = planned("valve-stem")
    rough, finish = one.pressure.steps
    assert rough.recommended is None
    assert rough.floor > rough.ceiling
    assert finish.floor <= finish.recommended <= finish.ceiling
    shown = on_terminal(one)
    assert shown.count("NO WINDOW") == 1
    assert "Pressure, rough: NO WINDOW" in shown
    assert "Pressure, finish: 16" in shown
    page = answer_of(one, {}, full=True, seconds=0.0)
    assert [step.recommended is None for step in page.steps] == [True, False]
    assert [step["recommended"] is None for step in json.loads(to_json(one))["pressure"]["steps"]] == [True, False]
    assert page.reason.startswith("no pressure for rough: ")
    assert "for finish" not in page.reason


# Gate and plan


def test_gate_says_no_speed_that_leaves_out_the_safety_factor():
    """At 170 psi it said `holds at 610 rev/min` of a cut that is held less than once in its worst case."""
    one = study(example("winch-shaft"))
    decision = start_of(one, parse_quantity("170 psi", "pressure"))
    assert not decision.may
    assert not any("holds at" in words or "rev/min" in words for words in [decision.words, *decision.reasons])
    by_name = {check.subject: check for check in decision.checks if check.group == HOLD}
    short = [load for load in decision.loads if load.factor < load.asked]
    assert len(short) == 3
    for load in decision.loads:
        assert (load.factor < load.asked) == (by_name[load.name].state != PASSES) == (load.holds_to < load.speed)
        assert load.factor == pytest.approx(load.asked * (1 + by_name[load.name].margin), rel=1e-9)


def test_gate_and_plan_agree_just_below_and_just_above_the_ceiling():
    setup = example("wear-ring")
    one, made = study(setup), planned("wear-ring")
    seen = set()
    for step in made.pressure.steps:
        for share, may in ((0.998, True), (1.002, False)):
            gauge = step.ceiling * share
            decision = start_of(one, gauge, step.name)
            stated = plan(setup.with_({"run.pressure": gauge}), helped=False)
            assert decision.may is may
            for check in decision.checks:
                assert check.state == stated.check(check.name).state, check.name
                assert check.value == pytest.approx(stated.check(check.name).value, rel=1e-6)
            ends = next(check for check in decision.checks if check.name == step.ceiling_by)
            assert (ends.state == PASSES) is may
            seen.add(step.ceiling_by)
    assert len(seen) == 2


def test_thin_sleeve_does_not_start_over_its_yield():
    """Stress scaled down from a high grip let it start: a part smaller than its jaws is bent most by the first grip."""
    setup, found = thin_sleeve(), {}
    one = study(setup)
    for gauge in (0.69, 0.95, 2.07):
        for step in ("rough", "finish"):
            decision = start_of(one, gauge, step)
            assert not decision.may
            check = next(c for c in decision.checks if c.name == "yield: part")
            assert check.state != PASSES
            assert check.value > check.limit
            assert any("yield: part" in reason for reason in decision.reasons)
        found[gauge] = check.value
        stated = plan(setup.with_({"run.pressure": gauge}), helped=False).check("yield: part")
        assert stated.value == pytest.approx(check.value, rel=1e-6)
    grips = [one.most_grip(one.best, gauge) for gauge in (0.69, 2.07)]
    assert found[0.69] > 1.2 * found[2.07] * grips[0] / grips[1]


# Comparison


@pytest.fixture(name="ways")
def ways_of_a_ring(pie_ways):
    return pie_ways


def test_verdict_of_a_way_is_the_one_after_taking_it_over(ways):
    """A way on a chuck the shop lacks passed with the plate of its own chuck; taken over, it was not proven."""
    inside = {way.jaws: way for way in ways if way.side == "inside"}
    assert inside.keys() == {3, 6}
    for jaws, way in inside.items():
        again = plan(way.setup, helped=False)
        assert again.verdict == way.plan.verdict == (PASSES if jaws == 3 else NOT_PROVEN)
        assert_same_checks(again.checks, way.plan.checks)
        assert (way.needs == "") == (not again.answer.caveats) == (jaws == 3)
    assert not start_of(study(inside[6].setup), again.pressure.used).may


def test_a_way_on_a_chuck_nobody_read_says_so(ways):
    """It named a check that passes as what keeps it from passing."""
    alone = [w for w in ways if w.plan.verdict == NOT_PROVEN and all(c.state == PASSES for c in w.plan.checks)]
    assert alone
    for way in alone:
        assert way.why == "the plate figures of the chuck are assumed: nothing holds before its own plate is read"


def test_judge_takes_every_step_of_a_setting():
    one = study(example("wear-ring"))
    made = planned("wear-ring")
    setting = Setting(tuple((Step(s.name, s.cuts, s.finished), s.recommended) for s in made.pressure.steps), one.speed)
    by_step = [judge_step(one, step, pressure, one.speed) for step, pressure in setting.steps]
    for check in made.checks:
        alike = [c.margin for checks in by_step for c in checks if c.name == check.name]
        assert check.margin == pytest.approx(min(alike), rel=1e-9)


def test_a_quick_look_fails_no_form_whose_best_it_did_not_work_out():
    """Its page said `not proven` over a sentence that counted failures."""
    one = study(example("gland-flange"))
    quick = plan_study(one.again({"run.pressure": 3.0}))
    forms = [check for check in quick.checks if check.group == FORM and check.state != PASSES]
    assert forms
    assert all(check.state == NOT_PROVEN for check in forms)
    assert plan(example("gland-flange").with_({"run.pressure": 3.0}), helped=False).verdict == FAILS
    page = answer_of(quick, {}, full=False, seconds=0.0)
    assert page.verdict == quick.verdict == NOT_PROVEN
    open_ = [check for check in quick.checks if check.state == NOT_PROVEN]
    assert page.because.endswith(f"; {len(open_) - 1} more not proven")
    assert [row.state for row in page.checks] == [check.state for check in quick.answer.ranked]
