"""Drafts: what somebody is typing, saved with every field, so that a reload, a second tab or a power cut loses nothing.

One small JSON file for each draft, in the folder ``drafts`` of the records.
"""

from __future__ import annotations

import json
import re
import shutil
import threading
from collections.abc import Iterable
from copy import deepcopy
from dataclasses import dataclass
from dataclasses import field as default
from pathlib import Path
from time import time
from typing import Any, Literal, Protocol, TypeVar

from heldtrue.errors import InputError
from heldtrue.files import remove, write_all
from heldtrue.planning.setup import Setup
from heldtrue.program.dialect import parse_dialect, shipped
from heldtrue.web import texts
from heldtrue.web.alignment import aligned, moved
from heldtrue.web.fields import (
    Field,
    Table,
    Units,
    bare,
    field_at,
    get,
    is_from_file,
    put,
    same,
    shown,
    spelled,
    typed_value,
    units_of,
    with_source,
)
from heldtrue.web.places import Point, points_of, problems_in

R = TypeVar("R")
FORMAT = 1
MOST_UNDO = 100
ONE_TYPING = 3.0
"""Changes of one field nearer than this are one change, s."""
LONGEST_TEXT = 400
"""Letters in one field; more is no value."""
TEMPLATE = "template.toml"
"""What a program template that was handed over is called, in the folder of its draft."""
LARGEST_TEMPLATE = 200_000
"""Bytes of a program template."""
KEPT_AS = {"table": dict, "pending": dict, "problems": dict, "past": list, "ticks": list, "version": int,
           "own_files": bool, "record": str}  # fmt: skip
"""What stands in the file of a draft, by name."""
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,79}")


class Versioned(Protocol):
    """What is kept in a file of its own that says how often it was saved."""

    version: int

    def as_json(self) -> str:
        """The text of its file."""
        ...


def write_next(path: Path, kept: Versioned) -> None:
    """Write the next version of it, whole or not at all. Raises: as ``write_all``; its version is then as it was."""
    kept.version += 1
    try:
        write_all({path: kept.as_json()}, make_folders=True)
    except BaseException:
        kept.version -= 1  # what was not written must not look as if another program had been there
        raise


class SavedElsewhereError(InputError):
    """Another program saved the draft meanwhile."""


@dataclass
class Draft:
    """One setup being typed.

    ``table``: in the shape of the setup file, the last that held together, or the first that does not yet;
    ``pending``: typed text by path that could not be taken in, ``problems`` why; ``past``: what undo puts back;
    ``ticks``: steps at the machine that are done; ``version``: counts every save; ``own_files``: may it name files of
    the examples folder?; ``record``: what the setup is called in the records; ``has_template``: was a program template
    handed over with it?; ``as_typed``: text by path as somebody typed it, which counts for as long as it means what is
    there
    """

    id: str
    table: Table
    pending: dict[str, str] = default(default_factory=dict)
    problems: dict[str, list[str]] = default(default_factory=dict)
    past: list[dict[str, Any]] = default(default_factory=list)
    ticks: list[str] = default(default_factory=list)
    version: int = 0
    own_files: bool = False
    record: str = ""
    has_template: bool = False
    as_typed: dict[str, str] = default(default_factory=dict)
    _looked: tuple[Table, list[str]] | None = default(default=None, compare=False, repr=False)

    @property
    def title(self) -> str:
        """What it is called."""
        named = (bare(get(self.table, path)) for path in ("title", "part.name", "part.number"))
        return next((str(one) for one in named if one), self.id)

    @property
    def system(self) -> Literal["metric", "inch"]:
        """What bare numbers mean."""
        return "inch" if get(self.table, "units") == "inch" else "metric"

    def setup(self) -> Setup:
        """The setup of the table. Raises: ``InputError`` while it does not hold together."""
        found = Setup.from_dict(self.table)
        template = found.boring.template if found.boring is not None else None
        allowed = self.own_files or (self.has_template and template == TEMPLATE)
        if template is not None and template not in shipped() and not allowed:
            raise InputError(texts.NO_SERVER_FILES)
        return found

    def edit(self, field: Field, text: str) -> None:
        """Take typed text in, or keep it beside the table with what is wrong with it."""
        units = self.units
        value = typed_value(field, text, units)
        # A bare pressure waits with the unit it was typed in: another gauge must not make another pressure of it.
        waits = value if isinstance(value, str) else text
        paths = (field.path, *field.also)
        for path in paths:
            self.as_typed[path] = text.strip()
        values = {path: with_source(self.table, path, value) for path in paths}
        self.change(values, field.label, dict.fromkeys(paths, waits))

    @property
    def units(self) -> Units:
        """What a bare number in a field means."""
        return units_of(self.table)

    def text(self, field: Field) -> str:
        """What a field shows: what was typed and waits, or what the table has."""
        typed = self.as_typed.get(field.path)
        if typed is not None and self.has(field, typed):
            return typed
        waiting = self.pending.get(field.path)
        return (shown(field, self.table) if waiting is None else spelled(field, waiting, self.units)).strip()

    def has(self, field: Field, text: str) -> bool:
        """Does text mean what stands there, or waits there?"""
        waiting, value = self.pending.get(field.path), typed_value(field, text, self.units)
        if waiting is not None:
            return (value if isinstance(value, str) else text.strip()) == waiting
        return same(field, bare(get(self.table, field.path)), value, self.units)

    def state(self, field: Field) -> str:
        """Which value of a field this is: the same for as long as nobody changes it, whatever unit it is shown in."""
        waiting = self.pending.get(field.path)
        return json.dumps([waiting] if waiting is not None else bare(get(self.table, field.path)), ensure_ascii=False)

    def points(self) -> list[Point]:
        """What is missing or to be put right, with the fields."""
        return points_of(self.table, self._problems())

    def _problems(self) -> list[str]:
        """What is wrong with the table; looked for once for each table."""
        if self._looked is None or self._looked[0] is not self.table:
            self._looked = (self.table, problems_in(self.table))
        return self._looked[1]

    def set_source(self, field: Field, source: str) -> None:
        """Say where a value came from. Raises: ``InputError`` where there is no value, or it waits to be put right."""
        value = bare(get(self.table, field.path))
        if value is None or field.path in self.pending:
            raise InputError(texts.NO_VALUE_YET.format(label=field.label))
        self.change({field.path: {"value": value, "from": source}}, texts.SOURCE_OF.format(label=field.label))

    def change(
        self, values: dict[str, Any], label: str, typed: dict[str, str] | None = None, *, unfinished: bool = False
    ) -> None:  # fmt: skip
        """Set raw values by path; with all that is pending if they only hold together, else alone, else pending.

        ``unfinished``: set them though something is missing then: a new row is filled in afterwards.
        """
        typed = typed or {}
        for text in typed.values():
            if len(text) > LONGEST_TEXT:
                raise InputError(texts.TOO_LONG)
        pending = {path: text for path, text in self._followed(self.pending, values).items() if path not in typed}
        # A list that is changed goes in before what waits at its rows.
        together = {**values, **{path: _as_typed(path, text) for path, text in pending.items() if path not in values}}
        if not problems_in(self._with(together)):
            self._commit(together, label)
            self.pending, self.problems = {}, {}
            return
        wrong = problems_in(self._with(values))
        if not wrong or unfinished or self._is_unfinished():
            problems = self._followed(self.problems, values)
            self._commit(values, label)
            self.pending, self.problems = pending, {path: problems[path] for path in pending if path in problems}
            return
        if not typed:
            raise InputError(*wrong)
        for path, text in typed.items():
            if self.pending.get(path) != text:
                self._remember(label, typed, {}, {path: self.pending.get(path)})
            self.pending[path] = text
            self.problems[path] = wrong

    def _followed(self, by_path: dict[str, R], values: dict[str, Any]) -> dict[str, R]:
        """What waits, by path, after lists are changed: it goes with its row, and goes if that goes."""
        found = dict(by_path)
        for listed, after in values.items():
            before = bare(get(self.table, listed))
            if not isinstance(before, list | tuple) or not isinstance(after, list | tuple | None):
                continue
            places = aligned(before, after or ())
            kept = {path: one for path, one in found.items() if not path.startswith(f"{listed}.")}
            there = ((moved(path, listed, places), one) for path, one in found.items() if path not in kept)
            found = kept | {path: one for path, one in there if path is not None}
        return found

    def undo(self) -> str:
        """Take the last change back; its label, empty where there is none."""
        if not self.past:
            return ""
        last = self.past.pop()
        for path, text in last["pending"].items():
            self.pending.pop(path, None)
            self.problems.pop(path, None)
            if text is not None:
                self.pending[path] = text
                self.problems[path] = problems_in(self._with({path: _as_typed(path, text)}))
        self.pending = self._followed(self.pending, last["before"])
        self.problems = self._followed(self.problems, last["before"])
        for path, value in sorted(last["before"].items(), key=lambda one: -one[0].count(".")):
            self.table = put(self.table, path, value)
        return str(last["label"])

    def _is_unfinished(self) -> bool:
        """Does the table not hold together even without the change?"""
        return bool(self._problems())

    def _with(self, values: dict[str, Any]) -> Table:
        table = self.table
        for path, value in values.items():
            table = put(table, path, value)
        return table

    def _commit(self, values: dict[str, Any], label: str) -> None:
        after = self._with(values)
        waiting = {path: self.pending.get(path) for path in values if path in self.pending}
        if after == self.table and not waiting:
            return  # a browser hands the same value over again where an answer is slow: there is nothing to undo
        places = {_changed_place(self.table, path) for path in values}
        before = {place: deepcopy(get(self.table, place)) for place in places}
        self._remember(label, values, before, waiting)
        self.table = after

    def _remember(
        self, label: str, paths: Iterable[str], before: dict[str, Any], pending: dict[str, str | None]
    ) -> None:
        last, at, named = (self.past[-1] if self.past else {}), time(), sorted(paths)
        # Letters of one value typed in a row are one change: undo takes the value back, not its last letter.
        if last.get("paths") == named and at - last["at"] < ONE_TYPING:
            last["at"] = at
            last["before"] = {**before, **last["before"]}
            last["pending"] = {**pending, **last["pending"]}
            return
        self.past.append({"label": label, "paths": named, "before": before, "pending": pending, "at": at})
        del self.past[:-MOST_UNDO]

    def as_json(self) -> str:
        """The content of its file."""
        return json.dumps({
            "format": FORMAT, "id": self.id, "version": self.version, "own_files": self.own_files,
            "record": self.record, "has_template": self.has_template,
            "table": self.table, "as_typed": self.as_typed,
            "pending": self.pending, "problems": self.problems, "past": self.past, "ticks": self.ticks,
        }, ensure_ascii=False)  # fmt: skip


class Drafts:
    """The drafts of one folder. Any thread may ask; the same draft is the same object for every tab."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._open: dict[str, Draft] = {}
        self._lock = threading.Lock()

    def ids(self) -> list[str]:
        """Every draft, the last saved first."""
        files = [path for path in self.folder.glob("*.json") if NAME.fullmatch(path.stem)]
        return [path.stem for path in sorted(files, key=lambda path: -path.stat().st_mtime)]

    def get(self, id: str) -> Draft:
        """One draft. Raises: ``InputError`` where it is not there or cannot be read."""
        with self._lock:
            if id not in self._open:
                self._open[id] = _read(self._path(id))
            return self._open[id]

    def new(self, id: str, table: Table, *, own_files: bool = False) -> Draft:
        """A new draft, under the next free name, saved; whatever its name, starts are recorded under ``id``."""
        stem = re.sub(r"[^A-Za-z0-9_-]+", "-", id).strip("-")[:70] or "setup"
        with self._lock:
            name, count = stem, 1
            while name in self._open or self._path(name).exists():
                count += 1
                name = f"{stem}-{count}"
            draft = Draft(name, deepcopy(table), own_files=own_files, record=id[:100])
            self._open[name] = draft
        try:
            self.save(draft)
        except InputError:
            with self._lock:
                self._open.pop(name, None)  # it is not there: its name stays free
            raise
        return draft

    def save(self, draft: Draft) -> None:
        """Write it, whole or not at all.

        Raises: ``InputError`` where another program saved it meanwhile; it is then read anew, and nothing is lost.
        ``StorageError`` where the disk is full: the draft stays as it is for as long as the server runs.
        """
        path = self._path(draft.id)
        with self._lock:
            if path.exists() and (there := _read(path)).version != draft.version:
                self._open[draft.id] = there
                raise SavedElsewhereError(texts.SAVED_ELSEWHERE)
            write_next(path, draft)

    def is_newest(self, draft: Draft) -> bool:
        """Is the draft what its file says? Another program, or who threw it away, may have been there meanwhile."""
        with self._lock:
            try:
                return self._open.get(draft.id) is draft and _read(self._path(draft.id)).version == draft.version
            except InputError:
                return False

    def newest(self, draft: Draft) -> Draft:
        """The draft as its file is by now: the same object where nobody else saved it. Raises: as ``get``."""
        if not self.is_newest(draft):
            with self._lock:
                self._open.pop(draft.id, None)
        return self.get(draft.id)

    def remove(self, id: str) -> None:
        """Throw a draft away. Raises: ``InputError`` where its file cannot be taken away."""
        with self._lock:
            remove(self._path(id))
            self._open.pop(id, None)
            shutil.rmtree(self.files_of(id), ignore_errors=True)

    def keep_template(self, draft: Draft, content: bytes) -> None:
        """Keep a program template in the draft's own folder; empty content takes it away.

        Raises: ``InputError`` for what is no template.
        """
        place = self.files_of(draft.id) / TEMPLATE
        if len(content) > LARGEST_TEMPLATE:
            raise InputError(texts.TEMPLATE_LARGE)
        if content:
            try:
                text = content.decode("utf-8")
            except UnicodeDecodeError as error:
                raise InputError(texts.TEMPLATE_NOT_TEXT) from error
            parse_dialect(text)
            write_all({place: text}, make_folders=True)
        else:
            remove(place)
        draft.has_template = bool(content)

    def files_of(self, id: str) -> Path:
        """The folder of what was handed over with a draft. Raises: ``InputError`` for what is no name."""
        return self._path(id).with_suffix(".files")

    def _path(self, id: str) -> Path:
        if not NAME.fullmatch(id):
            raise InputError(texts.NO_SUCH_DRAFT)
        return self.folder / f"{id}.json"


def _texts(raw: Any) -> dict[str, str]:
    """Texts by path; none where the file has none."""
    return {path: text for path, text in raw.items() if isinstance(text, str)} if isinstance(raw, dict) else {}


def _read(path: Path) -> Draft:
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
        if raw["format"] != FORMAT:
            raise InputError(texts.NEWER_DRAFT)
        if not all(isinstance(raw[key], kind) for key, kind in KEPT_AS.items()):
            raise TypeError("not the shape of a draft")
        if not all(isinstance(one, dict) and {"label", "paths", "before", "pending", "at"} <= one.keys()
                   for one in raw["past"]):  # fmt: skip
            raise TypeError("not what undo puts back")
        return Draft(path.stem, raw["table"], raw["pending"], raw["problems"], raw["past"], raw["ticks"],
                     raw["version"], raw["own_files"], raw["record"], raw.get("has_template", False),
                     _texts(raw.get("as_typed")))  # fmt: skip
    except FileNotFoundError as error:
        raise InputError(texts.NO_SUCH_DRAFT) from error
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        raise InputError(texts.BROKEN_DRAFT.format(path=path.name)) from error


def _changed_place(table: Table, path: str) -> str:
    """What undo has to put back: the outermost table that is made for the path, the whole list it changes, or the
    section with the drawing that it was."""
    steps = path.split(".")
    for count in range(1, len(steps)):
        there = get(table, ".".join(steps[:count]))
        if there is None or is_from_file(there):
            return ".".join(steps[:count])
    return ".".join(steps[:-1]) if steps[-1].isdecimal() else path


def _as_typed(path: str, text: str) -> Any:
    """What text that waits puts into the table; a pressure has its unit already."""
    try:
        return typed_value(field_at(path, path), text)
    except KeyError:
        return text or None
