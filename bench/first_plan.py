"""How long the way to a first plan and through a repeat job is, at the pace of a person.  Run by hand.

``python bench/first_plan.py``: a real browser goes the whole way in the sample shop, from an empty setup to its verdict
and from the last run to a start.  Waiting for the app is measured; the person's part is counted: keys, pointing,
changes between mouse and keyboard and a moment to think before each, with the times of the keystroke-level model
(Card, Moran and Newell, Communications of the ACM 23, 1980; from memory).  Reading a drawing or a plate is not in it.
"""

from __future__ import annotations

import sys
import tempfile
import time
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from playwright.sync_api import Locator

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "tests"))
from part_file.drawings import Sheet, profile  # noqa: E402
from web.chromium import CHROMIUM, Server, Visitor, open_browser, planned  # noqa: E402

from heldtrue.web import sample, texts  # noqa: E402
from heldtrue.web.part import words  # noqa: E402

KEY, POINT, HOME, THINK, CLICK = 0.28, 1.1, 0.4, 1.35, 0.2
"""Seconds: a key of an average typist who is no typist, pointing, hand to the other device, a thought, a button."""


class Person:
    """Somebody at the page: ``spent`` by the hands, ``waited`` for the app, s."""

    def __init__(self, visitor: Visitor) -> None:
        self.visitor, self.page = visitor, visitor.page
        self.spent = self.waited = 0.0
        self.keys = self.touches = 0

    def press(self, where: Locator) -> None:
        """Point at something and press it."""
        self.spent += THINK + HOME + POINT + CLICK
        self.touches += 1
        self._wait(where.click)

    def button(self, words: str) -> None:
        """Press the button of these words."""
        self.press(self.page.get_by_role("button", name=words, exact=True).first)

    def tab(self, words: str) -> None:
        """Open a tab of the form."""
        self.press(self.page.get_by_role("tab", name=words).first)
        time.sleep(0.3)

    def type(self, label: str, words: str, number: int = 0) -> None:
        """Go on to a field with Tab and type."""
        self.spent += THINK + KEY * (1 + len(words))
        self.keys += 1 + len(words)
        entry = self.page.get_by_label(label, exact=True).nth(number)
        self._wait(lambda: entry.fill(words))

    def choose(self, label: str, words: str, number: int = 0) -> None:
        """Open a list and take a word of it."""
        self.press(self.page.get_by_label(label, exact=True).nth(number))
        self.press(self.page.get_by_role("option", name=words, exact=True).first)

    def see(self, what: Locator) -> None:
        """Wait until it is there, and read it."""
        self._wait(lambda: what.wait_for(timeout=60_000))
        self.spent += THINK

    def _wait(self, work) -> None:  # type: ignore[no-untyped-def]
        began = time.perf_counter()
        work()
        self.waited += time.perf_counter() - began

    def say(self, what: str) -> None:
        """What it came to."""
        print(f"{what}: {self.touches} presses, {self.keys} keys: {self.spent:.0f} s by the hands, "
              f"{self.waited:.0f} s waiting, {(self.spent + self.waited) / 60:.1f} min together")  # fmt: skip


def first_plan(one: Person) -> None:
    """A flanged bush from nothing: part, grip, chuck and jaws of the shop, two cuts, to the verdict."""
    one.visitor.goto("/")
    one.button(texts.NEW_METRIC)
    one.page.wait_for_url("**/plan/*")
    one.visitor.connected()
    one.type("Title of this setup", "Bush, flange side")
    one.type("Machine, top speed", "3500")
    one.tab("Part")
    one.type("Part number", "BU-090")
    one.type("Material", "C45")
    one.button(texts.FIRST_CORNERS)
    time.sleep(0.5)
    for number, (diameter, z) in enumerate((("60", "0"), ("90", "0"), ("90", "35"), ("60", "35"))):
        _corner(one, number, diameter, z)
    one.tab("Grip")
    one.choose("Grip", "outside")
    one.type("Gripped Ø", "90")
    one.type("Gripped from z", "2")
    one.type("to z", "18")
    one.choose("Seat or stop?", "yes")
    one.tab("Chuck")
    one.choose(texts.TAKE_CHUCK, _option(one, texts.TAKE_CHUCK, "CH-04"))
    one.tab("Jaws")
    one.choose(texts.TAKE_JAWS, _option(one, texts.TAKE_JAWS, "wide"))
    one.tab("Cuts")
    for number, (diameter, depth, feed) in enumerate((("60", "1.5", "0.25"), ("60", "0.3", "0.1"))):
        one.button(texts.CUT_ADD)
        time.sleep(0.5)
        if number == 0:
            one.choose("Kind", "bore", number)
            for label, words in (("at Ø", diameter), ("from z", "0"), ("to z", "35"), ("Cutting speed", "180")):
                one.type(label, words, number)
        one.type("Depth, per side", depth, number)
        one.type("Feed", feed, number)
    one.see(one.page.get_by_text("Worked out in full").first)


def from_drawing(one: Person, drawing: Path) -> None:
    """The same bush from its drawing: the file, its seat, its surfaces, chuck and jaws of the shop, two cuts."""
    one.visitor.goto("/")
    with one.page.expect_file_chooser() as chooser:
        one.button(words.DROP_BUTTON)
    one.spent += THINK + POINT + 2 * CLICK  # the file, in the window of the system
    one.touches += 1
    one._wait(lambda: chooser.value.set_files(drawing))
    one.see(one.page.get_by_text(words.END))
    one.button(words.END_CHOICES[True])
    one.press(one.page.get_by_role("button", name=words.GRIP_ON.format(name="outside Ø90"), exact=True))
    one.press(one.page.get_by_role("button", name=words.TURN_ON.format(name="bore Ø60"), exact=True))
    one.choose(texts.TAKE_CHUCK, _option(one, texts.TAKE_CHUCK, "CH-04"))
    one.choose(texts.TAKE_JAWS, _option(one, texts.TAKE_JAWS, "wide"))
    for label, typed in ((words.GRIP_FROM, "2"), (words.GRIP_TO, "18"), (words.MATERIAL, "C45")):
        one.type(label, typed)
    one.button(words.MAKE)
    one.page.wait_for_url("**/plan/*")
    one.visitor.connected()
    one.type("Machine, top speed", "3500")
    one.tab("Grip")
    one.choose("Seat or stop?", "yes")
    one.tab("Cuts")
    for number, (depth, feed) in enumerate((("1.5", "0.25"), ("0.3", "0.1"))):
        if number:
            one.button(texts.CUT_ADD)
            time.sleep(0.5)
        else:
            one.type("Cutting speed", "180")
        one.type("Depth, per side", depth, number)
        one.type("Feed", feed, number)
    one.see(one.page.get_by_text("Worked out in full").first)


def _corner(one: Person, number: int, diameter: str, z: str) -> None:
    for key, typed in (("0", diameter), ("1", z)):
        label = one.page.locator(".corner").nth(number).locator("input").nth(int(key)).get_attribute("aria-label")
        one.type(label or "", typed)


def _option(one: Person, label: str, part: str) -> str:
    """The words of the choice with ``part`` in them."""
    one.page.get_by_label(label, exact=True).first.click()
    words = one.page.get_by_role("option").filter(has_text=part).first.inner_text()
    one.page.keyboard.press("Escape")
    return words


def repeat_job(one: Person) -> None:
    """The wear ring again: its setup out of the records, the sheet looked at, the gauge read, may it start."""
    one.visitor.goto("/")
    row = one.page.locator(".row-line", has_text="Sample: Wear ring, second side")
    one.press(row.get_by_role("button", name=texts.AGAIN))
    one.page.wait_for_url("**/plan/*")
    one.visitor.connected()
    one._wait(lambda: planned(one.page))
    one.see(one.page.locator(".verdict .word").first)
    one.press(one.page.get_by_role("button", name=texts.START, exact=True).last)
    one.page.wait_for_url("**/start/*")
    one.visitor.connected()
    one.type(texts.GAUGE_SHOWS, "12")
    one.type(texts.YOUR_NAME, "Noor")
    one.button(texts.ASK_START)
    one.see(one.page.locator(".gate.may"))


def main() -> None:
    if CHROMIUM is None:
        raise SystemExit("chromium is not installed")
    with tempfile.TemporaryDirectory() as folder, open_browser() as browser:
        records = sample.load(Path(folder), ROOT / "examples", datetime.now(UTC))
        server = Server(Path(folder) / "app", records=records)
        drawing = Path(folder) / "BU-090.dxf"
        drawing.write_bytes(Sheet().draw(profile((60, 0), (90, 0), (90, 35), (60, 35))))
        try:
            time.sleep(8)  # the workers start
            ways = (
                ("first plan from nothing", first_plan),
                ("first plan from a drawing", partial(from_drawing, drawing=drawing)),
                ("repeat job, to the start", repeat_job),
            )
            for what, way in ways:
                one = Person(Visitor(browser, server.address))
                way(one)
                one.say(what)
        finally:
            server.close()


if __name__ == "__main__":
    main()
