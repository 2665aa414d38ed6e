"""The plan's verdict stands on every page that rests on it, in the same words; a way that passes passes when used."""

import pytest

from heldtrue.planning.plan import plan
from heldtrue.web import render, texts, worker
from heldtrue.web.answer import answer_of
from heldtrue.web.drafts import Drafts
from heldtrue.web.sources import open_example
from heldtrue.web.standing import standing
from web.in_process import EXAMPLES, until


def only(user, mark):
    (found,) = [one for one in user.client.elements.values() if mark in one._markers]
    return found


@pytest.mark.parametrize(
    ("page", "pressure"),
    [
        pytest.param("compare", "2 bar", id="compare-fails", marks=pytest.mark.long),
        pytest.param("compare", None, id="compare-passes", marks=pytest.mark.long),
        pytest.param("jaws", None, id="jaws-passes", marks=pytest.mark.long),
        pytest.param("jaws", "2 bar", id="jaws-fails", marks=pytest.mark.long),
        pytest.param("start", "2 bar", id="start-fails"),
        pytest.param("start", None, id="start-passes"),
    ],
)
def test_the_verdict_stands_at_the_top_in_the_words_of_the_plan(visit, page, pressure):
    async def steps(user, desk):
        desk.drafts.new("wear-ring", open_example(EXAMPLES, "wear-ring"), own_files=True)
        live = desk.live("wear-ring")
        if pressure:
            live.draft.change({"run.pressure": pressure}, "low")
        await user.open(f"/{page}/wear-ring")
        await until(lambda: live.answer is not None and live.solving is None)
        verdict = live.answer.verdict
        assert (verdict == "passes") is (pressure is None)
        await until(lambda: texts.VERDICTS[verdict] in only(user, "standing").content)
        content = only(user, "standing").content
        assert content.startswith(render.verdict(live.answer))
        assert render.verdict(live.answer) in render.answer(live.answer), "as the plan page says it"
        assert (texts.CUT_ALL_THE_SAME in content) is (page == "jaws" and pressure is not None)

    visit(steps)


def test_no_verdict_stands_there_while_the_setup_is_planned_anew(visit):
    async def steps(user, desk):
        desk.drafts.new("wear-ring", open_example(EXAMPLES, "wear-ring"), own_files=True)
        live = desk.live("wear-ring")
        await user.open("/start/wear-ring")
        await until(lambda: texts.VERDICTS["passes"] in only(user, "standing").content)
        live.tell("fields")
        assert only(user, "standing").content == f"<p>{texts.PLANNED_ANEW}</p>"

    visit(steps)


def test_what_cannot_be_planned_has_no_verdict():
    from heldtrue.web.answer import Answer

    said = standing(Answer(problems=("grip: no diameter <b>",)))
    assert texts.NOT_YET in said
    assert "&lt;b&gt;" in said
    assert not any(words in said for words in texts.VERDICTS.values())


@pytest.mark.long
def test_a_way_has_the_verdict_in_the_table_when_it_is_used(tmp_path, only_styles):
    only_styles("pie")
    table = open_example(EXAMPLES, "wear-ring")
    drafts = Drafts(tmp_path)
    setup = drafts.new("ring", table, own_files=True).setup()
    ways = [one for one in worker.compare_ways(setup) if one.changes]
    # The best other way of this chuck, and the best that needs another: nobody read the grip of that one.
    chosen = [next(one for one in ways if bool(one.needs) is needs) for needs in (False, True)]
    for number, way in enumerate(chosen):
        draft = drafts.new(f"ring-{number}", table, own_files=True)
        draft.change(dict(way.changes), way.name)
        assert answer_of(plan(draft.setup()), {}, full=True, seconds=0.0).verdict == way.verdict
