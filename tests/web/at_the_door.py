"""What the tests of the door share: people, a clock that is moved, and browsers before the door."""

import asyncio
import json
from datetime import UTC, datetime

import httpx
import pytest

from heldtrue.web.access import passwords
from heldtrue.web.access.accounts import Accounts
from heldtrue.web.access.door import VIEWER, Door
from heldtrue.web.guard import Guard

GOOD, OTHER = "three wet horses", "four dry camels"


@pytest.fixture(autouse=True)
def light_hashes(monkeypatch):
    """The same algorithm with little memory: a hundred tries must not take a minute."""
    from argon2 import PasswordHasher

    light = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    monkeypatch.setattr(passwords, "_hasher", light)
    monkeypatch.setattr(passwords, "_NOBODY", light.hash("nobody has this password"))


class Clock:
    def __init__(self):
        self.at = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)

    def __call__(self):
        return self.at

    def go(self, step):
        self.at += step


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def accounts(tmp_path, clock):
    made = Accounts(tmp_path, clock)
    made.add("Noor", "administer", GOOD, by="test")
    made.add("Sam", "look", OTHER, by="test")
    yield made
    made.close()


async def inner(scope, receive, send):
    viewer = scope.get(VIEWER)
    await send({"type": "http.response.start", "status": 200, "headers": []})
    body = {"name": viewer.name, "role": viewer.role, "scope": [key for key, _ in scope["headers"]]}
    await send({"type": "http.response.body", "body": json.dumps(body, default=bytes.decode).encode()})


class Shop:
    """A browser before the door."""

    def __init__(self, accounts, address="10.0.0.7", secure=False, attempts=None):
        self.door = Door(accounts, secure=secure, attempts=attempts)
        self.address, self.cookies = address, httpx.Cookies()
        self.base = "https://shop-pc:8475" if secure else "http://shop-pc:8475"

    async def aask(self, method, path, **more):
        app = Guard(inner, hosts=("shop-pc",), door=self.door)
        transport = httpx.ASGITransport(app, client=(self.address, 5555))
        async with httpx.AsyncClient(transport=transport, base_url=self.base, cookies=self.cookies) as client:
            answer = await client.request(method, path, **more)
            self.cookies = client.cookies
            return answer

    def ask(self, method, path, **more):
        return asyncio.run(self.aask(method, path, **more))

    def log_in(self, name="Noor", password=GOOD, **more):
        return self.ask("POST", "/login", data={"name": name, "password": password, **more})


@pytest.fixture
def shop(accounts):
    return Shop(accounts)
