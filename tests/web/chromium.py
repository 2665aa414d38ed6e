"""A real browser for the tests and the screenshots: Debian's chromium, spoken to through its own debugging socket."""

import base64
import json
import shutil
import subprocess
import tempfile
import time
import urllib.request
from contextlib import ExitStack
from pathlib import Path

from websockets.sync.client import connect

CHROMIUM = shutil.which("chromium")


class Browser:
    """One page. Requests that leave 127.0.0.1 are written down in ``strangers``."""

    def __init__(self, width=1280, height=800):
        self.held = ExitStack()
        self.folder = tempfile.mkdtemp(prefix="heldtrue-chromium-")
        self.process = subprocess.Popen(
            [CHROMIUM, "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
             "--remote-debugging-port=0", f"--user-data-dir={self.folder}", f"--window-size={width},{height}",
             "--disable-background-networking", "--disable-component-update", "about:blank"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            self._begin(width, height)
        except BaseException:
            self.close()  # a browser nobody speaks to must not be left running
            raise

    def _begin(self, width, height):
        port = self._port()
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/json/list") as answer:
            page = next(one for one in json.load(answer) if one["type"] == "page")
        self.socket = self.held.enter_context(connect(page["webSocketDebuggerUrl"], max_size=None, open_timeout=30))
        self.count = 0
        self.strangers = []
        self.errors = []
        self.do("Page.enable")
        self.do("Network.enable")
        self.do("Runtime.enable")
        self.size(width, height)

    def size(self, width, height):
        self.do("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def _port(self):
        file = Path(self.folder) / "DevToolsActivePort"
        for _ in range(300):
            if file.exists() and (lines := file.read_text().splitlines()):
                return lines[0]
            time.sleep(0.1)
        raise TimeoutError("chromium did not open its debugging port")

    def do(self, method, **params):
        self.count += 1
        self.socket.send(json.dumps({"id": self.count, "method": method, "params": params}))
        while True:
            message = json.loads(self.socket.recv(timeout=30))
            self._heard(message)
            if message.get("id") == self.count:
                assert "error" not in message, message
                return message["result"]

    def _heard(self, message):
        if message.get("method") == "Network.requestWillBeSent":
            url = message["params"]["request"]["url"]
            if not url.startswith(("http://127.0.0.1", "data:", "blob:", "about:", "chrome")):
                self.strangers.append(url)
        if message.get("method") == "Runtime.exceptionThrown":
            self.errors.append(message["params"]["exceptionDetails"])

    def run(self, script):
        found = self.do("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in found, found["exceptionDetails"]
        return found["result"].get("value")

    def open(self, url):
        self.do("Page.navigate", url=url)

    def until(self, script, seconds=30.0):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                if found := self.run(script):
                    return found
            except AssertionError:
                pass
            time.sleep(0.02)
        raise TimeoutError(script + "\n" + str(self.run("document.body.innerText"))[:3000])

    def text(self):
        return self.run("document.body.innerText")

    def type_into(self, label, text):
        """Focus the input with this label, replace what it holds, as hands on a keyboard do."""
        self.run(f"""(() => {{ const box = [...document.querySelectorAll('input')]
            .find(one => one.getAttribute('aria-label') === {json.dumps(label)}); box.focus(); box.select(); }})()""")
        self.do("Input.insertText", text=text)

    def press(self, words):
        self.run(f"""[...document.querySelectorAll('button, [role=tab], a')]
            .find(one => one.innerText.trim() === {json.dumps(words)}).click()""")

    def picture(self, path, whole=False):
        found = self.do("Page.captureScreenshot", format="png", captureBeyondViewport=whole)
        Path(path).write_bytes(base64.b64decode(found["data"]))

    def close(self):
        self.held.close()
        self.process.terminate()
        self.process.wait(20)
        shutil.rmtree(self.folder, ignore_errors=True)
