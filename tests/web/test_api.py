import asyncio
import json

import httpx
import jsonschema
import pytest

from heldtrue.planning.boring_document import bore_schema
from heldtrue.planning.document import plan_schema
from heldtrue.records import StartDecision
from heldtrue.web.api import make_api
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES

SETUP = open_example(EXAMPLES, "wear-ring")


@pytest.fixture
def ask(desk):
    def asking(path, body=None, method="POST", **more):
        async def once():
            transport = httpx.ASGITransport(make_api(desk), raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
                return await client.request(method, path, json=body, **more)

        return asyncio.run(once())

    return asking


def problems(answer, status, kind="input"):
    assert answer.status_code == status, answer.text
    body = answer.json()
    assert set(body) == {"error"}
    assert set(body["error"]) == {"kind", "problems"}
    assert body["error"]["kind"] == kind
    return body["error"]["problems"]


def test_plan_is_the_document_of_the_command_line(ask):
    answer = ask("/plan", SETUP)
    assert answer.status_code == 200
    jsonschema.validate(answer.json(), plan_schema())
    assert answer.json()["verdict"] == "passes"


def test_bore(ask):
    answer = ask("/bore", SETUP)
    assert answer.status_code == 200
    jsonschema.validate(answer.json(), bore_schema())


def test_start_is_recorded(ask, desk):
    body = {"setup": SETUP, "id": "wear-ring", "gauge": "10.5 bar", "by": "Noor"}
    answer = ask("/start", body)
    assert answer.json()["may"] is True
    assert len(desk.store.events(StartDecision)) == 1
    assert "override" in problems(ask("/start", {**body, "gauge": "4 bar", "override": "no"}), 422)[0]
    assert len(desk.store.events(StartDecision)) == 1


def test_every_error_has_the_one_shape(ask):
    assert "grip: diameter" in problems(ask("/plan", {**SETUP, "grip": {**SETUP["grip"], "diameter": "abc"}}), 422)[0]
    problems(ask("/plan", []), 400)
    problems(ask("/plan", content=b"{", headers={"content-type": "application/json"}), 400)
    problems(ask("/start", {"setup": SETUP}), 400)
    problems(ask("/nothing", {}), 404, "refused")
    problems(ask("/plan", method="GET"), 405, "refused")


@pytest.mark.parametrize(
    "changed",
    [
        {"chuck": {"use": "/etc/passwd"}},
        {"chuck": {"use": "examples/chucks/250-wedge.toml"}},
        {"boring": {**SETUP["boring"], "template": "/etc/passwd"}},
        {"boring": {**SETUP["boring"], "template": "neutral.toml"}},
    ],
)
def test_no_file_of_the_server_is_read(ask, changed):
    for path in ("/plan", "/bore"):
        found = problems(ask(path, {**SETUP, **changed}), 422)
        assert not any("root:" in one for one in found)


def test_a_fault_of_ours_is_said_without_its_insides(ask, desk, monkeypatch):
    async def breaks(*_, **__):
        raise RuntimeError("secret path /home/somebody")

    monkeypatch.setattr(desk.pool, "run", breaks)
    answer = ask("/plan", SETUP)
    assert "secret" not in answer.text
    problems(answer, 500, "failed")


def test_it_describes_itself(ask):
    found = ask("/openapi.json", method="GET").json()
    assert set(found["paths"]) == {"/plan", "/bore", "/start"}
    assert "//" not in json.dumps(found["paths"])
    assert ask("/docs", method="GET").status_code == 404
