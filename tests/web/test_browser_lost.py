"""A real browser that loses its server: no green stays, and the page says why in words that cover nothing."""

import os
import signal

import pytest
from conftest import longer
from playwright.sync_api import expect

from heldtrue.web import texts
from heldtrue.web.drafts import Drafts
from heldtrue.web.fields import field_at
from web.chromium import WAIT, Server, Visitor, open_setup

SOON = 20_000
"""About a second is promised; a busy machine may take longer, and how long is no test's affair."""


def covered(page):
    """What can be pressed or typed into but lies under a notice."""
    return page.evaluate(
        """() => [...document.querySelectorAll('button, input, a')].filter(one => {
            const box = one.getBoundingClientRect();
            const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
            return top && top.closest('.lost') && !one.closest('details:not([open])'); }).map(one => one.outerHTML)"""
    )


def at_green(server, browser, id):
    """A browser at a start that is allowed."""
    visitor = Visitor(browser, server.address)
    page = visitor.page
    visitor.goto(f"/start/{id}")
    page.get_by_label(texts.GAUGE_SHOWS).fill("10,5")
    page.get_by_label(texts.YOUR_NAME).fill("Noor")
    page.get_by_role("button", name=texts.ASK_START, exact=True).click()
    expect(page.locator(".gate")).to_have_text(texts.MAY)
    expect(page.locator(".gate")).to_be_visible()
    expect(page.get_by_text(texts.NOT_CONNECTED_START)).to_be_hidden()
    return page


@pytest.fixture(scope="module")
def planned(needs_chromium, tmp_path_factory, chromium):
    """A server of its own, which is stopped on the way, with one setup planned in a browser."""
    folder = tmp_path_factory.mktemp("lost")
    made = Server(folder)
    visitor = Visitor(chromium, made.address)
    yield made, visitor, open_setup(visitor), folder / "records"
    made.process.send_signal(signal.SIGCONT)
    made.close()


def hangs(server, page, answer, *notices):
    """Nobody answers on an open way, as when a network is gone: no answer stays on the page until it is back."""
    os.kill(server.process.pid, signal.SIGSTOP)
    try:
        expect(answer).to_be_hidden(timeout=SOON)
        for notice in (texts.NOT_CONNECTED, *notices):
            expect(page.get_by_text(notice)).to_be_visible()
        expect(page.locator("#popup")).to_be_hidden()
        assert covered(page) == []
    finally:
        os.kill(server.process.pid, signal.SIGCONT)
    expect(answer).to_be_visible(timeout=WAIT)
    expect(page.get_by_text(texts.NOT_CONNECTED)).to_be_hidden()


PLACES = {"plan": ".verdict", "compare": ".way", "jaws": "[aria-label^='Enlarge']"}


@pytest.mark.parametrize("place", ["plan", *longer("compare", "jaws")])
def test_every_answer_is_blank_without_the_server_and_comes_back_with_it(planned, place):
    server, visitor, id, _ = planned
    page = visitor.page
    visitor.goto(f"/{place}/{id}")
    answer = page.locator(PLACES[place]).first
    expect(answer).to_be_visible(timeout=2 * WAIT)
    hangs(server, page, answer, texts.NOT_CONNECTED_ANSWER)


@pytest.mark.long
def test_a_server_that_hangs_takes_the_green_along_and_gives_it_back(planned, chromium):
    server, _, id, _ = planned
    page = at_green(server, chromium, id)
    hangs(server, page, page.locator(".gate"), texts.NOT_CONNECTED_START)


@pytest.mark.long
def test_a_server_that_ends_takes_the_green_along_and_what_is_typed_meanwhile_is_applied_or_asked_about(
    planned, chromium, tmp_path
):
    server, visitor, id, records = planned
    page, start = visitor.page, at_green(server, chromium, id)
    visitor.goto(f"/plan/{id}?why=All+values")
    visitor.connected()
    server.process.kill()
    server.process.wait()
    expect(start.locator(".gate")).to_be_hidden(timeout=SOON)
    expect(start.get_by_text(texts.NOT_CONNECTED_START)).to_be_visible()
    expect(page.get_by_text(texts.NOT_CONNECTED)).to_be_visible(timeout=SOON)
    # Typed without the server: one field that another types in too, one that nobody does, a choice, the gauge.
    page.get_by_label("Pressure", exact=True).press_sequentially("9,5 bar", delay=30)
    page.get_by_label("Spindle limit", exact=True).press_sequentially("300", delay=30)
    page.get_by_role("tab", name="Grip").click()
    page.get_by_label("Seat or stop?").click()
    page.get_by_role("option", name="no", exact=True).click()
    start.get_by_label(texts.GAUGE_SHOWS).fill("")
    start.get_by_label(texts.GAUGE_SHOWS).press_sequentially("10,75", delay=30)
    theirs = Drafts(records / "drafts")
    draft = theirs.get(id)
    draft.edit(field_at("run.pressure", "Pressure"), "10,25")
    theirs.save(draft)
    assert not start.locator(".gate").is_visible()
    assert covered(start) == []

    again = Server(tmp_path / "again", records=records, port=server.port)
    try:
        for one in (page, start):
            expect(one.get_by_text(texts.NOT_CONNECTED)).to_be_hidden(timeout=WAIT)
        expect(start.get_by_label(texts.GAUGE_SHOWS)).to_have_value("10,75")
        page.get_by_role("tab", name="Run").click()
        asked = page.get_by_role("alert").filter(has_text='"10,25"').filter(has_text='"9,5 bar"')
        expect(asked).to_be_visible(timeout=WAIT)
        expect(page.get_by_label("Pressure", exact=True)).to_have_value("9,5 bar")
        page.get_by_role("button", name=texts.TAKE_MINE).click()
        expect(page.get_by_text("Checked at the stated 9.5 bar").first).to_be_visible(timeout=WAIT)
        expect(page.get_by_label("Spindle limit", exact=True)).to_have_value("300")
    finally:
        again.close()
    kept = Drafts(records / "drafts").get(id).table
    assert kept["run"] == {"pressure": "9,5 bar", "speed": "300"}
    assert kept["grip"]["seat"] is False
