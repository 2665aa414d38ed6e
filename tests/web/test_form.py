"""The form as a user meets it, without a browser."""

import asyncio
import gc
import weakref

import pytest

from heldtrue.records import RunRecord
from heldtrue.web import texts
from heldtrue.web.desk import now
from heldtrue.web.plan.box import Box
from heldtrue.web.sources import blank_setup
from web.in_process import taken_in
from web.test_pages import only, opened, settled, typed


async def pressed(user, mark):
    user.find(marker=mark).click()
    await taken_in()


def seen(user, mark):
    """Is there anything with that mark?"""
    try:
        return bool(user.find(marker=mark).elements)
    except AssertionError:
        return False


def test_an_empty_setup_says_what_is_missing_and_leads_there(visit):
    async def steps(user, desk):
        desk.drafts.new("new", blank_setup("metric"))
        await user.open("/plan/new")
        await user.should_see(texts.STILL_MISSING.format(count=13))
        assert only(user, "tab-Grip").props["label"] == "Grip (3 !)"
        await typed(user, "grip.diameter", "80")
        assert only(user, "tab-Grip").props["label"] == "Grip (2 !)"
        assert not seen(user, "go-grip.diameter")
        await pressed(user, "go-grip.z.0")
        tabs = next(one for one in only(user, "tab-Grip").ancestors() if "model-value" in one.props)
        assert tabs.props["model-value"] == "Grip"
        await pressed(user, "add-cut")
        assert seen(user, "go-cut.0.depth")
        await typed(user, "grip.z.0", "x")
        await typed(user, "grip.z.1", "5")
        await user.should_see(texts.TO_PUT_RIGHT.format(count=1))
        assert "expected length" in only(user, "grip.z.0").error

    visit(steps)


def test_nothing_is_listed_as_missing_where_nothing_is(visit):
    async def steps(user, desk):
        await opened(user, desk)
        await user.should_not_see(texts.GO_THERE)
        assert only(user, "tab-Grip").props["label"] == "Grip"

    visit(steps)


@pytest.mark.long
def test_what_another_window_typed_is_asked_about(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        box = only(user, "run.pressure")
        field = next(one for one in _fields() if one.path == "run.pressure")
        await hands_over(user, live, "12", own=True)
        stood = live.draft.state(field)
        await desk_edit(desk, live, field, "15", stood)
        await hands_over(user, live, "12,5", own=True, base=stood, count=2)
        assert box.value == "12,5", "what stands where somebody types is not changed under their hands"
        await user.should_see('"15"')
        assert live.draft.table["run"] == {"pressure": "15"}
        await pressed(user, "mine-run.pressure")
        assert live.draft.table["run"] == {"pressure": "12,5"}
        assert not seen(user, "mine-run.pressure")
        stood = live.draft.state(field)
        await desk_edit(desk, live, field, "16", stood)
        await hands_over(user, live, "12,5", own=False, base=stood, count=3)  # they stand in the field
        await pressed(user, "theirs-run.pressure")
        assert box.value == "16"
        await settled(desk, "wear-ring")

    visit(steps)


def test_what_is_handed_over_while_the_last_answer_is_awaited_is_no_quarrel_and_not_lost(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        field = next(one for one in _fields() if one.path == "run.pressure")
        stood, changed, answered = live.draft.state(field), desk.changed, asyncio.Event()

        async def slowly(live):
            waits = live.draft.text(field) == "18 b"
            if waits:
                await answered.wait()
            await changed(live)

        desk.changed = slowly
        for count, text in enumerate(("18 b", "18 ba", "18 bar"), 1):
            user.find(marker="run.pressure").trigger(
                "typed", {"text": text, "base": stood, "count": count, "own": True}
            )
            for _ in range(20):
                await asyncio.sleep(0)
        answered.set()
        await taken_in()
        await settled(desk, "wear-ring")
        box = only(user, "run.pressure")
        assert not seen(user, "mine-run.pressure")
        assert (box.props["done"], box.props["now"], box.props["asked"]) == (3, "18 bar", False)
        assert live.draft.setup().run.pressure == 1.8

    visit(steps)


def test_a_field_nobody_types_in_follows_at_once(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        field = next(one for one in _fields() if one.path == "run.pressure")
        await desk_edit(desk, live, field, "15", None)
        assert only(user, "run.pressure").value == "15"
        assert not seen(user, "mine-run.pressure")
        await settled(desk, "wear-ring")

    visit(steps)


def test_a_corner_that_is_typed_keeps_its_place_while_others_come(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        element = only(user, "part.profile.3.1")
        before = live.draft.table["part"]["profile"][2][1]
        await pressed(user, "add-part.profile-0")
        assert only(user, "part.profile.4.1") is element
        assert element.props["label"] == "5: z"
        element.value = "24,5"
        await taken_in()
        waiting = live.draft.pending.get("part.profile.4.1") or live.draft.table["part"]["profile"][4][1]
        assert waiting == "24,5"
        assert live.draft.table["part"]["profile"][3][1] == before

    visit(steps)


def test_where_a_value_came_from_is_chosen_in_its_field(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        await typed(user, "part.mass", "1,9")
        await pressed(user, "from-part.mass")
        await pressed(user, "from-part.mass-measured")
        assert live.draft.setup().source("part.mass") == "measured"
        assert only(user, "part.mass").props["hint"].endswith("· measured")
        await typed(user, "part.mass", "1,8")
        assert live.draft.setup().source("part.mass") == "stated"
        await settled(desk, "wear-ring")

    visit(steps)


@pytest.mark.long
def test_a_suggestion_is_one_press(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        await typed(user, "run.pressure", "250")
        assert live.draft.pending
        await pressed(user, "meant-run.pressure")
        assert only(user, "run.pressure").value == "250 psi"
        assert live.draft.pending == {}
        assert not seen(user, "meant-run.pressure")
        await settled(desk, "wear-ring")

    visit(steps)


def test_only_what_a_kind_of_cut_needs_is_asked(visit):
    async def steps(user, desk):
        await opened(user, desk)
        assert seen(user, "cut.0.depth")
        assert not seen(user, "cut.0.pitch")
        await typed(user, "cut.0.kind", "thread")
        assert seen(user, "cut.0.pitch") or only(user, "cut.0.kind").error
        await settled(desk, "wear-ring")

    visit(steps)


def test_a_copy_and_what_changed_since_the_last_run(visit):
    async def steps(user, desk):
        await opened(user, desk)
        await user.open("/")
        await pressed(user, "copy-wear-ring")
        assert sorted(desk.drafts.ids()) == ["wear-ring", "wear-ring-copy"]
        copy = desk.drafts.get("wear-ring-copy")
        assert copy.table["title"] == "copy of Wear ring, second side"
        assert copy.table["part"] == desk.drafts.get("wear-ring").table["part"]
        from heldtrue.shop.enter import enter_setup

        setup = desk.drafts.get("wear-ring").setup()
        card = enter_setup(desk.store, setup, "Noor", id="ring")
        await user.open("/")
        await user.should_see(texts.NEVER_RUN)
        desk.store.write(RunRecord(at=now(), by="Noor", setup="ring", setup_version=card.version), by="Noor")
        enter_setup(desk.store, setup.with_({"jaws.taper": 0.01}), "Noor", id="ring")
        await user.open("/")
        await user.should_see("taper")

    visit(steps)


def test_a_setup_is_saved_as_a_file(visit):
    async def steps(user, desk):
        await opened(user, desk)
        user.find(marker="save-file").click()
        answer = await user.download.next()
        assert b'title = "Wear ring, second side"' in answer.content

    visit(steps)


def _fields():
    from heldtrue.web.sections import FIXED

    return [field for section in FIXED for field in section.fields]


async def hands_over(user, live, text, *, own, base=None, count=1):
    """What the browser tells of a field that somebody types in."""
    state = live.draft.state(next(one for one in _fields() if one.path == "run.pressure"))
    told = {"text": text, "base": state if base is None else base, "count": count, "own": own}
    user.find(marker="run.pressure").trigger("typed", told)
    await taken_in()


async def desk_edit(desk, live, field, text, base):
    """Somebody else's window."""
    await desk.edit(live, field, text, base)
    await taken_in()


def test_a_page_that_was_closed_leaves_no_fields_behind(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        boxes = [weakref.ref(one) for one in gc.get_objects() if type(one) is Box and one.live is live]
        assert len(boxes) > 20
        user.client.delete()
        await user.open("/scan")  # the simulated user keeps the page they are on
        for _ in range(100):
            await asyncio.sleep(0.1)
            gc.collect()
            if all(one() is None for one in boxes):
                break
        assert [one().field.path for one in boxes if one() is not None] == [], "something keeps the page"

    visit(steps)
