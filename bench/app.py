"""How long the app takes from the last key to the new answer on screen, in a real browser.  Run by hand.

``python bench/app.py``: starts the app on a port of its own, types into the plan page of an example, and watches the
page change.  Medians, in ms; needs Debian's chromium.
"""

from __future__ import annotations

import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "tests"))
from web.chromium import CHROMIUM, Browser  # noqa: E402

RUNS = 15
SERVE = """import sys
from heldtrue.commands.app import app_
if __name__ == "__main__":
    app_(port=int(sys.argv[1]), records=sys.argv[2], show=False)
"""
WATCH = """window.from = 0; window.took = [];
new MutationObserver(() => {
  const said = document.body.innerText.match(/Checked at the stated ([0-9.]+) bar/);
  if (said && window.wanted === said[1]) { window.took.push(performance.now() - window.from); window.wanted = null; }
}).observe(document.body, {subtree: true, childList: true, characterData: true});"""
FULL = """(() => { window.from = performance.now(); window.began = window.done = 0;
const poll = setInterval(() => { const busy = document.querySelector('.busy.on');
  if (busy) window.began = 1;
  if (window.began && !busy) { window.done = performance.now() - window.from; clearInterval(poll); } }, 10); })()"""


def main() -> None:
    if CHROMIUM is None:
        raise SystemExit("chromium is not installed")
    with tempfile.TemporaryDirectory() as folder, socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
        free.close()
        script = Path(folder) / "serve.py"
        script.write_text(SERVE)
        server = subprocess.Popen(
            [sys.executable, str(script), str(port), f"{folder}/records"],
            cwd=ROOT, env={**os.environ, "OPENBLAS_NUM_THREADS": "1"}, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        browser = Browser()
        try:
            time.sleep(12)
            measure(browser, f"http://127.0.0.1:{port}")
        finally:
            browser.close()
            server.terminate()
            server.wait(30)


def measure(browser: Browser, address: str) -> None:
    browser.open(address)
    browser.until("document.body.innerText.includes('Wear ring')")
    began = time.perf_counter()
    browser.run("""[...document.querySelectorAll('.row-line')].find(one => one.innerText.includes('Wear ring'))
        .querySelector('button').click()""")
    browser.until("document.body.innerText.includes('Worked out in full')", 90)
    say("an example opened and planned", [1000 * (time.perf_counter() - began)])
    browser.run(WATCH)
    for number in range(RUNS):
        pressure = f"{8 + 0.1 * number:.1f}"
        browser.run(f"window.wanted = '{pressure}'; window.from = performance.now()")
        browser.type_into("Pressure", pressure)
        time.sleep(1.5)
    say("a new pressure, first answer", browser.run("window.took"))
    browser.press("Jaws")
    time.sleep(0.5)
    times = []
    for height in range(51, 58):
        browser.run(FULL)
        browser.type_into("Height of one jaw", str(height))
        times.append(browser.until("window.done", 30))
    say("a new jaw, full answer", times)


def say(what: str, times: list[float]) -> None:
    print(f"{what:36} median {statistics.median(times):6.0f} ms, most {max(times):6.0f} ms, {len(times)} times")


if __name__ == "__main__":
    main()
