"""The API of a whole shared app, over its door, with keys; and its solves in real worker processes."""

import asyncio

import httpx
import pytest

from heldtrue.records import JawSet
from heldtrue.web.api import make_api
from heldtrue.web.pool import Pool
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES
from web.test_shared import shared  # noqa: F401  a fixture

SETUP = open_example(EXAMPLES, "winch-shaft")


def test_a_key_looks_or_sets_up(shared):  # noqa: F811
    async def steps(user, desk, as_):
        desk.store.write(JawSet(id="W-12", style="wide", material="steel"), by="Noor")
        user.http_client.headers.pop("cookie", None)
        accounts = desk.door.accounts

        async def ask(key, method, path, body=None):
            headers = {"authorization": f"Bearer {key}"}
            return await user.http_client.request(method, f"/api{path}", json=body, headers=headers)

        assert (await ask("guessed", "GET", "/shelf")).status_code == 401
        look = accounts.make_token("Sam", "display", "look", by="Sam")
        assert [one["jaw_set"] for one in (await ask(look, "GET", "/shelf")).json()] == ["W-12"]
        refused = await ask(look, "POST", "/shelf/out", {"jaw_set": "W-12"})
        assert refused.status_code == 403
        assert refused.json()["error"]["kind"] == "refused"
        key = accounts.make_token("Kim", "cell", "set up", by="Kim")
        assert (await ask(key, "POST", "/shelf/out", {"jaw_set": "W-12", "by": "Noor"})).status_code == 422
        assert desk.store.standing("W-12").holder == ""
        assert (await ask(key, "POST", "/shelf/out", {"jaw_set": "W-12"})).status_code == 200
        (row,) = desk.store.history("W-12").rows
        assert row.by == "Kim"

    shared(steps)


@pytest.mark.long
def test_questions_and_answers_find_their_way_to_a_worker_process_and_back(desk):
    desk.pool = Pool(lanes=1)
    body = {"id": "winch-shaft", "setup": SETUP, "by": "Noor"}
    questions = {
        "/contact": {"setup": SETUP},
        "/recut": {"setup": open_example(EXAMPLES, "gland-flange-repeat")},
        "/move": {"setup": SETUP, "chuck": {**SETUP["chuck"], "units": "metric"}},
        "/indicator": {"typed": "1 2 3 4 5 6", "setup": SETUP, "surface": "drum seat"},
        "/drift": {"measurements": "size_mm\n1\n2\n3", "limits": [{"name": "size_mm", "low": "0.5"}]},
        "/shelf/cut": body,
        "/learn": {**body, "touch": "base", "gap": "0.05 mm"},
        "/taper": {"setup": SETUP, "touch": "base", "gap": "0.05 mm"},
        "/shelf/find": {"setup": SETUP},
    }

    async def all_of_them():
        transport = httpx.ASGITransport(make_api(desk))
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1", timeout=120) as client:
            return {path: await client.post(path, json=asked) for path, asked in questions.items()}

    for path, answer in asyncio.run(all_of_them()).items():
        assert answer.status_code == 200, (path, answer.text)
