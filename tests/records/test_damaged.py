"""Rows that a hand or a disk has damaged: named in words, by every way to them, and never a value made up."""

import sqlite3
from datetime import UTC, datetime

import pytest

from heldtrue.errors import HeldtrueError
from heldtrue.records import ChuckRecord, GaugeReading, JawSet, RecordsError, SetCut, Wanted, open_store

AT = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """A small shop on disk, closed."""
    folder = tmp_path_factory.mktemp("sound")
    with open_store(folder) as store:
        store.write(ChuckRecord(id="C-1", name="c"), JawSet(id="J-1", style="pie", material="6061-T6"), by="Noor")
        store.write(
            GaugeReading(at=AT, by="Noor", chuck="C-1", pressure=1.0, force=9e3),
            SetCut(at=AT, by="Noor", jaw_set="J-1", diameter=100.0, depth=10.0, tooth=3), by="Noor",
        )  # fmt: skip
    return folder


@pytest.fixture
def damaged(sound, tmp_path):
    """Open the shop with something else in a column: ``damaged(table, column, value)``."""
    stores = []

    def make(table, column, value):
        (file,) = sound.glob("*.db")
        copy = tmp_path / file.name
        copy.write_bytes(file.read_bytes())
        base = sqlite3.connect(copy)
        for (name,) in base.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            base.execute(f'drop trigger "{name}"')
        base.execute("pragma ignore_check_constraints = on")
        base.execute(f'update {table} set "{column}" = ?', (value,))
        base.commit()
        base.close()
        stores.append(open_store(tmp_path))
        return stores[-1]

    yield make
    for store in stores:
        store.close()


WAYS = {
    "cards": lambda store: (store.all(ChuckRecord), store.all(JawSet)),
    "versions": lambda store: (store.versions(ChuckRecord, "C-1"), store.versions(JawSet, "J-1")),
    "events": lambda store: (store.events(GaugeReading), store.events(SetCut)),
    "history": lambda store: store.history("J-1"),
    "standing": lambda store: store.standing("J-1"),
    "find": lambda store: store.find(Wanted(side="outside", diameter=101.0)),
}
NO_JSON = ("{", "7", '"x"', "[" * 3000, "")
CASES = [
    *(("chucks", "data", value) for value in (*NO_JSON, "[]", "not json")),
    *(("versions", "document", value) for value in (*NO_JSON, "[]", "{}")),
    *(("set_cuts", "jaw_order", value) for value in (*NO_JSON, "{}", '[["x"]]')),
    *(
        (table, "bore_steps", value)
        for table in ("set_cuts", "standings")
        for value in (*NO_JSON, "{}", "[7]", '[["x", 1]]', "[[100, 1, 2]]", "[[-3, 1]]", "[]")
    ),
    *(("standings", "missing", value) for value in (*NO_JSON, "{}")),
    *(("gauge_readings", "at", value) for value in ("yesterday", "", "9999-99-99 00:00:00")),
    *(("gauge_readings", "force", value) for value in ("much", b"\xff")),
    *(("set_cuts", "tooth", value) for value in ("three", 2.5)),
    *(("jaw_sets", "style", value) for value in ("round", 7)),
]


@pytest.mark.parametrize(("table", "column", "value"), CASES)
def test_no_way_to_a_damaged_row_ends_in_a_traceback(damaged, table, column, value):
    store = damaged(table, column, value)
    told = [one.words for one in store.check()]
    for way in WAYS.values():
        try:
            way(store)
        except HeldtrueError as error:
            told.append(str(error))
    assert told, "nobody says that it is damaged"


@pytest.mark.parametrize(
    ("table", "column", "value", "ask", "words"),
    [
        ("chucks", "data", "{", lambda store: store.get(ChuckRecord, "C-1"), "chucks C-1 is damaged: data holds '{'"),
        ("gauge_readings", "at", "yesterday", lambda store: store.events(GaugeReading), "at holds 'yesterday'"),
        ("gauge_readings", "force", "much", lambda store: store.events(GaugeReading), "force holds 'much'"),
        ("standings", "missing", "7", lambda store: store.standing("J-1"), "standings J-1 is damaged: missing holds 7"),
        ("versions", "document", "{", lambda store: store.versions(JawSet, "J-1"), "versions jaw_sets J-1 1 is not as"),
    ],
)
def test_the_row_and_the_column_are_named(damaged, table, column, value, ask, words):
    store = damaged(table, column, value)
    with pytest.raises(RecordsError) as caught:
        ask(store)
    assert words in str(caught.value)
    assert "restore a back-up" in str(caught.value)


def test_a_check_finds_what_is_damaged_and_goes_on(damaged):
    found = damaged("chucks", "data", "{").check()
    assert ("seal", "chucks C-1") in [(one.code, one.where) for one in found]
    assert "seal" in {one.code for one in damaged("standings", "missing", "7").check()}
