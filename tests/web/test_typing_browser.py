"""Typing key by key in a real browser: a value is one value, with its unit, however fast or slow its letters come."""

import pytest
from conftest import longer
from playwright.sync_api import expect

from heldtrue.web import texts
from web.chromium import open_setup
from web.test_browser import field

expect.set_options(timeout=15000)
PRESSURES = ("Pressure", "Highest pressure", "Lost before it grips")


def no_question(page):
    expect(page.get_by_role("button", name=texts.TAKE_MINE)).to_have_count(0)
    expect(page.get_by_role("button", name=texts.KEEP_THEIRS)).to_have_count(0)


HOW = [
    ("18 bar", 400, PRESSURES[:1]),
    *longer(*((typed, delay, PRESSURES) for typed, delay in
              (("18 bar", 400), ("250 psi", 15), ("18 bar", 15), ("250 psi", 120), ("1 bar", 60)))),
]  # fmt: skip
"""What is typed, the time for a key, ms, and where: 400 is longer than typing rests before a value is handed over."""


@pytest.mark.parametrize(("typed", "delay", "labels"), HOW)
def test_a_pressure_with_its_unit_is_one_value_and_stays_as_typed(visitor, typed, delay, labels):
    page = visitor.page
    id = open_setup(visitor)
    for label in labels:
        if label != PRESSURES[0]:
            page.get_by_role("tab", name="Chuck").click()
        there = field(page, label)
        there.fill("")
        there.press_sequentially(typed, delay=delay)
        page.keyboard.press("Tab")
        page.wait_for_timeout(1500)
        no_question(page)
        expect(there).to_have_value(typed)
        there.press("End")
        there.press("Backspace")
        there.press_sequentially(typed[-1], delay=delay)
        expect(there).to_have_value(typed)
    no_question(page)
    visitor.goto(f"/plan/{id}?why=All+values")
    expect(field(page, PRESSURES[0])).to_have_value(typed)


@pytest.mark.long
def test_two_fields_in_a_row_at_15_ms_a_key(visitor):
    page = visitor.page
    open_setup(visitor)
    for _ in range(4):
        for one, other in (("10,5", "320"), ("11,25 bar", "310 rev/min")):
            field(page, "Pressure").focus()
            page.keyboard.press("Control+a")
            page.keyboard.type(one, delay=15)
            field(page, "Spindle limit").focus()
            page.keyboard.press("Control+a")
            page.keyboard.type(other, delay=15)
            page.wait_for_timeout(700)
            no_question(page)
            expect(field(page, "Pressure")).to_have_value(one)
            expect(field(page, "Spindle limit")).to_have_value(other)


@pytest.mark.long
@pytest.mark.parametrize("pressures", [["10,5 bar"], *longer(["10,5", "9,75", "10,5 bar"])], ids=len)
def test_what_is_kept_in_one_window_is_in_the_other_whole(new_visitor, pressures):
    here, there = new_visitor(), new_visitor()
    id = open_setup(here)
    there.goto(f"/plan/{id}?why=All+values")
    for text in pressures:
        field(here.page, "Pressure").focus()
        here.page.keyboard.press("Control+a")
        here.page.keyboard.type(text, delay=60)
        field(there.page, "Spindle limit").focus()
        there.page.keyboard.press("Control+a")
        there.page.keyboard.type("300", delay=15)
        expect(field(there.page, "Pressure")).to_have_value(text)
        expect(field(here.page, "Spindle limit")).to_have_value("300")
        expect(field(here.page, "Pressure")).to_have_value(text)
        no_question(here.page)
        no_question(there.page)


@pytest.mark.long
def test_a_reload_before_typing_rests_loses_no_letter(visitor):
    page = visitor.page
    open_setup(visitor)
    field(page, "Pressure").press_sequentially("10,5", delay=10)
    page.reload()
    visitor.connected()
    expect(field(page, "Pressure")).to_have_value("10,5")
    expect(page.get_by_text("Checked at the stated 10.5 bar").first).to_be_visible()
