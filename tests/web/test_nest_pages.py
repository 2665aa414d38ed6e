"""The steps of a nest, typed where the jaws are cut and among all values, without a browser."""

import pytest

from heldtrue.web import texts
from heldtrue.web.sources import open_example
from web.in_process import at_rest, taken_in, until
from web.test_form import pressed, seen
from web.test_pages import only, opened, typed

STEP = "boring.steps.0"
NO_METAL = "the last cut left no metal"


async def told(user, words):
    """Wait for words: the page works them out a moment after what was typed has come."""

    def there():
        try:
            return bool(user.find(words).elements)
        except AssertionError:
            return False

    await until(there, words)


async def at_the_jaws(user, desk, name):
    desk.drafts.new(name, open_example(desk.examples, name), own_files=True)
    await user.open(f"/jaws/{name}")
    await at_rest(desk)
    return desk.live(name)


def test_a_step_typed_where_the_jaws_are_cut_is_bored_and_undone(visit):
    async def steps(user, desk):
        live = await at_the_jaws(user, desk, "wear-ring")
        await told(user, "Read back and proved")
        assert not seen(user, "add-jaws.last_cut.steps"), "a new set has none"
        await pressed(user, "add-boring.steps")
        await at_rest(desk)
        await told(user, texts.CANNOT_BE_CUT)  # a step without its size is no bore
        await typed(user, f"{STEP}.diameter", "5.7874 in")
        await typed(user, f"{STEP}.z", "3")
        await at_rest(desk)
        await told(user, "must be smaller than")
        await typed(user, f"{STEP}.z", "-2")
        await at_rest(desk)
        (one,) = live.draft.setup().boring.steps
        assert (one.diameter, one.z, one.grips) == (pytest.approx(147, abs=0.001), -2.0, False)
        await told(user, "Ø147.000 mm behind the seat")
        await told(user, "Read back and proved")
        await pressed(user, "undo")
        await at_rest(desk)
        assert only(user, f"{STEP}.z").value == "", "what was typed in one field in a row is one change"
        await typed(user, f"{STEP}.z", "-2")
        await typed(user, f"{STEP}.z", "deep")
        assert "expected length" in only(user, f"{STEP}.z").error
        assert live.draft.pending
        await pressed(user, "take-boring.steps-0")
        await at_rest(desk)
        assert live.draft.setup().boring.steps is None
        assert not seen(user, f"{STEP}.z")
        assert not live.draft.pending, "what was typed in the row went with it"
        await pressed(user, "undo")
        assert seen(user, f"{STEP}.z")

    visit(steps)


def test_what_the_last_cut_left_is_said_where_the_set_is_cut_again(visit):
    async def steps(user, desk):
        live = await at_the_jaws(user, desk, "gland-flange-repeat")
        await typed(user, "touched", "89.55")
        await pressed(user, "work-out")
        await at_rest(desk)
        await told(user, "Read back and proved")
        await told(user, texts.OLD_STEPS_NONE)
        await pressed(user, "add-jaws.last_cut.steps")
        await typed(user, "jaws.last_cut.steps.0.diameter", "96")
        await typed(user, "jaws.last_cut.steps.0.z", "6")
        await at_rest(desk)
        await told(user, NO_METAL)
        assert not seen(user, "jaws.last_cut.steps.0.grips")
        await pressed(user, "take-jaws.last_cut.steps-0")
        await at_rest(desk)
        await told(user, texts.OLD_STEPS_UNKNOWN)
        await told(user, "look at them, and state")
        await pressed(user, "none-jaws.last_cut.steps")
        await at_rest(desk)
        assert live.draft.setup().jaws.last_cut.steps == ()
        await told(user, "Read back and proved")

    visit(steps)


def test_both_stand_among_all_values(visit):
    async def steps(user, desk):
        live = await opened(user, desk, "gland-flange-repeat")
        user.find(marker="more-Jaws").trigger("toggle")
        await taken_in()
        for path in ("boring.steps", "jaws.last_cut.steps"):
            await pressed(user, f"add-{path}")
            await typed(user, f"{path}.0.diameter", "60")
            await typed(user, f"{path}.0.z", "-4")
        only(user, f"{STEP}.grips").value = "yes"
        await taken_in()
        setup = live.draft.setup()
        assert [(one.diameter, one.z, one.grips) for one in setup.boring.steps] == [(60.0, -4.0, True)]
        assert [(one.diameter, one.z) for one in setup.jaws.last_cut.steps] == [(60.0, -4.0)]
        await pressed(user, "undo")
        assert live.draft.setup().boring.steps[0].grips is False
        assert only(user, f"{STEP}.grips").value == ""
        await at_rest(desk)

    visit(steps)
