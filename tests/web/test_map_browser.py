"""The pictures of the plan page in a real browser: dragged with a mouse and with keys, enlarged, saved."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from heldtrue.web import texts
from web.chromium import WAIT, open_setup, planned, steady

expect.set_options(timeout=WAIT)
SHAFT = "Winch shaft, drum end"


def middle(locator):
    box = locator.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def said(page):
    return page.locator(".map-spot").inner_text()


def on(page, words):
    """Show that of what stands below the drawing."""
    page.get_by_role("tab", name=words, exact=True).click()


def value(page, label):
    """What stands in a field of the form; the map is shown again afterwards."""
    on(page, "All values")
    found = page.get_by_label(label, exact=True).first.input_value()
    on(page, "Map")
    return found


@pytest.mark.long
def test_a_drag_sets_what_it_showed_and_undo_puts_it_back(visitor):
    page = visitor.page
    open_setup(visitor, SHAFT)
    on(page, "Map")
    ring, field = page.locator(".map .ring"), page.locator(".map .field")
    ring.scroll_into_view_if_needed()
    before, box = said(page), field.bounding_box()
    page.mouse.move(*middle(ring))
    page.mouse.down()
    page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.6 * box["height"], steps=6)
    expect(page.locator(".map-spot")).not_to_have_text(before)
    shown = steady(page, lambda: said(page))
    expect(page.get_by_text(re.compile("Checked at the stated"))).to_have_count(0)  # nothing is set while it is held
    page.mouse.up()
    expect(page.get_by_text(re.compile("Checked at the stated")).first).to_be_visible()
    pressure, speed = re.match(r"(\d+ psi) = [\d.]+ bar\s+(\d+ rev/min)", shown).groups()
    assert value(page, "Pressure") in (pressure, pressure.removesuffix(" psi"))
    assert value(page, "Spindle limit").startswith(speed.split()[0])
    expect(page.get_by_text(texts.STATED.format(pressure=pressure)).first).to_be_visible()
    planned(page)
    assert said(page).startswith(shown)
    page.get_by_role("button", name=texts.MAP_BACK).click()
    on(page, "All values")
    expect(page.get_by_label("Pressure", exact=True).first).to_have_value("")
    planned(page)


@pytest.mark.long
def test_arrow_keys_move_it_and_escape_gives_up(visitor):
    page = visitor.page
    open_setup(visitor, SHAFT)
    on(page, "Map")
    ring = page.get_by_role("slider", name=texts.MAP_LABEL)
    ring.focus()
    start = int(said(page).split()[0])
    for _ in range(5):
        page.keyboard.press("ArrowUp")
    expect(page.locator(".map-spot")).to_contain_text(f"{start + 5} psi")
    page.keyboard.press("Escape")
    expect(page.locator(".map-spot")).to_contain_text(f"{start} psi")
    page.wait_for_timeout(1200)
    expect(page.get_by_text(re.compile("Checked at the stated"))).to_have_count(0)  # what is given up is not set
    page.keyboard.press("Shift+ArrowUp")
    page.keyboard.press("Enter")
    expect(page.get_by_text(texts.STATED.format(pressure=f"{start + 10} psi")).first).to_be_visible()
    assert value(page, "Spindle limit") == "", "only what was moved is set"
    planned(page)


@pytest.mark.long
def test_a_picture_is_enlarged_and_saved(visitor):
    page = visitor.page
    open_setup(visitor)
    name = texts.DRAWINGS["section.svg"]
    page.get_by_role("button", name=texts.ENLARGE.format(name=name)).press("Enter")
    dialog = page.locator("dialog.enlarged")
    expect(dialog).to_be_visible()
    assert dialog.locator("img").bounding_box()["height"] > 600
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    with page.expect_download() as found:
        page.get_by_role("button", name=f"{texts.SAVE_SVG}: {name}").click()
    assert found.value.suggested_filename == "section.svg"
    assert Path(found.value.path()).read_text(encoding="utf-8").startswith("<svg")


@pytest.mark.long
def test_the_outline_follows_what_is_typed(visitor):
    page = visitor.page
    open_setup(visitor)
    page.get_by_role("tab", name="Part").click()
    picture = page.locator(".outline-now img")
    expect(page.get_by_text(texts.OUTLINE_GOOD)).to_be_visible()
    before = picture.get_attribute("src")
    page.get_by_label("3: z", exact=True).first.fill("-40")
    expect(page.get_by_text("meets the line").first).to_be_visible()
    assert picture.get_attribute("src") != before
