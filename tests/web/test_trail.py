"""The audit trail: what is written, that nothing in it acts on a terminal, and that a change of it shows."""

import sqlite3

import pytest
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.web.access import trail
from heldtrue.web.access.accounts import Accounts
from web.at_the_door import GOOD, Shop, accounts, clock, light_hashes

__all__ = ["accounts", "clock", "light_hashes"]


@pytest.fixture
def file(accounts):
    """Somebody who owns the file, and has taken away what keeps the trail from changes."""
    accounts.note("Noor", "setup changed", "wear-ring", "10.0.0.7")
    accounts.note("Sam", "refused", "wanted to set up", "10.0.0.8")
    made = sqlite3.connect(accounts.file, isolation_level=None)
    made.execute("drop trigger trail_stays")
    made.execute("drop trigger trail_keeps")
    yield made
    made.close()


def test_every_line_is_chained(accounts, file):
    found = accounts.check_trail()
    assert (found.lines, found.dropped, found.fault) == (4, 0, "")
    digests = [row[0] for row in file.execute("select digest from trail")]
    assert len(set(digests)) == 4
    assert {len(one) for one in digests} == {64}
    assert found.digest == digests[-1]


@pytest.mark.parametrize("column", ["at", "who", "what", "detail", "address", "digest"])
@pytest.mark.parametrize("line", [1, 2, 4])
def test_a_changed_line_is_found(accounts, file, column, line):
    file.execute(f"update trail set {column} = 'other' where id = ?", (line,))
    found = accounts.check_trail()
    assert found.fault == "changed"
    assert found.line == line


def test_a_line_changed_with_its_own_digest_is_found_at_the_next(accounts, file):
    (before,) = file.execute("select digest from trail where id = 1").fetchone()
    _, at, _, *rest = file.execute("select id, at, who, what, detail, address from trail where id = 2").fetchone()
    file.execute("update trail set who = 'Sam', digest = ? where id = 2",
                 (trail._digest(before, (2, at, "Sam", *rest)),))  # fmt: skip
    found = accounts.check_trail()
    assert (found.fault, found.line) == ("changed", 3)


@pytest.mark.parametrize(("line", "fault"), [(1, "missing"), (2, "missing"), (3, "missing"), (4, "end")])
def test_a_missing_line_is_found(accounts, file, line, fault):
    file.execute("delete from trail where id = ?", (line,))
    found = accounts.check_trail()
    assert (found.fault, found.line) == (fault, line)


def test_all_lines_gone_is_found(accounts, file):
    file.execute("delete from trail")
    assert accounts.check_trail().fault == "end"


def test_a_line_put_between_is_found(accounts, file):
    file.execute("update trail set id = 5 where id = 4")
    file.execute("insert into trail select 4, at, 'Sam', what, detail, address, digest from trail where id = 3")
    assert accounts.check_trail().line == 4


def test_two_lines_changed_round_are_found(accounts, file):
    file.execute("update trail set id = 9 where id = 2")
    file.execute("update trail set id = 2 where id = 3")
    file.execute("update trail set id = 3 where id = 9")
    assert accounts.check_trail().line == 2


def test_a_chain_made_anew_is_found_by_a_digest_that_was_noted(accounts, file):
    noted = accounts.check_trail().digest
    assert accounts.check_trail(noted).noted is True
    rows = file.execute("select at, who, what, detail, address from trail order by id").fetchall()
    file.execute("delete from trail")
    file.execute("update trail_ends set last = 0, digest = ''")
    trail.ready(file)
    for at, who, *rest in rows:
        file.execute(*trail.line(at, "nobody" if who == "Sam" else who, *rest))
    found = accounts.check_trail(noted)
    assert found.fault == "", "who owns the file can do that"
    assert found.noted is False


def test_a_digest_that_was_noted_stays_good_while_lines_come(accounts):
    noted = accounts.check_trail().digest
    accounts.note("Noor", "setup changed")
    assert accounts.check_trail(noted).noted is True
    assert accounts.check_trail("0" * 64).noted is False
    assert accounts.check_trail().noted is None


def test_it_does_not_grow_without_end(tmp_path, monkeypatch):
    monkeypatch.setattr(trail, "MOST_LINES", 30)
    monkeypatch.setattr(trail, "DROPPED", 10)
    accounts, middle = Accounts(tmp_path), ""
    for number in range(100):
        accounts.note("Noor", "setup changed", str(number))
        assert accounts.check_trail().lines <= 30
        if number == 90:
            middle = accounts.check_trail().digest
    found = accounts.check_trail(middle)
    assert found.fault == ""
    assert 20 <= found.lines <= 30
    assert found.lines + found.dropped == 100
    assert found.noted is True
    assert accounts.trail(1)[0].detail == "99"
    with pytest.raises(sqlite3.IntegrityError, match="the trail is kept"):
        accounts._base.execute("delete from trail where id = ?", (found.dropped + 1,))
    accounts._base.execute("drop trigger trail_keeps")
    accounts._base.execute("delete from trail where id = ?", (found.dropped + 1,))
    assert accounts.check_trail().fault == "missing", "the oldest that is left may not go by itself"
    accounts.close()


def test_a_trail_from_before_is_chained_as_it_stands(tmp_path):
    old = sqlite3.connect(tmp_path / "people.db")
    old.executescript("""
        create table trail (id integer primary key, at text not null, who text not null, what text not null,
            detail text not null, address text not null);
        create trigger trail_stays before update on trail begin select raise(abort, 'the trail is kept'); end;
        create trigger trail_keeps before delete on trail begin select raise(abort, 'the trail is kept'); end;
        insert into trail values (1, '2026-03-02T06:00:00+00:00', 'Noor', 'logged in', '', '10.0.0.7');
        insert into trail values (2, '2026-03-02T06:01:00+00:00', 'Noor', 'logged out', '', '');""")
    old.close()
    for _ in range(2):
        there = Accounts(tmp_path)
        assert [one.what for one in there.trail()] == ["logged out", "logged in"]
        assert (there.check_trail().lines, there.check_trail().fault) == (2, "")
        with pytest.raises(sqlite3.IntegrityError, match="the trail is kept"):
            there._base.execute("delete from trail")
        there.close()


def test_nothing_in_a_line_acts_on_a_terminal_or_looks_like_another_line(accounts):
    accounts.note("Sam\x1b[2J", "refused\r\n2026-03-02 Noor logged in", "\x00\x07\u202eabc\u2028", "10.0.0.7\n")
    (line,) = accounts.trail(1)
    assert all(word.isprintable() for word in (line.who, line.what, line.detail, line.address))
    assert line.who == "Sam\\x1b[2J"
    assert line.detail == "\\x00\\x07\\u202eabc\\u2028"
    accounts.note("x" * 5000, "y" * 5000, "\x1b" * 5000, "z" * 5000)
    (line,) = accounts.trail(1)
    assert max(map(len, (line.who, line.what, line.detail, line.address))) == trail.LONGEST


def test_a_password_typed_as_the_name_is_not_written_down(accounts):
    shop = Shop(accounts)
    assert shop.log_in(name=GOOD, password="").status_code == 401
    assert shop.log_in(name=GOOD, password="x").status_code == 401
    accounts.close()
    kept = b"".join(path.read_bytes() for path in accounts.file.parent.glob("people.db*"))
    assert GOOD.encode() not in kept


def test_what_is_written_of_a_login(accounts):
    shop = Shop(accounts)
    for _ in range(6):
        shop.log_in(password="wrong wrong wrong")
    shop.log_in(name="Sam", password="four dry camels")
    shop.ask("POST", "/logout")
    lines = [(one.who, one.what, one.address) for one in reversed(accounts.trail(8))]
    wrong = ("Noor", "wrong password", "10.0.0.7")
    assert lines[0] == wrong
    assert lines[-4:] == [wrong, ("Noor", "locked out", "10.0.0.7"), ("Sam", "logged in", "10.0.0.7"),
                          ("Sam", "logged out", "")]  # fmt: skip


def test_it_is_checked_by_command(tmp_path):
    def asked(*words):
        return CliRunner().invoke(app, ["user", *words, "--records", str(tmp_path)], input=f"{GOOD}\n")

    asked("add", "Noor", "--role", "administer", "--password-stdin")
    asked("role", "Noor", "--role", "administer")
    answer = asked("check-trail")
    assert answer.exit_code == 0
    digest = answer.output.split()[-1]
    assert asked("check-trail", "--noted", digest).exit_code == 0
    assert asked("check-trail", "--noted", "0" * 64).exit_code == 1
    base = sqlite3.connect(tmp_path / "people.db")
    base.executescript("drop trigger trail_stays; update trail set who = 'Sam' where id = 2")
    base.close()
    answer = asked("check-trail")
    assert answer.exit_code == 1
    assert "line 2 is not as it was written" in answer.output
