"""The second factor: the codes of the RFC, who gets in with them and who does not, and what is done when it is lost."""

import re
from datetime import timedelta
from urllib.parse import parse_qs, unquote, urlsplit

import pytest
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.errors import InputError
from heldtrue.web.access import totp
from heldtrue.web.access.accounts import Accounts
from heldtrue.web.access.attempts import FREE_OF_ONE
from web.at_the_door import GOOD, accounts, clock, light_hashes, shop

__all__ = ["accounts", "clock", "light_hashes", "shop"]

# RFC 6238, appendix B: time [s], code of 8 digits, hash. The secrets are ASCII digits as long as the hash.
PUBLISHED = [
    (59, "94287082", "sha1"), (59, "46119246", "sha256"), (59, "90693936", "sha512"),
    (1111111109, "07081804", "sha1"), (1111111109, "68084774", "sha256"), (1111111109, "25091201", "sha512"),
    (1111111111, "14050471", "sha1"), (1111111111, "67062674", "sha256"), (1111111111, "99943326", "sha512"),
    (1234567890, "89005924", "sha1"), (1234567890, "91819424", "sha256"), (1234567890, "93441116", "sha512"),
    (2000000000, "69279037", "sha1"), (2000000000, "90698825", "sha256"), (2000000000, "38618901", "sha512"),
    (20000000000, "65353130", "sha1"), (20000000000, "77737706", "sha256"), (20000000000, "47863826", "sha512"),
]  # fmt: skip
# RFC 4226, appendix D: codes of the counters 0 to 9.
COUNTED = ("755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489")
LENGTH = {"sha1": 20, "sha256": 32, "sha512": 64}


@pytest.mark.parametrize(("seconds", "code", "kind"), PUBLISHED)
def test_published_codes_of_the_time(seconds, code, kind):
    secret = (b"1234567890" * 7)[: LENGTH[kind]]
    assert totp.code_of(secret, seconds // totp.STEP, digits=8, kind=kind) == code


@pytest.mark.parametrize(("counter", "code"), [*enumerate(COUNTED)])
def test_published_codes_of_a_counter(counter, code):
    assert totp.code_of(b"12345678901234567890", counter) == code


class Phone:
    """An authenticator on somebody's telephone."""

    def __init__(self, accounts, clock, name="Noor"):
        self.secret, self.clock = accounts.new_secret(), clock
        self.codes = accounts.set_second(name, self.secret, self.code(), by=name)
        self.next()

    def code(self, steps=0):
        return totp.code_of(totp.base64.b32decode(self.secret), totp.step_at(self.clock()) + steps)

    def next(self, steps=1):
        self.clock.go(timedelta(seconds=steps * totp.STEP))


@pytest.fixture
def phone(accounts, clock):
    return Phone(accounts, clock)


def test_the_password_alone_opens_no_more(shop, phone):
    assert shop.log_in().status_code == 401
    assert shop.log_in(code="000000").status_code == 401
    assert shop.log_in(code=phone.code(), password="wrong wrong wrong").status_code == 401
    assert shop.log_in(code=phone.code()).status_code == 303
    assert shop.ask("GET", "/").json()["name"] == "Noor"


def test_others_are_asked_for_none(shop, phone):
    assert shop.log_in(name="Sam", password="four dry camels").status_code == 303


def test_what_was_wrong_is_told_to_nobody_but_the_trail(shop, phone, accounts):
    wrong_code, wrong_password = shop.log_in(code="000000"), shop.log_in(password="wrong wrong wrong", code="000000")
    assert wrong_code.text == wrong_password.text
    assert wrong_code.headers == wrong_password.headers
    assert [one.what for one in accounts.trail(2)] == ["wrong password", "wrong code"]


def test_a_code_is_taken_once(shop, phone):
    code = phone.code()
    assert shop.log_in(code=code).status_code == 303
    shop.ask("POST", "/logout")
    assert shop.log_in(code=code).status_code == 401, "somebody who looked over the shoulder types it again"
    assert shop.log_in(code=phone.code(-1)).status_code == 401, "nor the one before it"
    phone.next()
    assert shop.log_in(code=phone.code()).status_code == 303


def test_the_code_that_set_it_up_is_used_up_too(accounts, clock, shop):
    secret = accounts.new_secret()
    code = totp.code_of(totp.base64.b32decode(secret), totp.step_at(clock()))
    accounts.set_second("Noor", secret, code, by="Noor")
    assert shop.log_in(code=code).status_code == 401


@pytest.mark.parametrize(("steps", "taken"), [(-3, False), (-2, False), (-1, True), (0, True), (1, True), (2, False)])
def test_clocks_may_differ_by_one_code(accounts, clock, shop, steps, taken):
    phone = Phone(accounts, clock)
    phone.next(5)
    assert (shop.log_in(code=phone.code(steps)).status_code == 303) is taken


@pytest.mark.parametrize("code", ["", " ", "12345", "1234567", "abcdef", "١٢٣٤٥٦", "-12345", "0x1234", "123 45 6 7"])
def test_what_is_no_code(accounts, clock, phone, code):
    assert not accounts.take_code("Noor", code)


def test_a_code_may_be_typed_as_it_is_shown(accounts, phone):
    code = phone.code()
    assert accounts.take_code("Noor", f" {code[:3]} {code[3:]} ")


def test_guessing_codes_is_slowed_down_like_passwords(shop, phone):
    answers = [shop.log_in(code=f"{number:06}").status_code for number in range(30)]
    assert answers == [401] * FREE_OF_ONE + [429] * (30 - FREE_OF_ONE)
    assert shop.log_in(code=phone.code()).status_code == 429, "not even the right one is looked at"


def test_a_recovery_code_opens_once(shop, phone, accounts):
    assert len(phone.codes) == totp.RECOVERY_CODES == len(set(phone.codes))
    typed = totp.in_groups(phone.codes[0]).lower()
    assert shop.log_in(code=typed).status_code == 303
    assert accounts.codes_left("Noor") == totp.RECOVERY_CODES - 1
    assert [one.what for one in accounts.trail(2)] == ["logged in", "recovery code used"]
    assert shop.log_in(code=typed).status_code == 401
    assert shop.log_in(code=phone.codes[1], password="wrong wrong wrong").status_code == 401
    assert accounts.codes_left("Noor") == totp.RECOVERY_CODES - 1, "a wrong password uses none up"


def test_recovery_codes_of_somebody_else_open_nothing(accounts, clock, shop, phone):
    sam = Phone(accounts, clock, "Sam")
    assert shop.log_in(code=sam.codes[0]).status_code == 401
    assert accounts.codes_left("Sam") == totp.RECOVERY_CODES


def test_anew_the_old_telephone_and_codes_are_no_use(accounts, clock, shop, phone):
    new = Phone(accounts, clock)
    for code in (phone.code(), phone.codes[0]):
        assert shop.log_in(code=code).status_code == 401
    assert shop.log_in(code=new.code()).status_code == 303


def test_it_is_not_set_up_without_a_code_of_it(accounts, clock):
    secret = accounts.new_secret()
    for code in ("", "000000", totp.code_of(totp.base64.b32decode(accounts.new_secret()), totp.step_at(clock()))):
        with pytest.raises(InputError, match="code of this moment"):
            accounts.set_second("Noor", secret, code, by="Noor")
    assert accounts.codes_left("Noor") is None
    assert accounts.take_code("Noor", "")


def test_setting_it_up_and_taking_it_away_ends_the_other_logins(accounts, clock):
    here, there = accounts.log_in("Noor", ""), accounts.log_in("Noor", "")
    secret = accounts.new_secret()
    code = totp.code_of(totp.base64.b32decode(secret), totp.step_at(clock()))
    accounts.set_second("Noor", secret, code, by="Noor", keep=here)
    assert (accounts.of_login(here) is None, accounts.of_login(there) is None) == (False, True)
    other = accounts.log_in("Noor", "")
    accounts.remove_second("Noor", by="Noor", keep=here)
    assert (accounts.of_login(here) is None, accounts.of_login(other) is None) == (False, True)
    assert [one.what for one in accounts.trail(4)][0::3] == ["second factor removed", "logged in"]


def test_a_new_password_does_not_take_it_away(accounts, shop, phone):
    accounts.set_password("Noor", "five green tractors", by="Sam")
    assert shop.log_in(password="five green tractors").status_code == 401
    assert shop.log_in(password="five green tractors", code=phone.code()).status_code == 303


def test_it_goes_with_its_owner(accounts, clock):
    Phone(accounts, clock, "Sam")
    accounts.remove("Sam", by="Noor")
    assert accounts._ask("select * from seconds") == accounts._ask("select * from recovery") == []


def test_recovery_codes_are_kept_as_hashes_only(accounts, phone, tmp_path):
    accounts.close()
    kept = b"".join(path.read_bytes() for path in tmp_path.glob("people.db*"))
    assert not [one for one in phone.codes if one.encode() in kept]


def test_secrets_and_codes_are_long_and_never_the_same(accounts):
    secrets = {accounts.new_secret() for _ in range(50)}
    assert len(secrets) == 50
    assert {len(totp.base64.b32decode(one)) for one in secrets} == {20}, "160 bits"
    assert all(len(one) * 5 >= 112 and set(one) <= set(totp.LETTERS) for one in totp.new_recovery_codes())


def test_what_the_picture_says():
    parts = urlsplit(totp.address_of("ABCDEFGH", "Noor: a&b", "held true"))
    assert (parts.scheme, parts.netloc) == ("otpauth", "totp")
    assert unquote(parts.path) == "/held true:Noor: a&b"
    assert parse_qs(parts.query) == {"secret": ["ABCDEFGH"], "issuer": ["held true"], "digits": ["6"], "period": ["30"]}


def test_lost_it_is_reset_on_the_command_line(tmp_path):
    place = ["--records", str(tmp_path)]
    run = CliRunner()
    run.invoke(app, ["user", "add", "Noor", "--role", "administer", "--password-stdin", *place], input=f"{GOOD}\n")
    there = Accounts(tmp_path)
    Phone(there, _Now(), "Noor")
    login = there.log_in("Noor", "")
    assert "administer, second factor" in run.invoke(app, ["user", "list", *place]).output
    assert run.invoke(app, ["user", "reset-second", "Noor", *place], input="n\n").exit_code == 2
    assert there.codes_left("Noor") == totp.RECOVERY_CODES
    assert run.invoke(app, ["user", "reset-second", "Noor", "--yes", *place]).exit_code == 0
    assert there.codes_left("Noor") is None
    assert there.of_login(login) is None
    assert run.invoke(app, ["user", "reset-second", "Noor", "--yes", *place]).exit_code == 2
    trail = run.invoke(app, ["user", "trail", *place]).output
    assert re.search(r"at this PC, second factor removed, Noor", trail)
    there.close()


class _Now:
    """The clock of this machine, as ``Phone`` asks for it."""

    def __call__(self):
        from heldtrue.web.access.accounts import utc_now

        return utc_now()

    def go(self, step):
        pass
