import base64
import inspect
import re
from dataclasses import replace

from conftest import planned

from heldtrue.drawing.all_pictures import all_drawings
from heldtrue.planning.phrases import failure_words, form_words, window_words
from heldtrue.planning.plan import plan
from heldtrue.planning.result import FORM, HOLD
from heldtrue.web import render, texts
from heldtrue.web.answer import answer_of

EVIL = '<script>alert("1")</script>'


def everything(found, **more):
    parts = render.reasons(found) + render.assumed(found), render.section(found), render.remarks(found)
    parts += (render.pictures(found, "polar", "contact-print", "chuck-face"),)
    return render.answer(found, **more) + "".join(parts)


def test_everything_of_a_plan_is_on_the_page(wear_ring):
    made = planned("wear-ring")
    found = answer_of(made, all_drawings(made), full=True, seconds=0.1)
    content = everything(found)
    assert texts.VERDICTS[made.verdict] in content
    for check in made.checks:
        assert render.escape(check.name) in content
        assert check.source in content
    for known in made.assumed:
        assert render.escape(known.label) in content
        assert render.escape(known.measure) in content
    for words in (*made.cautions, *made.notes, window_words(made.pressure, "bar")):
        assert render.escape(words) in content
    assert content.count("<img") == len(all_drawings(made)) - 1, "all but the map, which is there to be touched"
    assert content.count("<button") == 2 * content.count("<img"), "every picture can be enlarged and saved"


def test_every_pressure_in_both_units(wear_ring):
    found = answer_of(planned("wear-ring"), {}, full=True, seconds=0.1)
    for step in found.steps:
        for first, second in (step.floor, step.ceiling, step.recommended):
            assert first.endswith(" bar")
            assert second.endswith(" psi")


def test_a_floor_is_rounded_up_and_a_ceiling_down(wear_ring):
    made = planned("wear-ring")
    for step, row in zip(made.pressure.steps, answer_of(made, {}, full=True, seconds=0.1).steps, strict=True):
        assert float(row.floor[0].split()[0]) >= step.floor * 10 - 1e-6
        assert float(row.ceiling[0].split()[0]) <= step.ceiling * 10 + 1e-6


def test_the_inch_gauge_comes_first_where_the_setter_reads_it():
    made = planned("pump-sleeve-inch")
    step = answer_of(made, {}, full=True, seconds=0.1).steps[0]
    assert step.floor[0].endswith(" psi")
    assert step.floor[1].endswith(" bar")


def test_the_checks_stand_as_the_plan_ranks_them(wear_ring):
    high, low = (plan(wear_ring.with_(pressure=pressure), helped=False) for pressure in (2.4, 0.1))
    for made in (high, low):
        found = answer_of(made, {}, full=True, seconds=0.1)
        assert [one.name for one in found.checks] == [one.name for one in made.answer.ranked]
    first_high, first_low = (answer_of(made, {}, full=True, seconds=0.1).checks[0] for made in (high, low))
    assert (first_high.state, first_low.state) == ("fails", "fails")
    assert "over the limit" in first_high.margin
    assert "short by" in first_low.margin


def test_a_form_says_its_likely_and_its_worst_and_a_hold_what_happens_first(wear_ring):
    made = plan(wear_ring.with_(pressure=0.45))
    found = answer_of(made, {}, full=True, seconds=0.1)
    rows, content = {one.name: one for one in found.checks}, render.reasons(found)
    states = set()
    for check in made.checks:
        row = rows[check.name]
        if check.group == FORM:
            likely, worst = (f"{rule.value:.3g} mm" for rule in check.rules)
            assert row.found == form_words(check, "metric")
            assert render.escape(render.unbroken(row.found)) in content
            assert float(likely.split()[0]) < float(worst.split()[0])
        if check.group == HOLD and check.failure.mode != "none":
            words = failure_words(check.failure, "metric")
            assert words in row.found
            assert row.found.startswith(texts.HAPPENS_FIRST[check.state == "passes"].partition("{")[0])
            assert render.escape(render.unbroken(row.found)) in content
            states.add(check.state == "passes")
    assert states == {True, False}, "of what is held and of what is not"
    assert texts.HAPPENS_FIRST[True] != texts.HAPPENS_FIRST[False]


def test_a_check_says_by_which_rule_and_on_which_side_its_limit_lies(wear_ring):
    made = planned("wear-ring")
    rows = {one.name: one for one in answer_of(made, {}, full=True, seconds=0.1).checks}
    for check in made.checks:
        row = rows[check.name]
        assert row.least is check.least
        if check.rules:
            (tight,) = (one for one in check.rules if one.margin == check.margin)
            assert row.rule == tight.name
    held, runout = rows["hold: rough land"], rows["runout: seal land"]
    content = render.reasons(answer_of(made, {}, full=True, seconds=0.1))
    assert render.escape(f"{held.rule} {held.value}; at least {held.limit}") in content
    assert render.escape(f"{runout.rule} {runout.value}; at most {runout.limit}") in content


def test_nothing_is_said_twice_under_the_verdict():
    made = planned("valve-stem")
    found = answer_of(made, {}, full=True, seconds=0.1)
    content = render.answer(found)
    assert content.count(render.escape(render.unbroken(found.because))) == 1
    assert not re.search(r"\d N m", content), "no torque is parted from its unit"
    assert content.count(f"<strong>{texts.DECIDED_BY}</strong>") == 1, "of what fails the sentence does not say it"
    for words in found.remedies:
        assert render.escape(texts.REMEDY.format(words=words)) in content
    assert found.remedies
    unsaid = replace(found, caveat="nobody looked", because="Nobody looked", decided_by="")
    assert render.answer(unsaid).lower().count("nobody looked") == 1
    closed = replace(found, reason="no pressure at all", because="No pressure at all")
    assert render.answer(closed).lower().count("no pressure at all") == 1


def test_words_of_a_setup_are_escaped(wear_ring):
    made = plan(wear_ring.with_({"title": EVIL, "surfaces.0.name": EVIL, "cuts.1.surface": EVIL,
                                 "cuts.2.surface": EVIL, "machine.name": EVIL}))  # fmt: skip
    drawings = all_drawings(made)
    content = everything(answer_of(made, drawings, full=True, seconds=0.1), waiting=[EVIL])
    assert "<script" not in content
    assert "&lt;script" in content
    shown = [one.split('"')[0] for one in content.split("base64,")[1:]]
    for one in shown:
        assert b"<script" not in base64.b64decode(one)


def test_what_to_measure_stands_beside_a_check_that_is_not_passed():
    found = answer_of(planned("valve-stem"), {}, full=True, seconds=0.1)
    open_ones = [one for one in found.checks if one.measure and one.state != "passes"]
    assert open_ones
    for one in open_ones:
        assert f"<strong>{texts.MEASURE_FIRST}:</strong> {render.escape(one.measure)}" in render.reasons(found)


def test_a_problem_is_no_green_tick(wear_ring):
    made = answer_of(planned("wear-ring"), {}, full=True, seconds=0.1)
    content = everything(replace(made, problems=("grip: diameter: wrong <b>",)))
    assert texts.NOT_YET in content
    assert texts.VERDICTS["passes"] not in content
    assert "<b>" not in content


def test_a_state_is_never_said_by_colour_alone():
    for word in ("passes", "fails", "not proven", "cannot be"):
        assert texts.VERDICTS[word] in render.state(word)
        assert texts.VERDICT_MARKS[word] in render.state(word)


def test_no_text_has_the_name_of_another():
    names = re.findall(r"^([A-Z][A-Z0-9_, ]*)(?::[^=]+)? = ", inspect.getsource(texts), re.MULTILINE)
    each = [one for line in names for one in line.split(", ")]
    assert len(each) > 300
    assert [one for one in set(each) if each.count(one) > 1] == []
