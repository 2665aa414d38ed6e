"""Jaw sets by what somebody remembers: over every cut ever made, so that a set is found by what it once was."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select, func, or_, select, union_all

from heldtrue.mechanics.materials import jaw_material_name
from heldtrue.records.events import SetCut, SetMove
from heldtrue.records.kinds import record_of, table_of
from heldtrue.records.reading import STANDINGS, counting, distinct, how_many, standing_from
from heldtrue.records.remembering import Remembered
from heldtrue.records.standing import Standing
from heldtrue.records.things import ChuckRecord, MachineRecord, SetupRecord

CUTS, MOVES, SETUPS = table_of(SetCut), table_of(SetMove), table_of(SetupRecord)
NEAR_MM, NEAR_SHARE = 3.0, 0.05
"""How far off a diameter still is near, where none fits: our own judgement."""
SPARE = (2, 32)
"""Cuts looked at for each set asked for, first and once more if that was too few: one set has several that fit."""


@dataclass(frozen=True)
class Recalled:
    """One set as it stands, and the cut it is remembered by; None where it was found without one.

    ``near``: what of the search does not fit it, empty where all does.
    """

    standing: Standing
    cut: SetCut | None
    near: str = ""

    @property
    def is_still_so(self) -> bool:
        """Is that cut its last?"""
        return self.cut is not None and self.cut.id == self.standing.last_cut


def recall(connection: Connection, sought: Remembered, limit: int) -> tuple[Recalled, ...]:
    """The nearest ``limit`` sets; see ``Store.search``.

    Where nothing fits, the history is looked through for people, places and parts; then one thing after the other is
    left out, and said.
    """
    found = _recall(connection, sought, limit) or (
        _recall(connection, sought, limit, deep=True) if sought.words else ()
    )
    if found:
        return found
    for near, wider in _wider(sought):
        if not wider.asks_nothing and (found := _recall(connection, wider, limit, deep=bool(wider.words))):
            return tuple(replace(one, near=near) for one in found)
    return ()


def _wider(sought: Remembered) -> Iterator[tuple[str, Remembered]]:
    """The search with one thing wider or left out, and what that is, the least first."""
    if sought.diameter and sought.around:
        slack = max(NEAR_MM, NEAR_SHARE * sought.around)
        low, high = sought.diameter
        yield (
            "another diameter",
            replace(sought, diameter=(min(low, sought.around - slack), max(high, sought.around + slack))),
        )
    if sought.since:
        yield "another time", replace(sought, since=None, until=None)
    if sought.machine:
        yield f"not machine {sought.machine}", replace(sought, machine="")
    if sought.chuck:
        yield f"not chuck {sought.chuck}", replace(sought, chuck="")
    if sought.side:
        yield f"not {sought.side}", replace(sought, side="")
    if sought.style:
        yield f"not {sought.style}", replace(sought, style="")
    for word in sought.words:
        yield f'not "{word}"', replace(sought, words=tuple(one for one in sought.words if one != word))


def _recall(connection: Connection, sought: Remembered, limit: int, *, deep: bool = False) -> tuple[Recalled, ...]:
    """The nearest sets that fit all of it; ``deep``: words may also stand in the history."""
    materials, words = _materials(connection, sought.words)
    machines = _ids_like(connection, MachineRecord, sought.machine)
    chucks = _ids_like(connection, ChuckRecord, sought.chuck)
    if machines == [] or chucks == [] or materials == []:
        return ()
    if deep or sought.diameter or sought.since or machines or chucks or sought.side:
        best: dict[str, str] = {}
        for most in (spare * limit for spare in SPARE):
            found = [
                list(connection.execute(query))
                for query in by_cuts(sought, materials, words, machines, chucks, most, deep=deep)
            ]
            best = _best(found, sought, limit)
            if len(best) == limit or all(len(each) < most for each in found):
                break
        return _whole(connection, best)
    rows = connection.execute(by_sets(sought, materials, words, limit)).mappings()
    return tuple(Recalled(standing_from(row), None) for row in rows)


def by_cuts(
    sought: Remembered, materials: list[str] | None, words: tuple[str, ...], machines: list[str] | None,
    chucks: list[str] | None, limit: int, *, deep: bool = False,
) -> tuple[Select[Any], ...]:  # fmt: skip
    """The queries over every cut: each walks down an index and stops after ``limit`` cuts.

    With a diameter there are two, down from it and up from it; else one, the latest first.  ``deep``: words may also
    stand in the history of the set.
    """
    query = select(CUTS.c.id, CUTS.c.jaw_set, CUTS.c.diameter, CUTS.c.at).limit(limit)
    if sought.since:
        query = query.where(CUTS.c.at >= sought.since, CUTS.c.at < sought.until)
    if sought.side:
        query = query.where(CUTS.c.side == sought.side)
    for column, ids in ((CUTS.c.machine, machines), (CUTS.c.chuck, chucks)):
        if ids is not None:
            query = query.where(column == ids[0] if len(ids) == 1 else column.in_(ids))
    of_set = _of_set(sought, materials, () if deep else words)
    for word in words if deep else ():
        query = query.where(_in_history(word))
    if of_set:
        query = query.where(how_many(select(func.count()).where(STANDINGS.c.jaw_set == CUTS.c.jaw_set, *of_set)) != 0)
    query = query.where(counting(CUTS))  # last: looked up for the few rows that pass the rest
    if sought.diameter is None or sought.around is None:
        return (query.order_by(CUTS.c.at.desc()),)
    (low, high), around = sought.diameter, sought.around
    return (
        query.where(CUTS.c.diameter >= low, CUTS.c.diameter <= around).order_by(
            CUTS.c.diameter.desc(), CUTS.c.at.desc()
        ),
        query.where(CUTS.c.diameter > around, CUTS.c.diameter <= high).order_by(CUTS.c.diameter, CUTS.c.at),
    )


def by_sets(sought: Remembered, materials: list[str] | None, words: tuple[str, ...], limit: int) -> Select[Any]:
    """The query over the sets, the latest cut first: one short walk down the index for each material."""

    def latest(material: str | None) -> Select[Any]:
        query = select(STANDINGS).where(*_of_set(sought, None if material is None else [material], words))
        return query.order_by(STANDINGS.c.latest.desc()).limit(limit)

    if materials is None:
        return latest(None)
    each = union_all(*(select(latest(one).subquery()) for one in materials)).subquery()
    return select(each).order_by(each.c.latest.desc(), each.c.jaw_set).limit(limit)


def _best(found: list[list[Row[Any]]], sought: Remembered, limit: int) -> dict[str, str]:
    """The sets and the cut of each: the nearest diameter first, then the latest."""
    rows, around = [row for each in found for row in each], sought.around
    rows.sort(key=lambda row: row.at, reverse=True)
    rows.sort(key=lambda row: 0.0 if around is None else abs(row.diameter - around))
    best: dict[str, str] = {}
    for row in rows:
        best.setdefault(row.jaw_set, row.id)
    return dict(islice(best.items(), limit))


def _whole(connection: Connection, best: dict[str, str]) -> tuple[Recalled, ...]:
    stands = connection.execute(select(STANDINGS).where(STANDINGS.c.jaw_set.in_(best))).mappings()
    by_set = {row["jaw_set"]: standing_from(row) for row in stands}
    whole = connection.execute(select(CUTS).where(CUTS.c.id.in_(best.values()))).mappings()
    cuts = {row["jaw_set"]: record_of(SetCut, row) for row in whole}
    return tuple(Recalled(by_set[id_], cuts[id_]) for id_ in best)


def _of_set(sought: Remembered, materials: list[str] | None, words: tuple[str, ...]) -> list[ColumnElement[bool]]:
    conditions: list[ColumnElement[bool]] = []
    if materials is not None:
        conditions.append(STANDINGS.c.material == materials[0] if len(materials) == 1
                          else STANDINGS.c.material.in_(materials))  # fmt: skip
    if sought.style:
        conditions.append(STANDINGS.c.style == sought.style)
    conditions += [or_(
        STANDINGS.c.words.contains(word, autoescape=True), _says(word, STANDINGS.c.place, STANDINGS.c.holder)
    ) for word in words]  # fmt: skip
    return conditions


def _says(word: str, *columns: Any) -> ColumnElement[bool]:
    """Does a word stand in one of these, however it is written?"""
    return or_(*(func.lower(one).contains(word, autoescape=True) for one in columns))


def _in_history(word: str) -> ColumnElement[bool]:
    """Is a word of the set itself, of who cut or had it, of where it lay, or of a part it was cut for?"""

    return or_(
        CUTS.c.jaw_set.in_(select(STANDINGS.c.jaw_set).where(STANDINGS.c.words.contains(word, autoescape=True))),
        _says(word, CUTS.c.by),
        CUTS.c.jaw_set.in_(select(MOVES.c.jaw_set).where(_says(word, MOVES.c.by, MOVES.c.holder, MOVES.c.place))),
        CUTS.c.setup.in_(select(SETUPS.c.id).where(_says(word, SETUPS.c.part, SETUPS.c.title))),
        CUTS.c.jaw_set.in_(
            select(SETUPS.c.jaw_set).where(SETUPS.c.jaw_set.is_not(None), _says(word, SETUPS.c.part, SETUPS.c.title))
        ),
    )  # fmt: skip


def _materials(connection: Connection, words: Iterable[str]) -> tuple[list[str] | None, tuple[str, ...]]:
    """The jaw materials that some words name, and the words that name none; None where no word names one."""
    left, chosen, known = [], None, None
    for word in words:
        known = distinct(connection, STANDINGS.c.material) if known is None else known
        named = {one for one in known if word in f"{one} {jaw_material_name(one)}".casefold()}
        if named:
            chosen = named if chosen is None else chosen & named
        else:
            left.append(word)
    return (None if chosen is None else sorted(chosen)), tuple(left)


def _ids_like(connection: Connection, kind: type[MachineRecord] | type[ChuckRecord], said: str) -> list[str] | None:
    """The cards somebody may mean by an id, a name, or the number in one; None where nothing was said."""
    if not said:
        return None
    table = table_of(kind)
    cards = connection.execute(select(table.c.id, table.c.name)).all()
    for means in (_is_id, _has_word):
        found = [card.id for card in cards if means(said, card.id.casefold(), card.name.casefold())]
        if found:
            return found
    return []


def _is_id(said: str, id_: str, name: str) -> bool:
    return said in (id_, name)


def _has_word(said: str, id_: str, name: str) -> bool:
    """A number or word of its own: 3 is in M-3 and in lathe 3, not in M-31."""
    return said in re.findall(r"\d+|[^\W\d_]+", f"{id_} {name}")
