"""The whole app where it is open to the shop network: each may do what they may, and nothing beside it."""

import asyncio
import re
import socket
from pathlib import Path

import pytest
from nicegui import ui
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.commands.app import _check_certificate, _greeting, _people
from heldtrue.errors import InputError
from heldtrue.planning.hardware_file import chuck_from
from heldtrue.planning.toml_file import read_toml
from heldtrue.records import ChuckRecord, JawSet, StartDecision
from heldtrue.shop.stock import chuck_cards
from heldtrue.web import texts
from heldtrue.web.access import totp
from heldtrue.web.access.accounts import Accounts, utc_now
from heldtrue.web.access.door import VIEWER, Door
from heldtrue.web.server import Network
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES, at_rest, until

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


def typed(user, *entries):
    """Type words into boxes: ``(mark, words)``."""
    for mark, words in entries:
        (box,) = user.find(marker=mark).elements
        box.value = words


def everything(desk):
    """All there is to change, as it is kept."""
    drafts = {path.name: path.read_bytes() for path in desk.drafts.folder.parent.rglob("*.json")}
    rows = []
    desk.store.read_rows(lambda found: rows.extend(repr(one) for one in found))
    return drafts, sorted(rows)


QUICK_PAGES = ("/", "/plan/wear-ring", "/start/wear-ring", "/shelf", "/shelf/W-12", "/chucks", "/chucks/250-a",
               "/friction/wear-ring", "/readings/wear-ring", "/scan/NEW-7", "/setups/wear-ring", "/stock")  # fmt: skip
OTHER_PAGES = ("/jaws/wear-ring", "/compare/wear-ring", "/ways/wear-ring", "/chucks/CH-04/ring", "/friction",
               "/readings", "/scan", "/shelf/for/wear-ring", "/setups/wear-ring/move", "/part/{drawing}")  # fmt: skip


@pytest.mark.parametrize("pages", [pytest.param(QUICK_PAGES, id="quick"),
                                   pytest.param(OTHER_PAGES, id="others", marks=pytest.mark.long)])  # fmt: skip
def test_who_may_only_look_changes_nothing_whatever_they_press_and_type(shared, only_styles, pages):
    only_styles("pie", jaws=(3,))

    async def steps(user, desk, as_):
        desk.store.write(JawSet(id="W-12", style="wide", material="aluminium 6061-T6"), by="Noor")
        desk.store.write(ChuckRecord(id="250-a", name="250 wedge"), by="Noor")
        plate = chuck_from(read_toml(EXAMPLES / "chucks" / "250-wedge.toml"), "chuck")[1]
        desk.store.write(*chuck_cards(desk.store, "CH-04", plate, machine=None, grease_days=None), by="Noor")
        desk.drafts.new("wear-ring", open_example(desk.examples, "wear-ring"), own_files=True)
        drawing = desk.arrivals.add_shape("ring")
        before, pressed, filled = everything(desk), 0, 0
        as_("Sam")
        for page in pages:
            await user.open(page.format(drawing=drawing.id))
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
        assert list(desk.arrivals._kept.values()) == [drawing]
        assert drawing.typed == {}
        assert pressed > 20
        assert filled > 10

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
        typed(user, ("new-name", "Ada"), ("new-password", "six blue wagons"))
        for wrong in ("", "wrong wrong"):
            typed(user, ("own-password", wrong))
            user.notify.messages.clear()
            user.find(marker="add-person").click()
            await until(lambda: user.notify.messages)
        assert [one.name for one in desk.door.accounts.people()] == ["Kim", "Noor", "Sam"], "a tablet left open"
        typed(user, ("own-password", GOOD))
        user.find(marker="add-person").click()
        trail = user.find(marker="trail").elements
        await until(lambda: any("Ada, look" in one.content for one in trail))
        assert desk.door.accounts.is_password_of("Ada", "six blue wagons")
        (role,) = user.find(marker="role-Sam").elements
        role.value = "set up"
        user.find(marker=f"{texts.CHANGE_ROLE}-Sam".replace(" ", "-")).click()
        await until(lambda: {one.name: one.role for one in desk.door.accounts.people()}["Sam"] == "set up")

    shared(steps)


def test_own_password_and_keys(shared):
    async def steps(user, desk, as_):
        as_("Kim")
        await user.open("/me")
        typed(user, ("own-password", "wrong wrong"), ("new-password", "six blue wagons"), ("again", "six blue wagons"))
        user.find(marker="change-password").click()
        await until(lambda: user.notify.messages)
        assert desk.door.accounts.is_password_of("Kim", GOOD)
        typed(user, ("own-password", GOOD))
        user.find(marker="change-password").click()
        await until(lambda: desk.door.accounts.is_password_of("Kim", "six blue wagons"))
        (box,) = user.find(marker="token-for").elements
        box.value = "hall display"
        user.find(marker="make-token").click()
        (shown,) = user.find(marker="token").elements
        await until(lambda: shown.text)
        assert desk.door.accounts.of_token(shown.text.rpartition(" ")[2]).name == "Kim"
        await user.should_see(marker="take-back-hall display")
        user.find(marker="take-back-hall display").click()
        await until(lambda: desk.door.accounts.tokens("Kim") == [])

    shared(steps)


def test_own_second_factor_and_logins(shared):
    async def steps(user, desk, as_):
        accounts = desk.door.accounts
        as_("Kim")
        elsewhere = accounts.log_in("Kim", "10.0.0.8")
        await user.open("/me")
        (logins,) = user.find(marker="logins").elements
        assert texts.THIS_LOGIN in logins.content
        assert "10.0.0.8" in logins.content
        user.find(marker="end-others").click()
        await until(lambda: texts.SAY_WHO_FIRST in user.notify.messages)
        assert accounts.of_login(elsewhere) is not None
        user.find(marker="second-set").click()
        await asyncio.sleep(0.2)
        await user.should_not_see(marker="second-code")
        typed(user, ("own-password", GOOD))
        user.find(marker="end-others").click()
        await until(lambda: accounts.of_login(elsewhere) is None)
        user.find(marker="second-set").click()
        await user.should_see(marker="second-code")
        shown = [one.content for one in user.client.elements.values() if isinstance(one, ui.html)]
        picture = next(one for one in shown if "data:image/svg+xml" in one)
        secret = re.search("(?:[A-Z2-7]{4} ){7}[A-Z2-7]{4}", " ".join(shown))[0]
        assert f'alt="{texts.SECOND_QR}"' in picture
        typed(user, ("second-code", "000000"))
        user.find(marker="second-on").click()
        await until(lambda: texts.SECOND_WRONG in user.notify.messages)
        assert accounts.codes_left("Kim") is None
        code = totp.code_of(totp.base64.b32decode(secret.replace(" ", "")), totp.step_at(utc_now()))
        typed(user, ("second-code", code))
        user.find(marker="second-on").click()
        await user.should_see(marker="recovery")
        (codes,) = user.find(marker="recovery").elements
        recovery = re.findall("(?:[A-Z2-7]{4} ){5}[A-Z2-7]{4}", codes.content)
        assert len(recovery) == accounts.codes_left("Kim") == totp.RECOVERY_CODES
        await user.open("/me")
        await user.should_not_see(marker="recovery")
        typed(user, ("own-password", GOOD))
        user.notify.messages.clear()
        user.find(marker="second-off").click()
        await until(lambda: texts.WRONG_LOGIN in user.notify.messages)
        assert accounts.codes_left("Kim") is not None, "the password alone does not take it away"
        typed(user, ("own-password", GOOD), ("own-code", recovery[0]))
        user.find(marker="second-off").click()
        await until(lambda: accounts.codes_left("Kim") is None)

    shared(steps)


def test_who_is_refused_stands_in_the_trail_once(shared):
    async def steps(user, desk, as_):
        as_("Sam")
        for _ in range(3):
            await user.open("/people")
            await user.should_see("may only look")
        key = desk.door.accounts.make_token("Sam", "display", "look", by="Sam")
        user.http_client.headers.pop("cookie", None)
        for _ in range(3):
            headers = {"authorization": f"Bearer {key}"}
            assert (await user.http_client.post("/api/start", json={}, headers=headers)).status_code == 403
        lines = [(one.who, one.what, one.detail) for one in desk.door.accounts.trail() if one.what == "refused"]
        assert lines == [("Sam", "refused", "wanted to set up, may look"),
                         ("Sam", "refused", "wanted to administer, may look")]  # fmt: skip

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
    words = ["app", "--share", "--address", "127.0.0.1", "--no-show", "--port", port, "--records", str(tmp_path)]
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
    line, open_to = _greeting("place", 8475, None)
    assert "127.0.0.1" in line
    assert "without a login" in open_to
    shared = _greeting("place", 8475, Network(names=("lathe-pc",)))
    assert "http://lathe-pc:8475/" in shared
    assert "open to: whoever reaches 0.0.0.0 port 8475 and has a login" in shared
    assert shared[-1] == texts.IN_THE_CLEAR
    safe = _greeting("place", 8475, Network(certificate=Path("c"), key=Path("k"), names=("lathe-pc",)))
    assert "https://lathe-pc:8475/" in safe
    assert texts.IN_THE_CLEAR not in safe
    alone = _greeting("place", 8475, Network("127.0.0.1"))
    assert alone[0] == "http://127.0.0.1:8475/"
    assert "nobody else reaches it" in alone[-1]


def test_a_key_that_others_can_read_is_said(tmp_path):
    key = tmp_path / "key.pem"
    key.touch(mode=0o600)
    network = Network(certificate=Path("c"), key=key)
    assert "chmod" not in " ".join(_greeting("place", 8475, network))
    key.chmod(0o640)
    assert f"chmod 600 {key}" in " ".join(_greeting("place", 8475, network))


def test_who_may_come_in_is_said_at_the_start(tmp_path):
    accounts = Accounts(tmp_path)
    for name, role in (("Noor", "administer"), ("Kim", "look"), ("Sam", "look")):
        accounts.add(name, role, GOOD, by="test")
    secret = accounts.new_secret()
    accounts.set_second("Noor", secret, totp.code_of(totp.base64.b32decode(secret), totp.step_at(utc_now())), by="test")
    who, trail = _people(Door(accounts, secure=False))
    assert who == "logins: 3; look 2, administer 1; with a second factor: 1"
    assert trail.endswith("last digest " + accounts.check_trail().digest + "; to check it later, note that")
    accounts._base.executescript("drop trigger trail_stays; update trail set who = 'Sam' where id = 2")
    assert _people(Door(accounts, secure=False))[1] == "audit trail: CHANGED: line 2 is not as it was written"
    accounts.close()


@pytest.mark.parametrize(("address", "alone"), [("127.0.0.1", True), ("127.3.2.1", True), ("::1", True),
                                               ("0.0.0.0", False), ("::", False), ("10.0.0.7", False),
                                               ("localhost", False), ("lathe-pc", False), ("", False)])  # fmt: skip
def test_passwords_go_over_a_network_unencrypted_only_where_it_is_said_twice(address, alone):
    network = Network(address)
    _check_certificate(network, unencrypted=True)
    if alone:
        _check_certificate(network, unencrypted=False)
    else:
        with pytest.raises(InputError, match="--unencrypted"):
            _check_certificate(network, unencrypted=False)


def test_sharing_without_tls_does_not_start(tmp_path):
    run.invoke(app, ["user", "add", "Noor", "--role", "administer", "--password-stdin", "--records", str(tmp_path)],
               input=f"{GOOD}\n")  # fmt: skip
    answer = run.invoke(app, ["app", "--share", "--no-show", "--port", "18475", "--records", str(tmp_path)])
    assert answer.exit_code == 2
    assert "whoever is on that network can read every password" in " ".join(answer.output.split())
