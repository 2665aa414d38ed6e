"""What is typed on the pages for readings: kept on this machine with every key, as drafts are.

One small JSON file for each, in the folder ``readings`` of the records.
"""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from dataclasses import field as default
from hashlib import sha256
from pathlib import Path
from time import time
from typing import Any

from heldtrue.errors import InputError
from heldtrue.web import texts
from heldtrue.web.drafts import write_next
from heldtrue.web.fields import Table, get, put

FORMAT = 1
MOST_UNDO = 100
MOST_UNDO_LETTERS = 2_000_000
"""Letters that undo keeps of pasted tables."""
ONE_TYPING = 3.0
"""Changes of one field nearer than this are one change, s."""
NAME = re.compile(r"_?[A-Za-z0-9][A-Za-z0-9_-]{0,79}(\.(drift|friction))?")
"""Names of setups; with a line before it those of no setup, with an ending those of parts in a row or of slips."""


@dataclass
class Typed:
    """Readings being typed: ``table`` of texts as they were typed, ``past``: what undo puts back, ``version``: counts
    every save."""

    id: str
    table: Table
    past: list[dict[str, Any]] = default(default_factory=list)
    version: int = 0

    def change(self, values: Table, label: str) -> None:
        """Set values by path."""
        before = {path: deepcopy(get(self.table, path)) for path in values}
        for path, value in values.items():
            self.table = put(self.table, path, value)
        last, at, paths = (self.past[-1] if self.past else {}), time(), sorted(values)
        # The digits of one reading are one change: undo takes the reading back, not its last digit.
        if last.get("paths") == paths and last["label"] == label and at - last["at"] < ONE_TYPING:
            last["at"] = at
            return
        self.past.append({"label": label, "paths": paths, "before": before, "at": at})
        del self.past[:-MOST_UNDO]
        while len(self.past) > 1 and sum(_letters(one) for one in self.past) > MOST_UNDO_LETTERS:
            del self.past[0]

    def undo(self) -> str:
        """Take the last change back; its label, empty where there is none."""
        if not self.past:
            return ""
        last = self.past.pop()
        for path, value in last["before"].items():
            self.table = put(self.table, path, value)
        return str(last["label"])

    def settle(self) -> None:
        """What is typed next is a change of its own, also in the same place."""
        if self.past:
            self.past[-1]["at"] = 0.0

    def as_json(self) -> str:
        """The content of its file."""
        return json.dumps(
            {"format": FORMAT, "id": self.id, "version": self.version, "table": self.table, "past": self.past},
            ensure_ascii=False,
        )


@dataclass
class Bench:
    """Readings that somebody has open; ``watchers`` are told of every change, in every tab."""

    typed: Typed
    watchers: set[Callable[[], None]] = default(default_factory=set)

    def tell(self) -> None:
        """Tell every tab."""
        for watcher in tuple(self.watchers):
            watcher()


class Benches:
    """The readings of one folder; the same readings are the same object for every tab."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._open: dict[str, Bench] = {}
        self._lock = threading.Lock()

    def get(self, id: str, blank: Table) -> Bench:
        """What is typed under a name, or a ``blank`` one. Raises: ``InputError`` where it cannot be read."""
        with self._lock:
            if id not in self._open:
                path = self._path(id)
                self._open[id] = Bench(_read(path) if path.exists() else Typed(id, deepcopy(blank)))
            return self._open[id]

    def save(self, bench: Bench) -> None:
        """Write it, whole or not at all.

        Raises: ``InputError`` where another program saved it meanwhile; it is then read anew.
        """
        typed = bench.typed
        path = self._path(typed.id)
        with self._lock:
            if path.exists() and (there := _read(path)).version != typed.version:
                bench.typed = there
                raise InputError(texts.SAVED_ELSEWHERE)
            write_next(path, typed)

    def remove(self, id: str) -> None:
        """Throw away what was typed for a setup."""
        with self._lock:
            for name in (id, f"{id}.drift", f"{id}.friction"):
                self._open.pop(name, None)
                self._path(name).unlink(missing_ok=True)

    def _path(self, id: str) -> Path:
        if not NAME.fullmatch(id):
            raise InputError(texts.NO_SUCH_DRAFT)
        return self.folder / f"{id}.json"


def own_name(person: str) -> str:
    """What the readings without a setup are called: each person who logs in has their own."""
    return f"_own-{sha256(person.encode()).hexdigest()[:16]}" if person else "_own"


def _letters(one: dict[str, Any]) -> int:
    return sum(len(str(value)) for value in one["before"].values())


def _read(path: Path) -> Typed:
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
        if raw["format"] != FORMAT:
            raise InputError(texts.NEWER_DRAFT)
        return Typed(path.stem, dict(raw["table"]), list(raw["past"]), int(raw["version"]))
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        raise InputError(texts.BROKEN_DRAFT.format(path=path.name)) from error
