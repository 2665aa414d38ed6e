"""A real browser that loses its server: no green stays, and the page says why in words that cover nothing."""

import os
import signal
import time

import pytest
from playwright.sync_api import expect

from heldtrue.web import texts
from heldtrue.web.drafts import Drafts
from heldtrue.web.fields import field_at
from web.chromium import WAIT, Server, Visitor, open_setup

SOON = 2_000
"""About a second is promised; this is for a busy machine."""


@pytest.fixture
def own(needs_chromium, tmp_path):
    """A server of its own: it is stopped on the way."""
    made = Server(tmp_path / "own")
    yield made
    made.process.send_signal(signal.SIGCONT)
    made.close()


def covered(page):
    """What can be pressed or typed into but lies under a notice."""
    return page.evaluate(
        """() => [...document.querySelectorAll('button, input, a')].filter(one => {
            const box = one.getBoundingClientRect();
            const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
            return top && top.closest('.lost') && !one.closest('details:not([open])'); }).map(one => one.outerHTML)"""
    )


def at_green(browser, server):
    visitor = Visitor(browser, server.address)
    page, id = visitor.page, open_setup(visitor)
    visitor.goto(f"/start/{id}")
    page.get_by_label(texts.GAUGE_SHOWS).fill("10,5")
    page.get_by_label(texts.YOUR_NAME).fill("Noor")
    page.get_by_role("button", name=texts.ASK_START, exact=True).click()
    expect(page.locator(".gate")).to_have_text(texts.MAY)
    expect(page.locator(".gate")).to_be_visible()
    expect(page.get_by_text(texts.NOT_CONNECTED_START)).to_be_hidden()
    return page


def test_a_server_that_hangs_takes_the_green_along_and_gives_it_back(chromium, own):
    page = at_green(chromium, own)
    os.kill(own.process.pid, signal.SIGSTOP)  # the way stays open and nobody answers: as when a network is gone
    expect(page.locator(".gate")).to_be_hidden(timeout=SOON)
    expect(page.get_by_text(texts.NOT_CONNECTED_START)).to_be_visible()
    expect(page.get_by_text(texts.NOT_CONNECTED)).to_be_visible()
    expect(page.locator("#popup")).to_be_hidden()
    time.sleep(0.5)
    os.kill(own.process.pid, signal.SIGCONT)
    expect(page.locator(".gate")).to_be_visible(timeout=WAIT)
    expect(page.get_by_text(texts.NOT_CONNECTED)).to_be_hidden()


def test_a_server_that_has_ended_takes_the_green_along(chromium, own):
    page = at_green(chromium, own)
    own.process.kill()
    own.process.wait()
    expect(page.locator(".gate")).to_be_hidden(timeout=SOON)
    expect(page.get_by_text(texts.NOT_CONNECTED_START)).to_be_visible()
    time.sleep(1.0)
    assert not page.locator(".gate").is_visible()
    assert covered(page) == []


PLACES = {"plan": ".verdict", "compare": ".way", "jaws": "[aria-label^='Enlarge']", "start": ".gate"}


@pytest.fixture(scope="module")
def planned_once(needs_chromium, tmp_path_factory, chromium):
    """A server of its own, with one setup planned."""
    made = Server(tmp_path_factory.mktemp("lost"))
    visitor = Visitor(chromium, made.address)
    id = open_setup(visitor)
    yield made, visitor, id
    made.process.send_signal(signal.SIGCONT)
    made.close()


@pytest.mark.parametrize("place", ["plan", "compare", "jaws"])
def test_every_answer_is_blank_without_the_server_and_comes_back_with_it(planned_once, place):
    server, visitor, id = planned_once
    page = visitor.page
    visitor.goto(f"/{place}/{id}")
    answer = page.locator(PLACES[place]).first
    expect(answer).to_be_visible(timeout=2 * WAIT)
    os.kill(server.process.pid, signal.SIGSTOP)
    try:
        expect(answer).to_be_hidden(timeout=SOON)
        expect(page.get_by_text(texts.NOT_CONNECTED)).to_be_visible()
        expect(page.get_by_text(texts.NOT_CONNECTED_ANSWER)).to_be_visible()
        assert covered(page) == []
    finally:
        os.kill(server.process.pid, signal.SIGCONT)
    expect(answer).to_be_visible(timeout=WAIT)


def test_what_is_typed_without_the_server_is_applied_when_it_is_back(chromium, tmp_path):
    server = Server(tmp_path / "own")
    visitor = Visitor(chromium, server.address)
    page, id = visitor.page, open_setup(visitor)
    server.process.kill()
    server.process.wait()
    expect(page.get_by_text(texts.NOT_CONNECTED)).to_be_visible(timeout=SOON)
    page.get_by_label("Pressure", exact=True).press_sequentially("9,5 bar", delay=30)
    page.get_by_label("Spindle limit", exact=True).press_sequentially("300", delay=30)
    page.wait_for_timeout(1500)
    again = Server(tmp_path / "again", records=tmp_path / "own" / "records", port=server.port)
    expect(page.get_by_text(texts.NOT_CONNECTED)).to_be_hidden(timeout=WAIT)
    expect(page.get_by_text("Checked at the stated 9.5 bar").first).to_be_visible(timeout=WAIT)
    expect(page.get_by_label("Pressure", exact=True)).to_have_value("9,5 bar")
    expect(page.get_by_label("Spindle limit", exact=True)).to_have_value("300")
    again.close()
    kept = Drafts(tmp_path / "own" / "records" / "drafts").get(id).table["run"]
    assert kept == {"pressure": "9,5 bar", "speed": "300"}


def test_what_is_typed_without_the_server_is_asked_about_where_another_typed_too(chromium, tmp_path):
    server = Server(tmp_path / "own")
    visitor = Visitor(chromium, server.address)
    page, id = visitor.page, open_setup(visitor)
    server.close()
    expect(page.get_by_text(texts.NOT_CONNECTED)).to_be_visible(timeout=SOON)
    page.get_by_label("Pressure", exact=True).press_sequentially("9,5", delay=30)
    theirs = Drafts(tmp_path / "own" / "records" / "drafts")
    draft = theirs.get(id)
    draft.edit(field_at("run.pressure", "Pressure"), "10,25")
    theirs.save(draft)
    again = Server(tmp_path / "again", records=tmp_path / "own" / "records", port=server.port)
    asked = page.get_by_role("alert").filter(has_text='"10,25"').filter(has_text='"9,5"')
    expect(asked).to_be_visible(timeout=WAIT)
    expect(page.get_by_label("Pressure", exact=True)).to_have_value("9,5")
    page.get_by_role("button", name=texts.TAKE_MINE).click()
    expect(page.get_by_text("Checked at the stated 9.5 bar").first).to_be_visible(timeout=WAIT)
    again.close()


def test_a_choice_and_the_gauge_of_a_start_survive_a_server_that_starts_again(chromium, tmp_path):
    server = Server(tmp_path / "own")
    visitor, other = Visitor(chromium, server.address), Visitor(chromium, server.address)
    page, id = visitor.page, open_setup(visitor)
    other.goto(f"/start/{id}")
    other.page.wait_for_timeout(500)
    server.close()
    for one in (page, other.page):
        expect(one.get_by_text(texts.NOT_CONNECTED)).to_be_visible(timeout=SOON)
    other.page.get_by_label(texts.GAUGE_SHOWS).press_sequentially("10,5", delay=30)
    page.get_by_role("tab", name="Grip").click()
    page.get_by_label("Seat or stop?").click()
    page.get_by_role("option", name="no", exact=True).click()
    again = Server(tmp_path / "again", records=tmp_path / "own" / "records", port=server.port)
    expect(other.page.get_by_text(texts.NOT_CONNECTED)).to_be_hidden(timeout=WAIT)
    expect(other.page.get_by_label(texts.GAUGE_SHOWS)).to_have_value("10,5")
    drafts, end = tmp_path / "own" / "records" / "drafts", time.monotonic() + 30
    while Drafts(drafts).get(id).table["grip"]["seat"] is not False and time.monotonic() < end:
        time.sleep(0.3)
    assert Drafts(drafts).get(id).table["grip"]["seat"] is False
    again.close()
