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
import unicodedata
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from heldtrue.errors import InputError, StorageError
from heldtrue.files import make_folder
from heldtrue.web import texts
from heldtrue.web.access import second, totp, trail
from heldtrue.web.access.passwords import check_password, hashed, matches
from heldtrue.web.access.trail import Checked, Trace
from heldtrue.web.who import ROLES, Role, Viewer

FILE_NAME = "people.db"
IDLE = timedelta(hours=4)
"""A login ends when nothing was done for this long: the tablet at the machine is not asked every cup of coffee."""
LONGEST = timedelta(hours=12)
"""A login ends after this long whatever was done: no shift is longer."""
MOST_LOGINS = 20
"""Logins of one person at a time; one more ends the oldest."""
TOKEN_LIVES = timedelta(days=365)
SEEN_STEP = timedelta(minutes=1)
"""How exactly it is kept when a login was last used."""
LONGEST_NAME = 60
TOKEN_START = "held-"
MOST_SHOWN = 200
PATIENCE = 20.0
"""How long a change of people waits for another program that writes, s; what only looks never waits."""
MOST_OWED = 1000
"""Lines that wait for room on the disk; those before are lost."""

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
class Login:
    """A login that has not ended; ``here``: that of the browser that asks."""

    began: datetime
    seen: datetime
    address: str
    here: bool


def utc_now() -> datetime:
    """This moment."""
    return datetime.now(UTC)


class Accounts:
    """The people of one folder. Any thread and any process may ask; ``clock`` is for tests.

    Who looks never needs the disk: a login, its end and the trail are written as soon as there is room, and hold until
    then for as long as the server runs.  Raises everywhere: ``InputError`` for what cannot be, in words;
    ``StorageError`` where people or keys cannot be changed or read.
    """

    def __init__(self, folder: Path, clock: Callable[[], datetime] = utc_now) -> None:
        try:
            make_folder(folder)
        except OSError as error:
            raise InputError(f"cannot make the folder {folder}: {(error.strerror or str(error)).lower()}") from error
        self.file, self.clock = folder / FILE_NAME, clock
        self._turn = threading.RLock()
        self._owed: deque[tuple[str, tuple[Any, ...]]] = deque(maxlen=MOST_OWED)
        self._logins: dict[str, tuple[str, str]] = {}  # by hash: name and beginning of logins that are owed
        self._ended: set[str] = set()
        self._seen: dict[str, str] = {}
        try:
            self._base = sqlite3.connect(self.file, check_same_thread=False, timeout=PATIENCE, isolation_level=None)
            self._base.execute("pragma foreign_keys = on")
            self._base.execute("pragma journal_mode = wal")
            self._base.execute("pragma synchronous = full")  # who was removed stays removed when the power goes
            self._base.execute("pragma fullfsync = on")
            self._base.executescript(SCHEMA + second.SCHEMA)
            trail.ready(self._base)
        except sqlite3.DatabaseError as error:
            raise InputError(f"{self.file} cannot be read as the list of people: {error}") from error
        self.file.chmod(0o600)

    def close(self) -> None:
        """Let go of the file; who asks later gets a ``StorageError``.

        It waits for its turn: SQLite ends the whole process when a connection is closed while another thread asks it.
        """
        with self._turn:
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
        if not name or len(name) > LONGEST_NAME or not name.isprintable():
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

    def name_of(self, typed: str) -> str | None:
        """The name of somebody as it is kept, however it was typed; None where there is nobody of it."""
        person = self._person(typed)
        return None if person is None else person.name

    def is_password_of(self, name: str, password: str) -> bool:
        """Is it? Takes as long for a name that is not there."""
        row = self._one("select password from people where folded = ?", (_folded(name),))
        return matches(password, None if row is None else str(row[0]))

    # The second factor

    def set_second(self, name: str, secret: str, code: str, *, by: str, keep: str = "") -> list[str]:
        """Ask for a code at every login from now on; the recovery codes, shown this once.

        ``code``: shows that the authenticator has got ``secret``. Every other login ends, but for ``keep``.
        """
        with self._writing() as base:
            person = self._must(name)
            codes = second.begin(base, person.name, secret, code, self.clock())
            if codes is None:
                raise InputError(texts.SECOND_WRONG)
            base.execute("delete from logins where name = ? and hash != ?", (person.name, _hash(keep)))
            self._trace(base, by, "second factor set", person.name)
        return codes

    def remove_second(self, name: str, *, by: str, keep: str = "") -> None:
        """Ask for no code any more; every login ends, but for ``keep``."""
        with self._writing() as base:
            person = self._must(name)
            if not second.end(base, person.name):
                raise InputError(texts.SECOND_NONE.format(name=person.name))
            base.execute("delete from logins where name = ? and hash != ?", (person.name, _hash(keep)))
            self._trace(base, by, "second factor removed", person.name)

    def take_code(self, name: str, code: str) -> bool:
        """Is the code right, or none asked for?  It is used up by this, so a full disk lets none in with a code."""
        person = self._person(name)
        if person is not None and self.codes_left(person.name) is None:
            return True
        with self._writing() as base:
            person = self._person(name)
            if person is None:
                return False
            taken = second.take(base, person.name, code, self.clock())
            if taken == "recovery code":
                self._trace(base, person.name, "recovery code used", f"{second.left(base, person.name)} left")
        return taken != ""

    def codes_left(self, name: str) -> int | None:
        """How many recovery codes somebody has; None where they are asked for no code."""
        with self._looking() as base:
            return second.left(base, self._must(name).name)

    def new_secret(self) -> str:
        """What an authenticator is to share with this server, until then kept nowhere."""
        return totp.new_secret()

    # Logins

    def log_in(self, name: str, address: str) -> str:
        """A new login of somebody whose password was right; the secret that their browser keeps."""
        secret, now, person = secrets.token_urlsafe(32), _text(self.clock()), self._must(name)
        idle, began = _text(self.clock() - IDLE), _text(self.clock() - LONGEST)
        with self._turn:
            self._seen = {hash: seen for hash, seen in self._seen.items() if seen >= idle}
            self._logins = {hash: kept for hash, kept in self._logins.items() if kept[1] >= began}
            self._logins[_hash(secret)] = (person.name, now)
            self._soon(
                ("delete from logins where seen < ? or began < ?", (idle, began)),
                ("insert into logins select ?, name, ?, ?, ? from people where name = ?",
                 (_hash(secret), now, now, address, person.name)),
                ("delete from logins where name = ? and hash not in (select hash from logins where name = ? "
                 "order by rowid desc limit ?)", (person.name, person.name, MOST_LOGINS)),
                self._line(person.name, "logged in", "", address),
            )  # fmt: skip
        return secret

    def of_login(self, secret: str, *, used: bool = True) -> Viewer | None:
        """Who has this login, None where it ended or never was. ``used``: it is kept alive by this."""
        hash, now = _hash(secret), self.clock()
        with self._turn:
            if hash in self._ended:
                return None
            row = self._one("select name, began, seen from logins where hash = ?", (hash,))
            if row is None:
                if hash not in self._logins:
                    return None
                row = (*self._logins[hash], self._logins[hash][1])
            person, began = self._person(row[0]), _when(row[1])
            seen = _when(max(row[2], self._seen.get(hash, "")))
            if person is None or now - seen > IDLE or now - began > LONGEST:
                return None
            if used and now - seen > SEEN_STEP:
                self._seen[hash] = _text(now)
                self._if_it_can_be("update logins set seen = ? where hash = ?", (_text(now), hash))
        return Viewer(person.name, person.role)

    def log_out(self, secret: str) -> None:
        """End a login."""
        hash = _hash(secret)
        with self._turn:
            row = self._one("select name from logins where hash = ?", (hash,)) or self._logins.get(hash)
            if row is not None and hash not in self._ended:
                self._ended.add(hash)
                self._soon(("delete from logins where hash = ?", (hash,)), self._line(row[0], "logged out"))

    def logins(self, name: str, secret: str = "") -> list[Login]:
        """Where somebody has logged in, newest first. ``secret``: of the browser that asks."""
        rows = self._ask("select began, seen, address, hash from logins where name = ? order by began desc", (name,))
        now = self.clock()
        mine = _hash(secret)
        found = [Login(_when(began), _when(seen), address, hash == mine) for began, seen, address, hash in rows]
        return [one for one in found if now - one.seen <= IDLE and now - one.began <= LONGEST]

    def log_out_everywhere(self, name: str, *, by: str, keep: str = "") -> None:
        """End every login of somebody, but for the one that is ``keep``."""
        with self._writing() as base:
            person = self._must(name)
            base.execute("delete from logins where name = ? and hash != ?", (person.name, _hash(keep)))
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
            self._if_it_can_be("update tokens set seen = ? where hash = ?", (_text(self.clock()), _hash(secret)))
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
        self._soon(self._line(who, what, detail, address))

    def trail(self, most: int = MOST_SHOWN) -> list[Trace]:
        """The newest lines, newest first."""
        with self._looking() as base:
            return trail.newest(base, most)

    def check_trail(self, noted: str = "") -> Checked:
        """Is every line there as it was written?  ``noted``: a digest that somebody wrote down before."""
        with self._looking() as base:
            return trail.check(base, noted)

    def _trace(self, base: sqlite3.Connection, who: str, what: str, detail: str = "", address: str = "") -> None:
        base.execute(*self._line(who, what, detail, address))

    def _line(self, who: str, what: str, detail: str = "", address: str = "") -> tuple[str, tuple[Any, ...]]:
        return trail.line(_text(self.clock()), who, what, detail, address)

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

    @contextmanager
    def _looking(self) -> Iterator[sqlite3.Connection]:
        with self._turn:
            try:
                yield self._base
            except sqlite3.DatabaseError as error:
                raise StorageError(texts.PEOPLE_NOT_READ.format(why=error)) from error

    def _ask(self, words: str, values: tuple[Any, ...] = ()) -> list[Any]:
        with self._looking() as base:
            return base.execute(words, values).fetchall()

    def _one(self, words: str, values: tuple[Any, ...]) -> Any:
        rows = self._ask(words, values)
        return rows[0] if rows else None

    @property
    def owes(self) -> bool:
        """Is something still to be written down, once there is room?"""
        return bool(self._owed)

    def _soon(self, *lines: tuple[str, tuple[Any, ...]]) -> None:
        """Write that, now or as soon as it can be written: nobody waits for it, and nobody is turned away by it."""
        with self._turn:
            self._owed.extend(lines)
            with suppress(StorageError), self._writing(patience=0.0):
                pass

    def _if_it_can_be(self, words: str, values: tuple[Any, ...]) -> None:
        """Write what is only good to know."""
        with suppress(StorageError), self._writing(patience=0.0) as base:
            base.execute(words, values)

    @contextmanager
    def _writing(self, patience: float = PATIENCE) -> Iterator[sqlite3.Connection]:
        """Everything or nothing, also beside another process; what is owed goes in before it."""
        with self._turn:
            try:
                self._base.execute(f"pragma busy_timeout = {round(1000 * patience)}")
                self._base.execute("begin immediate")
                for line in self._owed:
                    self._base.execute(*line)
                yield self._base
                self._base.execute("commit")
            except sqlite3.IntegrityError:
                self._undo()
                raise
            except sqlite3.DatabaseError as error:
                self._undo()
                raise StorageError(texts.PEOPLE_NOT_WRITTEN.format(why=error)) from error
            except BaseException:
                self._undo()
                raise
            self._owed.clear()
            self._logins.clear()
            self._ended.clear()

    def _undo(self) -> None:
        with suppress(sqlite3.DatabaseError):  # it may be undone already: so a full disk is answered
            self._base.execute("rollback")


def _known(role: str) -> None:
    if role not in ROLES:
        raise InputError(texts.NO_SUCH_ROLE.format(role=role, roles=", ".join(ROLES)))


def _folded(name: str) -> str:
    """A name as it is looked up: however it was typed."""
    return unicodedata.normalize("NFKC", " ".join(name.split())).casefold()


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds")


def _when(text: str) -> datetime:
    return datetime.fromisoformat(text)
