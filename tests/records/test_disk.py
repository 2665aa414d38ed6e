"""A disk that fails at any call, a power cut at any moment, damaged bytes: a sample of ``bench/faults.py``."""

import sqlite3
import sys
from pathlib import Path

import pytest

from heldtrue.records.database import sqlite_error
from heldtrue.records.store import open_store

sys.path.insert(0, str(Path(__file__).parent))  # what runs in processes of its own imports its neighbours plainly

import damage
import rig
import server_power
from cluster import Cluster

needs_rig = pytest.mark.skipif(bool(rig.why_not()), reason=rig.why_not() or "-")


CALLS = (
    "Write:EIO:20:300", "Write:ENOSPC on:60:300", "FirstEntry:short:3:300", "Upgrade:EIO:40:300",
    "BackUp:short on:20:120", "Restore:EIO:7:160", "RestoreExport:ENOSPC on:30:400", "Export:EIO:4:50",
    "Import:short:50:400", "SaveDrafts:EIO:2:9", "Let:EIO:3:23", "Sheets:ENOSPC:2:11",
    "JawCut:EIO:5:13", "JawCut:ENOSPC on:7:17",
)  # fmt: skip


@pytest.mark.long
@needs_rig
def test_a_call_to_the_disk_fails():
    """What was acknowledged is there, nothing is half, and what was not kept was said in words."""
    found = rig.run("faults", *CALLS)
    assert sum(one["faults"] for one in found) > 15
    assert {one["deed"]: one["wrong"] for one in found if one["wrong"]} == {}


@pytest.mark.long
@needs_rig
def test_the_power_is_cut():
    """At random calls and after the last: names and bytes that were not synced may be lost, nothing acknowledged is."""
    deeds = ("Write", "FirstEntry", "Upgrade", "Restore", "Export", "SaveDrafts", "Let", "Sheets", "JawCut")
    found = rig.run("power", *(f"{deed}:3:4" for deed in deeds))
    assert sum(one["acknowledged"] for one in found) > 12
    assert [words for one in found for words in one["wrong"]] == []


needs_server = pytest.mark.skipif(bool(server_power.why_not()), reason=server_power.why_not() or "-")


@pytest.mark.long
@needs_server
@pytest.mark.parametrize("settings", [(), ("synchronous_commit=off",)], ids=["as it is", "told not to wait"])
def test_the_power_of_the_server_is_cut(settings):
    """PostgreSQL brings back all that was acknowledged, also where it is set to acknowledge before it is on disk."""
    found = server_power.campaign(6, seed=3, actions=60, settings=settings)
    assert found["acknowledged"] > 60
    assert found["wrong"] == []


@pytest.mark.long
@needs_server
@pytest.mark.parametrize("name", ["fsync", "full_page_writes"])
def test_the_cuts_are_deep_enough_to_damage_a_server_that_is_not_set_right(name):
    """What has no fault to find here would find none elsewhere."""
    found = server_power.campaign(6, seed=2, actions=60, settings=(f"{name}=off",))
    assert any("lost" in one or "does not come back" in one for one in found["wrong"])


@pytest.mark.long
@needs_server
def test_a_server_that_forgets_when_the_power_goes_is_named():
    server = Cluster(options=("fsync=off", "full_page_writes=off", "synchronous_commit=off"))
    try:
        server.sql("CREATE DATABASE shop")
        with open_store(server.url("shop")) as store:
            assert {(one.code, one.where) for one in store.check()} == {
                ("server", "fsync"), ("server", "full_page_writes")
            }  # fmt: skip
            asked = "SHOW synchronous_commit"
            assert store.database.write(lambda one: one.exec_driver_sql(asked).scalar()) == "on"
            assert store.database.read(lambda one: one.exec_driver_sql(asked).scalar()) == "off"
    finally:
        server.stop()


def test_no_damaged_byte_is_read_as_a_sound_one(tmp_path):
    """What reads differently is found: on opening or by the check."""
    found = damage.campaign(damage.filled(tmp_path), tmp_path / "scratch", 25, seed=3)
    assert found["wrong"] == []
    assert found["found on opening"] + found["found by the check"] > 3


def test_an_entry_that_the_disk_did_not_confirm_is_not_said_to_be_unchanged():
    """After a restart it may be there; of a write that failed it is sure that it is not."""
    said = {}
    for code in ("SQLITE_IOERR_FSYNC", "SQLITE_IOERR_WRITE"):
        cause = sqlite3.OperationalError("disk I/O error")
        cause.sqlite_errorname = code
        said[code] = str(sqlite_error(cause, "shop"))
    assert "nothing was changed" not in said["SQLITE_IOERR_FSYNC"]
    assert "look whether it is there" in said["SQLITE_IOERR_FSYNC"]
    assert "nothing was changed" in said["SQLITE_IOERR_WRITE"]
