"""Readings, and two that type at one time, in a real browser on the real server."""

import re
from pathlib import Path

import pytest
from conftest import longer
from playwright.sync_api import expect

from heldtrue.web import texts
from web.chromium import WAIT, open_setup, planned
from web.test_browser import button, field, verdict
from web.test_readings_pages import OFFSET_AND_LOBES, PARTS

expect.set_options(timeout=WAIT)
SHAFT = "Winch shaft, drum end"
SURFACE = "seal land (outside)"


def open_readings(visitor, title="Wear ring, second side"):
    """The readings of a new setup."""
    id = open_setup(visitor, title)
    button(visitor.page, texts.READ).click()
    visitor.page.wait_for_url(f"**/readings/{id}")
    visitor.connected()
    return id


def choose(page, label, words):
    """Choose from a list as one does with the mouse."""
    field(page, label).click()
    page.get_by_role("option", name=words, exact=True).click()


def pad(page, text):
    """One reading with the buttons of the pad alone: the digits, the sign last, as people do."""
    keys = page.locator(".pad")
    for one in text.lstrip("-"):
        keys.get_by_role("button", name=one, exact=True).click()
    if text.startswith("-"):
        keys.get_by_role("button", name=texts.KEY_SIGN, exact=True).click()


def next_place(page):
    page.locator(".pad").get_by_role("button", name=texts.KEY_NEXT, exact=True).click()


def keys(page, text):
    """One reading on the keyboard alone."""
    page.keyboard.type(text)


def next_key(page):
    page.keyboard.press("Enter")


def stands(page, values):
    """The dial shows just these readings, at their places."""
    said = ", ".join(f"{30 * place}° {text}" for place, text in enumerate(values) if text) or texts.DIAL_EMPTY
    expect(page.locator(".dial-svg")).to_have_attribute("aria-label", f"{texts.DIAL_LABEL}: {said}")


def figure(page, name):
    return page.locator(".figures > div", has=page.get_by_text(name, exact=True)).locator(".big")


@pytest.mark.long
@pytest.mark.parametrize(("enter", "onward"), [(pad, next_place), (keys, next_key)], ids=["pad alone", "keys alone"])
def test_twelve_readings_and_what_they_say_while_they_are_typed(visitor, enter, onward):
    page = visitor.page
    open_readings(visitor)
    expect(page.get_by_text(texts.TOO_FEW, exact=True)).to_be_visible()
    for text in OFFSET_AND_LOBES[:5]:
        enter(page, text)
        onward(page)
    stands(page, OFFSET_AND_LOBES[:5])
    expect(page.get_by_text(texts.TOO_FEW, exact=True)).to_be_visible()
    enter(page, OFFSET_AND_LOBES[5])
    expect(figure(page, texts.TIR)).to_be_visible()
    onward(page)
    enter(page, OFFSET_AND_LOBES[6])
    expect(page.locator(".now .big")).to_have_text(re.compile(r"^−4 "))
    page.reload()
    visitor.connected()
    stands(page, OFFSET_AND_LOBES[:7])
    expect(figure(page, texts.TIR)).to_be_visible()
    for _ in range(7):
        onward(page)
    for text in OFFSET_AND_LOBES[7:]:
        enter(page, text)
        onward(page)
    stands(page, OFFSET_AND_LOBES)
    expect(page.locator(".now")).to_contain_text(texts.PLACE_N.format(n=1, count=12))
    # By hand: 10 µm towards 90°, three lobes of 4 µm.
    expect(figure(page, texts.OFFSET)).to_have_text("0.010 mm")
    expect(figure(page, texts.LOBES_N.format(n=3))).to_have_text("0.0040 mm")
    expect(page.get_by_text("Stands off towards 90°")).to_be_visible()
    expect(page.get_by_role("heading", name=texts.CAUSES)).to_be_visible()
    page.reload()
    visitor.connected()
    stands(page, OFFSET_AND_LOBES)
    expect(figure(page, texts.OFFSET)).to_have_text("0.010 mm")


@pytest.mark.long
def test_the_plan_stands_beside_the_readings_and_they_are_kept(visitor):
    page = visitor.page
    open_readings(visitor)
    choose(page, texts.READ_SURFACE, SURFACE)
    page.locator(".zone").focus()
    for text in OFFSET_AND_LOBES:
        keys(page, text)
        next_key(page)
    expect(page.get_by_text("seal land, at", exact=False).first).to_be_visible(timeout=2 * WAIT)
    button(page, texts.KEEP_READINGS).click()
    expect(page.get_by_text(texts.NEED_NAME)).to_be_visible()
    page.get_by_label(texts.YOUR_NAME, exact=True).first.fill("Noor")
    button(page, texts.KEEP_READINGS).click()
    expect(page.get_by_text(re.compile(f"^{re.escape(texts.KEPT)}")).first).to_be_visible()
    with page.expect_download(timeout=2 * WAIT) as saving:
        page.get_by_role("button", name=texts.SAVE_PAGE, exact=True).first.click()
    assert Path(saving.value.path()).read_bytes().startswith(b"%PDF-")
    button(page, texts.UNDO).first.click()
    stands(page, OFFSET_AND_LOBES[:11])


@pytest.mark.long
def test_what_two_tablets_type_into_one_trace_is_all_there(new_visitor):
    here, there = new_visitor(), new_visitor(size=(800, 1280))
    id = open_readings(here)
    there.goto(f"/readings/{id}")
    expect(there.page.locator(".zone")).to_be_focused()
    for _ in range(6):
        there.page.keyboard.press("Enter")
    expect(there.page.get_by_text("Place 7 of 12")).to_be_visible()
    for left, right in zip(OFFSET_AND_LOBES[:6], OFFSET_AND_LOBES[6:], strict=True):
        keys(here.page, left)
        keys(there.page, right)
        next_key(here.page)
        next_key(there.page)
    stands(here.page, OFFSET_AND_LOBES)
    stands(there.page, OFFSET_AND_LOBES)
    expect(figure(there.page, texts.OFFSET)).to_have_text("0.010 mm")


@pytest.mark.long
def test_a_feeler_says_the_next_taper_and_is_accepted(visitor):
    page = visitor.page
    id = open_setup(visitor, SHAFT)
    # The first start enters the chuck, where an accepted reading is kept.
    visitor.goto(f"/start/{id}")
    field(page, texts.GAUGE_SHOWS).fill("1")
    field(page, texts.YOUR_NAME).fill("Noor")
    button(page, texts.ASK_START).click()
    expect(page.locator(".gate")).to_have_text(texts.MUST_NOT)
    visitor.goto(f"/readings/{id}")
    page.get_by_role("tab", name=texts.TAB_FEELER).click()
    button(page, texts.ASK_TAPER).click()
    expect(page.get_by_text(texts.SAY_SEEN)).to_be_visible()
    choose(page, texts.SEEN, texts.SEEN_WORDS["gap tip"])
    gap = field(page, texts.GAP)
    gap.fill("0,0.5")
    expect(page.locator(".q-field--error", has=gap)).to_contain_text("0,0.5")
    gap.fill("0,05")
    expect(page.get_by_text("0.050 mm = .0020 in")).to_be_visible()
    button(page, texts.ASK_TAPER).click()
    answer = page.locator(".verdict", has_text=texts.TAPER_CUT)
    expect(answer).to_contain_text("off at the base, running out", timeout=2 * WAIT)
    button(page, texts.ACCEPT_SEEN).click()
    expect(page.get_by_text(texts.NEED_NAME)).to_be_visible()
    page.get_by_label(texts.YOUR_NAME, exact=True).locator("visible=true").fill("Noor")
    button(page, texts.ACCEPT_SEEN).click()
    expect(page.get_by_text("gap of 0.050 mm at the tip").first).to_be_visible(timeout=2 * WAIT)
    gap.press_sequentially("5")
    expect(answer).to_have_count(0)  # an old answer must not stand beside a new reading


@pytest.mark.long
def test_bluing_says_the_next_taper_and_when_to_stop(visitor):
    page = visitor.page
    open_readings(visitor, "Valve stem, body side")
    page.get_by_role("tab", name=texts.TAB_FEELER).click()
    choose(page, texts.SEEN, texts.SEEN_WORDS["print base"])
    button(page, texts.ASK_TAPER).click()
    expect(page.get_by_text(texts.NEEDED.format(what=texts.PRINT_LENGTH))).to_be_visible()
    field(page, texts.PRINT_LENGTH).fill("6")
    button(page, texts.ASK_TAPER).click()
    expect(page.locator(".verdict", has_text=texts.TAPER_CUT)).to_be_visible(timeout=2 * WAIT)
    choose(page, texts.SEEN, texts.SEEN_WORDS["all"])
    field(page, texts.PRINT_LENGTH).fill("")
    button(page, texts.ASK_TAPER).click()
    expect(page.locator(".verdict", has_text=texts.TAPER_STOP)).to_be_visible(timeout=2 * WAIT)
    page.reload()
    visitor.connected()
    page.get_by_role("tab", name=texts.TAB_FEELER).click()
    expect(field(page, texts.SEEN)).to_have_value(texts.SEEN_WORDS["all"])


@pytest.mark.long
def test_part_after_part_tells_the_drift_and_when_to_cut_again(visitor):
    page = visitor.page
    open_readings(visitor)
    page.get_by_role("tab", name=texts.TAB_DRIFT).click()
    field(page, texts.PARTS_TEXT).fill(PARTS)
    told = page.locator(".verdict", has_text="drifts")
    expect(told).to_be_visible()
    drift = float(re.search(r"drifts \+([\d.]+) mm", told.inner_text())[1])
    assert drift == pytest.approx(0.1, abs=0.005), "1 µm a part is 0.1 mm in 100"
    most = field(page, texts.UPPER_LIMIT.format(name="bore"))
    most.fill("50.03")
    expect(page.get_by_text("re-cut due within").first).to_be_visible()
    most.fill("5o")
    expect(page.get_by_text(texts.NOT_READ)).to_be_visible()
    expect(most).to_have_value("5o")
    most.fill("50,03")
    expect(page.get_by_text("re-cut due within").first).to_be_visible()
    page.reload()
    visitor.connected()
    page.get_by_role("tab", name=texts.TAB_DRIFT).click()
    expect(field(page, texts.PARTS_TEXT)).to_have_value(PARTS)
    expect(field(page, texts.UPPER_LIMIT.format(name="bore"))).to_have_value("50,03")
    with page.expect_file_chooser() as chooser:
        button(page, texts.PARTS_FILE).click()
    chooser.value.set_files({"name": "bores.csv", "mimeType": "text/csv", "buffer": b"bore_mm\n50\n50.1\n"})
    expect(field(page, texts.PARTS_TEXT)).to_have_value("bore_mm\n50\n50.1\n")
    expect(page.get_by_text("From the file bores.csv")).to_be_visible()


def alert(visitor, theirs, mine):
    """The question at the field, with both values."""
    asked = visitor.page.get_by_role("alert").filter(has_text=f'"{theirs}"').filter(has_text=f'"{mine}"')
    expect(asked).to_be_visible()
    return asked


@pytest.mark.long
def test_two_that_type_into_one_field_are_asked_and_nothing_is_lost(new_visitor):
    here, there = new_visitor(), new_visitor(size=(800, 1280))
    id = open_setup(here)
    there.goto(f"/plan/{id}?why=All+values")
    planned(there.page)
    mine, theirs = (field(one.page, "Pressure") for one in (here, there))
    mine.focus()
    theirs.focus()
    for left, right in zip("9,00", "10,5", strict=True):  # letter by letter, in turn, nobody waits for anything
        here.page.keyboard.type(left)
        there.page.keyboard.type(right)
    # What each typed stands where they typed it; whoever came second is asked, with both values in words.
    expect(mine).to_have_value("9,00")
    expect(theirs).to_have_value("10,5")
    words = alert(there, "9,00", "10,5").inner_text()
    assert re.match(rf"{texts.CONFLICT_SOMEBODY} typed .* at \d\d:\d\d while you had", words)
    verdict(here.page, "not proven")
    verdict(there.page, "not proven")
    expect(there.page.get_by_text(re.compile(r"Checked at the stated 9(\.0+)? bar")).first).to_be_visible()

    button(there.page, texts.TAKE_MINE).click()
    expect(there.page.get_by_role("button", name=texts.TAKE_MINE)).to_have_count(0)
    expect(there.page.get_by_text("Checked at the stated 10.5 bar").first).to_be_visible()
    # The first is still in the field: now they are asked, and what they had still stands there.
    expect(mine).to_have_value("9,00")
    alert(here, "10,5", "9,00")
    button(here.page, texts.KEEP_THEIRS).click()
    expect(mine).to_have_value("10,5")
    expect(here.page.get_by_role("button", name=texts.KEEP_THEIRS)).to_have_count(0)
    expect(theirs).to_have_value("10,5")
    # Undo goes back over both, to the value before; the other has the cursor in the field, so they are asked.
    button(here.page, texts.UNDO).click()
    expect(mine).to_have_value("")
    expect(here.page.get_by_role("button", name=texts.KEEP_THEIRS)).to_have_count(0)
    expect(theirs).to_have_value("10,5")
    button(there.page, texts.KEEP_THEIRS).click()
    expect(theirs).to_have_value("")


@pytest.mark.long
def test_a_question_that_nobody_answers_stays_over_another_field(new_visitor):
    here, there = new_visitor(), new_visitor()
    id = open_setup(here)
    there.goto(f"/plan/{id}?why=All+values")
    planned(there.page)
    field(there.page, "Pressure").focus()
    field(here.page, "Pressure").fill("12")
    expect(there.page.get_by_role("alert").first).to_contain_text('"12"')
    field(there.page, "Pressure").fill("11")
    alert(there, "12", "11")
    field(there.page, "Spindle limit").fill("310")
    expect(field(here.page, "Spindle limit")).to_have_value("310")
    alert(there, "12", "11")
    expect(field(there.page, "Pressure")).to_have_value("11")
    expect(field(here.page, "Pressure")).to_have_value("12")
    button(there.page, texts.KEEP_THEIRS).click()
    expect(field(there.page, "Pressure")).to_have_value("12")


@pytest.mark.long
@pytest.mark.parametrize("half", ["12,", *longer("1 2", "-", "nine")])
def test_a_reload_in_the_middle_of_a_number_keeps_what_was_typed(visitor, half):
    page = visitor.page
    open_setup(visitor)
    pressure = field(page, "Pressure")
    pressure.fill("")
    pressure.press_sequentially(half, delay=30)
    # It is taken in; no answer is waited for.
    expect(page.get_by_text(texts.HELD_BACK.format(fields="Pressure")).first).to_be_visible()
    page.reload()
    visitor.connected()
    expect(field(page, "Pressure")).to_have_value(half)
    expect(page.get_by_text(texts.HELD_BACK.format(fields="Pressure")).first).to_be_visible()
    field(page, "Pressure").fill("")
    field(page, "Pressure").press_sequentially("12,5", delay=30)
    expect(page.get_by_text("Checked at the stated 12.5 bar").first).to_be_visible()
    expect(page.get_by_text(texts.HELD_BACK.format(fields="Pressure"))).to_have_count(0)
