"""The app under load: 50 people at once for two minutes, then 1,000 page loads and what memory they leave.

Run by hand: ``python bench/app_load.py [--people 50] [--seconds 120] [--loads 1000]``.  Starts the app on a port of its
own.  Each of the people is a socket and an http client that do what the browser does: load the plan of a setup of
their own, type pressures and wait for the answer, and look at the other pages.  Ends with 1 if anything failed.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import random
import re
import statistics
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path
from typing import Any, Self
from uuid import uuid4

import httpx
import socketio

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "tests"))
from web.chromium import Server  # noqa: E402

PAGES = ("/", "/shelf", "/chucks", "/stock", "/plan/{id}", "/jaws/{id}", "/start/{id}", "/readings/{id}", "/scan")
ESCAPED = (("&#36;", "$"), ("&#96;", "`"), ("&gt;", ">"), ("&lt;", "<"), ("&amp;", "&"))
PATIENCE = 30.0
"""The longest that anything may take before it counts as failed, s."""
RAMP = 30.0
"""Within this time everybody has come in, s; the time under load counts from its end."""


class Timings:
    """What was waited for, and what failed."""

    def __init__(self) -> None:
        self.took: dict[str, list[float]] = defaultdict(list)
        self.failed: list[str] = []

    def say(self) -> None:
        for what, times in self.took.items():
            times.sort()
            print(f"{what:32} {len(times):6} times   median {1000 * statistics.median(times):7.0f} ms   "
                  f"95 % {1000 * times[int(0.95 * (len(times) - 1))]:7.0f}   most {1000 * times[-1]:7.0f}")  # fmt: skip
        for one in self.failed[:10]:
            print("failed:", one)
        print(f"{len(self.failed)} failed")


class OpenPage:
    """A page of the app as its browser has it: the elements, and the socket that keeps them."""

    def __init__(self, http: httpx.AsyncClient, path: str) -> None:
        self.http, self.path, self.news = http, path, asyncio.Queue[str]()
        self.socket = socketio.AsyncClient(reconnection=False, request_timeout=PATIENCE)
        self.socket.on("update", self._update)
        self.elements: dict[str, Any] = {}
        self.client = ""

    async def __aenter__(self) -> Self:
        text = (await fetched(self.http, self.path)).text
        raw = re.search(r"parseElements\(String.raw`(.*?)`\), \{", text, re.DOTALL)
        known = re.search(r"query: \{'client_id': '([^']+)'", text)
        if raw is None or known is None:
            raise RuntimeError(f"no page at {self.path}")
        self.client, elements = known[1], raw[1]
        for escaped, sign in ESCAPED:
            elements = elements.replace(escaped, sign)
        self.elements = json.loads(elements)
        query = {"client_id": self.client, "next_message_id": 0, "implicit_handshake": "true",
                 "document_id": uuid4(), "tab_id": uuid4(), "old_tab_id": ""}  # fmt: skip
        asked = "&".join(f"{name}={value}" for name, value in query.items())
        await self.socket.connect(f"{self.http.base_url}?{asked}", socketio_path="/_nicegui_ws/socket.io",
                                  headers={"origin": str(self.http.base_url)}, transports=["websocket"],
                                  wait_timeout=PATIENCE)  # fmt: skip
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.socket.disconnect()

    async def _update(self, changed: dict[str, Any]) -> None:
        self.elements.update({id: element for id, element in changed.items() if element is not None})
        self.news.put_nowait(json.dumps(changed))

    async def emit(self, label: str, kind: str, *arguments: object) -> None:
        """What the browser sends when somebody touches the first element called ``label``."""
        id, element = next(
            (id, one) for id, one in self.elements.items()
            if (one.get("props") or {}).get("label") == label and any(e["type"] == kind for e in one.get("events", ()))
        )  # fmt: skip
        listener = next(event["listener_id"] for event in element["events"] if event["type"] == kind)
        await self.socket.emit("event", {"id": int(id), "client_id": self.client, "listener_id": listener,
                                         "args": [json.dumps(one) for one in arguments]})  # fmt: skip

    async def type(self, label: str, words: str, count: int) -> None:
        """A value typed over what the first field called ``label`` was last told."""
        shown = next(one["props"] for one in self.elements.values() if (one.get("props") or {}).get("label") == label)
        told = {"text": words, "base": shown["version"], "count": count, "own": True}
        await self.emit(label, "typed", told)

    async def told(self, words: str) -> None:
        """Wait until the server puts ``words`` on the page."""
        while words not in await asyncio.wait_for(self.news.get(), PATIENCE):
            pass


async def fetched(http: httpx.AsyncClient, path: str) -> httpx.Response:
    got = await http.get(path)
    got.raise_for_status()
    return got


async def somebody(address: str, id: str, until: float, think: float, timings: Timings) -> None:
    """One of the people: their own setup, a pressure now and then, a look at the other pages."""
    choice = random.Random(id)
    async with httpx.AsyncClient(base_url=address, timeout=PATIENCE, follow_redirects=True) as http:
        await asyncio.sleep(choice.uniform(0, RAMP))
        async with OpenPage(http, f"/plan/{id}") as page:
            number = 0
            while time.monotonic() < until:
                number += 1
                wanted = f"{8 + (number % 30) / 10:.1f}"
                began = time.perf_counter()
                await page.type("Pressure", wanted, number)
                await page.told(f"Checked at the stated {wanted} bar")
                timings.took["a new pressure, first answer"].append(time.perf_counter() - began)
                await asyncio.sleep(choice.uniform(0.5, 1.5) * think)
                began, path = time.perf_counter(), choice.choice(PAGES)
                await fetched(http, path.format(id=id))
                timings.took[f"page {path.partition('/{')[0]}"].append(time.perf_counter() - began)
                await asyncio.sleep(choice.uniform(0.5, 1.5) * think)


async def kept(work: Any, timings: Timings) -> None:
    """Do it; what goes wrong is written down, as the others go on."""
    try:
        await work
    except Exception as error:  # noqa: BLE001  whatever it is, it is a failure of the app under load
        timings.failed.append(f"{type(error).__name__}: {error}")


async def own_setup(address: str) -> str:
    """Open an example as a user does: the id of the new setup."""
    async with httpx.AsyncClient(base_url=address, timeout=PATIENCE) as http, OpenPage(http, "/") as page:
        gone = asyncio.get_running_loop().create_future()
        page.socket.on("open", lambda message: None if gone.done() else gone.set_result(message["path"]))
        await page.emit("Open", "click")
        return str(await asyncio.wait_for(gone, PATIENCE)).rpartition("/")[2]


async def crowd(address: str, people: int, seconds: float, think: float) -> Timings:
    """So many people for so long."""
    timings = Timings()
    ids = [await own_setup(address) for _ in range(people)]
    until = time.monotonic() + RAMP + seconds
    await asyncio.gather(*(kept(somebody(address, id, until, think, timings), timings) for id in ids))
    return timings


async def page_loads(server: Server, loads: int) -> Timings:
    """Pages opened and left again, five at a time, and the memory of the server on the way."""
    timings, id = Timings(), await own_setup(server.address)
    paths = [PAGES[number % len(PAGES)].format(id=id) for number in range(loads)]
    async with httpx.AsyncClient(base_url=server.address, timeout=PATIENCE, follow_redirects=True) as http:

        async def look(path: str) -> None:
            began = time.perf_counter()
            async with OpenPage(http, path):
                timings.took["page and socket"].append(time.perf_counter() - began)

        print(f"memory before: {memory(server)} MB")
        for start in range(0, loads, 5):
            await asyncio.gather(*(kept(look(path), timings) for path in paths[start : start + 5]))
            if (start + 5) % (loads // 5) == 0:
                print(f"memory after {start + 5} page loads: {memory(server)} MB")
    await asyncio.sleep(30)
    print(f"memory 30 s later: {memory(server)} MB")
    return timings


def memory(server: Server) -> int:
    """What the server process itself holds, MB (its workers not counted)."""
    status = Path(f"/proc/{server.process.pid}/status").read_text()
    return int(re.search(r"VmRSS:\s+(\d+)", status)[1]) // 1024  # type: ignore[index]


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--people", type=int, default=50)
    options.add_argument("--seconds", type=float, default=120)
    options.add_argument("--think", type=float, default=5, help="between two things somebody does, on average, s")
    options.add_argument("--loads", type=int, default=1000)
    asked = options.parse_args()
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        server = Server(folder)
        try:
            time.sleep(12)  # the workers start
            print(f"{asked.people} people, {asked.seconds:.0f} s, {asked.think:g} s between two things")
            timings = [asyncio.run(crowd(server.address, asked.people, asked.seconds, asked.think))]
            timings[0].say()
            print(f"memory: {memory(server)} MB")
            if asked.loads:
                timings.append(asyncio.run(page_loads(server, asked.loads)))
                timings[1].say()
            failed = sum(len(one.failed) for one in timings)
            print(server.complaints() or "the server complained of nothing")
        finally:
            server.close()
    raise SystemExit(1 if failed else 0)


if __name__ == "__main__":
    main()
