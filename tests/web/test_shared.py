"""The whole app where it is open to the shop network: each may do what they may, and nothing beside it."""

import asyncio
import socket
from pathlib import Path

import pytest
from nicegui import ui
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.commands.app import _greeting
from heldtrue.errors import InputError
from heldtrue.records import ChuckRecord, JawSet, StartDecision
from heldtrue.web import texts
from heldtrue.web.access.accounts import Accounts
from heldtrue.web.access.door import VIEWER
from heldtrue.web.server import Network
from heldtrue.web.sources import open_example
from web.in_process import at_rest, until

GOOD = "three wet horses"


@pytest.fixture
def shared(visit, tmp_path, monkeypatch):
    """Run a visit to a shared app: ``shared(steps)`` with ``async def steps(user, desk, as_)``."""
    monkeypatch.setenv("HELDTRUE_TEST_SHARED", "yes")
    accounts = Accounts(tmp_path / "records")
    accounts.add("Noor", "administer", GOOD, by="test")
    accounts.add("Kim", "set up", GOOD, by="test")
    accounts.add("Sam", "look", GOOD, by="test")
    accounts.close()

    def run(steps):
        async def all_of_it(user, desk):
            def as_(name):
                user.http_client.cookies.clear()
                user.http_client.headers["cookie"] = f"heldtrue={desk.door.accounts.log_in(name, '10.0.0.7')}"

            await steps(user, desk, as_)

        visit(all_of_it)

    return run


def everything(desk):
    """All there is to change, as it is kept."""
    drafts = {path.name: path.read_bytes() for path in desk.drafts.folder.parent.rglob("*.json")}
    rows = []
    desk.store.read_rows(lambda found: rows.extend(repr(one) for one in found))
    return drafts, sorted(rows)


def test_who_may_only_look_changes_nothing_whatever_they_press_and_type(shared, only_styles):
    only_styles("pie")

    async def steps(user, desk, as_):
        desk.store.write(JawSet(id="W-12", style="wide", material="aluminium 6061-T6"), by="Noor")
        desk.store.write(ChuckRecord(id="250-a", name="250 wedge"), by="Noor")
        desk.drafts.new("wear-ring", open_example(desk.examples, "wear-ring"), own_files=True)
        before, pressed, filled = everything(desk), 0, 0
        as_("Sam")
        for page in (
            "/",
            "/plan/wear-ring",
            "/start/wear-ring",
            "/jaws/wear-ring",
            "/compare/wear-ring",
            "/shelf",
            "/shelf/W-12",
            "/chucks",
            "/chucks/250-a",
            "/readings",
            "/readings/wear-ring",
            "/scan",
            "/scan/NEW-7",
            "/shelf/for/wear-ring",
            "/setups/wear-ring",
            "/setups/wear-ring/move",
            "/stock",
        ):
            await user.open(page)
            await at_rest(desk)
            for entry in [one for one in user.client.elements.values() if isinstance(one, ui.input)]:
                entry.value = "12"
                filled += 1
            await at_rest(desk)
            assert any(
                texts.LOOK_ONLY in one.content for one in user.client.elements.values() if isinstance(one, ui.html)
            )
            for pushed in [one for one in user.client.elements.values() if isinstance(one, ui.button)]:
                for listener in pushed._event_listeners.values():
                    if listener.type == "click":
                        pushed._handle_event({"listener_id": listener.id, "args": {}})
                        pressed += 1
                        await asyncio.sleep(0)
            await at_rest(desk)
        assert everything(desk) == before
        assert pressed > 20
        assert filled > 20

    shared(steps)


def test_who_may_set_up_writes_under_their_own_name(shared):
    async def steps(user, desk, as_):
        as_("Kim")
        desk.store.write(JawSet(id="W-12", style="wide", material="aluminium 6061-T6"), by="Noor")
        await user.open("/shelf/W-12")
        await user.should_see("Kim")
        (box,) = user.find(marker="name").elements
        box.value = "Noor"
        user.find(marker="check-out").click()
        await until(lambda: desk.store.history("W-12").rows)
        with pytest.raises(InputError, match="under another name"), user.client:
            await desk.write(JawSet(id="W-13", style="wide", material="aluminium 6061-T6"), by="Noor")
        assert [row.by for row in desk.store.history("W-12").rows] == ["Kim"]
        await user.open("/people")
        await user.should_see("may only set up")

    shared(steps)


def test_people_are_let_in_and_out(shared):
    async def steps(user, desk, as_):
        as_("Noor")
        await user.open("/people")
        await user.should_see("Sam")
        for mark, words in (("new-name", "Ada"), ("new-password", "six blue wagons")):
            (box,) = user.find(marker=mark).elements
            box.value = words
        user.find(marker="add-person").click()
        trail = user.find(marker="trail").elements
        await until(lambda: any("Ada, look" in one.content for one in trail))
        assert desk.door.accounts.is_password_of("Ada", "six blue wagons")
        (role,) = user.find(marker="role-Sam").elements
        role.value = "set up"
        user.find(marker=f"{texts.CHANGE_ROLE}-Sam").click()
        await until(lambda: {one.name: one.role for one in desk.door.accounts.people()}["Sam"] == "set up")

    shared(steps)


def test_own_password_and_keys(shared):
    async def steps(user, desk, as_):
        as_("Kim")
        await user.open("/me")
        for mark, words in (("old-password", "wrong wrong"), ("new-password", "six blue wagons"),
                            ("again", "six blue wagons")):  # fmt: skip
            (box,) = user.find(marker=mark).elements
            box.value = words
        user.find(marker="change-password").click()
        await until(lambda: user.notify.messages)
        assert desk.door.accounts.is_password_of("Kim", GOOD)
        (box,) = user.find(marker="old-password").elements
        box.value = GOOD
        user.find(marker="change-password").click()
        await until(lambda: desk.door.accounts.is_password_of("Kim", "six blue wagons"))
        (box,) = user.find(marker="token-for").elements
        box.value = "hall display"
        user.find(marker="make-token").click()
        (shown,) = user.find(marker="token").elements
        await until(lambda: shown.text)
        assert desk.door.accounts.of_token(shown.text.rpartition(" ")[2]).name == "Kim"
        user.find(marker="take-back-hall display").click()
        await until(lambda: desk.door.accounts.tokens("Kim") == [])

    shared(steps)


def test_a_page_that_stays_open_after_its_login_ended_changes_nothing(shared):
    async def steps(user, desk, as_):
        desk.drafts.new("wear-ring", open_example(desk.examples, "wear-ring"), own_files=True)
        as_("Kim")
        await user.open("/plan/wear-ring")
        await at_rest(desk)
        before = everything(desk)
        desk.door.accounts.log_out_everywhere("Kim", by="Noor")
        (box,) = user.find(marker="run.pressure").elements
        box.value = "9"
        await until(lambda: texts.LOGIN_ENDED in user.notify.messages)
        assert everything(desk) == before

    shared(steps)


def test_the_api_starts_under_the_name_of_the_key(shared):
    async def steps(user, desk, as_):
        accounts = desk.door.accounts
        table = open_example(desk.examples, "wear-ring")
        question = {"setup": table, "id": "wear-ring", "gauge": "10 bar"}
        user.http_client.headers.pop("cookie", None)

        async def ask(key, **more):
            headers = {"authorization": f"Bearer {key}"}
            return await user.http_client.post("/api/start", json={**question, **more}, headers=headers)

        assert (await ask("guessed")).status_code == 401
        look = accounts.make_token("Sam", "display", "look", by="Sam")
        answer = await ask(look)
        assert answer.status_code == 403
        assert answer.json()["error"]["kind"] == "refused"
        key = accounts.make_token("Kim", "cell", "set up", by="Kim")
        assert (await ask(key, by="Noor")).status_code == 422
        answer = await ask(key)
        assert answer.status_code == 200
        assert answer.json()["recorded"].startswith("Kim, ")
        assert {row.by for row in desk.store.events(StartDecision)} == {"Kim"}

    shared(steps)


def test_somebody_who_knows_the_page_of_another_does_not_act_as_them(shared):
    async def steps(user, desk, as_):
        as_("Sam")
        await user.open("/shelf")
        assert user.client.request.scope[VIEWER].name == "Sam"

    shared(steps)


# The command line

run = CliRunner()


def test_users_by_command(tmp_path):
    place = ["--records", str(tmp_path)]

    def asked(*words, input=None):
        return run.invoke(app, ["user", *words, *place], input=input)

    assert "nobody may log in yet" in asked("list").output
    assert asked("add", "Noor", "--role", "administer", "--password-stdin", input=f"{GOOD}\n").exit_code == 0
    assert asked("add", "Sam", input=f"{GOOD}\n{GOOD}\n").exit_code == 0
    assert asked("add", "Kim", "--password-stdin", input="short\n").exit_code == 2
    assert asked("role", "Sam", "--role", "set up").exit_code == 0
    assert "Sam: set up" in asked("list").output
    assert asked("password", "Sam", "--password-stdin", input="six blue wagons\n").exit_code == 0
    assert asked("remove", "Noor", "--yes").exit_code == 2
    assert asked("remove", "Sam", input="n\n").exit_code == 2
    assert asked("remove", "Sam", "--yes").exit_code == 0
    assert "person removed, Sam" in asked("trail").output


def test_a_shared_app_does_not_open_without_an_administrator(tmp_path):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    words = ["app", "--share", "--no-show", "--port", port, "--records", str(tmp_path)]
    answer = run.invoke(app, words)
    assert answer.exit_code == 2
    assert "heldtrue user add" in answer.output
    run.invoke(app, ["user", "add", "Sam", "--password-stdin", "--records", str(tmp_path)], input=f"{GOOD}\n")
    assert run.invoke(app, words).exit_code == 2, "somebody who may only look is not enough"
    answer = run.invoke(app, [*words, "--certificate", str(tmp_path / "none.pem")])
    assert "go together" in answer.output
    answer = run.invoke(app, [*words, "--certificate", str(tmp_path / "a"), "--key", str(tmp_path / "b")])
    assert "cannot be used" in answer.output


def test_what_is_said_at_the_start():
    (line,) = _greeting("place", 8475, None)
    assert "127.0.0.1" in line
    shared = _greeting("place", 8475, Network(names=("lathe-pc",)))
    assert "http://lathe-pc:8475/" in shared
    assert shared[-1] == texts.IN_THE_CLEAR
    safe = _greeting("place", 8475, Network(certificate=Path("c"), key=Path("k"), names=("lathe-pc",)))
    assert "https://lathe-pc:8475/" in safe
    assert texts.IN_THE_CLEAR not in safe
