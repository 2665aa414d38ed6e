"""The store on a database: cards, history and standings. Contract in ``store``."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, func, select

from heldtrue.errors import InputError
from heldtrue.records import writing
from heldtrue.records.database import Database
from heldtrue.records.events import Event, IndicatorReading, RunRecord, SetCut, SetMove
from heldtrue.records.ids import new_id
from heldtrue.records.kinds import E, Record, T, from_document, record_of, table_of, word_for
from heldtrue.records.reading import counting, events_of, row_by_id, standing_row
from heldtrue.records.seals import must_match
from heldtrue.records.standing import Standing
from heldtrue.records.store import History, Row, Store, Version
from heldtrue.records.tables import Action, Link, Versions, plain
from heldtrue.records.things import JawSet

if TYPE_CHECKING:
    from heldtrue.records.checking import Finding
    from heldtrue.records.matching import Found, Wanted
    from heldtrue.records.recalling import Recalled
    from heldtrue.records.remembering import Remembered
    from heldtrue.records.replans import Replanned
    from heldtrue.records.rests import SetupInShort


class SqlStore(Store):
    """Records on SQLite or PostgreSQL."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self.name, self.where = database.name, database.where

    def write(self, *records: Record, by: str, why: str = "") -> tuple[Record, ...]:
        """See ``Store``."""
        if not records:
            raise InputError("nothing to write")
        action = writing.action_row(new_id(), by, why)
        return self.database.write(lambda connection: writing.write(connection, action, records))

    def get(self, kind: type[T], id: str) -> T:
        """See ``Store``."""
        row = self.database.read(lambda connection: row_by_id(connection, table_of(kind), id))
        if row is None:
            raise InputError(f"there is no {word_for(kind)} {id!r} in the records")
        return record_of(kind, row)

    def all(self, kind: type[T], *, retired: bool = False) -> tuple[T, ...]:
        """See ``Store``."""
        table = table_of(kind)
        query = select(table).order_by(table.c.id)
        if not retired:
            query = query.where(~table.c.retired)
        return self.database.read(lambda c: tuple(record_of(kind, row) for row in c.execute(query).mappings()))

    def ids(self, kind: type[T]) -> tuple[str, ...]:
        """See ``Store``."""
        query = select(table_of(kind).c.id).order_by(table_of(kind).c.id)
        return tuple(self.database.read(lambda connection: connection.execute(query).scalars().all()))

    def count(self, kind: type[T], *, retired: bool = False) -> int:
        """See ``Store``."""
        table = table_of(kind)
        query = select(func.count()).select_from(table)
        query = query if retired else query.where(~table.c.retired)
        return int(self.database.read(lambda connection: connection.execute(query).scalar()) or 0)

    def versions(self, kind: type[T], id: str) -> tuple[Version, ...]:
        """See ``Store``."""
        kept, action = plain(Versions), plain(Action)
        query = (
            select(kept, action.c.at, action.c.by, action.c.why)
            .join(action, action.c.id == kept.c.action)
            .where(kept.c.kind == table_of(kind).name, kept.c.thing == id)
            .order_by(kept.c.version)
        )
        rows = self.database.read(lambda connection: connection.execute(query).mappings().all())
        if not rows:
            raise InputError(f"there is no {word_for(kind)} {id!r} in the records")
        for row in rows:
            must_match(kept, row)
        return tuple(Version(from_document(kind, row["document"]), row["at"], row["by"], row["why"]) for row in rows)

    def events(
        self, kind: type[E], *, corrected: bool = False, newest: int | None = None, **where: Any
    ) -> tuple[E, ...]:
        """See ``Store``."""
        unknown = where.keys() - set(table_of(kind).c.keys())
        if unknown:
            raise InputError(f"{word_for(kind)}: there is no {', '.join(sorted(unknown))} to look for")
        return self.database.read(
            lambda connection: events_of(connection, kind, where, corrected=corrected, newest=newest)
        )

    def history(self, jaw_set: str) -> History:
        """See ``Store``."""

        def work(connection: Connection) -> History:
            card = _card(connection, jaw_set)
            rows: list[Event] = []
            for kind in (SetCut, SetMove, RunRecord, IndicatorReading):
                rows += events_of(connection, kind, {"jaw_set": jaw_set}, corrected=True)
            runs = [row.id for row in rows if isinstance(row, RunRecord)]
            rows += events_of(connection, IndicatorReading, {"run": runs, "jaw_set": None}, corrected=True)
            rows.sort(key=lambda row: (row.at, row.id))
            return History(card, _standing(connection, jaw_set), tuple(rows))

        return self.database.read(work)

    def standing(self, jaw_set: str) -> Standing:
        """See ``Store``."""
        return self.database.read(lambda connection: _standing(connection, jaw_set))

    def last_run(self, setup: str) -> RunRecord | None:
        """See ``Store``."""
        rows = self.events(RunRecord, newest=1, setup=setup)
        return rows[0] if rows else None

    def clamped(self, chuck: str) -> tuple[tuple[datetime, int], ...]:
        """See ``Store``."""
        runs = table_of(RunRecord)
        query = select(runs.c.at, runs.c.quantity + runs.c.scrap).where(runs.c.chuck == chuck, counting(runs))
        rows = self.database.read(lambda c: c.execute(query.order_by(runs.c.at, runs.c.id)).all())
        return tuple((at, parts) for at, parts in rows)

    def find(self, wanted: Wanted, limit: int = 20) -> Found:
        """See ``Store``."""
        from heldtrue.records.matching import find

        return self.database.read(lambda connection: find(connection, wanted, limit))

    def search(self, remembered: Remembered, limit: int = 20) -> tuple[Recalled, ...]:
        """See ``Store``."""
        from heldtrue.records.recalling import recall

        return self.database.read(lambda connection: recall(connection, remembered, limit))

    def keep_replanned(self, rows: Sequence[Replanned]) -> None:
        """See ``Store``."""
        from heldtrue.records.replans import put

        if rows:
            self.database.write(lambda connection: put(connection, rows))

    def seen_again(self, keys: Sequence[tuple[str, str]], at: datetime) -> None:
        """See ``Store``."""
        from heldtrue.records.replans import touch

        if keys:
            self.database.write(lambda connection: touch(connection, keys, at))

    def replanned(self, setups: Sequence[str] | None = None, *, every: bool = False) -> tuple[Replanned, ...]:
        """See ``Store``."""
        from heldtrue.records.replans import newest, rows_of

        if every and setups is not None:
            return self.database.read(lambda connection: tuple(rows_of(connection, setups)))
        return self.database.read(lambda connection: tuple(newest(connection, setups)))

    def replanned_like(self, key: str) -> Replanned | None:
        """See ``Store``."""
        from heldtrue.records.replans import by_key

        return self.database.read(lambda connection: by_key(connection, key))

    def setups_like(self, content: str) -> tuple[str, ...]:
        """See ``Store``."""
        from heldtrue.records.replans import of_content

        return self.database.read(lambda connection: of_content(connection, content))

    def setups_in_short(self, **where: str) -> tuple[SetupInShort, ...]:
        """See ``Store``."""
        from heldtrue.records.rests import in_short

        return self.database.read(lambda connection: in_short(connection, where))

    def setups_say(self, table: str, key: str, *, without: str = "") -> dict[str, Any]:
        """See ``Store``."""
        from heldtrue.records.rests import say

        return self.database.read(lambda connection: say(connection, table, key, without))

    def rests(self, setups: Sequence[SetupInShort], also: Mapping[str, str]) -> dict[str, str]:
        """See ``Store``."""
        from heldtrue.records.rests import rests

        return self.database.read(lambda connection: rests(connection, setups, also))

    def last_entry(self) -> int:
        """See ``Store``."""
        links = plain(Link)
        return int(self.database.read(lambda c: c.execute(select(func.max(links.c.number))).scalar()) or 0)

    def check(self) -> tuple[Finding, ...]:
        """See ``Store``."""
        from heldtrue.records.checking import findings

        return self.database.read(lambda connection: tuple(findings(connection)))

    def read_rows(self, work: Callable[[Iterable[tuple[str, Row]]], None]) -> None:
        """See ``Store``."""
        from heldtrue.records.bulk import every_row

        self.database.read(lambda connection: work(every_row(connection)))

    def load_rows(self, rows: Iterable[tuple[str, Row]]) -> None:
        """See ``Store``."""
        from heldtrue.records.bulk import load

        self.database.write(lambda connection: load(connection, rows), once=True)  # rows run out

    def close(self) -> None:
        """See ``Store``."""
        self.database.close()


def _card(connection: Connection, jaw_set: str) -> JawSet:
    row = row_by_id(connection, table_of(JawSet), jaw_set)
    if row is None:
        raise InputError(f"there is no jaw set {jaw_set!r} in the records")
    return record_of(JawSet, row)


def _standing(connection: Connection, jaw_set: str) -> Standing:
    found = standing_row(connection, jaw_set)
    if found is None:
        raise InputError(f"there is no jaw set {jaw_set!r} in the records")
    return found
