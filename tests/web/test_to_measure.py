"""What to measure, and what is assumed, on the pages: beside the verdict, never in its place."""

import re
from dataclasses import replace

import pytest
from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.planning.odds.odds_words import ODDS_NOTE
from heldtrue.planning.plan import plan
from heldtrue.planning.result import Odds
from heldtrue.planning.setup import Setup
from heldtrue.web import texts
from heldtrue.web.answer import answer_of
from heldtrue.web.fields import get
from heldtrue.web.odds.places import assumption_in, called, fields_for
from heldtrue.web.render import reasons, verdict
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES, at_rest, taken_in, until
from web.test_pages import only, opened, settled, shown


@pytest.fixture(name="visit")
def visit_to_the_end(visit):
    """A visit after which nothing is at work any more: what a test has set off must not end in the next one."""

    def run(steps):
        async def all_of_it(user, desk):
            await steps(user, desk)
            await at_rest(desk)

        visit(all_of_it)

    return run


async def measured(user, desk, name):
    """The page of an example, once it is worked out."""
    live = await opened(user, desk, name)
    await user.open(f"/measure/{name}")
    await user.should_see(marker="odds")
    return live


def test_the_verdict_stands_first_then_what_pays_most(visit):
    async def steps(user, desk):
        live = await measured(user, desk, "valve-stem")
        assert texts.VERDICTS["fails"] in shown(user, "standing")
        assert "Odds" not in shown(user, "standing")
        rows = [one.default_slot.children for one in user.find(marker="measurement").elements]
        said = sorted("".join(getattr(one, "content", "") for one in row) for row in rows)
        assert "1. fresh edges" in said[0]
        assert texts.TURNS_PASS.format(chance="no") in said[0]
        assert "5 min at the machine" in said[0]
        assert "Goes into: cut 1, Edge" in said[0]
        assert "958 psi needed, 327 psi allowed" in said[0]
        assert ODDS_NOTE in shown(user, "odds")
        assert shown(user, "odds").index(texts.VERDICTS["fails"]) < shown(user, "odds").index("Most likely")
        assert "about 3 in 4" in shown(user, "odds")
        assert "tool wear factor on cutting force: 45%" in shown(user, "spreads")
        assert "data:image/svg+xml" in shown(user, "spreads")
        assert live.measured is not None

    visit(steps)


def test_a_finding_leads_to_the_field_it_goes_into(visit):
    async def steps(user, desk):
        await measured(user, desk, "winch-shaft")
        user.find(marker="enter-1").click()
        await until(lambda: user.back_history[-1] == "/plan/winch-shaft?field=cut.0.wear")
        await user.should_see(marker="cut.0.wear")
        (values,) = (one for one in user.find(kind=ui.tab_panels).elements if one.value in texts.WHY_TABS)
        assert values.value == texts.WHY_TABS[5]

    visit(steps)


def test_every_key_has_a_place():
    table = open_example(EXAMPLES, "valve-stem")
    assert fields_for(table, ("cut.wear",)) == ("cut.0.wear",)
    table["cut"][0]["wear"] = "sharp"
    assert fields_for(table, ("cut.wear",)) == ("cut.1.wear",)
    assert fields_for(table, ("assumptions.cutting_data",)) == ()
    assert assumption_in(("assumptions.cutting_data",)) == "cutting_data"
    assert called(table, "chuck.grip_readings") == texts.GRIP_READINGS
    jaws = ("jaws.mass", "jaws.centroid_radius", "chuck.master_jaw_mass")
    table["jaws"].pop("mass", None)
    table["jaws"]["centroid_radius"] = 60
    assert "jaws.centroid_radius" not in fields_for(table, jaws)
    assert "jaws.mass" in fields_for(table, jaws)


def test_a_change_makes_it_old_and_the_new_plan_makes_it_new(visit):
    async def steps(user, desk):
        live = await measured(user, desk, "winch-shaft")
        before, solving, ask = live.measured, [], desk.what_to_measure

        async def asked(of):
            solving.append(of.solving)
            return await ask(of)

        desk.what_to_measure = asked
        await desk.change(live, {"jaws.friction": {"value": 0.2, "from": "measured"}}, "friction")
        assert texts.MEASURED_OLD in shown(user, "measure-old")
        assert "stale" in only(user, "measurements").classes
        await settled(desk, "winch-shaft")
        await at_rest(desk)
        assert live.measured is not before
        assert texts.MEASURED_OLD not in shown(user, "measure-old")
        assert "stale" not in only(user, "measurements").classes
        assert solving == [None], "once, and not before the plan stands: nobody's knob waits"

    visit(steps)


def test_nothing_of_it_is_worked_out_for_the_plan_page(visit):
    async def steps(user, desk):
        await opened(user, desk, "winch-shaft")
        await at_rest(desk)
        assert {name for name, _ in desk.pool.asked} == {"plan_draft"}
        assert 'href="/measure/winch-shaft"' in shown(user, "reasons")
        assert 'href="/measure/winch-shaft"' in shown(user, "assumed")

    visit(steps)


def test_an_assumption_is_stated_and_removed(visit):
    async def steps(user, desk):
        live = await measured(user, desk, "winch-shaft")
        for words in ("specific cutting force kc1.1 of 42CrMo4", "lognormal", "many causes multiply", "jaws.friction"):
            assert words in shown(user, "assumptions")
        only(user, "assumption").value = "cutting_data"
        only(user, "assumption-spread").value = "uniform"
        user.find(marker="assumption-save").click()
        await user.should_see(texts.NEEDED.format(what="Where this comes from"))
        assert get(live.draft.table, "assumptions") is None
        only(user, "assumption-reason").value = "spindle load of ten shafts"
        only(user, "assumption-range-0").value = "1700 MPa"
        user.find(marker="assumption-save").click()
        await user.should_see(texts.RANGE_BOTH)
        only(user, "assumption-range-1").value = "1900 MPa"
        user.find(marker="assumption-save").click()
        await until(lambda: get(live.draft.table, "assumptions.cutting_data") is not None)
        assert get(live.draft.table, "assumptions.cutting_data") == {
            "spread": "uniform", "range": ["1700 MPa", "1900 MPa"], "reason": "spindle load of ten shafts",
        }  # fmt: skip
        await settled(desk, "winch-shaft")
        await at_rest(desk)
        assert "spindle load of ten shafts" in shown(user, "assumptions")
        assert "1900 MPa" in shown(user, "assumptions")
        only(user, "assumption").value = "cutting_data"
        assert only(user, "assumption-reason").value == "spindle load of ten shafts"
        user.find(marker="assumption-remove").click()
        await until(lambda: get(live.draft.table, "assumptions.cutting_data") is None)
        live.draft.setup()

    visit(steps)


def test_a_spread_that_its_range_cannot_have_is_refused_and_not_kept(visit):
    async def steps(user, desk):
        live = await measured(user, desk, "winch-shaft")
        only(user, "assumption").value = "off_centre"
        only(user, "assumption-spread").value = "lognormal"
        only(user, "assumption-reason").value = "a guess"
        user.find(marker="assumption-save").click()
        await user.should_see("its low end must be above 0")
        await taken_in()
        assert get(live.draft.table, "assumptions.off_centre") is None

    visit(steps)


@pytest.mark.long
def test_an_assumption_that_stopped_fitting_can_be_removed(visit):
    async def steps(user, desk):
        live = await opened(user, desk, "winch-shaft")
        await desk.change(live, {"assumptions.off_centre": {"spread": "lognormal", "reason": "a guess"}}, "by file")
        await at_rest(desk)
        assert "its low end must be above 0" in live.answer.problems[0]
        await user.open("/measure/winch-shaft")
        await user.should_see(marker="measure-again")
        assert "its low end must be above 0" in shown(user, "assumptions")
        only(user, "assumption").value = "off_centre"
        user.find(marker="assumption-remove").click()
        await until(lambda: get(live.draft.table, "assumptions.off_centre") is None)
        await settled(desk, "winch-shaft")
        await user.should_see(marker="measurement")

    visit(steps)


def test_an_assumption_without_a_reason_leads_to_its_place(visit):
    async def steps(user, desk):
        table = open_example(EXAMPLES, "winch-shaft") | {"assumptions": {"friction": {"spread": "uniform"}}}
        desk.drafts.new("winch-shaft", table, own_files=True)
        await user.open("/plan/winch-shaft")
        await user.should_see("assumption, friction, jaw on part, Where this comes from")
        user.find(marker="go-assumptions.friction.reason").click()
        await until(lambda: user.back_history[-1] == "/measure/winch-shaft")
        await user.should_see(marker="measure-again")
        only(user, "assumption").value = "friction"
        assert only(user, "assumption-spread").value == "uniform"
        only(user, "assumption-reason").value = "twenty pulls"
        user.find(marker="assumption-save").click()
        await until(lambda: get(desk.live("winch-shaft").draft.table, "assumptions.friction.reason") == "twenty pulls")
        await settled(desk, "winch-shaft")
        assert desk.live("winch-shaft").answer.problems == ()

    visit(steps)


def test_what_cannot_be_planned_is_said_in_words(visit):
    async def steps(user, desk):
        live = await opened(user, desk, "wear-ring")
        live.draft.table["part"].pop("material")
        await user.open("/measure/wear-ring")
        await user.should_see(marker="measure-again")
        assert live.measured is None

    visit(steps)


def test_nobody_changes_an_assumption_who_may_only_look(visit, monkeypatch):
    async def steps(user, desk):
        live = await measured(user, desk, "winch-shaft")

        def refuse(role):
            raise InputError(texts.MAY_NOT.format(role=role))

        monkeypatch.setattr(desk, "require", refuse)
        only(user, "assumption").value = "friction"
        only(user, "assumption-spread").value = "uniform"
        only(user, "assumption-reason").value = "ours"
        user.find(marker="assumption-save").click()
        await user.should_see(texts.MAY_NOT.format(role="set up"))
        assert get(live.draft.table, "assumptions") is None

    visit(steps)


# The plan page


@pytest.fixture(scope="module")
def stem():
    return plan(Setup.from_toml(EXAMPLES / "valve-stem.toml"))


def with_odds(made, part):
    odds = Odds(part, min(10 * part, 1.0), 10, max(part / 20, 1e-7))
    checks, ranked = (tuple(replace(one, odds=odds) for one in some) for some in (made.checks, made.answer.ranked))
    return replace(made, checks=checks, answer=replace(made.answer, ranked=ranked))


def test_odds_stand_below_the_state_and_never_in_the_answer(stem):
    made = with_odds(stem, 0.02)
    found = answer_of(made, {}, full=True, seconds=0.1)
    page = reasons(found)
    state = f'<span class="state fails">✕ {texts.VERDICTS["fails"]}</span>'
    assert f'{state}<div class="hint odds">goes wrong: about 1 in 50; any of 10: about 1 in 5</div>' in page
    assert page.count("hint odds") == len(found.checks) + 1
    assert ODDS_NOTE in page
    assert "1 in 50" not in verdict(found)


def test_where_no_odds_are_seen_one_line_says_so(stem):
    page = reasons(answer_of(with_odds(stem, 1e-7), {}, full=True, seconds=0.1))
    assert page.count("hint odds") == 1
    line = page.partition("hint odds")[2]
    assert line.index(texts.VERDICTS["fails"]) < line.index("under 1 in 10,000"), "never without the verdict"
    assert "under 1 in 10,000" in page


def test_small_odds_of_what_does_not_pass_are_in_no_colour_of_their_own(stem):
    made = with_odds(stem, 0.0004)
    page = reasons(answer_of(made, {}, full=True, seconds=0.1))
    assert "1 in 3,000" in page or "1 in 2,000" in page
    classes = {one for found in re.findall(r'class="([^"]*odds[^"]*)"', page) for one in found.split()}
    assert classes == {"hint", "odds"}


def test_a_quick_look_says_no_odds(stem):
    checks, ranked = (tuple(replace(one, odds=None) for one in some) for some in (stem.checks, stem.answer.ranked))
    bare = replace(stem, checks=checks, answer=replace(stem.answer, ranked=ranked))
    assert "odds" not in reasons(answer_of(bare, {}, full=False, seconds=0.1))


def test_the_start_page_shows_no_odds(visit):
    async def steps(user, desk):
        await opened(user, desk, "valve-stem")
        await user.open("/start/valve-stem")
        await user.should_see(texts.ASK_START)
        said = " ".join(str(getattr(one, "content", "") or getattr(one, "text", ""))
                        for one in user.find(kind=ui.element).elements)  # fmt: skip
        assert texts.VERDICTS["fails"] in said
        for words in ("Odds", "goes wrong", "1 in ", "in 4"):
            assert words not in said

    visit(steps)
