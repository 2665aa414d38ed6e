"""What is different: between two documents, field by field, and since the last run of a setup."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from heldtrue.errors import InputError
from heldtrue.records.documents import content_of, open_setup
from heldtrue.records.events import GaugeReading, Greasing, RunRecord, SetCut, SetMove
from heldtrue.records.standing import standing_of
from heldtrue.records.store import Store
from heldtrue.records.things import SetupRecord

_RUN_FIELDS = ("machine", "chuck", "jaw_set", "rough_pressure", "finish_pressure", "speed_rpm", "lot")
_SET_FIELDS = ("side", "diameter", "depth", "chuck", "machine", "tooth", "jaw_order", "web_left", "cuts_done",
               "bore_steps", "condition", "missing")  # fmt: skip
_MISSING = object()


@dataclass(frozen=True)
class Change:
    """One difference: where it is (``setup: cut rough land, feed``), before and after; None was not there."""

    where: str
    before: Any
    after: Any

    @property
    def words(self) -> str:
        """In words."""
        return f"{self.where}: {_said(self.before)} → {_said(self.after)}"


def differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[Change, ...]:
    """Every field that differs between two tables; tables of a list are paired by their name, where they have one."""
    old, new = dict(_fields(before)), dict(_fields(after))
    paths = [*new, *(path for path in old if path not in new)]
    return tuple(
        Change(path, old.get(path), new.get(path))
        for path in paths
        if old.get(path, _MISSING) != new.get(path, _MISSING)
    )


def since_last_run(store: Store, setup: str, planned: RunRecord | None = None) -> tuple[Change, ...]:
    """What is different from the last run of a setup: its file, its card, the jaws, the chuck, and the run itself.

    ``planned``: the run about to be made, None compares what stands on file alone.  Pressures in MPa, lengths in mm.
    Nothing where it never ran.
    Raises: ``InputError`` for a setup that is not there.
    """
    now = store.get(SetupRecord, setup)
    last = store.last_run(setup)
    if last is None:
        return ()
    then = next(v.card for v in store.versions(SetupRecord, setup) if v.card.version == last.setup_version)
    assert isinstance(then, SetupRecord)
    changes = list(_of_setup(then, now))
    jaw_set = (planned.jaw_set if planned else None) or now.jaw_set
    if jaw_set is not None and jaw_set == last.jaw_set:
        changes += _of_jaws(store, jaw_set, last)
    if planned is not None:
        for name in _RUN_FIELDS:
            before, after = getattr(last, name), getattr(planned, name)
            if before != after and after not in (None, ""):
                changes.append(Change(f"run: {name}", before or None, after))
    chuck = (planned.chuck if planned else None) or last.chuck
    if chuck is not None:
        changes += _of_chuck(store, chuck, last)
    return tuple(changes)


def _of_setup(then: SetupRecord, now: SetupRecord) -> Iterator[Change]:
    for name in ("revision", "machine", "chuck", "jaw_set"):
        if getattr(then, name) != getattr(now, name):
            yield Change(f"setup: {name}", getattr(then, name), getattr(now, name))
    for change in differences(*alike(then.document, now.document)):
        yield Change(f"setup: {change.where}", change.before, change.after)


def alike(then: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """Two setups in the units of the later, bare numbers: "0.25 mm/rev" and 0.25 are no difference.

    As they were written, where one of them does not hold by the rules of this program.
    """
    from heldtrue.planning.writing import write_table

    try:
        old, new = open_setup(then), open_setup(now)
    except InputError:
        return content_of(then, "setup"), content_of(now, "setup")
    units = new.units
    return write_table(old, units, {}, frozenset()), write_table(new, units, {}, frozenset())


def _of_jaws(store: Store, jaw_set: str, last: RunRecord) -> Iterator[Change]:
    """How the set stood when the run was made, against now."""
    history = store.history(jaw_set)
    before = standing_of(history.card, [row for row in _folded(history.counting) if row.at <= last.at])
    for name in _SET_FIELDS:
        old, new = getattr(before, name), getattr(history.standing, name)
        if old != new:
            yield Change(f"jaws {jaw_set}: {name}", old, new)


def _folded(rows: tuple[Any, ...]) -> list[Any]:
    return [row for row in rows if isinstance(row, SetCut | SetMove)]


def _of_chuck(store: Store, chuck: str, last: RunRecord) -> Iterator[Change]:
    greased = store.events(Greasing, newest=1, chuck=chuck)
    if greased and greased[0].at > last.at:
        yield Change(f"chuck {chuck}: greased", None, greased[0].at)
    newer = [row for row in store.events(GaugeReading, chuck=chuck) if row.at > last.at]
    if newer:
        yield Change(f"chuck {chuck}: grip gauge readings", None, len(newer))


def _fields(table: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        where = f"{path}, {key}" if path else key
        if isinstance(value, Mapping):
            yield from _fields(value, where)
        elif isinstance(value, list | tuple) and value and all(isinstance(one, Mapping) for one in value):
            for position, (name, one) in enumerate(_named(value)):
                yield f"{where} {name}, place", position + 1
                yield from _fields(one, f"{where} {name}")
        else:
            yield where, list(value) if isinstance(value, tuple) else value


def _named(tables: list[Mapping[str, Any]] | tuple[Mapping[str, Any], ...]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    names = [one.get("name") for one in tables]
    unique = all(isinstance(name, str) and name for name in names) and len(set(names)) == len(names)
    for position, one in enumerate(tables):
        if unique:
            yield str(one["name"]), {key: value for key, value in one.items() if key != "name"}
        else:
            yield str(position + 1), one


def _said(value: Any) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(_said(one) for one in value)}]"
    return str(value)
