"""A gauge ring in a real browser: typed with the keyboard, entered with a double click, gone with the server."""

import os
import signal

import pytest
from playwright.sync_api import expect

from heldtrue.planning.hardware_file import chuck_from
from heldtrue.records import GaugeReading, open_store
from heldtrue.shop.stock import chuck_cards
from heldtrue.web import texts
from heldtrue.web.measuring import words
from web.chromium import Visitor
from web.test_browser_lost import SOON
from web.test_measuring import PLATE, READINGS, RING


@pytest.mark.long
def test_a_ring_is_read_by_keyboard_entered_once_and_not_believed_without_the_server(chromium, own):
    with open_store(str(own.records)) as store:
        table = chuck_from({**PLATE, "number": "CH-04"}, "chuck")[1]
        store.write(*chuck_cards(store, "CH-04", table, machine=None, grease_days=None), by="Noor")
    visitor = Visitor(chromium, own.address)
    page = visitor.page
    visitor.goto("/chucks/CH-04/ring")
    page.get_by_role("tab", name=words.TAB_READ).click()
    page.get_by_label(words.RING_TEXT).fill(RING)
    page.get_by_label(texts.DIVISION, exact=True).fill("1")
    page.get_by_label(texts.YOUR_NAME, exact=True).fill("Noor")
    for at, one in enumerate(READINGS["round"]):
        if at:
            expect(page.locator(".now")).to_contain_text(f"{words.ROUND.format(n=at)}: place 1 of 12")
            page.get_by_label(words.ROUND_PRESSURE).fill(one["pressure"].removesuffix(" bar"))
        page.locator(".zone").focus()
        for value in one["values"]:
            page.keyboard.type(f"{value * 1000:g}")
            page.keyboard.press("Enter")
    answer = page.get_by_text(words.READ_ANSWER)
    expect(answer).to_be_visible()
    page.get_by_role("button", name=words.ENTER_LOG).dblclick()
    expect(page.get_by_text("nothing was entered twice")).to_be_visible()
    with open_store(str(own.records)) as store:
        assert [round(row.pressure, 6) for row in store.events(GaugeReading)] == [0.8, 1.5, 2.2]
    os.kill(own.process.pid, signal.SIGSTOP)
    expect(answer).to_be_hidden(timeout=SOON)
    expect(page.get_by_text(words.NOT_CONNECTED)).to_be_visible()
    os.kill(own.process.pid, signal.SIGCONT)
    expect(answer).to_be_visible()
    visitor.check()
    visitor.close()
