"""Every page as a user meets it, without a browser."""

import io
import re
import zipfile

import pytest
from nicegui import ui

from heldtrue.planning.compare import compare
from heldtrue.planning.plan import plan
from heldtrue.planning.setup import Setup
from heldtrue.records import ChuckRecord, GaugeReading, JawSet, StartDecision
from heldtrue.shop.enter import enter_setup
from heldtrue.web import texts
from heldtrue.web.results import compare_row
from heldtrue.web.sources import open_example
from web.in_process import taken_in, until

WORDS = texts.CAUTION_LINES[0]


async def opened(user, desk, name="wear-ring"):
    desk.drafts.new(name, open_example(desk.examples, name), own_files=True)
    await user.open(f"/plan/{name}")
    await settled(desk, name)
    return desk.live(name)


async def settled(desk, name):
    """Wait until the answer is the full one."""

    def full():
        live = desk.live(name)
        return live.task is not None and live.task.done() and live.answer is not None and live.answer.full

    await until(full, name)
    desk.live(name).task.result()
    return desk.live(name).answer


def only(user, mark):
    (found,) = user.find(marker=mark).elements
    return found


async def typed(user, mark, text):
    only(user, mark).value = text
    await taken_in()


def shown(user, mark):
    return "".join(str(one.content) for one in user.find(marker=mark).elements)


def test_the_first_page_has_examples_and_opens_one(visit):
    async def steps(user, desk):
        await user.open("/")
        await user.should_see(texts.NO_DRAFTS)
        await user.should_see("Winch shaft, drum end")
        await user.should_see(WORDS)
        user.find(marker="example-valve-stem").click()
        await until(lambda: desk.drafts.ids() == ["valve-stem"])
        await user.open("/")
        await user.should_see("Valve stem, body side")

    visit(steps)


def test_a_saved_job_is_found_on_the_first_page_and_repeated(visit):
    async def steps(user, desk):
        for name in ("wear-ring", "winch-shaft"):
            enter_setup(desk.store, Setup.from_dict(open_example(desk.examples, name)), "Noor", id=f"kept-{name}")
        await user.open("/")
        await user.should_see(marker="found-kept-winch-shaft")
        await typed(user, "find-setup", "bronze 140 noor")
        await user.should_see(marker="found-kept-wear-ring")
        await user.should_not_see(marker="found-kept-winch-shaft")
        await typed(user, "find-setup", "bronze 99")
        await user.should_see(texts.NONE_FOUND)
        await typed(user, "find-setup", "wr-158")
        await user.should_see(marker="found-kept-wear-ring")
        user.find(marker="found-kept-wear-ring").click()
        await until(lambda: desk.drafts.ids() == ["kept-wear-ring"])

    visit(steps)


def test_plan_change_and_undo(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        assert live.answer.verdict == "passes"
        await user.should_see(texts.VERDICTS["passes"])
        await user.should_see(WORDS)
        await typed(user, "run.pressure", "24,0")
        answer = await settled(desk, "wear-ring")
        assert answer.verdict == "fails"
        assert answer.stated == ("24.0 bar", "348 psi")
        assert texts.VERDICTS["fails"] in shown(user, "answer")
        assert only(user, "run.pressure").props["hint"] == "24.0 bar = 348 psi"
        user.find(marker="undo").click()
        await until(lambda: not live.draft.table.get("run"))
        assert (await settled(desk, "wear-ring")).verdict == "passes"
        assert only(user, "run.pressure").value == ""

    visit(steps)


def test_a_slip_is_said_under_its_field_and_nothing_is_clamped(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        await typed(user, "run.pressure", "250")
        field = only(user, "run.pressure")
        assert field.value == "250"
        assert 'did you mean "250 psi"?' in field.error
        assert texts.HELD_BACK.format(fields="Pressure") in shown(user, "answer")
        assert live.draft.setup().run is None
        await typed(user, "run.pressure", "10")
        assert field.error is None

    visit(steps)


def test_a_second_tab_and_a_reload_show_the_same(visit):
    async def steps(user, desk):
        await opened(user, desk)
        await typed(user, "grip.diameter_tolerance.1", "0,05")
        await typed(user, "run.pressure", "250")
        await user.open("/plan/wear-ring")
        assert only(user, "grip.diameter_tolerance.1").value == "0,05"
        assert only(user, "run.pressure").value == "250"
        assert "250 psi" in only(user, "run.pressure").error
        assert '"250"' in (desk.drafts.folder / "wear-ring.json").read_text()

    visit(steps)


def test_two_tabs_of_one_setup_see_each_other(visit, caplog):
    async def steps(user, desk):
        live = await opened(user, desk)
        seen = []
        live.watchers.add(seen.append)
        live.watchers.add(lambda what: 1 / 0)
        await typed(user, "run.pressure", "10")
        assert "fields" in seen
        assert len(live.watchers) == 2, "the page that broke is told no more, the others are"

    visit(steps)
    assert "a page could not be updated" in caplog.text


def test_corners_can_be_added_and_removed(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        user.find(marker="add-part.profile-1").click()
        await until(lambda: len(live.draft.table["part"]["profile"]) == 7)
        assert only(user, "part.profile.2.1").value == "12"
        user.find(marker="undo").click()
        await until(lambda: len(live.draft.table["part"]["profile"]) == 6)

    visit(steps)


def test_the_gate_says_no_then_yes_and_writes_both_down(visit):
    async def steps(user, desk):
        await opened(user, desk)
        await user.open("/start/wear-ring")
        await user.should_see(marker="ask-start")
        user.find(marker="ask-start").click()
        await user.should_see(texts.NEED_GAUGE)
        await typed(user, "gauge", "4")
        user.find(marker="ask-start").click()
        await user.should_see(texts.NEED_NAME)
        await typed(user, "name", "Noor")
        user.find(marker="ask-start").click()
        await user.should_see(texts.MUST_NOT)
        user.find(marker="override").click()
        await user.should_see(texts.OVERRIDE_NEEDS)
        await typed(user, "reason", "steady set and a light cut")
        user.find(marker="override").click()
        await user.should_see(texts.OVERRIDDEN)
        await typed(user, "gauge", "10,5 bar")
        user.find(marker="ask-start").click()
        await user.should_see(texts.MAY)
        rows = desk.store.events(StartDecision, setup="wear-ring")
        assert [(row.verdict, row.by, row.gauge_text) for row in rows] == [
            ("must not start", "Noor", "4 bar"), ("must not start", "Noor", "4 bar"), ("may start", "Noor", "10,5 bar"),
        ]  # fmt: skip
        assert [bool(row.override_reason) for row in rows] == [False, True, False]

    visit(steps)


def test_the_start_page_says_the_job_and_takes_the_window_of_the_newest_plan(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        await user.open("/start/wear-ring")
        await user.should_see(marker="ask-start")
        await user.should_see("part WR-158; revision B")
        await until(lambda: texts.VERDICTS["passes"] in only(user, "standing").content)
        before = only(user, "asks").content
        await desk.change(live, {"cut.0.depth": "0.5", "cut.1.depth": "0.5"}, "lighter")
        assert texts.PLANNED_ANEW in only(user, "asks").content
        await until(lambda: "set" in only(user, "asks").content)
        await settled(desk, "wear-ring")
        assert only(user, "asks").content != before
        await desk.change(live, {"grip.seat": None}, "nobody looked")
        await until(lambda: texts.VERDICTS["not proven"] in only(user, "standing").content)
        assert "whether there is a seat is not said" in only(user, "standing").content

    visit(steps)


def test_an_answer_of_the_gate_is_gone_with_the_first_letter_of_another_reading(visit):
    async def steps(user, desk):
        await opened(user, desk)
        await user.open("/start/wear-ring")
        await user.should_see(marker="ask-start")
        await user.should_see("rough: set")  # what is asked for stands there
        await typed(user, "name", "Noor")
        await typed(user, "gauge", "4")
        user.find(marker="ask-start").click()
        await user.should_see(texts.MUST_NOT)
        await typed(user, "reason", "steady set and a light cut")
        await typed(user, "gauge", "3")
        await user.should_not_see(texts.MUST_NOT)
        await user.should_not_see(marker="override")
        await typed(user, "gauge", "377")
        user.find(marker="ask-start").click()
        await user.should_see(marker="gauge-meant")
        assert "did you mean" in only(user, "gauge").error
        user.find(marker="gauge-meant").click()
        assert only(user, "gauge").value == "377 psi"
        await typed(user, "gauge", "10,5")
        user.find(marker="ask-start").click()
        await user.should_see(texts.MAY)
        only(user, "step").value = "finish"
        await user.should_not_see(texts.MAY)
        rows = desk.store.events(StartDecision, setup="wear-ring")
        assert [row.gauge_text for row in rows] == ["4 bar", "10,5 bar"], "a slip is not written down"

    visit(steps)


@pytest.mark.long
def test_a_way_that_needs_another_chuck_says_that_its_plate_is_nobodys(visit, only_styles):
    only_styles("pie")

    async def steps(user, desk):
        live = await opened(user, desk)
        ways = await desk.compare(live)
        number, way = next((n, one) for n, one in enumerate(ways, 1) if "6 pie" in one.name and one.changes)
        assert "own grip not measured" in way.needs
        await user.open("/compare/wear-ring")
        await user.should_see(marker=f"take-{number}")
        user.find(marker=f"take-{number}").click()
        await until(lambda: live.draft.setup().chuck.jaws == 6)
        chuck = live.draft.setup().chuck
        assert (chuck.number, chuck.grip_readings) == ("", None)
        await until(lambda: live.answer is not None and "plate figures of the chuck are assumed" in live.answer.caveat)
        answer = await settled(desk, "wear-ring")
        assert answer.verdict == way.verdict
        assert way.window == "; ".join(f"{step.floor[0]} to {step.ceiling[0]}" for step in answer.steps)
        assert answer.caveat.lower() == way.why.lower(), "every check passes: what nobody read is why"

    visit(steps)


def bare(value):
    """A table without the words where its values came from, as somebody types it."""
    if not isinstance(value, dict):
        return value
    return value["value"] if set(value) == {"value", "from"} else {k: bare(v) for k, v in value.items() if k != "from"}


def test_the_plate_of_a_chuck_nobody_has_is_assumed_however_this_one_s_was_typed(wear_ring):
    table = wear_ring.to_dict()
    setup = Setup.from_dict({**table, "chuck": bare(table["chuck"])})
    assert setup.source("chuck.max_grip_force") == "stated"
    ways = compare(setup, ("pie",))
    (way,) = (one for one in ways if one.name == "outside, 6 pie jaws")
    taken = Setup.from_dict({**setup.to_dict(), **dict(compare_row(way, setup).changes)})
    for path in ("max_grip_force", "max_draw_force", "actuator.pull_area", "max_speed_rpm"):
        assert taken.source(f"chuck.{path}") == "assumed"
    assert taken.chuck.grease is None
    assert plan(taken, helped=False).verdict == "not proven"
    for one in ways:
        row = compare_row(one, setup)
        taken = Setup.from_dict({**setup.to_dict(), **dict(row.changes)})
        assert row.sketch.startswith("<svg")
        assert "<text" not in row.sketch, "letters would be too small to read"
        assert taken == one.setup
        assert taken.to_dict() == one.setup.to_dict(), "with the words where every value came from"
        assert plan(taken, helped=False).verdict == row.verdict
    assert sum(bool(one.needs) for one in ways) == 2


def test_the_gate_does_not_answer_for_a_field_that_is_not_taken_in(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        await typed(user, "jaws.taper", "900")
        assert live.draft.pending
        await user.open("/start/wear-ring")
        await user.should_see(marker="ask-start")
        await typed(user, "gauge", "10.5")
        await typed(user, "name", "Noor")
        user.find(marker="ask-start").click()
        await user.should_see(texts.NOT_WITH_PENDING)
        assert desk.store.events(StartDecision) == ()

    visit(steps)


def test_the_jaws_are_cut_step_by_step(visit):
    async def steps(user, desk):
        await opened(user, desk)
        await user.open("/jaws/wear-ring")
        await user.should_see(marker="step-1")
        await user.should_see("Read back and proved")
        await user.should_see("Forces while cutting, at their worst")
        await user.should_see("NOT CHECKED: state machine.power")
        await user.should_see(marker="save-bore-J-118.nc")
        for name, start in (("jaws.step", b"ISO-10303-21;"), ("jaw-1.stl", b"J-118, jaw 1")):
            user.find(marker=f"save-{name}").click()
            assert (await user.download.next()).content.startswith(start)
        await user.should_see("not in it: serration (teeth) under the jaw")
        only(user, "step-1").value = True
        await taken_in()
        await user.open("/jaws/wear-ring")
        await user.should_see(marker="step-1")
        assert only(user, "step-1").value is True
        assert only(user, "step-2").value is False
        user.find(marker="save-all").click()
        packed = (await user.download.next()).content
        assert {"jaws.step", "jaw-1.stl", "bore-J-118.nc"} <= set(zipfile.ZipFile(io.BytesIO(packed)).namelist())

    visit(steps)


@pytest.mark.long
def test_a_way_to_hold_is_taken_over_and_undone(visit, only_styles):
    only_styles("wide", jaws=(3,))

    async def steps(user, desk):
        live = await opened(user, desk)
        ways = await desk.compare(live)
        await user.open("/compare/wear-ring")
        await user.should_see("outside, 3 wide jaws")
        number = next(place for place, one in enumerate(ways, 1) if one.name == "outside, 3 wide jaws")
        user.find(marker=f"take-{number}").click()
        await until(lambda: live.draft.setup().jaws.style == "wide")
        setup = live.draft.setup()
        assert (setup.grip.side, setup.jaws.style) == ("outside", "wide")
        await user.should_see(marker="undo")  # it leads back to the plan
        live.draft.undo()
        setup = live.draft.setup()
        assert (setup.grip.side, setup.jaws.style) == ("inside", "pie")

    visit(steps)


@pytest.mark.long
def test_ways_are_shown_as_they_are_found_and_one_is_taken_over(visit, only_styles):
    only_styles("pie")

    async def steps(user, desk):
        live = await opened(user, desk)
        seen = []
        await desk.find_ways(live, seen.append)
        assert [one.planned for one in seen] == sorted(one.planned for one in seen)
        assert seen[0].best[0].name.endswith("(as stated)"), "what is there already comes first"
        assert [bool(one.doing) for one in seen] == [True] * (len(seen) - 1) + [False]
        last = seen[-1]
        assert (last.planned, bool(last.dropped)) == (2, True)
        await user.open("/ways/wear-ring")
        await user.should_see(texts.WAYS_LOOKED_AT.format(looked_at=last.looked_at, planned=2))
        listed = (*last.best, *last.beaten)
        number, way = next((n, one) for n, one in enumerate(listed, 1) if one.changes)
        await user.should_see(way.name)
        user.find(marker=f"take-way-{number}").click()
        await user.should_see(marker="undo")
        await desk.find_ways(live, seen.append)
        assert f"{way.name} (as stated)" in [one.name for one in (*seen[-1].best, *seen[-1].beaten)]

    visit(steps)


def test_the_shelf(visit):
    async def steps(user, desk):
        await user.open("/shelf")
        await user.should_see(texts.NO_SETS)
        user.find(marker="add-set").click()
        await user.should_see(texts.NEED_NAME)
        for mark, text in (("number", "S-1"), ("material", "C45"), ("place", "cabinet 2"), ("name", "Noor")):
            await typed(user, f"new-{mark}", text)
        user.find(marker="add-set").click()
        await user.should_see(texts.ON_SHELF.format(set="S-1"))
        await user.should_see("cabinet 2")
        await typed(user, "find", "aluminium")
        await user.should_see(texts.NO_FIT.partition("{")[0])
        await user.open("/shelf/S-1")
        await typed(user, "name", "Tamsin")
        user.find(marker="check-out").click()
        await user.should_see("Tamsin has it")
        assert desk.store.standing("S-1").holder == "Tamsin"
        await typed(user, "holder", "Priya")
        user.find(marker="check-out").click()
        await user.should_see("out already: Tamsin has it")
        await typed(user, "place", "cabinet 3")
        user.find(marker="check-in").click()
        await user.should_see("cabinet 3")
        await user.open("/shelf/S-99")
        await user.should_see(texts.NOT_FOUND)

    visit(steps)


def test_what_somebody_typed_is_never_markup(visit):
    async def steps(user, desk):
        evil = "<img src=x onerror=alert(1)>"
        desk.store.write(JawSet(id="S-1", style="pie", material=evil, remark=evil), by=evil)
        for page in ("/shelf", "/shelf/S-1"):
            await user.open(page)
            for one in user.find(ui.html).elements:
                assert "<img src=x" not in one.content

    visit(steps)


def test_a_chuck_and_its_readings(visit):
    async def steps(user, desk):
        desk.store.write(ChuckRecord(id="CH-9", name="chuck nine", gauge="psi"), by="Noor")
        await user.open("/chucks")
        await user.should_see("chuck nine")
        await user.open("/chucks/CH-9")
        await typed(user, "name", "Noor")
        for count, (pressure, force) in enumerate((("145", "38 kN"), ("290", "79 kN"), ("435", "120 kN")), 1):
            await typed(user, "p", pressure)
            await typed(user, "f", force)
            user.find(marker="add-reading").click()
            await until(lambda count=count: len(desk.store.events(GaugeReading)) == count)
            await until(lambda: (only(user, "p").value, only(user, "f").value) == ("", ""), "not kept twice")
        await user.should_see("from 3 read")
        user.find(marker="grease").click()
        await user.should_not_see("no greasing is entered")

    visit(steps)


@pytest.mark.parametrize("page", ["/", "/plan/wear-ring", "/shelf", "/chucks"])
def test_no_page_names_anything_elsewhere(visit, page):
    """Addresses that a browser would fetch: in links, sources, imports; the names of SVG's own language are none."""

    async def steps(user, desk):
        desk.drafts.new("wear-ring", open_example(desk.examples, "wear-ring"))
        answer = await user.http_client.get(page)
        assert answer.status_code == 200
        found = re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}[^\s\"'<>)]*", answer.text)
        found = [one for one in found if not one.startswith(("http://www.w3.org/", "https://www.w3.org/"))]
        assert found == []
        assert "connect-src 'self'" in answer.headers["content-security-policy"]

    visit(steps)


def test_there_is_no_way_to_the_files_of_the_server(visit):
    async def steps(user, desk):
        for path in ("/..%2f..%2fetc/passwd", "/_nicegui/../../../etc/passwd", "/plan/..%2f..%2fetc%2fpasswd",
                     "/static/%2e%2e/%2e%2e/etc/passwd", "/drafts/wear-ring.json", "/records.db"):  # fmt: skip
            answer = await user.http_client.get(path)
            assert "root:" not in answer.text
            assert "SQLite" not in answer.text

    visit(steps)
