"""The door of a shared app: who comes in, who does not, and what an attacker meets."""

import asyncio
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import timedelta
from threading import Event
from time import sleep

import pytest

from heldtrue.errors import InputError, StorageError
from heldtrue.web.access import attempts, passwords
from heldtrue.web.access.accounts import IDLE, LONGEST, MOST_LOGINS, TOKEN_LIVES, Accounts
from heldtrue.web.access.attempts import FREE_OF_ADDRESS, FREE_OF_NAME, FREE_OF_ONE, Attempts
from heldtrue.web.access.door import VIEWER, Door
from heldtrue.web.guard import Guard
from heldtrue.web.who import Viewer
from web.at_the_door import GOOD, OTHER, Shop, accounts, clock, light_hashes, shop

__all__ = ["accounts", "clock", "light_hashes", "shop"]


def test_nothing_is_shown_before_the_login(shop):
    page = shop.ask("GET", "/plan/wear-ring?x=1", headers={"accept": "text/html"})
    assert page.status_code == 303
    assert page.headers["location"] == "/login?to=%2Fplan%2Fwear-ring%3Fx%3D1"
    for method, path in (("GET", "/_nicegui/static/a.js"), ("POST", "/api/plan"), ("GET", "/api/openapi.json"),
                         ("POST", "/_nicegui/client/1/upload/2"), ("GET", "/login/../shelf"), ("GET", "//login"),
                         ("GET", "/LOGIN"), ("GET", "/logout"), ("PUT", "/logout")):  # fmt: skip
        answer = shop.ask(method, path)
        assert answer.status_code == 401, path
        assert answer.json()["error"]["kind"] == "refused"


def test_a_socket_needs_a_login_too(accounts):
    async def connecting(cookie):
        sent = []

        async def receive():
            return {"type": "websocket.connect"}

        async def send(message):
            sent.append(message)

        async def socket(scope, receive, send):
            await send({"type": "websocket.accept", "name": scope[VIEWER].name})

        headers = [(b"host", b"shop-pc"), (b"cookie", cookie.encode())]
        app = Guard(socket, hosts=("shop-pc",), door=Door(accounts, secure=False))
        await app(
            {"type": "websocket", "path": "/_nicegui_ws/", "headers": headers, "query_string": b""}, receive, send
        )
        return sent[0]

    assert asyncio.run(connecting(""))["type"] == "websocket.close"
    assert asyncio.run(connecting("heldtrue=guessed"))["type"] == "websocket.close"
    secret = accounts.log_in("Noor", "")
    assert asyncio.run(connecting(f"heldtrue={secret}")) == {"type": "websocket.accept", "name": "Noor"}


def test_the_login_page_runs_no_script_and_asks_nothing_from_elsewhere(shop):
    page = shop.ask("GET", "/login")
    assert page.status_code == 200
    assert "script" not in page.text
    assert "script-src" not in page.headers["content-security-policy"]
    assert "default-src 'none'" in page.headers["content-security-policy"]


def test_log_in_go_on_and_out(shop, accounts):
    answer = shop.log_in(to="/shelf?for=wear-ring")
    assert (answer.status_code, answer.headers["location"]) == (303, "/shelf?for=wear-ring")
    cookie = answer.headers["set-cookie"].casefold()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "secure" not in cookie
    assert shop.ask("GET", "/").json()["name"] == "Noor"
    kept = {"cookie": f"heldtrue={shop.cookies['heldtrue']}"}
    assert shop.ask("GET", "/", headers=kept).status_code == 200
    assert shop.ask("POST", "/logout").status_code == 303
    assert shop.ask("GET", "/", headers=kept).status_code == 401, (
        "the login ended on the server, not only in the browser"
    )
    assert [one.what for one in accounts.trail(2)] == ["logged out", "logged in"]


def test_a_name_is_taken_as_people_type_it(shop):
    assert shop.log_in(name="  nOOr ").status_code == 303


def test_over_tls_the_cookie_is_bound_to_this_host(accounts):
    shop = Shop(accounts, secure=True)
    cookie = shop.log_in().headers["set-cookie"]
    assert cookie.startswith("__Host-heldtrue=")
    assert "Secure" in cookie
    assert "Path=/" in cookie


@pytest.mark.parametrize("to", [
    "https://evil.example/", "//evil.example", "/\\evil.example", "javascript:alert(1)", "/\r\nset-cookie: a=b",
    "/login", "/logout", "\\\\evil.example", " /shelf", "",
])  # fmt: skip
def test_nobody_is_sent_elsewhere_after_the_login(shop, to):
    assert shop.log_in(to=to).headers["location"] == "/"


def test_words_in_the_form_stay_words(shop):
    page = shop.log_in(name='"><script>alert(1)</script>', to='"><img src=x>')
    assert page.status_code == 401
    assert "<script" not in page.text
    assert "<img" not in page.text


@pytest.mark.parametrize("name", ["' or 1=1 --", "Noor' --", "Noor\x00", "Noor%", "%", "", "Noor;Sam", "N" * 100_000])
def test_no_clever_name_opens(shop, name):
    assert shop.log_in(name=name).status_code in (400, 401, 413)
    assert shop.ask("GET", "/").status_code == 401


@pytest.mark.parametrize("content", [b"name=Noor", b"", b"\xff\xfe\x00", b"name=Noor&password=" + b"x" * 900_000])
def test_no_odd_form_opens_or_breaks(shop, content):
    answer = shop.ask("POST", "/login", content=content,
                      headers={"content-type": "application/x-www-form-urlencoded"})  # fmt: skip
    assert answer.status_code in (400, 401, 413)


def test_a_file_in_the_form_opens_nothing(shop):
    answer = shop.ask("POST", "/login", files={"password": ("a.txt", GOOD.encode())}, data={"name": "Noor"})
    assert answer.status_code in (400, 401)


def test_a_login_form_of_another_page_is_refused(shop):
    answer = shop.ask("POST", "/login", data={"name": "Noor", "password": GOOD},
                      headers={"origin": "http://evil.example"})  # fmt: skip
    assert answer.status_code == 403
    assert shop.ask("POST", "/logout", headers={"sec-fetch-site": "cross-site"}).status_code == 403


def test_guessing_is_slowed_down_and_then_not_even_looked_at(accounts, monkeypatch):
    looked = []
    monkeypatch.setattr(accounts, "is_password_of", lambda name, password: looked.append(password) or False)
    shop = Shop(accounts)
    answers = [shop.log_in(password=f"guess number {number}").status_code for number in range(40)]
    assert answers == [401] * FREE_OF_ONE + [429] * (40 - FREE_OF_ONE)
    assert len(looked) == FREE_OF_ONE
    assert int(shop.log_in().headers["retry-after"]) >= 25
    assert "wrong password" in [one.what for one in accounts.trail(5)]


def test_many_guesses_at_once_do_not_slip_through(accounts, monkeypatch):
    looked = []
    monkeypatch.setattr(accounts, "is_password_of", lambda name, password: looked.append(password) or False)
    shop = Shop(accounts)

    async def all_at_once():
        tries = (shop.aask("POST", "/login", data={"name": "Noor", "password": f"guess {n}"}) for n in range(60))
        return [answer.status_code for answer in await asyncio.gather(*tries)]

    answers = asyncio.run(all_at_once())
    assert len(looked) <= FREE_OF_ONE + 1
    assert set(answers) == {401, 429}


def test_guessing_from_many_addresses_is_slowed_down_by_the_name_and_many_names_by_the_address(accounts):
    counted = Attempts()
    for number in range(25):
        Shop(accounts, f"10.0.0.{number}", attempts=counted).log_in(password="wrong wrong wrong")
    assert Shop(accounts, "10.0.9.9", attempts=counted).log_in(password="wrong wrong wrong").status_code == 429
    one = Shop(accounts, attempts=Attempts())
    for number in range(FREE_OF_ADDRESS):
        assert one.log_in(name=f"name {number}", password="wrong wrong wrong").status_code == 401
    assert one.log_in(name="yet another", password="wrong wrong wrong").status_code == 429


def test_a_wait_doubles_ends_and_is_forgotten():
    at = [0.0]
    counted = Attempts(lambda: at[0])
    for _ in range(FREE_OF_ONE):
        assert counted.wait("Noor", "a") == 0.0
        counted.wrong("Noor", "a")
    assert counted.wait("noor ", "a") == attempts.FIRST_WAIT
    at[0] += attempts.FIRST_WAIT
    assert counted.wait("Noor", "a") == 0.0
    counted.wrong("Noor", "a")
    assert counted.wait("Noor", "a") == 2 * attempts.FIRST_WAIT
    assert counted.wait("Noor", "b") == 0.0, "who sits elsewhere is not locked out by it"
    for _ in range(15):
        counted.wrong("Noor", "a")
    assert counted.wait("Noor", "a") == attempts.LONGEST_WAIT
    at[0] += attempts.FORGOTTEN + 1
    assert counted.wait("Noor", "a") == 0.0


def counted_up(counted, name, address, times):
    for _ in range(times):
        counted.wrong(name, address)


def test_a_right_password_clears_its_own_count_and_no_other():
    counted = Attempts(lambda: 0.0)
    counted_up(counted, "Noor", "a", FREE_OF_ONE)
    counted_up(counted, "Sam", "a", FREE_OF_ONE)
    counted_up(counted, "Noor", "b", FREE_OF_ONE)
    counted.right(" NOOR", "a")
    assert counted.wait("Noor", "a") == 0.0
    assert counted.wait("Sam", "a") > 0.0, "the lock-out of somebody else"
    assert counted.wait("Noor", "b") > 0.0, "nor that of the name from elsewhere"


def test_a_right_password_does_not_free_the_address_or_the_name():
    counted = Attempts(lambda: 0.0)
    counted_up(counted, "Noor", "a", FREE_OF_NAME)
    counted.right("Noor", "a")
    assert counted.wait("Noor", "z") > 0.0, "the name was tried from one address 20 times"
    counted = Attempts(lambda: 0.0)
    for number in range(FREE_OF_ADDRESS):
        counted.wrong(f"name {number}", "a")
        counted.right("Sam", "a")
    assert counted.wait("Sam", "a") > 0.0, "a login of one's own in between does not buy more guesses"
    assert counted.wait("Sam", "b") == 0.0


def test_who_logs_in_in_between_cannot_go_on_guessing(accounts):
    shop = Shop(accounts, attempts=Attempts(lambda: 0.0))
    answers = []
    for number in range(FREE_OF_ADDRESS + 5):
        answers.append(shop.log_in(name=f"name {number}", password="wrong wrong wrong").status_code)
        shop.log_in(name="Sam", password=OTHER)
    assert answers == [401] * FREE_OF_ADDRESS + [429] * 5


@pytest.mark.parametrize(("name", "address"), [("", "a"), ("Noor", ""), ("", "")])
def test_nobody_and_nowhere_are_counted_as_themselves(name, address):
    counted = Attempts(lambda: 0.0)
    counted_up(counted, name, address, FREE_OF_ONE)
    assert counted.wait(name, address) > 0.0
    assert counted.wait("Sam", "a") == counted.wait("Noor", "b") == 0.0
    counted.right(name, address)
    counted_up(counted, name, address, FREE_OF_NAME - FREE_OF_ONE)
    counted.right(name, address)
    assert counted.wait(name, "z") > 0.0, "the name still counts by itself"
    assert counted.wait("Sam", address) > 0.0, "and the address too"


def test_an_address_is_one_however_it_is_written():
    counted = Attempts(lambda: 0.0)
    for number in range(FREE_OF_ADDRESS):
        counted.wrong(f"name {number}", f"fd00:1:2:3::{number + 1:x}")
    assert counted.wait("Sam", "fd00:1:2:3:ffff::9") > 0.0, "who has one address of IPv6 has 2^64 of them"
    assert counted.wait("Sam", "fd00:1:2:4::1") == 0.0
    counted_up(counted, "Noor", "::ffff:10.0.0.7", FREE_OF_ONE)
    assert counted.wait("Noor", "10.0.0.7") > 0.0
    counted_up(counted, "Noor", "fe80::1%eth0", FREE_OF_ONE)
    assert counted.wait("Noor", "fe80::1%wlan0") > 0.0


def test_it_counts_exactly_as_many_as_are_free():
    for free, tries in ((FREE_OF_ONE, [("Noor", "a")] * 40), (FREE_OF_NAME, [("Noor", f"a{n}") for n in range(40)]),
                        (FREE_OF_ADDRESS, [(f"n{n}", "a") for n in range(40)])):  # fmt: skip
        counted, looked = Attempts(lambda: 0.0), 0
        for name, address in tries:
            if counted.wait(name, address) == 0.0:
                looked += 1
                counted.wrong(name, address)
        assert looked == free


def test_what_is_counted_does_not_grow_without_end():
    counted = Attempts()
    for number in range(3 * attempts.MOST_KEPT // 2):
        counted.wrong(f"name {number}", "a")
    assert len(counted._counts) == attempts.MOST_KEPT


def test_a_name_that_is_not_there_costs_the_same_work(accounts, monkeypatch):
    checked = []

    class Counting:
        def verify(self, kept, password):
            checked.append(kept)
            raise passwords.VerificationError

    monkeypatch.setattr(passwords, "_hasher", Counting())
    accounts.is_password_of("Noor", "x")
    accounts.is_password_of("nobody", "x")
    assert len(checked) == 2
    assert checked[0] != checked[1]


def test_the_right_password_of_nobody_opens_nothing(accounts):
    assert not accounts.is_password_of("nobody", "nobody has this password")


def test_logins_end_by_the_clock(accounts, clock):
    secret = accounts.log_in("Noor", "")
    clock.go(IDLE - timedelta(minutes=1))
    assert accounts.of_login(secret) == Viewer("Noor", "administer")
    clock.go(IDLE - timedelta(minutes=1))
    assert accounts.of_login(secret, used=False) is not None
    clock.go(timedelta(minutes=2))
    assert accounts.of_login(secret) is None, "looking without use did not keep it alive"
    busy = accounts.log_in("Noor", "")
    for _ in range(int(LONGEST / timedelta(hours=1))):
        assert accounts.of_login(busy) is not None
        clock.go(timedelta(hours=1))
    clock.go(timedelta(minutes=1))
    assert accounts.of_login(busy) is None


def test_a_login_prepared_by_somebody_else_is_not_taken_over(shop, accounts):
    theirs = accounts.log_in("Sam", "")
    answer = shop.ask("POST", "/login", data={"name": "Noor", "password": GOOD},
                      headers={"cookie": f"heldtrue={theirs}"})  # fmt: skip
    assert accounts.of_login(theirs) is None
    assert theirs not in answer.headers["set-cookie"]


def test_a_new_password_ends_every_other_login_and_a_removal_all(accounts):
    here, there = accounts.log_in("Noor", ""), accounts.log_in("Noor", "")
    accounts.set_password("Noor", "five green tractors", by="Noor", keep=here)
    assert accounts.of_login(here) is not None
    assert accounts.of_login(there) is None
    assert accounts.is_password_of("Noor", "five green tractors")
    assert not accounts.is_password_of("Noor", GOOD)
    login, token = accounts.log_in("Sam", ""), accounts.make_token("Sam", "display", "look", by="Sam")
    accounts.remove("Sam", by="Noor")
    assert accounts.of_login(login) is None
    assert accounts.of_token(token) is None


def test_one_person_has_only_so_many_logins(accounts, clock):
    sam, mine = accounts.log_in("Sam", ""), []
    for _ in range(MOST_LOGINS + 3):
        mine.append(accounts.log_in("Noor", ""))
        clock.go(timedelta(seconds=1))
    assert [accounts.of_login(one) is None for one in mine] == [True] * 3 + [False] * MOST_LOGINS
    assert accounts.of_login(sam) is not None


def test_where_somebody_is_logged_in(accounts, clock):
    here = accounts.log_in("Noor", "10.0.0.7")
    clock.go(timedelta(minutes=5))
    accounts.log_in("Noor", "10.0.0.8")
    accounts.log_in("Sam", "10.0.0.9")
    assert [(one.address, one.here) for one in accounts.logins("Noor", here)] == [
        ("10.0.0.8", False),
        ("10.0.0.7", True),
    ]
    accounts.log_out_everywhere("Noor", by="Noor", keep=here)
    assert [one.address for one in accounts.logins("Noor", here)] == ["10.0.0.7"]
    assert len(accounts.logins("Sam")) == 1
    clock.go(IDLE + timedelta(minutes=1))
    assert accounts.logins("Noor", here) == []


def test_somebody_must_be_left_who_may_administer(accounts):
    with pytest.raises(InputError, match="last administrator"):
        accounts.remove("Noor", by="Noor")
    with pytest.raises(InputError, match="last administrator"):
        accounts.set_role("noor", "look", by="Noor")
    accounts.set_role("Sam", "administer", by="Noor")
    accounts.set_role("Noor", "look", by="Sam")
    assert [one.role for one in accounts.people()] == ["look", "administer"]


@pytest.mark.parametrize(
    ("word", "why"),
    [
        ("short", "15 to 200"), ("three wet hors", "15 to 200"), ("three wet horses " * 12, "15 to 200"),
        ("a" * 20, "much used"), ("abcabcabcabcabcabc", "much used"), ("abcdefghijklmnopq", "much used"),
        ("1234567890123456", "much used"), ("qwertyuiopasdfgh", "much used"), ("iloveyouiloveyou", "much used"),
        ("P@ssw0rd!P@ssw0rd!", "much used"), ("letmein123letmein123", "much used"), ("1q2w3e4r5t6y7u8i", "much used"),
        ("drowssapdrowssap", "much used"), ("password12345678", "a word of this app"),
        ("Noor Noor Noor Noor", "a name"), ("noornoornoornoor1", "a name"), ("heldtrue heldtrue", "a word of this app"),
        ("Noor at heldtrue 2026", "a word of this app"), ("heldtrue-lathe-2026", "a word of this app"),
    ],
)  # fmt: skip
def test_passwords_that_are_none(accounts, word, why):
    with pytest.raises(InputError, match=why):
        accounts.set_password("Noor", word, by="Noor")
    assert accounts.is_password_of("Noor", GOOD)


@pytest.mark.parametrize(
    "word",
    [
        "three wet horses", "THREE WET HORSES", "tröðu á þrjá hesta", "三頭のぬれた馬がいる納屋の屋根",
        "7391846205938471", " spaces count too ", "z" + "xkq wod vem " * 16,
    ],
)  # fmt: skip
def test_passwords_of_any_kind_of_sign(accounts, word):
    accounts.set_password("Noor", word, by="Noor")
    assert accounts.is_password_of("Noor", word)
    for other in (word.swapcase(), word + "x", word[:-1], word + " " * 200):
        assert other == word or not accounts.is_password_of("Noor", other)


def test_the_commonest_passwords_of_that_length_are_all_refused():
    from zxcvbn.frequency_lists import FREQUENCY_LISTS

    long = [word for word in FREQUENCY_LISTS["passwords"] if len(word) >= passwords.LEAST]
    assert len(FREQUENCY_LISTS["passwords"]) >= 3000
    assert len(long) > 20
    for word in long:
        for typed in (word, word.upper(), f"{word}1", word[::-1]):
            with pytest.raises(InputError):
                passwords.check_password(typed, "Noor")


def test_an_accent_is_the_same_however_the_keyboard_writes_it(accounts):
    accounts.set_password("Noor", "drei nasse Dra\u0308hte", by="Noor")
    assert accounts.is_password_of("Noor", "drei nasse Dr\u00e4hte")


def test_one_password_is_judged_at_a_time(monkeypatch):
    """The library keeps the words of whom it judges in one place for all threads."""
    inside, most = [], []

    def judging(password, words):
        inside.append(1)
        most.append(len(inside))
        sleep(0.02)
        inside.pop()
        return {"guesses": 1e12}

    monkeypatch.setattr("zxcvbn.zxcvbn", judging)
    with ThreadPoolExecutor(4) as threads:
        list(threads.map(passwords.check_password, [GOOD] * 8, ["Noor"] * 8))
    assert most == [1] * 8


def test_the_longest_password_is_looked_at_to_its_end(accounts):
    longest = ("three wet horses and a lame mule " * 7)[: passwords.MOST]
    accounts.set_password("Noor", longest, by="Noor")
    assert accounts.is_password_of("Noor", longest)
    assert not accounts.is_password_of("Noor", longest + "x")


@pytest.mark.parametrize("name", ["", "   ", "n" * 61, "Noor\x1b[2J", "No\u202eor", "No\u200bor", "No\x00or"])
def test_names_that_are_none(accounts, name):
    with pytest.raises(InputError, match="letters"):
        accounts.add(name, "look", GOOD, by="test")
    with pytest.raises(InputError, match="already"):
        accounts.add(" SAM ", "look", GOOD, by="test")
    with pytest.raises(InputError, match="already"):
        accounts.add("\uff33am", "look", GOOD, by="test")  # a wide S: it would look the same in the trail
    with pytest.raises(InputError, match="no role"):
        accounts.add("Kim", "root", GOOD, by="test")


def test_keys_speak_for_their_owner_at_the_api_and_nowhere_else(shop, accounts, clock):
    key = accounts.make_token("Sam", "display in the hall", "look", by="Sam")
    headers = {"authorization": f"Bearer {key}"}
    answer = shop.ask("POST", "/api/plan", headers=headers)
    assert (answer.json()["name"], answer.json()["role"]) == ("Sam", "look")
    assert shop.ask("GET", "/plan/x", headers=headers).status_code == 401
    assert shop.ask("POST", "/api/plan", headers={"authorization": "Bearer held-guessed"}).status_code == 401
    with pytest.raises(InputError, match="no more than its owner"):
        accounts.make_token("Sam", "more", "administer", by="Sam")
    (token,) = accounts.tokens("Sam")
    assert token.seen is not None
    clock.go(TOKEN_LIVES + timedelta(days=1))
    assert shop.ask("POST", "/api/plan", headers=headers).status_code == 401


def test_a_key_loses_what_its_owner_loses(accounts):
    accounts.set_role("Sam", "set up", by="Noor")
    key = accounts.make_token("Sam", "robot", "set up", by="Sam")
    accounts.set_role("Sam", "look", by="Noor")
    assert accounts.of_token(key).role == "look"
    (token,) = accounts.tokens("Sam")
    accounts.remove_token(token.id, "Sam", by="Sam")
    assert accounts.of_token(key) is None
    with pytest.raises(InputError):
        accounts.remove_token(token.id, "Sam", by="Sam")


def test_who_reads_the_file_cannot_come_in_with_it(accounts, tmp_path):
    secret, key = accounts.log_in("Noor", ""), accounts.make_token("Noor", "robot", "look", by="Noor")
    accounts.close()
    kept = b"".join(path.read_bytes() for path in tmp_path.glob("people.db*"))
    for word in (secret, key, GOOD):
        assert word.encode() not in kept
    assert (tmp_path / "people.db").stat().st_mode & 0o077 == 0


def test_the_trail_cannot_be_changed(accounts):
    with pytest.raises(Exception, match="the trail is kept"):
        accounts._base.execute("delete from trail")
    with pytest.raises(Exception, match="the trail is kept"):
        accounts._base.execute("update trail set who = 'Sam'")


def test_another_process_sees_it_at_once(accounts, tmp_path):
    secret = accounts.log_in("Sam", "")
    there = Accounts(tmp_path, accounts.clock)
    there.set_role("Sam", "set up", by="here")
    assert accounts.of_login(secret).role == "set up"
    there.close()


def test_a_file_that_is_none_is_said_in_words(tmp_path):
    (tmp_path / "people.db").write_bytes(b"no database at all, but long enough" * 40)
    with pytest.raises(InputError, match="list of people"):
        Accounts(tmp_path)


def test_words_of_a_proxy_are_not_believed(shop):
    shop.log_in()
    answer = shop.ask("GET", "/", headers={"X-Forwarded-For": "127.0.0.1", "x-forwarded-prefix": "/a"})
    assert "x-forwarded-for" not in answer.json()["scope"]


# On a full disk: who looks never needs to write


def fill(accounts):
    """As if the disk had no room for another page, nor for a new line in the last."""
    (pages,) = accounts._base.execute("pragma page_count").fetchone()
    accounts._base.execute(f"pragma max_page_count = {pages}")
    line = ("insert into trail (at, who, what, detail, address, digest) "
            "values ('2026-03-02T06:00:00+00:00', '', '', ?, '', '')")  # fmt: skip
    for letters in (300, 60, 1):
        with suppress(sqlite3.OperationalError):
            for _ in range(1000):
                accounts._base.execute(line, ("x" * letters,))


def empty(accounts):
    accounts._base.execute("pragma max_page_count = 1000000")


def test_people_come_in_look_and_leave_on_a_full_disk(accounts, clock):
    before = accounts.log_in("Sam", "10.0.0.7")
    fill(accounts)
    clock.at += IDLE / 2
    assert accounts.of_login(before).name == "Sam"
    new = accounts.log_in("Noor", "10.0.0.7")
    assert accounts.of_login(new).role == "administer"
    clock.at += timedelta(minutes=5)
    assert accounts.of_login(new).name == "Noor"
    accounts.log_out(new)
    assert accounts.of_login(new) is None
    assert accounts.of_login("another") is None


def test_a_login_that_is_used_lives_on_although_nobody_can_write_that_down(accounts, clock):
    fill(accounts)
    secret = accounts.log_in("Sam", "10.0.0.7")
    for _ in range(2):
        clock.at += IDLE * 0.9
        assert accounts.of_login(secret).name == "Sam"
    clock.at += IDLE * 1.1
    assert accounts.of_login(secret) is None


def test_what_is_owed_is_written_once_there_is_room(accounts, tmp_path):
    fill(accounts)
    stays, goes = accounts.log_in("Sam", "10.0.0.7"), accounts.log_in("Noor", "10.0.0.8")
    accounts.note("Sam", "wrong password", address="10.0.0.9")
    accounts.log_out(goes)
    assert all(one.who in ("", "test") for one in accounts.trail(10_000)), "there is no room yet"
    empty(accounts)
    accounts.note("Noor", "something")
    after = Accounts(tmp_path, accounts.clock)
    assert after.of_login(stays).name == "Sam"
    assert after.of_login(goes) is None
    said = [(one.who, one.what) for one in after.trail(5)]
    assert said == [("Noor", "something"), ("Noor", "logged out"), ("Sam", "wrong password"), ("Noor", "logged in"),
                    ("Sam", "logged in")]  # fmt: skip
    after.close()


def test_people_cannot_be_changed_and_that_is_said(accounts):
    fill(accounts)

    def many():
        for number in range(200):
            accounts.add(f"Ada {number:055}", "look", GOOD, by="Noor")

    with pytest.raises(StorageError, match="full"):
        many()
    names = [one.name for one in accounts.people()]
    assert {"Noor", "Sam"} < {*names, "one more"}


def test_somebody_else_who_writes_holds_up_nobody_who_looks(accounts, clock, tmp_path):
    secret = accounts.log_in("Sam", "10.0.0.7")
    other = sqlite3.connect(tmp_path / "people.db", isolation_level=None)
    other.execute("begin immediate")
    clock.at += timedelta(minutes=5)
    assert accounts.of_login(secret).name == "Sam"
    new = accounts.log_in("Noor", "10.0.0.7")
    assert accounts.of_login(new).name == "Noor"
    other.execute("rollback")
    other.close()


def test_the_login_page_works_on_a_full_disk(accounts, shop):
    fill(accounts)
    assert shop.log_in("Sam", "no no no no").status_code == 401
    assert shop.log_in("Sam", OTHER).status_code == 303
    assert shop.ask("GET", "/plan/wear-ring").json()["name"] == "Sam"
    shop.ask("POST", "/logout")
    assert shop.ask("GET", "/plan/wear-ring").status_code == 401


def test_a_list_of_people_that_cannot_be_read_is_said(accounts, shop):
    shop.log_in()
    accounts._base.execute("drop table logins")
    refused = shop.ask("GET", "/plan/wear-ring")
    assert refused.status_code == 503
    assert "cannot be read" in refused.json()["error"]["problems"][0]


def test_the_file_is_let_go_while_others_ask(tmp_path):
    """A connection closed while another thread asks it ends the process: seen when the server stopped."""
    for number in range(20):
        made = Accounts(tmp_path / str(number))
        asked = Event()

        def ask(made=made, asked=asked):
            with suppress(StorageError):
                while True:
                    made.people()
                    asked.set()

        with ThreadPoolExecutor(4) as threads:
            asking = [threads.submit(ask) for _ in range(4)]
            asked.wait()
            made.close()
        for one in asking:
            one.result()
        with pytest.raises(StorageError):
            made.codes_left("Noor")
