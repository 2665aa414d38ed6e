"""What the shop floor does with paper, camera and chucks, in a real browser on the real server."""

import io
import re
import unicodedata
from pathlib import Path

import pytest
from playwright.sync_api import Error, expect
from pypdf import PdfReader

from heldtrue.web import texts
from web.chromium import SIZES, WAIT, Visitor, open_setup
from web.pictures import as_file, on_bench, tag
from web.test_accessible import PAGES
from web.test_browser import button, field

expect.set_options(timeout=WAIT)
TABLET = {"size": (800, 1280), "has_touch": True}
PROGRAM_FILE = re.compile(r"^Save .*\.(nc|min|eia|txt|tap|mpf|ngc)$")
# A drawing is a button that enlarges it: on paper it is the drawing alone.
SEEN_IN_PRINT = """() => [...document.querySelectorAll('button, input, select, textarea, summary, .q-tab')]
  .filter(one => one.checkVisibility({visibilityProperty: true}) && one.getBoundingClientRect().width)
  .filter(one => !one.querySelector('img'))
  .map(one => one.innerText || one.getAttribute('aria-label') || one.outerHTML.slice(0, 80))"""


def put_on_shelf(visitor, number):
    """A new set, and its page."""
    page = visitor.page
    visitor.goto("/shelf")
    page.get_by_label(texts.SET_NUMBER, exact=True).last.fill(number)
    field(page, texts.MATERIAL).fill("C45")
    field(page, texts.YOUR_NAME).fill("Noor")
    button(page, texts.ADD_SET).click()
    expect(page.get_by_text(number).first).to_be_visible()
    visitor.goto(f"/shelf/{number}")


def opened_print(visitor, press):
    """The tab a print opens in by itself; its content, name and how it is handed over, as the browser got it."""
    page, answers = visitor.page, []
    note = lambda answer: answers.append(answer) if "/print/" in answer.url else None  # noqa: E731
    visitor.context.on("response", note)
    with page.expect_popup() as popup:
        press()
    tab = popup.value
    tab.wait_for_url("**/print/*")
    visitor.context.remove_listener("response", note)
    first = next(one for one in answers if one.headers.get("content-type"))
    assert (first.status, first.headers["content-type"]) == (200, "application/pdf")
    # The link that is left for a browser that lets no tab open leads to the same print.
    link = page.locator(".print-link").last
    assert f"{visitor.address}{link.get_attribute('href')}" == tab.url
    again = visitor.context.request.get(tab.url)
    assert again.headers["content-type"] == "application/pdf"
    return tab, again.body(), first.headers["content-disposition"]


def close_viewer(visitor, tab):
    """Close the browser's own PDF viewer: the pages it is made of are parts of the browser, asked of nobody."""
    tab.close()
    own = ("chrome://", "chrome-extension://")
    visitor.strangers[:] = [one for one in visitor.strangers if not one.startswith(own)]


def words_in(content):
    """The text of a PDF, blanks and line ends as single blanks."""
    assert content.startswith(b"%PDF-")
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
    return " ".join(unicodedata.normalize("NFKC", text).split())  # letters that are set as one are two again


def hand_over(page, words, name, content, kind="image/png"):
    """Press the button that a user sees, and choose a file."""
    with page.expect_file_chooser() as chooser:
        button(page, words).click()
    chooser.value.set_files({"name": name, "mimeType": kind, "buffer": content})


@pytest.mark.long
def test_a_printed_tag_is_scanned_and_leads_to_its_set(visitor):
    page = visitor.page
    put_on_shelf(visitor, "FLOOR-QR-1")
    tab, content, disposition = opened_print(visitor, lambda: button(page, texts.PRINT_TAGS).click())
    assert disposition == 'inline; filename="tag-FLOOR-QR-1.pdf"'
    assert "FLOOR-QR-1" in words_in(content)
    assert len(PdfReader(io.BytesIO(content)).pages) == 4, "one for the set, one for each of three jaws"
    picture = shown_in_viewer(tab)
    close_viewer(visitor, tab)
    visitor.goto("/scan")
    hand_over(page, texts.SCAN_BIG, "tag.png", picture)
    page.wait_for_url("**/shelf/FLOOR-QR-1")
    expect(page.get_by_text(texts.NOT_CUT).first).to_be_visible()


def shown_in_viewer(tab):
    """What the browser draws of the print: taken when it stands still, as a viewer says nothing of its own."""
    before = b""
    for _ in range(60):
        tab.wait_for_timeout(500)
        picture = tab.screenshot()
        if picture == before and dark_and_light(picture):
            return picture
        before = picture
    raise TimeoutError("the viewer shows no print")


def dark_and_light(picture):
    """Is there paper with ink in the middle of it, and not only the grey of a viewer that is still empty?"""
    from PIL import Image

    image = Image.open(io.BytesIO(picture)).convert("L")
    middle = image.crop((image.width // 2, 60, image.width * 3 // 4, image.height // 2))
    values = middle.histogram()
    return values[255] > 1000 and sum(values[:20]) > 1000


@pytest.mark.long
@pytest.mark.parametrize("words", [texts.SCAN_BIG, texts.CHOOSE_PICTURE])
def test_both_buttons_take_a_picture_of_a_tag_on_the_bench(visitor, words):
    page = visitor.page
    number = f"FLOOR-BENCH-{len(words)}"
    put_on_shelf(visitor, number)
    visitor.goto("/scan")
    hand_over(page, words, "bench.jpg", as_file(on_bench(number, angle=33), "JPEG"), "image/jpeg")
    page.wait_for_url(f"**/shelf/{number}")


@pytest.mark.long
def test_a_picture_without_a_code_and_a_file_that_is_none_are_said_in_words(visitor):
    page = visitor.page
    visitor.goto("/scan")
    camera = page.locator("input[type=file][capture=environment]")
    expect(camera).to_have_count(1)
    hand_over(page, texts.SCAN_BIG, "bench.png", as_file(tag("x").crop((0, 0, 8, 8))))
    expect(page.get_by_text(texts.NO_CODE)).to_be_visible()
    hand_over(page, texts.CHOOSE_PICTURE, "notes.png", b"plain text")
    expect(page.get_by_text(texts.NO_PICTURE)).to_be_visible()
    assert page.url == f"{visitor.address}/scan"
    # A code of nothing we know leads on to what can be done with it.
    hand_over(page, texts.SCAN_BIG, "other.png", as_file(tag("FLOOR-NOBODY")))
    page.wait_for_url("**/scan/FLOOR-NOBODY")
    expect(page.get_by_text(texts.UNKNOWN_CODE.format(id="FLOOR-NOBODY"))).to_be_visible()


@pytest.mark.long
def test_jaw_drawing_opens_and_saves_as_a_pdf(visitor):
    page = visitor.page
    id = open_setup(visitor)
    visitor.goto(f"/jaws/{id}")
    printing = page.get_by_role("button", name=re.compile(r"^Print .*\.pdf$"))
    printing.first.wait_for(timeout=2 * WAIT)
    names = [one.removeprefix("Print ") for one in printing.all_inner_texts()]
    for number, name in enumerate(names):
        tab, content, disposition = opened_print(visitor, printing.nth(number).click)
        assert disposition == f'inline; filename="{name}"'
        assert words_in(content)
        close_viewer(visitor, tab)
        with page.expect_download() as saving:
            button(page, texts.DOWNLOAD.format(name=name)).click()
        assert saving.value.suggested_filename == name
        assert Path(saving.value.path()).read_bytes() == content, "opened and saved are the same sheet"


@pytest.mark.long
def test_the_floor_sheet_says_what_the_page_says(visitor):
    page = visitor.page
    id = open_setup(visitor)
    with page.expect_download(timeout=2 * WAIT) as saving:
        button(page, texts.SHEET).click()
    assert saving.value.suggested_filename == f"floor-sheet-{id}.pdf"
    words = words_in(Path(saving.value.path()).read_bytes())
    least = re.findall(r"Below ([\d.]+ bar):", page.locator("#content").inner_text())
    assert len(least) == 2, "one for each of the two pressures"
    for pressure in least:
        assert f"must not start below {pressure}" in words


@pytest.mark.long
def test_a_print_of_somebody_or_nobody_is_no_longer_there_in_words(visitor):
    answer = visitor.context.request.get(f"{visitor.address}/print/nobody")
    assert answer.status == 404
    assert texts.PDF_GONE in answer.text()


@pytest.mark.long
def test_the_plan_printed_holds_verdict_and_cautions_and_nothing_to_press(visitor):
    page = visitor.page
    open_setup(visitor)
    words = words_in(page.pdf(format="A4"))
    assert texts.VERDICTS["passes"] in words
    for line in texts.CAUTION_LINES:
        assert line in words, "the cautions go with every print"
    for one in (texts.UNDO, texts.SHEET, texts.SAVE_FILE, texts.MAP_BACK, texts.SOLID_OPEN, texts.SAVE_SVG):
        assert one not in words, "a button on paper does nothing"
    page.emulate_media(media="print")
    assert page.evaluate(SEEN_IN_PRINT) == []


@pytest.mark.long
def test_a_chuck_its_plate_readings_line_and_grease(visitor):
    page = visitor.page
    visitor.goto("/chucks")
    for label, text in ((texts.CHUCK_NUMBER, "FLOOR-CH"), ("Name", "wedge"), (texts.ON_MACHINE, "lathe 9"),
                        (texts.GREASE_DAYS, "30"),
                        ("Highest draw force", "55 kN"), ("Highest grip, all jaws", "96 kN"), ("Highest speed", "4000"),
                        ("Piston area, pull", "171 cm2"), ("Highest pressure", "40"),
                        (texts.YOUR_NAME, "Noor")):  # fmt: skip
        field(page, label).fill(text)
    button(page, texts.ADD_CHUCK).click()
    page.wait_for_url("**/chucks/FLOOR-CH")
    visitor.connected()
    expect(field(page, "Highest draw force")).to_have_value(re.compile("55"))
    expect(field(page, texts.ON_MACHINE)).to_have_value("lathe 9")
    drawn = page.locator(f'img[alt="{texts.LINE_PICTURE}"]')
    expect(drawn).to_have_count(0)
    field(page, texts.YOUR_NAME).fill("Noor")
    readings = (("10", "24"), ("20,0", "52"), ("290 psi", "51,5"), ("30", "80 kN"))
    for number, (pressure, force) in enumerate(readings, 1):
        field(page, texts.READ_PRESSURE).fill(pressure)
        field(page, texts.READ_FORCE).fill(force)
        button(page, texts.ADD_READING).click()
        expect(page.locator("main table.t").first.locator("tbody tr")).to_have_count(number)
    expect(drawn).to_be_visible()
    expect(page.get_by_text(re.compile(r"nothing up to .*; from 4 read")).first).to_be_visible()
    field(page, texts.WHICH_GREASE).fill("the red tin")
    button(page, texts.GREASED).click()
    expect(page.get_by_text("greased", exact=False).first).to_be_visible()
    # The plate again, opened anew: one number is put right and kept.
    page.reload()
    visitor.connected()
    expect(drawn).to_be_visible()
    field(page, "Highest speed").fill("3500")
    page.get_by_label(texts.YOUR_NAME, exact=True).last.fill("Kim")
    with page.expect_navigation():
        button(page, texts.KEEP_CHUCK).click()
    expect(page.get_by_text(texts.CHUCK_KEPT.format(id="FLOOR-CH")).first).to_be_visible()  # also on the page after it
    visitor.goto("/chucks")
    row = page.locator("table.t tr", has_text="FLOOR-CH")
    expect(row).to_contain_text("lathe 9")
    expect(row.locator("td").nth(3)).to_have_text("4")
    expect(row.locator("td").nth(4)).to_have_text(re.compile(r"^\d{4}-\d\d-\d\d$"))
    expect(row.locator("td").nth(5)).to_have_text(re.compile(r"^\d{4}-\d\d-\d\d$"))
    visitor.goto("/chucks/FLOOR-CH")
    expect(field(page, "Highest speed")).to_have_value(re.compile("^3500"))
    expect(field(page, "Highest draw force")).to_have_value(re.compile("55"))


@pytest.mark.long
def test_a_tablet_does_it_all_by_touch(new_visitor):
    visitor = new_visitor(**TABLET)
    page = visitor.page
    assert page.evaluate("navigator.maxTouchPoints") > 0
    visitor.goto("/")
    row = page.locator(".row-line", has_text="Valve stem, body side")
    row.filter(has=button(page, texts.OPENED)).get_by_role("button", name=texts.OPENED, exact=True).first.tap()
    page.wait_for_url("**/plan/*")
    visitor.connected()
    page.get_by_text("Worked out in full").first.wait_for()
    page.get_by_role("tab", name="All values").tap()
    page.get_by_role("tab", name="Part", exact=True).tap()
    field(page, "1: z").tap()
    expect(field(page, "1: z")).to_be_focused()
    page.get_by_role("tab", name="Run").tap()
    button(page, texts.START).tap()
    page.wait_for_url("**/start/*")
    visitor.connected()
    field(page, texts.GAUGE_SHOWS).tap()
    page.keyboard.type("1")
    field(page, texts.YOUR_NAME).tap()
    page.keyboard.type("Noor")
    page.locator(".bar").get_by_role("button", name=texts.ASK_START).tap()
    expect(page.locator(".gate")).to_have_text(texts.MUST_NOT)
    button(page, texts.PLAN).tap()
    page.wait_for_url("**/plan/*")
    visitor.connected()
    button(page, texts.READ).tap()
    page.wait_for_url("**/readings/*")
    visitor.connected()
    box = page.locator(".dial-svg").bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + 0.9 * box["height"])  # 180°
    expect(page.locator(".now")).to_contain_text(texts.PLACE_N.format(n=7, count=12))
    pad = page.locator(".pad")
    for text in ("5", "8", "4"):
        pad.get_by_role("button", name=text, exact=True).tap()
        pad.get_by_role("button", name=texts.KEY_SIGN, exact=True).tap()
        pad.get_by_role("button", name=texts.KEY_NEXT, exact=True).tap()
    dial = page.locator(".dial-svg")
    expect(dial).to_have_attribute("aria-label", re.compile("180° -5, 210° -8, 240° -4$"))
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


@pytest.mark.long
def test_no_page_asks_for_anything_elsewhere(visitor):
    """With all that can be opened on it; the next test shows that it would be noticed."""
    page = visitor.page
    id = open_setup(visitor)
    page.get_by_role("tab", name="Shape", exact=True).click()
    button(page, texts.SOLID_OPEN).click()
    page.locator(".solid").wait_for()
    put_on_shelf(visitor, "FLOOR-NET")
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    for path in PAGES.values():
        path = path.format(setup=id, chuck="CH-04", part="gone").replace("AXE-1", "FLOOR-NET")
        before = len(asked)
        visitor.goto(path)
        page.wait_for_load_state("networkidle")
        assert len(asked) > before, path
        assert visitor.strangers == [], path


def test_what_is_asked_for_elsewhere_is_noticed_and_does_not_come(chromium, served):
    visitor = Visitor(chromium, served.address, size=SIZES[0])
    try:
        visitor.goto("/")
        came = visitor.page.evaluate("fetch('http://192.0.2.1/x.js').then(() => 'came', () => 'refused')")
        assert came == "refused"
        assert any("Content Security Policy" in one for one in visitor.faults)
        visitor.faults.clear()
        with pytest.raises(Error, match="ERR_PROXY_CONNECTION_FAILED"):
            visitor.page.goto("http://192.0.2.1/")
        assert visitor.strangers == ["http://192.0.2.1/"]
        with pytest.raises(AssertionError, match="elsewhere"):
            visitor.check()
    finally:
        visitor.close()
