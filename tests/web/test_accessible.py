"""Every page in a real browser: no serious finding of axe in either theme, big controls, all reached by Tab.

A page that is new has to be added here: the first test fails until it is.
"""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from conftest import longer
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.web import style, texts
from heldtrue.web.part import words as part_words
from web.chromium import SIZES, WAIT, Server, Visitor, open_setup
from web.in_process import HERE

WEB = HERE.parents[1] / "src" / "heldtrue" / "web"
PAGES = {
    "/": "/", "/plan/{id}": "/plan/{setup}", "/start/{id}": "/start/{setup}", "/jaws/{id}": "/jaws/{setup}",
    "/compare/{id}": "/compare/{setup}", "/ways/{id}": "/ways/{setup}", "/shelf": "/shelf",
    "/shelf/{number:path}": "/shelf/AXE-1",
    "/chucks": "/chucks", "/chucks/{number}": "/chucks/{chuck}", "/setups/{id}": "/setups/{setup}",
    "/setups/{id}/move": "/setups/{setup}/move", "/readings": "/readings", "/readings/{id}": "/readings/{setup}",
    "/scan": "/scan", "/scan/{id:path}": "/scan/NEW-7", "/shelf/for/{id}": "/shelf/for/{setup}", "/stock": "/stock",
    "/chucks/{number}/ring": "/chucks/{chuck}/ring", "/friction": "/friction", "/friction/{id}": "/friction/{setup}",
    "/part/{id}": "/part/{part}", "/measure/{id}": "/measure/{setup}",
    "/catalogue": "/catalogue",
}  # fmt: skip
READY = {
    "/plan": "Worked out in full", "/part": part_words.SURFACES, "/jaws": texts.PROGRAM, "/compare": texts.TAKE_OVER,
    "/ways": texts.WAYS_DROPPED, "/measure": texts.ODDS_PICTURE,
}  # fmt: skip
SHORT = ("/plan/{id}", "/start/{id}")
"""Those that decide; the others are in the long run."""
LOGIN_ONLY = {"/people", "/me"}
"""Pages that only a shared app has."""
PASSWORD = "seven green lathes"

CONTROLS = """() => [...document.querySelectorAll(
    'a[href], button, input, select, textarea, summary, [role=tab], [role=button], [tabindex="0"]')]
  .filter(one => one.checkVisibility({opacityProperty: true, visibilityProperty: true})
    && !one.closest('.skip') && one.type !== 'hidden' && one.type !== 'file')
  .map(one => one.closest('.q-field__control, label, .q-checkbox, .q-radio, .q-toggle, .q-slider') || one)
  .map(one => [one.getBoundingClientRect(), one])
  .filter(([box]) => box.width && box.height && (box.width < 47.5 || box.height < 47.5))
  .map(([box, one]) => `${one.outerHTML.slice(0, 90)} ${box.width.toFixed()} x ${box.height.toFixed()}`)"""
SIDEWAYS = """() => Math.max(...[document.documentElement,
  ...document.querySelectorAll("main, .plan-page > *, .why > .q-tab-panels")]
  .map(one => one.scrollWidth - one.clientWidth))"""
TO_REACH = """() => { window.reached = new Set(); window.unseen = [];
  window.toReach = [...document.querySelectorAll(
    'a[href], button:not([disabled]), input:not([type=hidden]), select, textarea, summary, [tabindex="0"]')]
  .filter(one => one.tabIndex >= 0 && !one.disabled && one.type !== 'file'
    && one.checkVisibility({visibilityProperty: true}));
  document.activeElement.blur(); return window.toReach.length; }"""
STEP = """() => { const one = document.activeElement, drawn = one => { const look = getComputedStyle(one);
    return look.outlineStyle !== 'none' && parseFloat(look.outlineWidth) >= 2; };
  const news = one !== document.body && !window.reached.has(one);
  window.reached.add(one);
  if (news && !drawn(one) && !(one.closest('.q-field__control') && drawn(one.closest('.q-field__control'))))
    window.unseen.push(one.outerHTML.slice(0, 120));
  return news; }"""
LEFT = "() => window.toReach.filter(one => !window.reached.has(one)).map(one => one.outerHTML.slice(0, 120))"


@pytest.fixture(scope="module")
def planned(chromium, served):
    """A browser and a setup it has planned."""
    visitor = Visitor(chromium, served.address)
    yield visitor, open_setup(visitor)
    visitor.close()


@pytest.fixture(scope="module")
def all_places(planned):
    """What stands in the addresses: a setup, its chuck after a start, a set on the shelf."""
    visitor, id = planned
    page = visitor.page
    visitor.goto(f"/start/{id}")
    page.get_by_label(texts.GAUGE_SHOWS, exact=True).fill("10.5")
    page.get_by_label(texts.YOUR_NAME, exact=True).fill("Noor")
    page.get_by_role("button", name=texts.ASK_START).click()
    page.locator(".gate").wait_for()
    visitor.goto("/shelf")
    page.get_by_label(texts.SET_NUMBER, exact=True).last.fill("AXE-1")
    for label, words in ((texts.MATERIAL, "C45"), (texts.YOUR_NAME, "Noor")):
        page.get_by_label(label, exact=True).first.fill(words)
    page.get_by_role("button", name=texts.ADD_SET, exact=True).click()
    page.get_by_role("link", name="AXE-1").first.wait_for()
    visitor.goto("/chucks")
    chuck = page.locator("table.t a").first.get_attribute("href").rpartition("/")[2]
    visitor.goto("/")
    page.get_by_role("button", name=part_words.SHAPE_BUTTON.format(name="flange")).click()
    page.wait_for_url("**/part/*")
    visitor.connected()
    for label, typed in (("Outside", "140"), ("Thickness", "18"), ("Neck", "90"), ("Length", "50")):
        page.get_by_label(label, exact=True).fill(typed)
    page.get_by_text(part_words.SURFACES).wait_for()
    return {"setup": id, "chuck": chuck, "part": page.url.rpartition("/")[2]}


@pytest.fixture
def places(request, route):
    """What this address needs: for most of them that is a setup."""
    if route in SHORT:
        return {"setup": request.getfixturevalue("planned")[1]}
    return request.getfixturevalue("all_places")


def test_every_page_is_looked_at():
    routes = {found for file in WEB.rglob("*.py") for found in re.findall(r'@page\("([^"]+)"', file.read_text())}
    assert routes - LOGIN_ONLY == set(PAGES)


@pytest.mark.parametrize("route", [*SHORT, *longer(*(one for one in PAGES if one not in SHORT))])
def test_page(visitor, places, route):
    page = visitor.page
    visitor.goto(PAGES[route].format(**places))
    for start, said in READY.items():
        if route.startswith(start):
            page.get_by_text(said).first.wait_for(timeout=4 * WAIT)
    looked_at(page)


def looked_at(page, controls=5):
    """A page as it stands, of more than so many controls: findings, their size, width at every size and text, Tab."""
    assert findings(page) == []
    page.evaluate("document.documentElement.dataset.theme = 'dark'")
    assert findings(page, {"runOnly": ["color-contrast"]}) == []
    page.evaluate("document.documentElement.dataset.theme = 'light'")
    for size in SIZES:
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert page.evaluate(SIDEWAYS) <= 0, f"scrolls sideways at {size}"
        assert page.evaluate(CONTROLS) == [], f"12 mm are 48 px at least, for gloves, at {size}"
    for text in ("large", "largest"):
        page.evaluate(f"document.documentElement.dataset.text = '{text}'")
        for size in SIZES:
            page.set_viewport_size({"width": size[0], "height": size[1]})
            assert page.evaluate(SIDEWAYS) <= 0, f"scrolls sideways with {text} letters at {size}"
    page.evaluate("document.documentElement.dataset.text = 'normal'")
    by_tab(page, controls)


@pytest.fixture
def as_administrator(chromium, tmp_path):
    """A browser at a shared app that has one person, who is asked to log in."""
    words = ["--password-stdin", "--records", str(tmp_path / "records")]
    made = CliRunner().invoke(app, ["user", "add", "Noor", "--role", "administer", *words], input=f"{PASSWORD}\n")
    assert made.exit_code == 0, made.output
    server = Server(tmp_path, more=("--share", "--address", "127.0.0.1"))
    visitor = Visitor(chromium, server.address)
    yield visitor
    visitor.close()
    assert server.complaints() == ""
    server.close()
    # The browser itself complains of the one password that is refused.
    refused = [one for one in visitor.faults if "401" in one]
    assert len(refused) == 1
    visitor.faults.remove(refused[0])
    visitor.check()


@pytest.mark.long
def test_pages_of_a_shared_app(as_administrator):
    page = as_administrator.page
    page.goto(f"{as_administrator.address}/me")
    page.get_by_label(texts.LOGIN_NAME).wait_for()
    looked_at(page, controls=2)
    for password in ("a wrong one", PASSWORD):
        page.get_by_label(texts.LOGIN_NAME).fill("Noor")
        page.get_by_label(texts.PASSWORD).fill(password)
        page.get_by_role("button").click()
        page.wait_for_load_state()
        if password != PASSWORD:
            assert findings(page) == []
    for path in sorted(LOGIN_ONLY):
        as_administrator.goto(path)
        looked_at(page)
    as_administrator.goto("/me")
    page.get_by_label(texts.PASSWORD, exact=True).fill(PASSWORD)
    page.get_by_role("button", name=texts.SECOND_SET, exact=True).click()
    page.get_by_alt_text(texts.SECOND_QR).wait_for()
    looked_at(page)


AT_REST = """() => Promise.allSettled(document.getAnimations()
    .filter((one) => Number.isFinite(one.effect.getComputedTiming().endTime)).map((one) => one.finished))"""
"""Waits for everything that moves and comes to an end."""


def findings(page, options=None):
    """The serious and critical findings of axe, as a reader finds them: once what fades in has come."""
    page.evaluate(AT_REST)
    found = Axe().run(page, options={"resultTypes": ["violations"], **(options or {})}).response["violations"]
    return [
        f"{one['id']}: {node['html'][:150]} {node['failureSummary'][:200]}"
        for one in found if one["impact"] in ("serious", "critical") for node in one["nodes"][:4]
    ]  # fmt: skip


def by_tab(page, controls):
    """Tab reaches every control, and shows where it is."""
    count = page.evaluate(TO_REACH)
    assert count > controls
    repeated = 0
    for _ in range(2 * count + 20):
        page.keyboard.press("Tab")
        repeated = 0 if page.evaluate(STEP) else repeated + 1
        if repeated > 3:
            break
    assert page.evaluate(LEFT) == [], "not reached by Tab"
    assert page.evaluate("window.unseen") == [], "focus is not seen"


def luminance(colour):
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(a, b):
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


LIGHT, DARK = r"\n:root \{(.*?)\}", r":root\[data-theme=dark\] \{(.*?)\}"


def block(pattern):
    return re.search(pattern, style.CSS, re.DOTALL)[1]


def palettes():
    light, dark = (dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", block(pattern))) for pattern in (LIGHT, DARK))
    return {"light": light, "dark": {**light, **dark}}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_contrast_of_the_palette(theme):
    palette = palettes()[theme]
    for ground in ("paper", "sheet"):
        for letters in ("ink", "soft", "blue", "good", "bad", "open"):
            assert contrast(palette[letters], palette[ground]) >= 4.5, (letters, ground)
        assert contrast(palette["edge"], palette[ground]) >= 3, "the edge of a box shows where to type"
    assert contrast(palette["on-ink"], palette["ink"]) >= 4.5
    assert contrast(palette["ink"], palette["press"]) >= 4.5
    assert contrast(palette["drawn-ink"], palette["drawn"]) >= 4.5


def test_both_themes_have_every_colour():
    light, dark = block(LIGHT), block(DARK)
    names = set(re.findall(r"--([a-z-]+): #", light))
    assert names - set(re.findall(r"--([a-z-]+): #", dark)) == set()
    rest = style.CSS.replace(light, "").replace(dark, "")
    assert re.findall(r"#[0-9a-f]{3,6}\b", rest) == [], "a colour that only one theme knows"
