"""The people of a shared app, their logins and tokens, and the audit trail, in one small SQLite file.

It stands beside the records and not in them: what is exported or handed on must not carry passwords, hashed or not.
Nothing that opens a door is kept as it is: passwords as argon2 hashes, logins and tokens as SHA-256 of a random 256
bits, so that who reads the file cannot come in with it.
"""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from heldtrue.errors import InputError
from heldtrue.files import make_folder
from heldtrue.web import texts
from heldtrue.web.access.passwords import check_password, hashed, matches
from heldtrue.web.who import ROLES, Role, Viewer

FILE_NAME = "people.db"
IDLE = timedelta(hours=4)
"""A login ends when nothing was done for this long: the tablet at the machine is not asked every cup of coffee."""
LONGEST = timedelta(hours=12)
"""A login ends after this long whatever was done: no shift is longer."""
TOKEN_LIVES = timedelta(days=365)
SEEN_STEP = timedelta(minutes=1)
"""How exactly it is kept when a login was last used."""
LONGEST_NAME = 60
TOKEN_START = "held-"
MOST_SHOWN = 200

SCHEMA = """
create table if not exists people (
    name text primary key, folded text not null unique, role text not null, password text not null, at text not null,
    by text not null);
create table if not exists logins (
    hash text primary key, name text not null references people (name) on delete cascade, began text not null,
    seen text not null, address text not null);
create table if not exists tokens (
    hash text primary key, id text not null unique, name text not null references people (name) on delete cascade,
    label text not null, role text not null, at text not null, ends text not null, seen text not null);
create table if not exists trail (
    id integer primary key, at text not null, who text not null, what text not null, detail text not null,
    address text not null);
create trigger if not exists trail_stays before update on trail begin select raise(abort, 'the trail is kept'); end;
create trigger if not exists trail_keeps before delete on trail begin select raise(abort, 'the trail is kept'); end;
"""


@dataclass(frozen=True)
class Person:
    """Somebody who may come in."""

    name: str
    role: Role
    at: datetime
    by: str


@dataclass(frozen=True)
class Token:
    """A key for another program; what opens the door is not kept."""

    id: str
    name: str
    label: str
    role: Role
    at: datetime
    ends: datetime
    seen: datetime | None


@dataclass(frozen=True)
class Trace:
    """One line of the audit trail."""

    at: datetime
    who: str
    what: str
    detail: str
    address: str


def utc_now() -> datetime:
    """This moment."""
    return datetime.now(UTC)


class Accounts:
    """The people of one folder. Any thread and any process may ask; ``clock`` is for tests.

    Raises everywhere: ``InputError`` for what cannot be, in words.
    """

    def __init__(self, folder: Path, clock: Callable[[], datetime] = utc_now) -> None:
        try:
            make_folder(folder)
        except OSError as error:
            raise InputError(f"cannot make the folder {folder}: {(error.strerror or str(error)).lower()}") from error
        self.file, self.clock = folder / FILE_NAME, clock
        self._turn = threading.RLock()
        try:
            self._base = sqlite3.connect(self.file, check_same_thread=False, timeout=20.0, isolation_level=None)
            self._base.execute("pragma foreign_keys = on")
            self._base.execute("pragma journal_mode = wal")
            self._base.execute("pragma synchronous = full")  # who was removed stays removed when the power goes
            self._base.execute("pragma fullfsync = on")
            self._base.executescript(SCHEMA)
        except sqlite3.DatabaseError as error:
            raise InputError(f"{self.file} cannot be read as the list of people: {error}") from error
        self.file.chmod(0o600)

    def close(self) -> None:
        """Let go of the file."""
        self._base.close()

    # People

    def people(self) -> list[Person]:
        """Everybody, by name."""
        rows = self._ask("select name, role, at, by from people order by folded")
        return [Person(name, role, _when(at), by) for name, role, at, by in rows]

    def has_administrator(self) -> bool:
        """Is there somebody who may let others in?"""
        return any(person.role == "administer" for person in self.people())

    def add(self, name: str, role: Role, password: str, *, by: str) -> None:
        """Let somebody in from now on."""
        name = " ".join(name.split())
        if not name or len(name) > LONGEST_NAME:
            raise InputError(texts.PERSON_NAME.format(most=LONGEST_NAME))
        _known(role)
        check_password(password, name)
        kept = hashed(password)
        with self._writing() as base:
            if self._person(name) is not None:
                raise InputError(texts.PERSON_THERE.format(name=name))
            base.execute("insert into people values (?, ?, ?, ?, ?, ?)",
                         (name, _folded(name), role, kept, _text(self.clock()), by))  # fmt: skip
            self._trace(base, by, "person added", f"{name}, {role}")

    def set_role(self, name: str, role: Role, *, by: str) -> None:
        """Change what somebody may do; keys they gave to programs may do no more than they."""
        _known(role)
        with self._writing() as base:
            person = self._must(name)
            self._keep_one(person, role)
            base.execute("update people set role = ? where name = ?", (role, person.name))
            for hash, had in base.execute("select hash, role from tokens where name = ?", (person.name,)).fetchall():
                base.execute("update tokens set role = ? where hash = ?", (min(role, had, key=ROLES.index), hash))
            self._trace(base, by, "role changed", f"{person.name}: {person.role} to {role}")

    def set_password(self, name: str, password: str, *, by: str, keep: str = "") -> None:
        """A new password; every login of that person ends, but for the one that is ``keep``."""
        person = self._must(name)
        check_password(password, person.name)
        kept = hashed(password)
        with self._writing() as base:
            base.execute("update people set password = ? where name = ?", (kept, person.name))
            base.execute("delete from logins where name = ? and hash != ?", (person.name, _hash(keep)))
            self._trace(base, by, "password changed", person.name)

    def remove(self, name: str, *, by: str) -> None:
        """Let somebody in no longer: logins and tokens end at once; what they did stays on record."""
        with self._writing() as base:
            person = self._must(name)
            self._keep_one(person, "look")
            base.execute("delete from people where name = ?", (person.name,))
            self._trace(base, by, "person removed", person.name)

    def is_password_of(self, name: str, password: str) -> bool:
        """Is it? Takes as long for a name that is not there."""
        row = self._one("select password from people where folded = ?", (_folded(name),))
        return matches(password, None if row is None else str(row[0]))

    # Logins

    def log_in(self, name: str, address: str) -> str:
        """A new login of somebody whose password was right; the secret that their browser keeps."""
        secret, now = secrets.token_urlsafe(32), _text(self.clock())
        with self._writing() as base:
            person = self._must(name)
            base.execute("delete from logins where seen < ? or began < ?",
                         (_text(self.clock() - IDLE), _text(self.clock() - LONGEST)))  # fmt: skip
            base.execute("insert into logins values (?, ?, ?, ?, ?)", (_hash(secret), person.name, now, now, address))
            self._trace(base, person.name, "logged in", "", address)
        return secret

    def of_login(self, secret: str, *, used: bool = True) -> Viewer | None:
        """Who has this login, None where it ended or never was. ``used``: it is kept alive by this."""
        row = self._one("select people.name, role, began, seen from logins join people using (name) where hash = ?",
                        (_hash(secret),))  # fmt: skip
        if row is None:
            return None
        name, role, began, seen = row
        now = self.clock()
        if now - _when(seen) > IDLE or now - _when(began) > LONGEST:
            return None
        if used and now - _when(seen) > SEEN_STEP:
            with self._writing() as base:
                base.execute("update logins set seen = ? where hash = ?", (_text(now), _hash(secret)))
        return Viewer(name, role)

    def log_out(self, secret: str) -> None:
        """End a login."""
        with self._writing() as base:
            row = base.execute("select name from logins where hash = ?", (_hash(secret),)).fetchone()
            if row is not None:
                base.execute("delete from logins where hash = ?", (_hash(secret),))
                self._trace(base, row[0], "logged out")

    def log_out_everywhere(self, name: str, *, by: str) -> None:
        """End every login of somebody."""
        with self._writing() as base:
            person = self._must(name)
            base.execute("delete from logins where name = ?", (person.name,))
            self._trace(base, by, "logged out everywhere", person.name)

    # Tokens

    def make_token(self, name: str, label: str, role: Role, *, by: str) -> str:
        """A key for another program, shown this once; it may do no more than its owner."""
        _known(role)
        label = " ".join(label.split())[:LONGEST_NAME]
        if not label:
            raise InputError(texts.TOKEN_LABEL_NEEDED)
        secret, now = TOKEN_START + secrets.token_urlsafe(32), self.clock()
        with self._writing() as base:
            person = self._must(name)
            if ROLES.index(role) > ROLES.index(person.role):
                raise InputError(texts.TOKEN_ROLE.format(name=person.name, role=person.role))
            base.execute("insert into tokens values (?, ?, ?, ?, ?, ?, ?, ?)",
                         (_hash(secret), secrets.token_hex(4), person.name, label, role, _text(now),
                          _text(now + TOKEN_LIVES), ""))  # fmt: skip
            self._trace(base, by, "token made", f"{person.name}: {label}, {role}")
        return secret

    def tokens(self, name: str) -> list[Token]:
        """The keys somebody gave to programs."""
        rows = self._ask("select id, name, label, role, at, ends, seen from tokens where name = ? order by at", (name,))
        return [
            Token(id, owner, label, role, _when(at), _when(ends), _when(seen) if seen else None)
            for id, owner, label, role, at, ends, seen in rows
        ]

    def of_token(self, secret: str) -> Viewer | None:
        """Who it is that this key speaks for, None where it ended or never was."""
        row = self._one("select name, role, ends, seen from tokens where hash = ?", (_hash(secret),))
        if row is None or self.clock() > _when(row[2]):
            return None
        if not row[3] or self.clock() - _when(row[3]) > SEEN_STEP:
            with self._writing() as base:
                base.execute("update tokens set seen = ? where hash = ?", (_text(self.clock()), _hash(secret)))
        return Viewer(row[0], row[1])

    def remove_token(self, id: str, name: str, *, by: str) -> None:
        """Take a key back."""
        with self._writing() as base:
            if base.execute("delete from tokens where id = ? and name = ?", (id, name)).rowcount == 0:
                raise InputError(texts.NO_SUCH_TOKEN)
            self._trace(base, by, "token removed", f"{name}: {id}")

    # The trail

    def note(self, who: str, what: str, detail: str = "", address: str = "") -> None:
        """Write one line; it is never changed."""
        with self._writing() as base:
            self._trace(base, who, what, detail, address)

    def trail(self, most: int = MOST_SHOWN) -> list[Trace]:
        """The newest lines, newest first."""
        rows = self._ask("select at, who, what, detail, address from trail order by id desc limit ?", (most,))
        return [Trace(_when(at), who, what, detail, address) for at, who, what, detail, address in rows]

    def _trace(self, base: sqlite3.Connection, who: str, what: str, detail: str = "", address: str = "") -> None:
        base.execute("insert into trail (at, who, what, detail, address) values (?, ?, ?, ?, ?)",
                     (_text(self.clock()), who[:200], what, detail[:400], address))  # fmt: skip

    def _keep_one(self, person: Person, role: Role) -> None:
        """Somebody must be left who may administer."""
        others = [one for one in self.people() if one.role == "administer" and one.name != person.name]
        if person.role == "administer" and role != "administer" and not others:
            raise InputError(texts.LAST_ADMINISTRATOR.format(name=person.name))

    def _person(self, name: str) -> Person | None:
        row = self._one("select name, role, at, by from people where folded = ?", (_folded(name),))
        return None if row is None else Person(row[0], row[1], _when(row[2]), row[3])

    def _must(self, name: str) -> Person:
        found = self._person(name)
        if found is None:
            raise InputError(texts.NO_SUCH_PERSON.format(name=name))
        return found

    # One connection, one at a time: a shop has a few dozen people, and each question takes some ten microseconds.

    def _ask(self, words: str, values: tuple[Any, ...] = ()) -> list[Any]:
        with self._turn:
            return self._base.execute(words, values).fetchall()

    def _one(self, words: str, values: tuple[Any, ...]) -> Any:
        rows = self._ask(words, values)
        return rows[0] if rows else None

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """Everything or nothing, also beside another process."""
        with self._turn:
            try:
                self._base.execute("begin immediate")
                try:
                    yield self._base
                    self._base.execute("commit")
                except BaseException:
                    if self._base.in_transaction:  # of a failed disk SQLite has taken it back itself
                        self._base.execute("rollback")
                    raise
            except sqlite3.Error as error:
                raise InputError(f"{self.file}: the entry could not be kept: {error}") from error


def _known(role: str) -> None:
    if role not in ROLES:
        raise InputError(texts.NO_SUCH_ROLE.format(role=role, roles=", ".join(ROLES)))


def _folded(name: str) -> str:
    """A name as it is looked up: however it was typed."""
    return " ".join(name.split()).casefold()


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds")


def _when(text: str) -> datetime:
    return datetime.fromisoformat(text)
