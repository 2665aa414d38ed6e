"""A real browser meets the real server: a pressure is typed, the verdict changes, nothing is asked for elsewhere."""

import os
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from heldtrue.web import texts
from web.chromium import CHROMIUM, Browser

SERVE = """
import sys
from heldtrue.commands.app import app_
if __name__ == "__main__":
    app_(port=int(sys.argv[1]), records=sys.argv[2], share=False, show=False)
"""


# As the library sees it this is no test: it would serve on a port of its own choosing.
CLEAN = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST", "NICEGUI"))}


@pytest.fixture
def address(tmp_path):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    script = tmp_path / "serve.py"
    script.write_text(SERVE)
    process = subprocess.Popen(
        [sys.executable, str(script), str(port), str(tmp_path / "records")],
        cwd=Path(__file__).parents[2], env=CLEAN,
        stdout=subprocess.DEVNULL,
    )  # fmt: skip
    for _ in range(600):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                break
        assert process.poll() is None, "the server ended"
        time.sleep(0.1)
    yield f"http://127.0.0.1:{port}"
    process.terminate()
    process.wait(30)


def says(words):
    return f"document.body.innerText.includes({words!r})"


@pytest.mark.skipif(CHROMIUM is None, reason="Debian's chromium is not installed: apt-get install chromium")
def test_a_pressure_typed_in_a_browser_changes_the_verdict(address):
    browser = Browser()
    try:
        browser.open(address)
        browser.until(says("Wear ring, second side"))
        browser.run("""[...document.querySelectorAll('.row-line')].find(one => one.innerText.includes('Wear ring'))
            .querySelector('button').click()""")
        browser.until(says(texts.VERDICTS["passes"]), 90)
        browser.type_into("Pressure", "9,0")
        browser.until(says(texts.VERDICTS["fails"]))
        browser.until(says("9.00 bar = 131 psi"))
        small = browser.run("""[...document.querySelectorAll('button, [role=tab], .top a')]
            .map(one => [one.innerText, one.getBoundingClientRect()])
            .filter(([_, box]) => box.width && box.height < 47.5)
            .map(([words]) => words)""")
        assert small == [], "12 mm are 48 px at least, for gloves"
        wide = browser.run("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0
        browser.size(800, 1280)
        assert browser.run("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
        browser.open(f"{address}/plan/wear-ring")
        browser.until(says(texts.VERDICTS["fails"]))
        assert browser.run("document.querySelector('input[aria-label=Pressure]').value") == "9,0"
        assert browser.strangers == []
        assert browser.errors == []
    finally:
        browser.close()
