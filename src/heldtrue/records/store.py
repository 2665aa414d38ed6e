"""The one interface to the shop's memory, and how to open it.

>>> import tempfile
>>> from heldtrue.records import JawSet, open_store
>>> with tempfile.TemporaryDirectory() as folder, open_store(folder) as store:
...     card, = store.write(JawSet(id="S-12", style="pie", material="aluminium 6061-T6"), by="Noor")
...     store.get(JawSet, "S-12").version
1
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from heldtrue.records.events import Event, RunRecord
from heldtrue.records.kinds import E, Record, T
from heldtrue.records.standing import Standing, in_force
from heldtrue.records.things import JawSet, Thing

if TYPE_CHECKING:
    from heldtrue.records.checking import Finding
    from heldtrue.records.matching import Found, Wanted
    from heldtrue.records.recalling import Recalled
    from heldtrue.records.remembering import Remembered
    from heldtrue.records.replans import Replanned
    from heldtrue.records.rests import SetupInShort

Row = dict[str, Any]


@dataclass(frozen=True)
class Version:
    """One version of a card: the card as it was, and who wrote it, when and why."""

    card: Thing
    at: datetime
    by: str
    why: str


@dataclass(frozen=True)
class History:
    """Everything that happened to one jaw set, oldest first: cuts, moves, runs with it and indicator readings.

    ``rows`` has those that were put right as well; ``counting`` has not.
    """

    card: JawSet
    standing: Standing
    rows: tuple[Event, ...]

    @property
    def counting(self) -> tuple[Event, ...]:
        """The rows that are in force."""
        return in_force(self.rows)


class Store(ABC):
    """What the shop remembers.

    *Threads*: any number may share one store.  *Processes*: each opens its own; any number may have the same records
    open.  *Atomicity*: one ``write`` is one transaction: when it returns, all of it is on disk; when it raises, nothing
    is.  Writers wait for each other, readers for nobody, and a reader sees a write whole or not at all.
    *History* is only added to: an ``Event`` that was written is never changed; a new one whose ``corrects`` names it
    takes its place.  *Cards* (``Thing``) are edited: every version is kept, and a card somebody else has written since
    it was read is refused with ``ConflictError``.  *Values* come back equal to those written, times in UTC.

    Raised everywhere: ``InputError`` for what the caller can put right (an id nobody knows, a value that cannot be
    kept), ``ConflictError`` where somebody was first, ``RecordsError`` where the database fails (disk full, no right to
    write, damaged, not reached).  After any of them the store can be used on.
    """

    name: str
    """Folder or address, to show."""
    where: str
    """Folder or address, to open it again in another process; with what an address says of a password."""

    @abstractmethod
    def write(self, *records: Record, by: str, why: str = "") -> tuple[Record, ...]:
        """Write cards and history in one transaction; gives the records back as they stand, cards with new versions.

        ``by``: who enters it; ``why`` is kept with it.  A card with version 0 is new.  Records may refer to those
        before them.  An event that is already there, unchanged, is accepted: an answer that got lost may be asked for
        again.

        Raises: ``ConflictError``: a card was written since it was read, or is not new; an event was put right already,
        or its id is there with other content; a set is checked out that somebody has.  ``InputError``: a reference to
        what is not there, a value that cannot be kept, no name.
        """

    @abstractmethod
    def get(self, kind: type[T], id: str) -> T:
        """One card.

        Raises: ``InputError`` where it is not there.
        """

    @abstractmethod
    def all(self, kind: type[T], *, retired: bool = False) -> tuple[T, ...]:
        """Every card of a kind, by id; the retired only if asked for."""

    @abstractmethod
    def ids(self, kind: type[T]) -> tuple[str, ...]:
        """The id of every card of a kind, the retired too."""

    @abstractmethod
    def count(self, kind: type[T], *, retired: bool = False) -> int:
        """How many cards of a kind there are; with the retired they only grow."""

    @abstractmethod
    def versions(self, kind: type[T], id: str) -> tuple[Version, ...]:
        """Every version of one card, oldest first; fields that came to be later stand at their defaults.

        Raises: ``InputError`` where it is not there.
        """

    @abstractmethod
    def events(
        self, kind: type[E], *, corrected: bool = False, newest: int | None = None, **where: Any
    ) -> tuple[E, ...]:
        """The history of a kind, oldest first: ``events(GaugeReading, chuck="C-2")``.

        ``corrected`` adds what was put right or taken back; ``newest``: no more than that many, the latest.
        """

    @abstractmethod
    def history(self, jaw_set: str) -> History:
        """Everything that happened to a jaw set.

        Raises: ``InputError`` where it is not there.
        """

    @abstractmethod
    def standing(self, jaw_set: str) -> Standing:
        """How a jaw set stands.

        Raises: ``InputError`` where it is not there.
        """

    @abstractmethod
    def last_run(self, setup: str) -> RunRecord | None:
        """The last run of a setup; None if it never ran."""

    @abstractmethod
    def clamped(self, chuck: str) -> tuple[tuple[datetime, int], ...]:
        """When how many parts were clamped in a chuck, good and scrap, oldest first; seals are not looked at."""

    @abstractmethod
    def find(self, wanted: Wanted, limit: int = 20) -> Found:
        """Jaw sets for a wanted setup, the cheapest to use first, and blanks where a new set is needed."""

    @abstractmethod
    def search(self, remembered: Remembered, limit: int = 20) -> tuple[Recalled, ...]:
        """Jaw sets by what somebody remembers of them, the nearest first."""

    @abstractmethod
    def keep_replanned(self, rows: Sequence[Replanned]) -> None:
        """Keep what re-planning found, in one transaction; rows may come in any order, and twice."""

    @abstractmethod
    def seen_again(self, keys: Sequence[tuple[str, str]], at: datetime) -> None:
        """Setups, each with a state that has a row: the records were seen in that state again."""

    @abstractmethod
    def replanned(self, setups: Sequence[str] | None = None, *, every: bool = False) -> tuple[Replanned, ...]:
        """What re-planning found: the newest of each setup, by id; ``every`` row of the setups named, oldest first."""

    @abstractmethod
    def replanned_like(self, key: str) -> Replanned | None:
        """The full plan that was made of exactly this; None where there is none."""

    @abstractmethod
    def setups_like(self, content: str) -> tuple[str, ...]:
        """Ids of setups with this content that were re-planned."""

    @abstractmethod
    def setups_in_short(self, **where: str) -> tuple[SetupInShort, ...]:
        """The setups that are not retired, without their documents, by id: of a chuck, machine, part, jaw_set."""

    @abstractmethod
    def setups_say(self, table: str, key: str, *, without: str = "") -> dict[str, Any]:
        """What each setup that is not retired states itself under a key of a table of its file, by id; None where
        nothing. ``without``: only setups whose card does not name that, such as ``chuck``."""

    @abstractmethod
    def rests(self, setups: Sequence[SetupInShort], also: Mapping[str, str]) -> dict[str, str]:
        """A digest for each setup of the cards and history it names, without the chuck's log; and of ``also`` by id."""

    @abstractmethod
    def last_entry(self) -> int:
        """The number of the last action: while it stays, nobody has entered anything."""

    @abstractmethod
    def check(self) -> tuple[Finding, ...]:
        """Everything that is not as it must be: the file, the references, our own rules. Empty is sound."""

    @abstractmethod
    def read_rows(self, work: Callable[[Iterable[tuple[str, Row]]], None]) -> None:
        """Hand every row of every table but the derived ones to ``work``, in an order in which they can be written.

        All of one picture, whoever writes meanwhile.
        """

    @abstractmethod
    def load_rows(self, rows: Iterable[tuple[str, Row]]) -> None:
        """Fill an empty store with such rows, in one transaction, and derive the rest.

        Raises: ``InputError`` where it is not empty; whatever ``rows`` raises, and then nothing is written.
        """

    @abstractmethod
    def close(self) -> None:
        """Let go of the database; may be called twice."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def open_store(
    where: str | Path, *, create: bool = True, read_only: bool = False, upgrade: bool | None = None,
    patience: float = 30.0,
) -> Store:  # fmt: skip
    """Open the records in a folder (SQLite, nothing to set up) or at a ``postgresql://`` address.

    ``create``: make folder and tables where there are none; ``upgrade`` an older schema: a folder is upgraded anyway,
    after a copy of its file into ``backups``, a server only with True; ``patience``: how long to wait for another
    writer [s].  The folder must be on a disk of this machine: a network drive does not keep what SQLite relies on.

    Raises: ``StoreVersionError`` for a schema this program does not know or may not upgrade; ``RecordsError`` where it
    cannot be opened; ``InputError`` for another kind of address.
    """
    from heldtrue.records.database import Database
    from heldtrue.records.schema import make_ready
    from heldtrue.records.sql_store import SqlStore

    database = Database(where, read_only=read_only, patience=patience)
    try:
        make_ready(database, upgrade=upgrade, create=create)
    except BaseException:
        database.close()
        raise
    return SqlStore(database)
