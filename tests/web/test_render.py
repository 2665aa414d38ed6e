import base64
import inspect
import re
from dataclasses import replace

from conftest import example

from heldtrue.drawing.all_pictures import all_drawings
from heldtrue.planning.plan import plan
from heldtrue.web import render, texts
from heldtrue.web.answer import answer_of, margin_words, worst_first

EVIL = '<script>alert("1")</script>'


def everything(found, **more):
    parts = render.reasons(found), render.pictures(found), render.remarks(found)
    return render.answer(found, **more) + "".join(parts)


def test_everything_of_a_plan_is_on_the_page(wear_ring):
    made = plan(wear_ring)
    found = answer_of(made, all_drawings(made), full=True, seconds=0.1)
    content = everything(found)
    assert texts.VERDICTS[made.verdict] in content
    for check in made.checks:
        assert render.escape(check.name) in content
        assert check.source in content
    for known in made.assumed:
        assert render.escape(known.label) in content
        assert render.escape(known.measure) in content
    for words in (*made.cautions, *made.notes, made.pressure.reason):
        assert render.escape(words) in content
    assert content.count("<img") == len(all_drawings(made)) - 1, "all but the map, which is there to be touched"
    assert content.count("<button") == 2 * content.count("<img"), "every picture can be enlarged and saved"


def test_every_pressure_in_both_units(wear_ring):
    found = answer_of(plan(wear_ring), {}, full=True, seconds=0.1)
    for step in found.steps:
        for first, second in (step.floor, step.ceiling, step.recommended):
            assert first.endswith(" bar")
            assert second.endswith(" psi")


def test_a_floor_is_rounded_up_and_a_ceiling_down(wear_ring):
    made = plan(wear_ring)
    for step, row in zip(made.pressure.steps, answer_of(made, {}, full=True, seconds=0.1).steps, strict=True):
        assert float(row.floor[0].split()[0]) >= step.floor * 10 - 1e-6
        assert float(row.ceiling[0].split()[0]) <= step.ceiling * 10 + 1e-6


def test_the_inch_gauge_comes_first_where_the_setter_reads_it():
    made = plan(example("pump-sleeve-inch"))
    step = answer_of(made, {}, full=True, seconds=0.1).steps[0]
    assert step.floor[0].endswith(" psi")
    assert step.floor[1].endswith(" bar")


def test_the_worst_check_comes_first(wear_ring):
    ranked = worst_first(plan(wear_ring.with_(pressure=0.9)))
    assert ranked[0].state == "fails"
    assert "beyond the limit" in margin_words(ranked[0])
    assert "short by" in margin_words(worst_first(plan(wear_ring.with_(pressure=0.1)))[0])


def test_what_may_let_go_comes_before_what_is_not_round(wear_ring):
    made = plan(wear_ring)
    states = {"hold: rough land": ("not proven", -0.1), "runout: seal land": ("fails", -0.6)}
    changed = [
        replace(one, state=states[one.name][0], margin=states[one.name][1]) if one.name in states else one
        for one in made.checks
    ]
    assert [one.name for one in worst_first(replace(made, checks=tuple(changed)))][:2] == list(states)


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


def test_what_to_measure_stands_beside_a_check_that_is_not_passed(wear_ring):
    found = answer_of(plan(wear_ring.with_(pressure=0.9)), {}, full=True, seconds=0.1)
    open_ones = [one for one in found.checks if one.measure and one.state != "passes"]
    assert open_ones
    for one in open_ones:
        assert f"<strong>{texts.MEASURE_FIRST}:</strong> {render.escape(one.measure)}" in render.reasons(found)


def test_a_problem_is_no_green_tick(wear_ring):
    made = answer_of(plan(wear_ring), {}, full=True, seconds=0.1)
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
