"""A real browser that loses its server: no green stays, and the page says why in words that cover nothing."""

import os
import signal
import time

import pytest
from playwright.sync_api import expect

from heldtrue.web import texts
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
    covered = page.evaluate(
        """() => [...document.querySelectorAll('button, input, a')].filter(one => {
            const box = one.getBoundingClientRect();
            const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
            return top && top.closest('.lost') && !one.closest('details:not([open])'); }).map(one => one.outerHTML)"""
    )
    assert covered == []
