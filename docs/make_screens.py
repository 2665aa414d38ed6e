"""Takes the pictures of the app's pages, each at three sizes, in a real browser: ``make screens``.

The sample shop is what is seen, in a folder of its own.  Needs Debian's chromium.  ``--whole`` takes pages to their
end, to look them over; ``--to`` puts them elsewhere.
"""

from __future__ import annotations

import argparse
import io
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))
from part_file.drawings import Sheet, profile
from web.chromium import CHROMIUM, MISSING, SIZES, Server, Visitor, open_browser, open_setup, planned

from heldtrue.web import sample, texts
from heldtrue.web.access.accounts import Accounts
from heldtrue.web.part import words as part_words

COLOURS = 128
"""Drawings and letters need no more, and a clone carries them all."""
READINGS = ("6", "14", "10", "-2", "-10", "-6", "-4", "2", "-8", "-14", "-2", "14")
PASSWORD = "three wet horses"


class Camera:
    """Takes the page a visitor looks at, at every size."""

    def __init__(self, folder: Path, whole: bool) -> None:
        self.folder, self.whole = folder, whole
        folder.mkdir(parents=True, exist_ok=True)

    def take(self, visitor: Visitor, name: str) -> None:
        for width, height in SIZES:
            visitor.page.set_viewport_size({"width": width, "height": height})
            time.sleep(0.4)  # what slides and fades has come to rest
            shot = visitor.page.screenshot(full_page=self.whole)
            made = Image.open(io.BytesIO(shot)).convert("RGB").quantize(COLOURS)
            made.convert("RGB").save(self.folder / f"{name}-{width}.webp", lossless=True)
        visitor.page.set_viewport_size(dict(zip(("width", "height"), SIZES[0], strict=True)))


def part_comes_in(camera: Camera, visitor: Visitor) -> None:
    """The first page, and a part from its drawing and from a shape."""
    page = visitor.page
    visitor.goto("/")
    camera.take(visitor, "first-page")
    with tempfile.TemporaryDirectory() as folder:
        drawing = Path(folder) / "BU-090.dxf"
        bush = profile((60, 0), (90, 0), (90, 24), (124, 24, 3), (124, 40), (60, 40))
        drawing.write_bytes(Sheet().draw(bush))
        with page.expect_file_chooser() as chooser:
            page.get_by_role("button", name=part_words.DROP_BUTTON).click()
        chooser.value.set_files(drawing)
        page.get_by_role("button", name=part_words.END_CHOICES[True]).click()
        for words in (part_words.GRIP_ON.format(name="outside Ø90"), part_words.TURN_ON.format(name="bore Ø60")):
            page.get_by_role("button", name=words).click()
            time.sleep(1)
    camera.take(visitor, "part")
    visitor.goto("/")
    page.get_by_role("button", name=part_words.SHAPE_BUTTON.format(name="flange")).click()
    page.wait_for_url("**/part/*")
    visitor.connected()
    for label, typed in (("Outside", "150"), ("Thickness", "18"), ("Neck", "90"), ("Length", "50"), ("Bore", "60")):
        page.get_by_label(label, exact=True).fill(typed)
    page.get_by_text(part_words.SURFACES).wait_for()
    time.sleep(1)
    camera.take(visitor, "shape")


def to_measure(camera: Camera, visitor: Visitor) -> None:
    """What to measure for the shaft."""
    visitor.goto(f"/measure/{open_setup(visitor, 'Winch shaft, drum end')}")
    visitor.page.get_by_text(texts.ODDS_PICTURE).first.wait_for(timeout=120_000)
    camera.take(visitor, "what-to-measure")


def own_pc(camera: Camera, visitor: Visitor) -> None:
    """What somebody sees on their own PC."""
    page = visitor.page
    part_comes_in(camera, visitor)
    id = open_setup(visitor)
    tab(visitor, texts.WHY_TABS[0])
    camera.take(visitor, "plan")
    page.locator(".drawn svg").focus()
    for key in ("Home", *["ArrowRight"] * 7, "Enter"):  # to the seal land
        page.keyboard.press(key)
    page.locator(".drawn-editor").wait_for()
    camera.take(visitor, "plan-drawing")
    page.keyboard.press("Escape")
    tab(visitor, texts.WHY_TABS[5])
    tab(visitor, "Jaws")
    camera.take(visitor, "plan-jaws")
    tab(visitor, texts.SECTIONS[0])
    page.get_by_label("Pressure", exact=True).first.fill("250")
    time.sleep(1)
    camera.take(visitor, "plan-slip")
    page.get_by_label("Pressure", exact=True).first.fill("")
    planned(page)
    tab(visitor, texts.WHY_TABS[3])
    page.get_by_role("button", name=texts.SOLID_OPEN).click()
    page.locator(".solid").wait_for()
    time.sleep(4)
    page.locator(".solid").scroll_into_view_if_needed()
    camera.take(visitor, "plan-shape")
    visitor.goto(f"/compare/{id}")
    page.get_by_text(texts.TAKE_OVER).first.wait_for(timeout=120_000)
    camera.take(visitor, "compare")
    to_measure(camera, visitor)
    visitor.goto(f"/jaws/{open_setup(visitor, 'Gland flange, repeat job')}")
    page.get_by_label(texts.TOUCHED).fill("89.4")
    page.get_by_role("button", name=texts.WORK_OUT).click()
    page.get_by_text("Read back and proved").first.wait_for(timeout=120_000)
    camera.take(visitor, "cut-the-jaws")
    page.get_by_text(texts.PROGRAM, exact=True).first.scroll_into_view_if_needed()
    camera.take(visitor, "jaw-program")
    visitor.goto(f"/start/{id}")
    page.get_by_label(texts.YOUR_NAME, exact=True).fill("Noor")
    for gauge, name in (("12", "start-may"), ("7", "start-must-not")):
        page.get_by_label(texts.GAUGE_SHOWS, exact=True).fill(gauge)
        page.get_by_role("button", name=texts.ASK_START).click()
        page.locator(".gate").wait_for()
        time.sleep(2)
        camera.take(visitor, name)
    visitor.goto(f"/readings/{id}")
    page.locator(".zone").focus()
    for reading in READINGS:
        page.keyboard.type(reading)
        page.keyboard.press("Enter")
    time.sleep(2)
    camera.take(visitor, "readings")
    tab(visitor, texts.TAB_FEELER)
    page.get_by_label(texts.SEEN, exact=True).click()
    page.get_by_role("option").nth(1).click()
    page.get_by_label(texts.GAP, exact=True).fill("0.03")
    page.get_by_role("button", name=texts.ASK_TAPER).click()
    time.sleep(5)
    camera.take(visitor, "feeler")
    tab(visitor, texts.TAB_DRIFT)
    page.get_by_label(texts.PARTS_TEXT).fill((ROOT / "examples" / "readings" / "gland-flange-bores.csv").read_text())
    time.sleep(4)
    camera.take(visitor, "drift")
    visitor.goto("/")
    camera.take(visitor, "setups")
    visitor.goto("/shelf")
    camera.take(visitor, "shelf")
    page.locator("a.to-set").last.click()
    page.wait_for_url("**/shelf/**")
    visitor.connected()
    camera.take(visitor, "jaw-set")
    visitor.goto("/scan")
    camera.take(visitor, "scan")
    visitor.goto("/stock")
    camera.take(visitor, "stock")
    visitor.goto("/chucks")
    camera.take(visitor, "chucks")
    page.locator("table.t a").first.click()
    page.wait_for_url("**/chucks/**")
    visitor.connected()
    camera.take(visitor, "chuck")


def shared(camera: Camera, visitor: Visitor) -> None:
    """What is there only where the app is shared."""
    page = visitor.page
    page.goto(visitor.address)
    camera.take(visitor, "login")
    page.get_by_label("Name").fill("Noor")
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(f"{visitor.address}/")
    for path, name in (("/people", "people"), ("/me", "my-login")):
        visitor.goto(path)
        camera.take(visitor, name)


def tab(visitor: Visitor, words: str) -> None:
    visitor.page.get_by_role("tab", name=words).first.click()
    time.sleep(0.8)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--to", type=Path, default=ROOT / "docs" / "screens")
    asked.add_argument("--whole", action="store_true")
    asked.add_argument("--only", choices=("own", "shared"))
    options = asked.parse_args()
    if CHROMIUM is None:
        raise SystemExit(MISSING)
    camera = Camera(options.to, options.whole)
    with tempfile.TemporaryDirectory() as folder, open_browser(gl=True) as browser:
        shop = Path(folder)
        records = sample.load(shop, ROOT / "examples", datetime.now(UTC))
        accounts = Accounts(records)
        for name, role in (("Noor", "administer"), ("Ilse", "set up"), ("Sam", "look")):
            accounts.add(name, role, PASSWORD, by="Noor")  # type: ignore[arg-type]
        accounts.close()
        ways: dict[str, tuple[tuple[str, ...], Callable[[Camera, Visitor], None]]] = {
            "own": ((), own_pc), "shared": (("--share", "--address", "127.0.0.1"), shared),
        }  # fmt: skip
        for name, (more, take) in ways.items():
            if options.only in (None, name):
                server = Server(shop / name, records=records, more=more)
                try:
                    time.sleep(8)  # the workers start
                    take(camera, Visitor(browser, server.address))
                finally:
                    server.close()
    print(f"{len(list(options.to.glob('*.webp')))} pictures in {options.to}")


if __name__ == "__main__":
    main()
