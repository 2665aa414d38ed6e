"""The part in three dimensions in a real browser: turned by mouse and by keys, and what is there without WebGL."""

import io
import re

import pytest
from PIL import Image
from playwright.sync_api import expect

from heldtrue.web import texts
from web.chromium import WAIT, open_setup, steady
from web.test_map_browser import middle, on

GL = True
expect.set_options(timeout=WAIT)
WORDS = "document.querySelector('.solid-words').innerHTML"


@pytest.mark.long
def test_the_part_turns_by_mouse_and_by_keys_and_switches(visitor):
    page = visitor.page
    open_setup(visitor)
    on(page, "Shape")
    page.get_by_role("button", name=texts.SOLID_OPEN).click()
    view = page.locator(".solid")
    view.scroll_into_view_if_needed()
    expect(view).to_have_attribute("aria-label", re.compile("Clamped.*Enlarged [0-9 ]+ times"))
    expect(view).to_have_attribute("data-drawn", "clamped")
    colours = Image.open(io.BytesIO(view.screenshot())).convert("RGB").getcolors(1 << 24)
    assert len(colours) > 300, "the part is there, in colours, not only the figures beside it"

    # The figures stand where the picture puts them: they say how it is turned without a look at every point of it.
    first = look = steady(page, page.locator(".solid-words").inner_html)

    def changed(before):
        page.wait_for_function(f"before => {WORDS} !== before", arg=before)
        return steady(page, page.locator(".solid-words").inner_html)

    x, y = middle(view)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 60, y + 20, steps=4)
    page.mouse.up()
    look = changed(look)
    view.press("ArrowLeft")
    look = changed(look)
    page.get_by_role("button", name="Turn up").click()
    look = changed(look)
    page.get_by_role("button", name=texts.SOLID_STATES["released"], exact=True).click()
    changed(look)
    expect(view).to_have_attribute("aria-label", re.compile("Released"))
    view.press("Home")
    page.get_by_role("button", name=texts.SOLID_STATES["clamped"], exact=True).click()
    page.wait_for_function(f"first => {WORDS} === first", arg=first)
    page.evaluate("HTMLCanvasElement.prototype.getContext = () => null")  # as in a browser without WebGL
    page.get_by_role("button", name=texts.SOLID_CLOSE).click()
    page.get_by_role("button", name=texts.SOLID_OPEN).click()
    expect(page.get_by_text(texts.SOLID_NO_WEBGL)).to_be_visible()
    expect(page.locator(".solid-sheet img")).to_be_visible()
    expect(view).to_have_count(0)
