"""A real server and a real browser for tests, measurements and screenshots: Debian's chromium through Playwright."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[2]
CHROMIUM = shutil.which("chromium")
MISSING = "Debian's chromium is not installed: apt-get install chromium"
WAIT = 90_000
"""The longest that a page may take for anything, ms: other work may be on this machine."""
SIZES = ((1280, 800), (1920, 1080), (800, 1280))
# A library that sees it is tested serves on a port of its own choosing: this is no test to it.
CLEAN = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST", "NICEGUI"))}


class Server:
    """``heldtrue app`` as a user starts it, on a free port. What it says is kept in a file beside its records.

    ``records``: where they are, if not in ``folder``; ``more``: more words of the command; ``port``: a free one if 0.
    """

    def __init__(self, folder, *, records=None, more=(), seconds=240.0, port=0):
        folder = Path(folder)
        folder.mkdir(parents=True, exist_ok=True)
        self.records, self._said, self._read = records or folder / "records", folder / "said.txt", 0
        with socket.socket() as free:
            free.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            free.bind(("127.0.0.1", port))
            self.port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        with self._said.open("wb") as said:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "heldtrue", "app", "--port", str(self.port), "--records", str(self.records),
                 "--no-show", *more],
                cwd=ROOT, env={**CLEAN, "OPENBLAS_NUM_THREADS": "1"}, stdout=said, stderr=said,
                start_new_session=True,
            )  # fmt: skip
        self._await(seconds)

    def _await(self, seconds):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            if self.process.poll() is not None:
                raise RuntimeError(f"the server ended: {self._said.read_text()}")
            time.sleep(0.1)
        self.close()
        raise TimeoutError(f"the server does not answer: {self._said.read_text()}")

    def complaints(self):
        """What it said of faults since this was last asked."""
        text = self._said.read_text(errors="replace")
        new, self._read = text[self._read :], len(text)
        return new if "Traceback" in new or "ERROR" in new else ""

    def close(self):
        self.process.terminate()
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(20)


@contextmanager
def open_browser(*, gl=False):
    """A browser that reaches 127.0.0.1 and nothing else: every other way leads to a proxy that is not there."""
    if CHROMIUM is None:
        raise RuntimeError(MISSING)
    three = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
    more = three if gl else ["--disable-gpu", "--disable-gpu-rasterization"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-dev-shm-usage", "--disable-background-networking", *more],
            proxy={"server": "http://127.0.0.1:9", "bypass": "127.0.0.1"},
        )
        yield browser
        browser.close()


class Visitor:
    """A browser of somebody's own: cookies and memory of its own; writes down what goes wrong in it.

    ``page``: its first page; ``strangers``: what was asked for elsewhere; ``faults``: errors of its scripts.
    """

    def __init__(self, browser, address, *, size=SIZES[0], **more):
        self.address, self.strangers, self.faults = address, [], []
        self.context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **more)
        self.context.set_default_timeout(WAIT)
        self.context.on("page", self._watch)
        self.page = self.context.new_page()

    def _watch(self, page):
        page.on("request", lambda request: self._asked(request.url))
        page.on("websocket", lambda made: self._asked(made.url))
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("console", self._said)

    def _asked(self, url):
        parts = urlsplit(url)
        if parts.scheme not in ("data", "blob", "about") and parts.hostname != "127.0.0.1":
            self.strangers.append(url)

    def _said(self, message):
        if message.type == "error":
            self.faults.append(f"{message.text} ({message.location.get('url')})")

    def goto(self, path):
        """Open a page of the app and wait until its socket is there."""
        self.page.goto(f"{self.address}{path}")
        self.connected()

    def connected(self):
        self.page.wait_for_function("() => window.socket && window.socket.connected && window.did_handshake")

    def check(self):
        assert self.strangers == [], "something was asked for elsewhere"
        assert self.faults == [], "a script complained"

    def close(self):
        self.context.close()


def open_setup(visitor, title="Wear ring, second side"):
    """Open an example as a user does; the name of the new setup once it is planned in full."""
    visitor.goto("/")
    row = visitor.page.locator(".row-line", has_text=title).filter(has=visitor.page.get_by_role("button", name="Open"))
    row.get_by_role("button", name="Open", exact=True).first.click()
    visitor.page.wait_for_url("**/plan/*")
    visitor.connected()
    planned(visitor.page)
    id = visitor.page.url.rpartition("/")[2].partition("?")[0]
    all_values(visitor.page)
    return id


def all_values(page):
    """Show the form of a plan, where every value can be typed."""
    page.get_by_role("tab", name="All values").click()


def steady(page, look):
    """What is seen once it has stood still for half a second and more: it follows the mouse by way of the server."""
    seen = [look()]
    while len(seen) < 3:
        page.wait_for_timeout(300)
        now = look()
        seen = [*seen, now] if now == seen[-1] else [now]
    return seen[-1]


def planned(page):
    """Wait until the answer on the page is the full one."""
    page.get_by_text("Worked out in full").first.wait_for()
