"""The audit trail: who did what when, one line each, never changed, and chained so that it shows if it was.

Every line carries the SHA-256 of itself and of the digest before it. Who changes or takes out a line has to compute
every later one anew; who noted a digest elsewhere finds that too. Oldest lines go when there are too many.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

MOST_LINES = 100_000
"""Lines kept: some 30 MB."""
DROPPED = 10_000
"""Oldest lines that go at once where there are more."""
LONGEST = 400
"""Letters of one entry of a line."""

SCHEMA = """
create table if not exists trail (
    id integer primary key, at text not null, who text not null, what text not null, detail text not null,
    address text not null, digest text not null);
create table if not exists trail_ends (
    one integer primary key check (one = 1), first integer not null, before text not null, last integer not null,
    digest text not null);
insert or ignore into trail_ends values (1, 1, '', 0, '');
"""
ONE_MORE = """
insert into trail select last + 1, ?, ?, ?, ?, ?, chained(digest, last + 1, ?, ?, ?, ?, ?) from trail_ends
"""


@dataclass(frozen=True)
class Trace:
    """One line of the audit trail."""

    at: datetime
    who: str
    what: str
    detail: str
    address: str


Fault = Literal["", "changed", "missing", "end"]


@dataclass(frozen=True)
class Checked:
    """What was found of the trail.

    ``lines``: how many there are; ``dropped``: how many older ones went as there were too many; ``digest``: of the
    last line; ``fault``: a line was changed, one is missing, or the last ones are; ``line``: its number, the first
    such; ``noted``: is the digest that somebody noted that of a line, None where none was given.
    """

    lines: int
    dropped: int
    digest: str
    fault: Fault
    line: int
    noted: bool | None


def ready(base: sqlite3.Connection) -> None:
    """Make the tables where they are missing; a trail from before there were digests is chained as it stands."""
    base.create_function("chained", 7, lambda before, *line: _digest(before, line), deterministic=True)
    columns = [row[1] for row in base.execute("pragma table_info(trail)")]
    if columns and "digest" not in columns:
        _chain_old(base)
    elif not columns:
        base.executescript(SCHEMA + _keepers())


def line(at: str, who: str, what: str, detail: str, address: str) -> tuple[str, tuple[str, ...]]:
    """One more line, as a statement and its values. ``at``: ISO 8601 in UTC."""
    values = (at, *(plain(word)[:LONGEST] for word in (who, what, detail, address)))
    return ONE_MORE, values + values


def newest(base: sqlite3.Connection, most: int) -> list[Trace]:
    """The newest lines, newest first."""
    rows = base.execute("select at, who, what, detail, address from trail order by id desc limit ?", (most,))
    return [Trace(datetime.fromisoformat(at), *(plain(one) for one in rest)) for at, *rest in rows.fetchall()]


def check(base: sqlite3.Connection, noted: str = "") -> Checked:
    """Follow the chain from its first line to its last. ``noted``: a digest that was written down before."""
    first, before, last, end = base.execute("select first, before, last, digest from trail_ends").fetchone()
    lines, expected, digest, seen = 0, first, before, before == noted
    fault: Fault = ""
    at = 0
    for number, *rest, kept in base.execute("select id, at, who, what, detail, address, digest from trail order by id"):
        lines += 1
        seen = seen or kept == noted
        if not fault:
            if number != expected:
                fault, at = "missing", expected
            elif _digest(digest, (number, *rest)) != kept:
                fault, at = "changed", number
        expected, digest = number + 1, kept
    if not fault and (expected, digest) != (last + 1, end):
        fault, at = "end", expected
    return Checked(lines, first - 1, digest, fault, at, seen if noted else None)


def plain(word: str) -> str:
    """What may stand in a line: signs that a terminal or a log would act on are written out."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in word)


def _digest(before: str, line: tuple[object, ...]) -> str:
    return hashlib.sha256(json.dumps([before, *line], ensure_ascii=False).encode()).hexdigest()


def _keepers() -> str:
    """Triggers: lines stay, the end of the chain is kept with each, and the oldest go where there are too many."""
    return f"""
create trigger if not exists trail_stays before update on trail begin select raise(abort, 'the trail is kept'); end;
create trigger if not exists trail_keeps before delete on trail when old.id >= (select first from trail_ends)
    begin select raise(abort, 'the trail is kept'); end;
create trigger if not exists trail_ends_here after insert on trail
    begin update trail_ends set last = new.id, digest = new.digest; end;
create trigger if not exists trail_is_short after insert on trail
    when new.id - (select first from trail_ends) >= {MOST_LINES}
    begin
        update trail_ends set first = first + {DROPPED},
            before = (select digest from trail where id = first + {DROPPED} - 1);
        delete from trail where id < (select first from trail_ends);
    end;
"""


def _chain_old(base: sqlite3.Connection) -> None:
    base.execute("begin immediate")
    try:
        rows = base.execute("select at, who, what, detail, address from trail order by id").fetchall()
        base.execute("drop table trail")
        for words in SCHEMA.split(";"):
            base.execute(words)
        for row in rows:
            base.execute(*line(*row))
            base.execute(
                "update trail_ends set last = last + 1, digest = (select digest from trail where id = last + 1)"
            )
        base.execute("commit")
    except BaseException:
        base.execute("rollback")
        raise
    base.executescript(_keepers())
