"""The main flows in a real browser on the real server; nothing but 127.0.0.1 can be reached."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import TimeoutError, expect

from heldtrue.web import texts
from web.chromium import WAIT, open_setup, planned

expect.set_options(timeout=WAIT)


def button(page, words):
    return page.get_by_role("button", name=words, exact=True)


def field(page, label):
    return page.get_by_label(label, exact=True).first


def verdict(page, word):
    expect(page.locator(".verdict .word").first).to_contain_text(texts.VERDICTS[word])


def test_a_setup_is_planned_by_typing_and_a_reload_in_the_middle_loses_nothing(visitor):
    page = visitor.page
    open_setup(visitor)
    verdict(page, "passes")
    field(page, "Pressure").fill("9,0")
    verdict(page, "not proven")
    expect(page.get_by_text("9.00 bar = 131 psi").first).to_be_visible()
    field(page, "Pressure").fill("")
    field(page, "Pressure").press_sequentially("10,5", delay=60)
    expect(page.get_by_text("10.5 bar = 152 psi").first).to_be_visible()  # it is taken in; no answer is waited for
    page.reload()
    visitor.connected()
    expect(field(page, "Pressure")).to_have_value("10,5")
    expect(page.get_by_text("Checked at the stated 10.5 bar").first).to_be_visible()
    button(page, texts.UNDO).click()
    expect(field(page, "Pressure")).not_to_have_value("10,5")


@pytest.mark.long
def test_two_browsers_edit_one_setup_and_both_see_it(new_visitor):
    here, there = new_visitor(), new_visitor(size=(800, 1280))
    id = open_setup(here)
    there.goto(f"/plan/{id}?why=All+values")
    planned(there.page)
    field(here.page, "Pressure").fill("9,0")
    expect(field(there.page, "Pressure")).to_have_value("9,0")
    verdict(there.page, "not proven")
    field(there.page, "Spindle limit").fill("300")
    expect(field(here.page, "Spindle limit")).to_have_value("300")
    expect(field(here.page, "Pressure")).to_have_value("9,0")


@pytest.mark.long
def test_ways_are_compared_and_one_is_taken_over(visitor):
    page = visitor.page
    id = open_setup(visitor)
    button(page, texts.COMPARE).click()
    button(page, texts.TAKE_OVER).first.wait_for(timeout=4 * WAIT)
    expect(page.get_by_text(texts.COMPARING)).to_have_count(0)
    button(page, texts.TAKE_OVER).first.click()
    page.wait_for_url(f"**/plan/{id}")
    visitor.connected()
    planned(page)
    button(page, texts.UNDO).click()
    expect(page.get_by_text("Undone: Now using").first).to_be_visible()


@pytest.mark.long
def test_jaws_are_cut_ticked_off_and_their_program_saved(visitor):
    page = visitor.page
    id = open_setup(visitor)
    button(page, texts.JAWS).click()
    page.wait_for_url(f"**/jaws/{id}")
    with page.expect_download(timeout=2 * WAIT) as saving:
        program = re.compile(r"^Save .*\.(nc|min|eia|txt|tap|mpf|ngc)$")
        page.get_by_role("button", name=program).first.click(timeout=2 * WAIT)
    program = Path(saving.value.path()).read_text()
    assert re.search(r"^N?\d* ?G", program, re.MULTILINE)
    box = page.get_by_role("checkbox").first
    box.click()
    expect(box).to_be_checked()
    page.reload()
    visitor.connected()
    expect(page.get_by_role("checkbox").first).to_be_checked(timeout=2 * WAIT)


def test_a_start_is_allowed_refused_and_overridden_with_a_reason(visitor):
    page = visitor.page
    id = open_setup(visitor)
    button(page, texts.START).click()
    page.wait_for_url(f"**/start/{id}")
    visitor.connected()
    field(page, texts.GAUGE_SHOWS).fill("10,5")
    field(page, texts.YOUR_NAME).fill("Noor")
    button(page, texts.ASK_START).click()
    expect(page.locator(".gate")).to_have_text(texts.MAY)
    field(page, texts.GAUGE_SHOWS).fill("4")
    button(page, texts.ASK_START).click()
    expect(page.locator(".gate")).to_have_text(texts.MUST_NOT)
    assert page.evaluate("parseFloat(getComputedStyle(document.querySelector('.gate')).fontSize)") >= 100
    field(page, texts.OVERRIDE_REASON).fill("held by the tailstock as well, low speed")
    button(page, texts.OVERRIDE).click()
    expect(page.locator(".gate")).to_have_text(texts.OVERRIDDEN)
    expect(page.get_by_text("held by the tailstock").first).to_be_visible()


def open_one(page, name, address):
    """Click a link of a list that is drawn anew while one types: a click on the old one goes nowhere."""
    for _ in range(5):
        page.get_by_role("link", name=name).first.click()
        try:
            page.wait_for_url(address, timeout=10_000)
        except TimeoutError:
            continue
        return
    raise AssertionError(f"{name} does not open")


def test_a_set_goes_on_the_shelf_out_and_back(visitor):
    page = visitor.page
    visitor.goto("/shelf")
    page.get_by_label(texts.SET_NUMBER, exact=True).last.fill("BROWSER-1")
    field(page, texts.MATERIAL).fill("7075-T6")
    field(page, texts.PLACE).fill("drawer 4")
    field(page, texts.YOUR_NAME).fill("Noor")
    button(page, texts.ADD_SET).click()
    field(page, texts.FIND).fill("BROWSER-1")
    open_one(page, "BROWSER-1", "**/shelf/BROWSER-1")
    visitor.connected()
    field(page, texts.YOUR_NAME).fill("Kim")
    button(page, texts.CHECK_OUT).click()
    expect(page.get_by_text("Kim has it").first).to_be_visible()
    field(page, texts.PLACE).fill("drawer 9")
    button(page, texts.CHECK_IN).click()
    expect(page.get_by_text("drawer 9").first).to_be_visible()


def test_the_floor_sheet_is_a_pdf(visitor):
    page = visitor.page
    open_setup(visitor)
    with page.expect_download(timeout=2 * WAIT) as saving:
        button(page, texts.SHEET).click()
    assert saving.value.suggested_filename.endswith(".pdf")
    assert Path(saving.value.path()).read_bytes().startswith(b"%PDF-")


def test_look_is_kept_applied_before_the_page_is_drawn_and_not_printed(new_visitor):
    visitor = new_visitor(color_scheme="dark")
    page = visitor.page
    # What the page looks like when its first element is drawn: a flash of the other theme would show here.
    page.add_init_script("""addEventListener('DOMContentLoaded', () => {
        window.first = [document.documentElement.dataset.theme, document.documentElement.dataset.text]; })""")
    paper = "getComputedStyle(document.body).backgroundColor"
    visitor.goto("/")
    light = page.evaluate(paper)
    assert page.evaluate("window.first") == ["light", "normal"], "light unless somebody chooses"
    page.get_by_text(texts.LOOK, exact=True).click()
    for choice, theme in (("Dark", "dark"), ("Light", "light"), ("As the device", "dark")):
        page.get_by_label(choice, exact=True).check()
        assert page.evaluate("document.documentElement.dataset.theme") == theme
    small = page.evaluate("parseFloat(getComputedStyle(document.querySelector('h2')).fontSize)")
    page.get_by_label("Largest", exact=False).check()
    visitor.goto("/shelf")
    assert page.evaluate("window.first") == ["dark", "largest"]
    assert page.evaluate(paper) != light
    assert page.evaluate("parseFloat(getComputedStyle(document.querySelector('h2')).fontSize)") == 1.5 * small
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--paper')") == "#f4f1e8"
