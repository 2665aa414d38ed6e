"""Back-up, restore, the schema's version, and what a damaged store is found by."""

import dataclasses
import shutil
import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import text

from heldtrue.errors import InputError
from heldtrue.records import schema
from heldtrue.records.checking import findings
from heldtrue.records.database import FILE_NAME, Database
from heldtrue.records.errors import DamagedError, RecordsError, StoreVersionError
from heldtrue.records.events import RunRecord, SetCut
from heldtrue.records.migrations.guards import unguarded
from heldtrue.records.safekeeping import backup, restore
from heldtrue.records.seals import seal_everything
from heldtrue.records.store import open_store
from heldtrue.records.tables import Base
from heldtrue.records.things import JawSet, Tag

from .conftest import new_database
from .shop import cards, cut, move
from .test_plain_files import everything, fill

ASSETS = Path(__file__).parent / "assets"


@pytest.mark.parametrize("target", ["folder", "server"])
def test_a_back_up_comes_back(store, target, tmp_path, request):
    fill(store)
    copy = backup(store, tmp_path / "safe")
    store.write(Tag(id="later"), by="Noor")
    where = tmp_path / "back" if target == "folder" else new_database(request)
    assert restore(copy, where) is None
    with open_store(where) as back:
        assert everything(back) == [row for row in everything(store) if not is_later(row, store)]
        assert back.check() == ()


def is_later(row, store):
    (version,) = store.database.read(
        lambda c: c.execute(text("SELECT action FROM versions WHERE thing = 'later'")).scalars().all()
    )
    return row[1].get("action") == version or row[1].get("id") in ("later", version)


def test_records_are_replaced_only_if_told_and_never_lost(folder, tmp_path):
    with open_store(folder) as store:
        store.write(*cards(), by="Noor")
        copy = backup(store, tmp_path / "safe")
        store.write(Tag(id="later"), by="Noor")
        with pytest.raises(RecordsError, match=r"somebody has the records in .* open"):
            restore(copy, folder, replace=True)
        assert store.get(Tag, "later").version == 1
    with pytest.raises(InputError, match="holds records"):
        restore(copy, folder)
    aside = restore(copy, folder, replace=True)
    with open_store(folder) as store:
        assert store.all(Tag) == ()
    restore(aside, tmp_path / "again")
    with open_store(tmp_path / "again") as store:
        assert store.get(Tag, "later").version == 1


def test_what_is_no_back_up_replaces_nothing(folder, tmp_path):
    with open_store(folder) as store:
        store.write(*cards(), by="Noor")
    bad = tmp_path / "bad.db"
    for content in (b"not a database at all, but long enough to be one" * 50, b""):
        bad.write_bytes(content)
        with pytest.raises(RecordsError):
            restore(bad, folder, replace=True)
    with pytest.raises(InputError, match="there is no back-up"):
        restore(tmp_path / "none.db", folder, replace=True)
    with open_store(folder) as store:
        assert len(store.all(JawSet)) == 2
        assert store.check() == ()
    assert sorted(file.name for file in folder.iterdir() if file.name.startswith("restoring")) == []


def test_the_models_are_what_the_migrations_make(place):
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    with open_store(place) as store:
        different = store.database.read(
            lambda c: compare_metadata(MigrationContext.configure(c, opts={"compare_type": True}), Base.metadata)
        )
    assert different == []


def test_migrations_are_numbered_without_gaps():
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(schema.MIGRATIONS))
    script = ScriptDirectory.from_config(config)
    steps = [step.revision for step in script.walk_revisions()][::-1]
    assert steps == [f"{number:04}" for number in range(1, len(steps) + 1)]
    assert script.get_current_head() == schema.newest()


@pytest.mark.parametrize("asset", sorted(ASSETS.glob("*.db")), ids=lambda path: path.stem)
def test_records_of_every_released_schema_open(asset, tmp_path):
    shop = tmp_path / "shop"
    shop.mkdir()
    shutil.copy(asset, shop / FILE_NAME)
    with open_store(shop) as store:
        assert store.database.read(schema.found) == schema.newest()
        assert store.check() == ()
        assert store.standing("S-12").diameter == 84.0
        assert [row.diameter for row in store.events(SetCut, jaw_set="S-12")] == [82.0, 84.0]
        (run,) = store.events(RunRecord)
        assert (run.quantity, run.readings) == (11, {"runout_mm": 0.018})
        assert [version.card.remark for version in store.versions(JawSet, "S-12")] == ["", "jaw 2 is nicked"]
        store.write(Tag(id="T-1", jaw_set="S-12"), by="Noor")
    if asset.stem != f"schema-{schema.newest()}":
        (copy,) = (shop / schema.BACKUPS).glob("*.db")
        with sqlite3.connect(copy) as old:
            assert f"schema-{old.execute('SELECT version_num FROM alembic_version').fetchone()[0]}" == asset.stem
        old.close()


def older(folder):
    """Records as schema 1 left them."""
    folder.mkdir()
    shutil.copy(ASSETS / "schema-0001.db", folder / FILE_NAME)
    return folder


def test_an_upgrade_that_fails_leaves_the_old_records(tmp_path, monkeypatch):
    shop = older(tmp_path / "shop")
    before = sqlite_dump(shop / FILE_NAME)
    from heldtrue.records.migrations import building

    def half(*_):
        from alembic import op

        op.execute("CREATE TABLE half (id TEXT)")
        raise RuntimeError("the power fails")

    monkeypatch.setattr(building, "card", half)
    with pytest.raises(RuntimeError):
        open_store(shop)
    monkeypatch.undo()
    assert sqlite_dump(shop / FILE_NAME) == before
    with open_store(shop) as store:
        assert store.check() == ()


def sqlite_dump(file):
    connection = sqlite3.connect(file)
    try:
        return list(connection.iterdump())
    finally:
        connection.close()


def test_reading_alone_does_not_upgrade(tmp_path):
    shop = older(tmp_path / "shop")
    with pytest.raises(StoreVersionError, match="have schema 0001, this program needs"):
        open_store(shop, read_only=True)
    with pytest.raises(StoreVersionError, match="have schema 0001, this program needs"):
        open_store(shop, upgrade=False)


def test_a_server_is_upgraded_only_if_told(cluster):
    cluster.sql("CREATE DATABASE older")
    database = Database(cluster.url("older"))
    database.write(lambda connection: schema.migrate(connection, "0001"))
    database.close()
    with pytest.raises(StoreVersionError, match="heldtrue upgrade"):
        open_store(cluster.url("older"))
    with open_store(cluster.url("older"), upgrade=True) as store:
        assert store.check() == ()
        store.write(Tag(id="T-1"), by="Noor")


def test_records_of_a_newer_program_are_left_alone(place):
    with open_store(place) as store:
        store.database.write(lambda c: c.execute(text("UPDATE alembic_version SET version_num = '9999'")))
    with pytest.raises(StoreVersionError, match="a newer heldtrue wrote them"):
        open_store(place)


def test_nothing_is_made_where_nothing_should_be(tmp_path, cluster):
    with pytest.raises(RecordsError, match="there are no records in"):
        open_store(tmp_path / "typo", create=False)
    assert not (tmp_path / "typo").exists()
    cluster.sql("CREATE DATABASE untouched")
    with pytest.raises(RecordsError, match="there are no records in"):
        open_store(cluster.url("untouched"), create=False)
    with pytest.raises(InputError, match="not on mysql"):
        open_store("mysql://host/name")


def test_a_server_that_does_not_answer_is_named_without_its_password(tmp_path):
    with pytest.raises(RecordsError, match="the server cannot be reached") as caught:
        open_store(f"postgresql://noor:secret@/shop?host={tmp_path}", patience=0.1)
    assert "secret" not in str(caught.value)


def test_a_file_that_is_no_database_says_so(tmp_path):
    (tmp_path / FILE_NAME).write_bytes(b"something else entirely, and long enough" * 100)
    with pytest.raises(RecordsError, match="damaged or not a records file"):
        open_store(tmp_path)


@pytest.mark.parametrize(
    ("damage", "codes"),
    [
        ("UPDATE jaw_sets SET material = 'butter'", "seal"),
        ("UPDATE jaw_sets SET version = 7", "seal"),
        ("UPDATE standings SET diameter = 1.0", "seal"),
        ("UPDATE standings SET seal = 'x'", "seal"),
        ("DELETE FROM standings", "standing"),
        ("DELETE FROM tags", "versions"),
        ("INSERT INTO actions VALUES ('lonely', '2026-01-01 00:00:00', 'x', '', '', '')", "chain seal"),
    ],
)
def test_check_finds_what_is_wrong(store, damage, codes):
    store.write(*cards(), cut(), Tag(id="T-1"), by="Noor")
    assert store.check() == ()
    store.database.write(lambda c: c.execute(text(damage)))
    assert {finding.code for finding in store.check()} == set(codes.split())


def test_check_finds_damage_of_the_file(folder):
    with open_store(folder) as store:
        store.write(*cards(), cut(), by="Noor")
    connection = sqlite3.connect(folder / FILE_NAME)
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("DROP TRIGGER set_cuts_no_update")
    connection.execute("UPDATE set_cuts SET machine = 'gone'")
    connection.commit()
    connection.close()
    with open_store(folder) as store:
        assert {finding.code for finding in store.check()} == {"reference", "seal"}


@pytest.mark.parametrize(
    ("damage", "codes"),
    [
        ("UPDATE jaw_sets SET material = 'butter'", "standing versions"),
        ("UPDATE jaw_sets SET version = 7", "versions"),
        ("UPDATE standings SET diameter = 1.0", "standing"),
        ("INSERT INTO actions VALUES ('lonely', '2026-01-01 00:00:00', 'x', '', '', '')", "action"),
    ],
)
def test_what_another_program_wrote_and_sealed_is_held_against_the_rules(store, damage, codes):
    store.write(*cards(), cut(), Tag(id="T-1"), by="Noor")

    def change(connection):
        connection.execute(text(damage))
        with unguarded(connection):
            connection.execute(text("DELETE FROM links"))
            seal_everything(connection)

    store.database.write(change)
    assert {finding.code for finding in store.check()} == set(codes.split())


def test_a_row_that_is_gone_breaks_the_chain(store):
    store.write(*cards(), by="Noor")
    store.write(cut(), move("in"), by="Ilse")
    store.write(Tag(id="T-1"), by="Noor")

    def change(connection):
        with unguarded(connection):
            connection.execute(text("DELETE FROM set_moves"))

    store.database.write(change)
    assert next(finding.code for finding in store.check()) == "chain"


def test_a_damaged_row_is_never_read_as_a_sound_one(store):
    """Whoever asks for it is told; the rest can be read."""
    store.write(*cards(), cut(), by="Noor")

    def change(connection):
        with unguarded(connection):
            connection.execute(text("UPDATE set_cuts SET pressure = 1.9"))

    store.database.write(change)
    with pytest.raises(DamagedError, match=r"set_cuts .* is not as it was written"):
        store.history("S-12")
    assert store.history("S-13").rows == ()


def test_what_is_entered_twice_leaves_no_empty_action(store):
    store.write(*cards(), by="Noor")
    row = cut()
    store.write(row, by="Noor")
    store.write(row, by="Noor")
    assert store.check() == ()


def test_every_finding_has_words(store):
    store.write(*cards(), cut(), by="Noor")
    store.database.write(lambda c: c.execute(text("DELETE FROM standings")))
    found = store.database.read(lambda c: list(findings(c)))
    assert all(one.words and one.where for one in found)
    assert dataclasses.asdict(found[0]).keys() == {"code", "where", "words"}


def test_records_on_a_server_are_sealed_when_they_are_upgraded(cluster):
    """Rows from before there were seals, guarded against change as they are."""
    from sqlalchemy import MetaData, insert

    from .assets.make_asset import rows

    cluster.sql("CREATE DATABASE unsealed")
    database = Database(cluster.url("unsealed"))
    database.write(lambda connection: schema.migrate(connection, "0002"))

    def fill(connection):
        known = MetaData()
        known.reflect(connection)
        for table, row in rows():
            connection.execute(insert(known.tables[table]), row)

    database.write(fill)
    database.close()
    with open_store(cluster.url("unsealed"), upgrade=True) as store:
        assert store.check() == ()
        assert store.standing("S-12").diameter == 84.0
        with pytest.raises(RecordsError, match="history is only added to"):
            store.database.write(lambda c: c.execute(text("UPDATE set_cuts SET diameter = 1")))
