"""Work on the drawing in a real browser: by mouse, by touch and by keys alone."""

import pytest
from playwright.sync_api import expect

from heldtrue.web import texts
from web.chromium import SIZES, Visitor, open_setup, planned
from web.test_accessible import CONTROLS, SIDEWAYS, findings

MIDDLE = """key => { const box = document.getElementById(`spot-${key}`).querySelector('polyline, circle, polygon')
  .getBoundingClientRect(); return [box.x + box.width / 2, box.y + box.height / 2]; }"""
PICKED = "() => document.querySelector('.spot.picked')?.getAttribute('aria-label') || ''"


@pytest.fixture(scope="module")
def ring(chromium, served):
    """One planned setup at one browser that can be touched."""
    visitor = Visitor(chromium, served.address, has_touch=True)
    open_setup(visitor)
    visitor.page.get_by_role("tab", name=texts.WHY_TABS[0]).click()
    yield visitor
    visitor.check()
    visitor.close()


def editor_of(page, title):
    """The values that stand open, once they are those of this place."""
    editor = page.get_by_role("group", name=title)
    expect(editor).to_be_visible()
    return editor


def diameter(editor):
    return editor.get_by_label(texts.DIAMETER, exact=True)


def test_a_surface_is_changed_where_it_stands(ring):
    page = ring.page
    page.mouse.click(*page.evaluate(MIDDLE, "edge-3"))
    editor = editor_of(page, "outside Ø158, z 24 – 32")
    assert page.evaluate(PICKED) == "outside Ø158, z 24 – 32"
    drawn, beside = (page.locator(one).bounding_box() for one in (".drawn", ".drawn-editor"))
    assert beside["x"] + beside["width"] <= drawn["x"] + 1 or drawn["x"] + drawn["width"] <= beside["x"] + 1
    expect(diameter(editor)).to_be_focused()
    diameter(editor).fill("156,5")
    page.keyboard.press("Enter")
    editor_of(page, "outside Ø156.5, z 24 – 32")
    planned(page)
    expect(page.get_by_role("option", name="outside Ø156.5, z 24 – 32")).to_have_count(1)
    page.get_by_role("button", name=texts.UNDO).click()
    editor = editor_of(page, "outside Ø158, z 24 – 32")
    expect(diameter(editor)).to_have_value("158")
    assert findings(page) == []
    assert page.evaluate(CONTROLS) == []
    editor.get_by_role("button", name=texts.CLOSE).click()
    expect(page.locator(".drawn-editor")).to_be_hidden()


def test_the_same_by_keys_alone(ring):
    page = ring.page
    planned(page)
    page.locator(".drawn svg").focus()
    page.keyboard.press("Home")
    for _ in range(7):  # corner and edge in turn, along the outline
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    editor = editor_of(page, "outside Ø158, z 24 – 32")
    expect(diameter(editor)).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator(".drawn-editor")).to_be_hidden()
    expect(page.locator(".drawn svg")).to_be_focused()
    page.keyboard.press("End")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    expect(editor_of(page, texts.SECTIONS[4]).get_by_label("Style")).to_be_focused()
    page.keyboard.press("Escape")


@pytest.mark.parametrize("size", SIZES[::2])
def test_a_finger_need_not_meet_the_line(ring, size):
    page = ring.page
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.wait_for_timeout(300)
    x, y = page.evaluate(MIDDLE, "edge-5")
    page.touchscreen.tap(x, y + 11)
    editor = editor_of(page, "inside Ø140, z 0 – 32")
    for group in ("", texts.SECTIONS[2]):
        expect(editor).to_contain_text(group)
    assert page.evaluate(SIDEWAYS) <= 0
    page.keyboard.press("Escape")
    expect(page.locator(".drawn-editor")).to_be_hidden()
    page.touchscreen.tap(*page.evaluate(MIDDLE, "chuck"))
    editor_of(page, texts.SECTIONS[3])
    page.keyboard.press("Escape")
    page.set_viewport_size({"width": SIZES[0][0], "height": SIZES[0][1]})
