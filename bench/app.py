"""How long the app takes from the last key to the new answer on screen, in a real browser.  Run by hand.

``python bench/app.py``: starts the app on a port of its own, types into the plan page of an example, and watches the
page change.  Medians, in ms; needs Debian's chromium.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "tests"))
from web.chromium import CHROMIUM, Server, Visitor, open_browser, open_setup  # noqa: E402

RUNS = 15
WATCH = """() => { window.from = 0; window.took = [];
new MutationObserver(() => {
  const said = document.body.innerText.match(/Checked at the stated ([0-9.]+) bar/);
  if (said && window.wanted === said[1]) { window.took.push(performance.now() - window.from); window.wanted = null; }
}).observe(document.body, {subtree: true, childList: true, characterData: true}); }"""
FULL = """() => { window.from = performance.now(); window.began = window.done = 0;
const poll = setInterval(() => { const busy = document.querySelector('.busy.on');
  if (busy) window.began = 1;
  if (window.began && !busy) { window.done = performance.now() - window.from; clearInterval(poll); } }, 10); }"""


def main() -> None:
    if CHROMIUM is None:
        raise SystemExit("chromium is not installed")
    with tempfile.TemporaryDirectory() as folder:
        server = Server(folder)
        try:
            time.sleep(12)  # the workers start
            with open_browser() as browser:
                measure(Visitor(browser, server.address))
        finally:
            server.close()


def measure(visitor: Visitor) -> None:
    page = visitor.page
    began = time.perf_counter()
    open_setup(visitor)
    say("an example opened and planned", [1000 * (time.perf_counter() - began)])
    page.evaluate(WATCH)
    pressure = page.get_by_label("Pressure", exact=True).first
    for number in range(RUNS):
        wanted = f"{8 + 0.1 * number:.1f}"
        page.evaluate(f"() => {{ window.wanted = '{wanted}'; window.from = performance.now(); }}")
        pressure.fill(wanted)
        time.sleep(1.5)
    say("a new pressure, first answer", page.evaluate("window.took"))
    page.get_by_role("tab", name="Jaws").click()
    time.sleep(0.5)
    height, times = page.get_by_label("Height of one jaw", exact=True).first, []
    for value in range(51, 58):
        page.evaluate(FULL)
        height.fill(str(value))
        times.append(page.wait_for_function("() => window.done", timeout=30_000).json_value())
    say("a new jaw, full answer", times)


def say(what: str, times: list[float]) -> None:
    print(f"{what:36} median {statistics.median(times):6.0f} ms, most {max(times):6.0f} ms, {len(times)} times")


if __name__ == "__main__":
    main()
