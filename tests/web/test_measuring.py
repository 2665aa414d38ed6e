"""The pages for a gauge ring and for friction: from the drawing of a ring to rows in the records, and every refusal."""

import tomllib
from html import escape

import pytest
from conftest import ROOT
from nicegui import ui
from nicegui.events import UploadEventArguments

from heldtrue.planning.hardware_file import chuck_from
from heldtrue.planning.setup import Setup
from heldtrue.planning.toml_file import read_toml
from heldtrue.records import FrictionReading, GaugeReading
from heldtrue.shop.gauge_rings import CAUTIONS
from heldtrue.shop.stock import chuck_cards
from heldtrue.web import texts
from heldtrue.web.measuring import words
from heldtrue.web.measuring.face import Face, draw_face
from heldtrue.web.measuring.friction import blank as no_slips
from heldtrue.web.measuring.friction import read_slips
from heldtrue.web.measuring.here import bench_name
from heldtrue.web.measuring.typed import blank, understood
from heldtrue.web.sources import open_example
from web.in_process import at_rest, taken_in, until
from web.test_shared import shared  # noqa: F401  a fixture

RING = (ROOT / "examples" / "gauge-ring" / "ring-250.toml").read_text()
READINGS = tomllib.loads((ROOT / "examples" / "gauge-ring" / "readings.toml").read_text())
PLATE = read_toml(ROOT / "examples" / "chucks" / "250-wedge.toml")
CHUCK = chuck_from(PLATE, "chuck")[0]
PAGE = "/chucks/CH-04/ring"


def enter_chuck(desk):
    table = chuck_from({**PLATE, "number": "CH-04"}, "chuck")[1]
    desk.store.write(*chuck_cards(desk.store, "CH-04", table, machine=None, grease_days=None), by="Noor")


def whole():
    """The example as it is typed: µm on the dial, bar on the gauge."""
    made = {**blank(3), "ring": RING, "division": "1"}
    made["traces"] = [
        {"pressure": one.get("pressure", "").removesuffix(" bar"), "values": [f"{v * 1000:g}" for v in one["values"]]}
        for one in READINGS["round"]
    ]
    return made


def only(user, mark):
    (found,) = user.find(marker=mark).elements
    return found


def shown(user, mark):
    return "".join(str(one.content) for one in user.find(marker=mark).elements)


def html_of(user):
    return "".join(str(one.content) for one in user.find(kind=ui.html).elements)


async def press(user, *marks):
    for mark in marks:
        user.find(marker=mark).click()
        await taken_in()


async def type_all(desk, table, chuck="CH-04"):
    bench = desk.benches.get(bench_name(chuck), blank(3))
    bench.typed.change(table, "all of it")
    bench.tell()
    await taken_in()


# A ring to make


def test_a_ring_is_designed_saved_and_taken_to_be_read(visit):
    async def steps(user, desk):
        enter_chuck(desk)
        await user.open("/chucks/CH-04")
        await press(user, "gauge-ring")
        await until(lambda: user.back_history[-1] == PAGE)
        await user.should_see(words.MAKE_WORDS)
        assert all(escape(caution) in html_of(user) for caution in (*CAUTIONS, *texts.CAUTION_LINES))
        assert "152.000 mm" in only(user, "ring-diameter")._props["hint"]
        await press(user, "design-ring")
        await until(lambda: words.DESIGNED in shown(user, "ring-design"))
        said = shown(user, "ring-design")
        assert "Ø152.000 mm (5.9843 in)" in said
        assert "engrave: at most 30.0 bar" in said
        assert "data:image/svg+xml" in said
        for name in ("gauge-ring.pdf", "gauge-ring.dxf", "readings.toml", "gauge-ring.toml"):
            await press(user, f"save-{name}")
            content = (await user.download.next()).content
            assert len(content) > 200
        ring = tomllib.loads(content.decode())
        assert (ring["number"], ring["jaws"], ring["outer"]) == ("GR-01", 3, 152)
        await press(user, "use-ring")
        assert only(user, "ring").value == content.decode()
        # What stands there was made for another pressure.
        only(user, "ring-most").value = "10"
        await taken_in()
        assert shown(user, "ring-design") == ""
        await press(user, "design-ring")
        await until(lambda: "at most 10.0 bar" in shown(user, "ring-design"))

    visit(steps)


@pytest.mark.parametrize(
    ("box", "text", "why"),
    [
        ("ring-most", "40", "the plates of"), ("ring-diameter", "abc", words.DIAMETER),
        ("ring-widest", "5", "narrower than"), ("ring-diameter", "5000", "20 to 1000 mm"),
        ("ring-most", "8 mm", words.MOST),
    ],
)  # fmt: skip
def test_a_ring_that_cannot_be_is_refused_in_words(visit, box, text, why):
    async def steps(user, desk):
        enter_chuck(desk)
        await user.open(PAGE)
        only(user, box).value = text
        await press(user, "design-ring")
        await user.should_see(why)
        assert shown(user, "ring-design") == ""
        with pytest.raises(AssertionError):
            user.find(marker="save-gauge-ring.pdf")  # what is hidden is not found

    visit(steps)


def test_no_chuck_and_no_plate_are_said(visit):
    async def steps(user, desk):
        await user.open("/chucks/X-1/ring")
        await user.should_see("there is no chuck X-1")
        await user.open("/friction/nothing")
        await user.should_see(texts.NO_SUCH_DRAFT)

    visit(steps)


# A ring to read


def test_what_was_read_is_answered_and_entered_once(visit):
    async def steps(user, desk):
        enter_chuck(desk)
        await user.open(PAGE)
        await until(lambda: words.NEED_RING in shown(user, "ring-answer"))
        await press(user, "enter-ring")
        await user.should_see(texts.NEED_NAME)
        only(user, "name").value = "Noor"
        await press(user, "enter-ring")
        await user.should_see(words.NO_ANSWER_YET)
        await type_all(desk, whole())
        await until(lambda: words.READ_ANSWER in shown(user, "ring-answer"))
        said = shown(user, "ring-answer")
        assert "is lost before the jaws grip" in said
        assert "come from material, size and contact" in said
        assert said.count(" bar</td>") == 3 + 3
        # Two touches of the button: the second comes before the first is done.
        user.find(marker="enter-ring").click()
        user.find(marker="enter-ring").click()
        await until(lambda: desk.store.events(GaugeReading))
        await taken_in()
        await user.should_see("entered twice")
        rows = desk.store.events(GaugeReading, chuck="CH-04")
        assert [round(row.pressure, 6) for row in rows] == [0.8, 1.5, 2.2]
        assert {(row.by, row.device) for row in rows} == {("Noor", "gauge ring GR-01")}
        assert all(0 < row.error < 0.6 for row in rows)
        for row in rows:
            assert row.force == pytest.approx(30_000 * (row.pressure - 0.08), rel=0.1)
        await press(user, "enter-ring")
        assert len(desk.store.events(GaugeReading)) == 3
        await user.open("/chucks/CH-04")
        await until(lambda: "plans take" in shown(user, "log"))

    visit(steps)


def test_the_pad_types_round_after_round_and_the_picture_follows(visit):
    async def steps(user, desk):
        enter_chuck(desk)
        await user.open(PAGE)
        await until(lambda: "place 1 of 12" in shown(user, "ring-face"))
        await press(user, "key-1", "key-2", "key--")
        assert "−12 µm" in shown(user, "ring-now")
        await press(user, "key-Enter")
        assert "place 2 of 12" in shown(user, "ring-face")
        for _ in range(3):
            await press(user, "key-Enter")
        assert "Free: place 5 of 12, at jaw 2" in shown(user, "ring-now")
        user.find(marker="face").trigger("click", 0.0)
        await taken_in()
        assert "Free: place 1 of 12, at jaw 1" in shown(user, "ring-now")
        user.find(marker="ring-zone").trigger("keydown", "ArrowLeft")
        await taken_in()
        assert "place 12 of 12" in shown(user, "ring-face")
        await press(user, "key-3", "key-Enter")
        assert "Clamped 1: place 1 of 12" in shown(user, "ring-now"), "the next round begins"
        only(user, "pressure").value = "8"
        await taken_in()
        table = desk.benches.get(bench_name("CH-04"), {}).typed.table
        assert table["traces"][0]["values"] == ["-12", *[""] * 10, "3"]
        assert table["traces"][1]["pressure"] == "8"
        await until(lambda: words.NEED_VALUES.format(round=words.FREE, left=10, count=12) in shown(user, "ring-answer"))
        await press(user, "undo-ring")
        assert desk.benches.get(bench_name("CH-04"), {}).typed.table["traces"][1]["pressure"] == ""

    visit(steps)


def test_a_tap_on_the_right_is_a_place_on_the_right(visit):
    async def steps(user, desk):
        enter_chuck(desk)
        await user.open(PAGE)
        await until(lambda: "place 1 of 12" in shown(user, "ring-face"))
        user.find(marker="face").trigger("click", -1.5708)  # TAPPED: atan2(-x, -y), x to the right
        await taken_in()
        assert "place 4 of 12" in shown(user, "ring-face")

    visit(steps)


def test_the_ring_comes_from_its_file(visit, tmp_path):
    async def steps(user, desk):
        enter_chuck(desk)
        await user.open(PAGE)

        class File:
            name = "gauge-ring.toml"

            def size(self):
                return len(RING)

            async def read(self):
                return RING.encode()

        box = only(user, "ring-file")
        for handler in box._upload_handlers:
            await handler(UploadEventArguments(sender=box, client=box.client, file=File()))
        await taken_in()
        assert only(user, "ring").value == RING

    visit(steps)


def changed(**more):
    return {**whole(), **more}


def with_round(at, **more):
    made = whole()
    made["traces"][at] = {**made["traces"][at], **more}
    return made


def reversed_signs():
    made = whole()
    for one in made["traces"]:
        one["values"] = [f"{-float(v):g}" for v in one["values"]]
    return made


REFUSED = [
    (changed(ring="jaws = "), "line 1"),
    (changed(ring=RING.replace("jaws = 3", "jaws = 6")), "for 6 jaws"),
    (changed(ring=RING.replace("inner = 115.4", "inner = 152.4")), "no wall"),
    (changed(ring=RING.replace('"30 bar"', '"15 bar"')), "check it for a set"),
    (changed(division="wide"), "wide"),
    (changed(division="0"), "division"),
    (changed(kind="two-point"), "cannot see the lobes"),
    (changed(unit="in"), "is that the unit"),
    (with_round(3, pressure="8"), "two rounds at the same pressure"),
    (with_round(3, pressure="31"), "may be clamped with"),
    (with_round(1, pressure="8 mm"), "8 mm"),
    (with_round(1, pressure="-8"), "0 or more"),
    (with_round(0, values=["1", "x", *["0"] * 10]), "x"),
    (reversed_signs(), "signs are reversed"),
]


@pytest.mark.parametrize(("table", "why"), REFUSED, ids=[why for _, why in REFUSED])
def test_readings_that_are_none_are_refused_where_the_answer_stood(visit, table, why):
    async def steps(user, desk):
        enter_chuck(desk)
        await user.open(PAGE)
        only(user, "name").value = "Noor"
        await type_all(desk, whole())
        await until(lambda: words.READ_ANSWER in shown(user, "ring-answer"))
        await type_all(desk, table)
        await until(lambda: words.NOT_READ in shown(user, "ring-answer"))
        assert why in shown(user, "ring-answer")
        assert words.READ_ANSWER not in shown(user, "ring-answer")
        await press(user, "enter-ring")
        assert desk.store.events(GaugeReading) == ()

    visit(steps)


@pytest.mark.parametrize(
    ("table", "why"),
    [
        (changed(ring=""), words.NEED_RING),
        (changed(division=""), words.NEED_DIVISION),
        (with_round(2, pressure=""), words.NEED_PRESSURE.format(round="Clamped 2")),
        (with_round(2, values=["5", *[""] * 11]), words.NEED_VALUES.format(round="Clamped 2", left=11, count=12)),
        (with_round(0, values=["5", *[""] * 11]), words.NEED_VALUES.format(round="Free", left=11, count=12)),
        ({**whole(), "traces": whole()["traces"][:1] + [{"pressure": "", "values": [""] * 12}] * 3}, words.NEED_ROUNDS),
    ],
)
def test_a_round_that_was_begun_is_waited_for_and_never_left_out(table, why):
    found = understood(table, CHUCK, "bar")
    assert found.question is None
    assert why in found.waiting


def test_the_division_is_in_the_unit_of_the_dial_or_in_its_own():
    for unit, text in (("um", "1"), ("um", "0.001 mm"), ("mm", "0.001")):
        table = whole()
        factor = 1.0 if unit == "um" else 1e-3
        for one in table["traces"]:
            one["values"] = [repr(float(v) * factor) for v in one["values"]]
        found = understood({**table, "unit": unit, "division": text}, CHUCK, "bar")
        assert found.question.readings.division == pytest.approx(1e-3)
        assert found.question.readings.traces[1].values[0] == pytest.approx(0.091)
    psi = understood(with_round(1, pressure="116"), CHUCK, "psi")
    assert psi.question.readings.traces[1].pressure == pytest.approx(0.8, rel=1e-2)


def test_what_another_tab_types_takes_the_answer_away_before_it_can_be_entered(visit):
    async def steps(user, desk):
        enter_chuck(desk)
        await user.open(PAGE)
        only(user, "name").value = "Noor"
        await type_all(desk, whole())
        await until(lambda: words.READ_ANSWER in shown(user, "ring-answer"))
        bench = desk.benches.get(bench_name("CH-04"), {})
        bench.typed.change({"division": "10"}, "another tab")
        user.find(marker="enter-ring").click()
        await taken_in()
        await user.should_see(words.NO_ANSWER_YET)
        assert desk.store.events(GaugeReading) == ()

    visit(steps)


def test_a_card_changed_meanwhile_is_not_written_to(visit):
    async def steps(user, desk):
        enter_chuck(desk)
        await user.open(PAGE)
        only(user, "name").value = "Noor"
        await type_all(desk, whole())
        await until(lambda: words.READ_ANSWER in shown(user, "ring-answer"))
        table = chuck_from({**PLATE, "number": "CH-04", "max_grip_force": "100 kN"}, "chuck")[1]
        desk.store.write(*chuck_cards(desk.store, "CH-04", table, machine=None, grease_days=None), by="Ilse")
        await press(user, "enter-ring")
        await user.should_see(words.CARD_CHANGED)
        assert desk.store.events(GaugeReading) == ()

    visit(steps)


def test_the_answers_stand_where_the_browser_hides_them_without_the_server(visit):
    async def steps(user, desk):
        enter_chuck(desk)
        desk.drafts.new("flange", open_example(desk.examples, "gland-flange"), own_files=True)
        for page, marks in ((PAGE, ("ring-answer", "ring-design")), ("/friction/flange", ("friction-answer",))):
            await user.open(page)
            await user.should_see(words.NOT_CONNECTED)
            for mark in marks:
                places = [one for one in only(user, mark).ancestors() if "needs-server" in one._classes]
                assert len(places) == 1, mark

    visit(steps)


def test_the_picture_says_and_marks_the_place():
    for side in ("outside", "inside"):
        for contact in ("rollers", "pads", "jaws"):
            one = Face(side, 4, contact, ["5", *[""] * 11], 3, "Free", clamped=False, wrong=frozenset({7}))
            svg = draw_face(one)
            assert "to be read now: place 4 of 12" in svg
            assert svg.count("stroke-dasharray") == (4 if contact == "jaws" else 8)
            assert svg.count("<rect") == 1
    assert "<script>" not in draw_face(Face("outside", 3, "pads", ["<script>"] * 6, 0, "<script>", clamped=True))


# Friction


def flange():
    return Setup.from_dict(open_example(ROOT / "examples", "gland-flange"))


SLIPS = {"pressure": "6", "way": "torque", "wet": "wet", "slips": ["60", "65", "58", "", ""]}


async def slips(desk, **more):
    bench = desk.benches.get("flange.friction", no_slips())
    bench.typed.change({**SLIPS, **more}, "all of it")
    bench.tell()
    await taken_in()


def test_friction_is_answered_and_entered_once(visit):
    async def steps(user, desk):
        desk.drafts.new("flange", open_example(desk.examples, "gland-flange"), own_files=True)
        await user.open("/friction")
        await user.should_see(words.CHOOSE_SETUP)
        assert any('href="/friction/flange"' in str(one.content) for one in user.find(kind=ui.html).elements)
        await user.open("/friction/flange")
        await until(lambda: words.NEED_TRIED in shown(user, "friction-answer"))
        assert all(escape(caution) in html_of(user) for caution in CAUTIONS)
        await slips(desk)
        await until(lambda: "Friction 0." in shown(user, "friction-answer"))
        assert "(95 %)" in shown(user, "friction-answer")
        only(user, "name").value = "Noor"
        user.find(marker="enter-friction").click()
        user.find(marker="enter-friction").click()
        await until(lambda: desk.store.events(FrictionReading))
        await taken_in()
        (row,) = desk.store.events(FrictionReading)
        assert (row.by, row.oiled, row.slips, row.setup) == ("Noor", True, 3, "flange")
        assert row.low < row.likely < row.high
        await user.should_see("entered twice")
        await slips(desk, wet="dry")
        await until(lambda: "tried dry" in shown(user, "friction-answer"))

    visit(steps)


@pytest.mark.parametrize(
    ("more", "head", "why"),
    [
        ({"slips": ["60", "65", "", "", ""]}, words.STILL, words.NEED_SLIPS.format(left=1)),
        ({"wet": ""}, words.STILL, words.NEED_WET),
        ({"way": ""}, words.STILL, words.NEED_WAY),
        ({"pressure": ""}, words.STILL, words.NEED_TRIED),
        ({"slips": ["60", "65", "58", "x", ""]}, words.NOT_READ, "x"),
        ({"slips": ["60", "65", "> 58", "", ""]}, words.NOT_READ, "made nothing slip"),
        ({"slips": ["60", "65", "58 held", "60", ""]}, words.NOT_READ, "made nothing slip"),
        ({"slips": ["60", "65", "580", "", ""]}, words.NOT_READ, "apart"),
        ({"slips": ["6000", "6500", "5800", "", ""]}, words.NOT_READ, "friction would be"),
        ({"pressure": "8 mm"}, words.NOT_READ, "8 mm"),
        ({"pressure": "0.01"}, words.NOT_READ, "so little pressure"),
        ({"error": "much"}, words.NOT_READ, "percentage"),
        ({"error": "90"}, words.NOT_READ, "between 0 and 50 %"),
        ({"way": "pull"}, words.NOT_READ, "friction would be"),
    ],
)  # fmt: skip
def test_slips_that_are_none_are_refused_where_the_answer_stood(visit, more, head, why):
    async def steps(user, desk):
        desk.drafts.new("flange", open_example(desk.examples, "gland-flange"), own_files=True)
        await user.open("/friction/flange")
        only(user, "name").value = "Noor"
        await slips(desk)
        await until(lambda: "Friction 0." in shown(user, "friction-answer"))
        await slips(desk, **more)
        await until(lambda: head in shown(user, "friction-answer"))
        assert why in shown(user, "friction-answer")
        assert "Friction 0." not in shown(user, "friction-answer")
        await press(user, "enter-friction")
        assert desk.store.events(FrictionReading) == ()

    visit(steps)


def test_bare_numbers_are_newton_metres_and_newtons():
    setup = flange()
    made = read_slips({**no_slips(), **SLIPS}, setup).tried
    assert made.values == pytest.approx((60e3, 65e3, 58e3))
    assert made.pressure == pytest.approx(0.6)
    pulled = read_slips({**no_slips(), **SLIPS, "way": "pull", "slips": ["900", "1 kN", "950 N", "", ""]}, setup).tried
    assert pulled.values == pytest.approx((900, 1000, 950))


def test_a_setup_changed_meanwhile_takes_the_answer_away(visit):
    async def steps(user, desk):
        draft = desk.drafts.new("flange", open_example(desk.examples, "gland-flange"), own_files=True)
        await user.open("/friction/flange")
        only(user, "name").value = "Noor"
        await slips(desk)
        await until(lambda: "Friction 0." in shown(user, "friction-answer"))
        draft.change({"grip.diameter": "90 mm"}, "another tab")
        await press(user, "enter-friction")
        await user.should_see(words.NO_ANSWER_YET)
        assert desk.store.events(FrictionReading) == ()

    visit(steps)


def test_slips_go_with_the_setup_they_were_of(visit):
    async def steps(user, desk):
        desk.drafts.new("flange", open_example(desk.examples, "gland-flange"), own_files=True)
        await user.open("/friction/flange")
        await slips(desk)
        desk.benches.save(desk.benches.get("flange.friction", no_slips()))
        desk.benches.remove("flange")
        assert desk.benches.get("flange.friction", no_slips()).typed.table == no_slips()

    visit(steps)


# The way from the plan, and who may


def test_the_plan_leads_to_what_it_says_to_measure_first(visit):
    async def steps(user, desk):
        desk.drafts.new("flange", open_example(desk.examples, "gland-flange"), own_files=True)
        await user.open("/plan/flange")
        await at_rest(desk)
        live = desk.live("flange")
        ways = {"friction": "/friction/flange", "grip share": "/chucks/CH-04/ring"}
        assert live.answer.measured_input in ways
        await until(lambda: ways[live.answer.measured_input] in shown(user, "measure-way"))

    visit(steps)


def test_who_may_only_look_sees_all_of_it_and_enters_nothing(shared):  # noqa: F811
    async def steps(user, desk, as_):
        enter_chuck(desk)
        desk.drafts.new("flange", open_example(desk.examples, "gland-flange"), own_files=True)
        as_("Sam")
        await user.open(PAGE)
        await type_all(desk, whole())
        await until(lambda: words.READ_ANSWER in shown(user, "ring-answer"))
        before = desk.benches.get(bench_name("CH-04"), {}).typed.table
        await press(user, "enter-ring", "key-5", "ring-anew")
        await user.should_see("may only look")
        assert desk.benches.get(bench_name("CH-04"), {}).typed.table is before
        await user.open("/friction/flange")
        await slips(desk)
        await until(lambda: "Friction 0." in shown(user, "friction-answer"))
        await press(user, "enter-friction", "undo-friction")
        assert desk.store.events(GaugeReading) == desk.store.events(FrictionReading) == ()
        as_("Kim")
        await user.open(PAGE)
        await until(lambda: words.READ_ANSWER in shown(user, "ring-answer"))
        assert only(user, "name").value == "Kim"
        await press(user, "enter-ring")
        await until(lambda: desk.store.events(GaugeReading))
        assert {row.by for row in desk.store.events(GaugeReading)} == {"Kim"}

    shared(steps)
