"""Second factors as they are kept: what the server and an authenticator share, the codes used, the recovery codes.

What is shared has to be kept as it is, or no code could be worked out: who reads the file can work out codes, and
still needs the password. Every function works on a connection that is in a transaction.
"""

from __future__ import annotations

import sqlite3
from datetime import datetime

from heldtrue.web.access import totp

SCHEMA = """
create table if not exists seconds (
    name text primary key references people (name) on delete cascade, secret text not null, used integer not null);
create table if not exists recovery (
    hash text primary key, name text not null references people (name) on delete cascade);
"""


def begin(base: sqlite3.Connection, name: str, secret: str, code: str, now: datetime) -> list[str] | None:
    """Ask for codes from now on; the recovery codes, or None where the code shows that the authenticator has not
    got the secret."""
    step = totp.step_of(code, secret, now, after=0)
    if step is None:
        return None
    end(base, name)
    base.execute("insert into seconds values (?, ?, ?)", (name, secret, step))
    codes = totp.new_recovery_codes()
    base.executemany("insert into recovery values (?, ?)", [(totp.recovery_hash(one), name) for one in codes])
    return codes


def end(base: sqlite3.Connection, name: str) -> bool:
    """Ask for no codes any more; was one asked for?"""
    base.execute("delete from recovery where name = ?", (name,))
    return base.execute("delete from seconds where name = ?", (name,)).rowcount > 0


def take(base: sqlite3.Connection, name: str, code: str, now: datetime) -> str:
    """Use a code up. Returns what it was, "code" or "recovery code"; "none needed"; empty where it is wrong."""
    row = base.execute("select secret, used from seconds where name = ?", (name,)).fetchone()
    if row is None:
        return "none needed"
    step = totp.step_of(code, row[0], now, after=row[1])
    if step is not None:
        base.execute("update seconds set used = ? where name = ?", (step, name))
        return "code"
    found = base.execute("delete from recovery where hash = ? and name = ?", (totp.recovery_hash(code), name))
    return "recovery code" if found.rowcount else ""


def left(base: sqlite3.Connection, name: str) -> int | None:
    """How many recovery codes are left; None where no second factor is asked for."""
    if base.execute("select 1 from seconds where name = ?", (name,)).fetchone() is None:
        return None
    return int(base.execute("select count(*) from recovery where name = ?", (name,)).fetchone()[0])
