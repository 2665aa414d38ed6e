"""The plan page in a real browser: answer, drawing, a reason on one screen, nothing under a bar, one printed page."""

import io
import re

import pytest
from conftest import longer
from playwright.sync_api import expect
from pypdf import PdfReader

from heldtrue.web import texts
from web.chromium import SIZES, Visitor, all_values, open_setup, planned
from web.test_browser import field

TEXTS = ("normal", "large", "largest")
# Where the cursor is, is it seen? Nothing else may lie over its middle; what scrolls must have brought it in sight.
COVERED = """() => { const one = document.activeElement;
  if (!one || one === document.body || one.closest('.skip')) return '';
  const seen = one.closest('.q-field__control') || one, box = seen.getBoundingClientRect();
  const port = seen.closest('.why > .q-tab-panels, .answer, main, .bar, header');
  if (!box.width || box.height > port.clientHeight - 60) return '';  // a picture that is larger than what shows it
  const at = (x, y) => { const top = document.elementFromPoint(x, y);
    return top && (seen.contains(top) || top.contains(seen)); };
  const y = box.y + box.height / 2, x = box.x + Math.min(box.width / 2, 20);
  return at(x, y) && at(x, box.y + 3) && at(x, box.bottom - 3) ? '' : seen.outerHTML.slice(0, 160); }"""
COUNT = """() => [...document.querySelectorAll('a[href], button, input, summary, [tabindex="0"]')]
  .filter(one => one.tabIndex >= 0 && !one.disabled && one.checkVisibility({visibilityProperty: true})).length"""


@pytest.fixture(scope="module")
def ring(chromium, served):
    """One planned setup at one browser."""
    visitor = Visitor(chromium, served.address)
    id = open_setup(visitor)
    yield visitor, id
    visitor.close()


@pytest.mark.parametrize(
    ("size", "text"),
    [
        (SIZES[0], TEXTS[0]),
        *longer((SIZES[2], TEXTS[-1]), (SIZES[0], TEXTS[-1]), (SIZES[1], TEXTS[1]), (SIZES[2], TEXTS[0])),
    ],
)
@pytest.mark.parametrize(
    "place",
    ["/plan/{id}?why=All+values&values=Part", pytest.param("/start/{id}", marks=pytest.mark.long)],
    ids=["plan", "start"],
)
def test_nothing_that_has_the_cursor_lies_under_a_bar(ring, size, text, place):
    visitor, id = ring
    page = visitor.page
    page.set_viewport_size({"width": size[0], "height": size[1]})
    visitor.goto(place.format(id=id))
    page.evaluate(f"document.documentElement.dataset.text = '{text}'")
    if "plan" in place:
        planned(page)
        page.get_by_label("Part number").first.wait_for()
    page.evaluate("document.activeElement.blur()")
    count, covered = page.evaluate(COUNT), []
    for _ in range(count + 5):
        page.keyboard.press("Tab")
        covered.append(page.evaluate(COVERED))
    assert [one for one in covered if one] == []
    for _ in range(min(count, 60)):  # and back, where what scrolls comes from below
        page.keyboard.press("Shift+Tab")
        covered.append(page.evaluate(COVERED))
    assert [one for one in covered if one] == []


@pytest.mark.parametrize("size", [SIZES[0], SIZES[2], *longer((SIZES[1],))], ids=lambda one: f"{one[0]}x{one[1]}")
def test_answer_drawing_and_reason_stand_on_one_screen(ring, size):
    visitor, id = ring
    page = visitor.page
    page.set_viewport_size({"width": size[0], "height": size[1]})
    visitor.goto(f"/plan/{id}?why=Reasons")
    planned(page)
    page.get_by_text(texts.CHECK_HEADS[2], exact=True).first.wait_for()
    assert page.evaluate("document.documentElement.scrollHeight") <= size[1]
    content = page.locator("main#content")
    assert content.evaluate("one => one.scrollHeight - one.clientHeight") <= 0, "the page scrolls"
    for what in (".verdict .word", ".window .big", ".drawing img", ".why table.t tbody tr"):
        box = page.locator(what).first.bounding_box()
        assert box["y"] >= 0, what
        assert box["y"] + min(box["height"], 60) <= size[1] - 60, what
    areas = {name: page.locator(f".plan-page > .{name}").bounding_box() for name in ("answer", "drawing", "why")}
    assert areas["drawing"]["height"] >= 220
    assert areas["why"]["height"] >= 180


def test_what_is_chosen_below_the_drawing_stands_in_the_address_and_survives_a_reload(ring):
    visitor, id = ring
    page = visitor.page
    page.set_viewport_size({"width": 1280, "height": 800})
    visitor.goto(f"/plan/{id}")
    all_values(page)
    page.get_by_role("tab", name="Chuck", exact=True).click()
    expect(field(page, "Inventory number")).to_be_visible()
    assert "values=Chuck" in page.url
    page.reload()
    visitor.connected()
    expect(field(page, "Inventory number")).to_be_visible()


def test_the_map_untouched_repeats_the_verdict(ring):
    visitor, id = ring
    page = visitor.page
    visitor.goto(f"/plan/{id}?why=Map")
    planned(page)
    spot = page.locator(".map-spot")
    expect(spot).to_contain_text("rough 11.5 bar; finish 4.3 bar")
    beside = page.locator(".map-beside")
    expect(beside.locator(".state.passes")).to_be_visible()
    expect(beside.locator(".state.fails")).to_have_count(0)
    page.locator(".map .ring").focus()
    page.keyboard.press("ArrowUp")
    expect(beside.locator(".state.fails")).to_be_visible()
    page.keyboard.press("Escape")
    expect(beside.locator(".state.passes")).to_be_visible()


def test_the_largest_figure_is_the_pressure_that_is_judged(visitor):
    page = visitor.page
    open_setup(visitor)
    field(page, "Pressure").press_sequentially("9", delay=20)
    big = page.locator(".answer .window .big").first
    expect(big).to_have_text("9.0 bar")
    expect(page.locator(".answer .window").first).to_contain_text("Advised: ")
    sizes = page.evaluate("""() => [...document.querySelectorAll('.answer *')]
        .filter(one => /\\d bar/.test(one.textContent) && !one.children.length)
        .map(one => [parseFloat(getComputedStyle(one).fontSize), one.textContent])""")
    assert max(sizes)[1] == "9.0 bar"


def test_a_plan_is_printed_on_one_page(ring):
    visitor, id = ring
    page = visitor.page
    visitor.goto(f"/plan/{id}")
    planned(page)
    read = PdfReader(io.BytesIO(page.pdf(format="A4")))
    assert len(read.pages) == 1
    words = read.pages[0].extract_text()
    for needed in (texts.VERDICTS["passes"], *texts.SIGN, "chuck face", "11.5 bar"):
        assert needed in words
    assert re.search(r"20\d\d-\d\d-\d\d \d\d:\d\d", words)


def test_drawings_follow_the_dark_theme(ring):
    from PIL import Image

    visitor, id = ring
    page = visitor.page
    visitor.goto(f"/plan/{id}?why=Map")
    planned(page)
    light = {}
    for theme in ("light", "dark"):
        page.evaluate(f"document.documentElement.dataset.theme = '{theme}'")
        for what in (".drawing img", ".map img"):
            picture = Image.open(io.BytesIO(page.locator(what).first.screenshot())).convert("L")
            light[theme, what] = sum(picture.histogram()[128:]) / (picture.width * picture.height)
    page.evaluate("document.documentElement.dataset.theme = 'light'")
    assert min(light["light", what] for what in (".drawing img", ".map img")) > 0.6
    assert max(light["dark", what] for what in (".drawing img", ".map img")) < 0.4


AT_ITS_END = """() => {
    const [end, bar] = ["footer.cautions", ".bar"].map((what) => document.querySelector(what)?.getBoundingClientRect());
    return end.height > 0 && end.bottom <= (bar ? bar.top : innerHeight) + 1 && (!bar || bar.bottom <= innerHeight);
}"""


@pytest.mark.parametrize(
    "place",
    ["/readings", *longer("/jaws/{id}", "/stock", "/start/{id}")],
)
def test_the_wheel_reaches_the_end_of_a_page_longer_than_the_window(ring, place):
    visitor, id = ring
    page = visitor.page
    page.set_viewport_size({"width": 1280, "height": 600})
    visitor.goto(place.format(id=id))
    end = page.locator("footer.cautions")
    end.wait_for()
    expect(page.locator("main.body")).to_have_js_property("scrollTop", 0)
    page.mouse.move(640, 300)
    for _ in range(100):  # what is worked out meanwhile makes the page longer: the wheel is turned on
        page.mouse.wheel(0, 50_000)
        page.wait_for_timeout(200)
        if page.evaluate(AT_ITS_END):
            return
    raise AssertionError("the end of the page stays below the bar or below the window")
