import asyncio
import json
import sqlite3
from types import SimpleNamespace

import httpx
import jsonschema
import pytest

from heldtrue.planning.boring_document import bore_schema
from heldtrue.planning.document import plan_schema
from heldtrue.records import RecordsError, StartDecision
from heldtrue.web.access.door import VIEWER
from heldtrue.web.api import make_api
from heldtrue.web.pool import WorkerLostError
from heldtrue.web.sources import open_example
from heldtrue.web.who import Viewer
from web.in_process import EXAMPLES

SETUP = open_example(EXAMPLES, "wear-ring")
WITH_TEMPLATE = {**SETUP, "boring": {**SETUP["boring"], "template": "/etc/passwd"}}


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


READS = {
    "/plan", "/measure", "/assumptions", "/compare", "/ways", "/contact", "/bore", "/recut", "/move", "/materials",
    "/indicator", "/taper", "/drift", "/learned", "/shelf", "/shelf/show/{jaw_set}", "/shelf/search", "/shelf/find",
    "/chucks", "/chucks/log/{chuck}", "/setups", "/setups/show/{id}", "/setups/file/{id}", "/stock", "/ring/design",
    "/ring/read", "/friction/read", "/replan/standing",
}  # fmt: skip
WRITES = {
    "/start", "/learn", "/setups/enter", "/runs/add", "/shelf/add", "/shelf/cut", "/shelf/out", "/shelf/in",
    "/shelf/condition", "/shelf/retire", "/chucks/add", "/chucks/gauge", "/chucks/grease", "/stock/machine",
    "/stock/blank", "/stock/rings", "/stock/tool", "/stock/revision", "/ring/enter", "/friction/enter",
    "/replan", "/replan/seen",
}  # fmt: skip


def test_it_describes_itself(ask):
    found = ask("/openapi.json", method="GET").json()
    assert set(found["paths"]) == READS | WRITES
    for path, ways in found["paths"].items():
        for one in ways.values():
            assert one["summary"].endswith(("?", ".")), path
            assert len(one["responses"]["200"]["description"]) > 20, path
            assert one["summary"].endswith("Recorded.") == (path in WRITES), "the list says what is written down"
    assert "//" not in json.dumps(found["paths"])
    assert ask("/docs", method="GET").status_code == 404


def test_the_page_of_the_api_has_every_operation(ask):
    page = (EXAMPLES.parent / "docs" / "api.md").read_text(encoding="utf-8")
    for path, ways in ask("/openapi.json", method="GET").json()["paths"].items():
        for way in ways:
            assert f"| `{way.upper()} {path}` |" in page


class Key:
    """The API of a shared app, as whoever has this key meets it."""

    def __init__(self, desk, viewer):
        self.trail, self.viewer, self.api = [], viewer, make_api(desk)
        desk.door = SimpleNamespace(accounts=SimpleNamespace(note=lambda *line: self.trail.append(line)))

    async def __call__(self, scope, receive, send):
        scope[VIEWER] = self.viewer
        await self.api(scope, receive, send)

    def ask(self, method, path, body=None):
        async def once():
            transport = httpx.ASGITransport(self, raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
                return await client.request(method, path, json=body)

        return asyncio.run(once())

    def every(self):
        for path, ways in self.ask("GET", "/openapi.json").json()["paths"].items():
            for way in ways:
                yield path, self.ask(way, path, None if way == "get" else {})


def rows(desk):
    found = []
    desk.store.read_rows(lambda every: found.extend(repr(one) for one in every))
    return sorted(found)


def test_who_may_look_asks_everything_and_writes_nothing(desk):
    before = rows(desk)
    for path, answer in Key(desk, Viewer("Sam", "look")).every():
        if path in WRITES:
            assert "may only look" in problems(answer, 403, "refused")[0], path
        else:
            assert answer.status_code in (200, 400, 422), path
    assert rows(desk) == before


def test_who_may_not_is_refused_also_where_that_cannot_be_written_down(desk):
    key = Key(desk, Viewer("Sam", "look"))

    def full(*_):
        raise sqlite3.OperationalError("database or disk is full")

    desk.door.accounts.note = full
    assert key.ask("POST", "/chucks/add", {}).status_code == 403


def test_without_a_key_nothing_is_answered(desk):
    for path, answer in Key(desk, None).every():
        assert problems(answer, 403, "refused"), path


def test_what_is_written_stands_under_the_name_of_the_key(desk):
    key = Key(desk, Viewer("Kim", "set up"))
    body = {"jaw_set": "W-12", "style": "wide", "material": "aluminium 6061-T6", "place": "rack 1"}
    assert "another name" in problems(key.ask("POST", "/shelf/add", {**body, "by": "Noor"}), 422)[0]
    assert key.ask("POST", "/shelf/add", body).status_code == 200
    for path, more in (("/shelf/out", {}), ("/shelf/in", {"place": "rack 2"}), ("/shelf/condition", {"state": "good"})):
        assert "another name" in problems(key.ask("POST", path, {"jaw_set": "W-12", "by": "Noor", **more}), 422)[0]
        assert key.ask("POST", path, {"jaw_set": "W-12", "by": "Kim", **more}).status_code == 200
    history = desk.store.history("W-12")
    assert {row.by for row in history.rows} == {"Kim"}
    assert len(history.rows) == 4


def test_at_this_pc_a_name_is_asked_for(ask):
    body = {"jaw_set": "W-12", "style": "wide", "material": "C45"}
    assert "name" in problems(ask("/shelf/add", body), 422)[0]
    assert "name" in problems(ask("/shelf/add", {**body, "by": "  "}), 422)[0]


@pytest.mark.parametrize(
    ("path", "body", "status", "words"),
    [
        ("/shelf/out", {"jaw_set": "W-1", "by": "N"}, 422, "no jaw set W-1"),
        ("/shelf/out", {"jaw_set": "W-1", "by": "N", "place": "x"}, 400, "place"),
        ("/shelf/out", {"jaw_set": "W" * 101, "by": "N"}, 400, "100"),
        ("/shelf/in", {"jaw_set": "W-1", "by": "N", "missing": ["2"]}, 400, "missing"),
        ("/chucks/gauge", {"chuck": "C-1", "pressure": "20 bar", "force": "62 kN", "by": "N"}, 422, "no chuck C-1"),
        ("/chucks/add", {"chuck": "C-1", "plate": {"use": "/etc/passwd", "units": "metric"}, "by": "N"}, 422, "use"),
        ("/chucks/add", {"chuck": "C-1", "plate": {"units": "metric"}, "by": "N"}, 422, "max_draw_force"),
        ("/stock/blank", {"id": "B", "jaws": {"use": "/etc/passwd", "units": "metric"}, "by": "N"}, 422, "use"),
        ("/stock/tool", {"tool": {"use": "/etc/passwd", "units": "metric"}, "by": "N"}, 422, "use"),
        ("/stock/rings", {"rings": [{"use": "/etc/passwd"}], "by": "N"}, 422, "use"),
        ("/move", {"setup": SETUP, "chuck": {"use": "/etc/passwd", "units": "metric"}}, 422, "use"),
        ("/move", {"setup": SETUP, "chuck": "examples/chucks/250-wedge.toml"}, 422, "no chuck"),
        ("/runs/add", {"id": "../../etc/passwd", "by": "N"}, 422, "no setup"),
        ("/runs/add", {"id": "examples/wear-ring.toml", "by": "N"}, 422, "no setup"),
        ("/runs/add", {"id": "a", "setup": SETUP, "by": "N", "pressure": "-3 bar"}, 422, "pressure"),
        ("/indicator", {}, 422, "either readings"),
        ("/indicator", {"typed": "0:1", "surface": "bore"}, 422, "need a setup"),
        ("/indicator", {"readings": "a,b\n1,2", "unit": "um"}, 422, "unit is for typed"),
        ("/indicator", {"typed": "1 2 3"}, 422, "found 3 readings"),
        ("/indicator", {"typed": "1 2 3 4 5 6", "tolerance": "much"}, 422, "tolerance"),
        ("/taper", {"setup": SETUP, "gap": "0.1 mm"}, 422, "which end touches"),
        ("/taper", {"setup": SETUP, "touch": "base"}, 422, "length"),
        ("/taper", {"setup": SETUP, "touch": "all", "over": "8 mm"}, 422, "give parts"),
        ("/taper", {"setup": SETUP, "parts": "50.0 wide"}, 422, "line 1"),
        ("/taper", {"setup": SETUP, "touch": "all", "length": "8 mm"}, 422, "no end"),
        ("/learn", {"id": "a", "setup": SETUP, "by": "N"}, 422, "nothing was read"),
        ("/indicator", {"typed": "1 2 3 4 5 6", "dial": "D-7"}, 422, "needs a setup"),
        ("/learn", {"id": "a", "setup": SETUP, "by": "N", "dial": "D-7", "touch": "all"}, 422, "readings or"),
        ("/learn", {"id": "a", "setup": SETUP, "by": "N", "force": "60 kN"}, 422, "needs pressure"),
        ("/learn", {"id": "a", "setup": SETUP, "by": "N", "power": "3 kW"}, 422, "cut, power, idle and speed"),
        (
            "/learn",
            {
                "id": "a",
                "setup": SETUP,
                "by": "N",
                "cut": "rough land",
                "power": "3 kW",
                "idle": "300 W",
                "speed": "400",
            },
            422,
            "no chuck CH-04",
        ),
        ("/drift", {"measurements": "size_mm\n1\n2", "limits": [{"name": "other", "low": "1"}]}, 422, "no column"),
        ("/drift", {"measurements": "size_mm\n1\n2", "limits": [{"name": "size", "low": "x"}]}, 422, "limits: size"),
        ("/contact", {"setup": SETUP, "pressure": "much"}, 422, "pressure"),
        ("/recut", {"setup": SETUP, "measured": "R40"}, 422, "radius"),
        ("/replan", {"material": "cheese"}, 422, "not known"),
        ("/replan", {"chuck": "C-1", "scheduler": "tcp://10.0.0.5:8786"}, 400, "scheduler"),
        ("/replan", {"chuck": 3}, 400, "chuck"),
        ("/replan/seen", {"id": "a", "by": "N"}, 422, "no setup"),
        ("/replan/seen", {"id": "a"}, 422, "name"),
        (
            "/shelf/find",
            {"setup": {**SETUP, "boring": {**SETUP["boring"], "template": "/etc/passwd"}}},
            422,
            "template",
        ),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_written(ask, desk, path, body, status, words):
    before = rows(desk)
    found = problems(ask(path, body), status)
    assert any(words in one for one in found), found
    assert not any("root:" in one for one in found)
    assert rows(desk) == before


def test_what_is_not_there_is_said(ask):
    for path in ("/shelf/show/W-1", "/chucks/log/C-1", "/setups/show/a", "/setups/file/a"):
        assert problems(ask(path, method="GET"), 422)
    problems(ask("/shelf", method="GET", params={"retired": "perhaps"}), 400)
    problems(ask("/shelf", method="GET", params={"other": "1"}), 400)


def test_a_fault_of_records_and_workers_is_no_fault_of_the_input(ask, desk, monkeypatch):
    async def lost(*_, **__):
        raise WorkerLostError("the worker is gone")

    def full(*_, **__):
        raise RecordsError("the disk is full")

    monkeypatch.setattr(desk.pool, "run", lost)
    assert problems(ask("/plan", SETUP), 503, "failed") == ["the worker is gone"]
    monkeypatch.setattr(desk.store, "write", full)
    body = {"jaw_set": "W-12", "style": "wide", "material": "C45", "by": "Noor"}
    assert problems(ask("/shelf/add", body), 503, "failed") == ["the disk is full"]


def test_half_a_character_is_refused_in_words(ask):
    odd = b'{"jaw_set": "a", "by": "N", "\\ud800": 1}'
    problems(ask("/shelf/out", content=odd, headers={"content-type": "application/json"}), 400)
    odd = b'{"jaw_set": "\\ud800", "by": "N"}'
    problems(ask("/shelf/out", content=odd, headers={"content-type": "application/json"}), 400)


def test_a_bare_number_off_the_gauge_is_in_the_unit_of_the_gauge(ask, desk):
    setup = open_example(EXAMPLES, "winch-shaft")
    assert setup["units"] == "metric", "its gauge shows psi"
    answer = ask("/start", {"setup": setup, "id": "winch-shaft", "gauge": "395", "by": "Noor"})
    assert answer.json()["may"] is True
    (row,) = desk.store.events(StartDecision)
    assert row.gauge_text == "395 psi"
    assert row.gauge_pressure == pytest.approx(2.7234, rel=1e-3)
