"""The re-plan from the command line."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from conftest import example, planned
from pypdf import PdfReader
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.records import GaugeReading, Greasing, SetupRecord, open_store
from heldtrue.shop.enter import enter_setup


@pytest.fixture
def shop(tmp_path, monkeypatch):
    monkeypatch.setenv("HELDTRUE_RECORDS", str(tmp_path / "records"))
    monkeypatch.setenv("HELDTRUE_BY", "Noor")
    return tmp_path


@pytest.fixture
def fallen(shop):
    """Two jobs that were planned, and a chuck that has been greased too long ago since."""
    with open_store(shop / "records") as store:
        for name in ("winch-shaft", "gland-flange"):
            enter_setup(store, example(name), "Noor", id=name, plan=planned(name))
        long_ago = datetime.now(UTC) - timedelta(days=30)
        store.write(Greasing(at=long_ago, by="Noor", chuck="CH-02"), by="Noor")
    return shop


def run(*arguments, code=0):
    result = CliRunner().invoke(app, ["replan", *(str(one) for one in arguments)], catch_exceptions=False)
    assert result.exit_code == code, result.output
    return " ".join(result.output.split())


def test_what_may_no_longer_start_comes_first(fallen):
    said = run("--workers", 1, code=1)
    assert "1 of 2 may no longer start as they did" in said
    assert said.index("may no longer") < said.index("winch-shaft")
    assert "not proven" in said
    assert "planned in full" in said


def test_json_is_one_object_and_files_are_written(fallen):
    table, sheets = fallen / "turned.csv", fallen / "sheets"
    result = CliRunner().invoke(
        app, ["replan", "--json", "--workers", "1", "--csv", str(table), "--sheets", str(sheets)]
    )
    assert result.exit_code == 1
    document = json.loads(result.stdout)
    assert (document["looked_at"], document["unchanged"], document["stopped"]) == (2, 1, 1)
    assert [one["setup"] for one in document["turned"]] == ["winch-shaft"]
    assert table.read_text().splitlines()[1].startswith("winch-shaft,CH-02,passes,not proven")
    assert [one.name for one in sheets.iterdir()] == ["winch-shaft.pdf"]
    assert "WS-045" in PdfReader(sheets / "winch-shaft.pdf").pages[0].extract_text()


def test_looked_at_it_no_longer_counts(fallen):
    run("--workers", 1, code=1)
    assert "winch-shaft: looked at by Noor: not proven" in run("--seen", "winch-shaft")
    assert "0 of 2 may no longer start" in run("--workers", 1)
    run("--seen", "nobody's", code=2)


def test_a_pressure_that_has_moved_is_named_with_the_new_one(shop):
    shaft = planned("winch-shaft")
    with open_store(shop / "records") as store:
        enter_setup(store, example("winch-shaft"), "Noor", id="s", plan=shaft)
        chuck = example("winch-shaft").chuck
        slope = chuck.max_grip_force / chuck.max_draw_force * chuck.actuator.pull_area
        for pressure in (1.6, 2.1):
            store.write(GaugeReading(at=datetime.now(UTC), by="Noor", chuck="CH-02", pressure=pressure,
                                     force=0.80 * slope * (pressure - 0.08)), by="Noor")  # fmt: skip
    document = json.loads(CliRunner().invoke(app, ["replan", "--json", "--workers", "1"]).stdout)
    (turned,) = document["turned"]
    assert turned["was"] == "passes"
    if turned["now"] == "passes at another pressure":
        assert turned["pressure"]["unit"] == "psi"
        assert "was set, the floor is now" in turned["reason"]
    else:
        assert turned["pressure"] is None


def test_what_cannot_be_planned_is_exit_1(shop):
    with open_store(shop / "records") as store:
        card = enter_setup(store, example("winch-shaft"), "Noor", id="s")
        document = json.loads(json.dumps(card.document))
        document["content"]["part"]["material"] = "unobtainium"
        store.write(SetupRecord(id="t", document=document), by="Noor")
    said = run("--workers", 1, code=1)
    assert "1 cannot be planned: - t:" in said
    assert "unobtainium" in said
    assert "0 of 2 may no longer start" in said


def test_what_never_passed_is_listed(shop):
    with open_store(shop / "records") as store:
        enter_setup(store, example("winch-shaft").with_({"cuts.0.feed": 0.6}), "Noor", id="heavy")
    said = run("--workers", 1)
    assert "0 of 1 may no longer start as they did" in said
    assert "1 do not pass, and did not before or were never planned before: - heavy: " in said


def test_the_list_of_setups_has_the_last_re_plan(fallen):
    assert "never never" in " ".join(CliRunner().invoke(app, ["run", "list"]).output.split())
    run("--workers", 1, code=1)
    assert "not proven" in CliRunner().invoke(app, ["run", "list"]).output
    listed = {one["id"]: one["replanned"]["verdict"] for one in json.loads(CliRunner().invoke(
        app, ["run", "list", "--json"]).stdout)}  # fmt: skip
    assert listed == {"winch-shaft": "not proven", "gland-flange": "passes"}


def test_a_filter_nobody_knows_and_two_ways_at_once(fallen):
    assert "there is no chuck nobody's in the records; there are: CH-02" in run("--chuck", "nobody's", code=2)
    assert "there is no chuck ch-2 in the records; there is CH-02" in run("--chuck", "ch-2", code=2)
    assert "no setup is of revision Q; there are:" in run("--revision", "Q", code=2)
    assert "no setup was looked at" in run("--material", "CuSn12")
    for what in ("--machine", "--jaws", "--part"):
        assert "in the records; there are:" in run(what, "nobody's", code=2)
    assert "not known" in run("--material", "cheese", code=2)
    assert "give one of them" in run("--workers", 2, "--scheduler", "tcp://127.0.0.1:1", code=2)


def test_records_that_may_not_be_read_are_said(fallen, monkeypatch):
    def refused(path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "exists", refused)
    assert "cannot be read: permission denied" in run(code=2)


@pytest.mark.parametrize(
    "address", ["nonsense", "http://127.0.0.1:80", "tcp://127.0.0.1", "tcp://:8786", "127.0.0.1:1"]
)
def test_what_is_no_address_of_a_scheduler_is_said_at_once(fallen, address):
    pytest.importorskip("distributed")
    assert "found no address such as tls://10.0.0.5:8786" in run("--scheduler", address, code=2)


def test_tls_without_a_certificate_is_said_at_once(fallen):
    pytest.importorskip("distributed")
    assert "tls needs the files of the certificate" in run("--scheduler", "tls://127.0.0.1:8786", code=2)


def test_without_records_it_says_so(shop):
    assert "not on mysql" in run("--records", "mysql://somebody@127.0.0.1/shop", code=2)
    assert "there are no records in" in run(code=2)
    assert not (shop / "records").exists()


def test_stopped_it_says_how_to_go_on(fallen, monkeypatch):
    from heldtrue.shop.replanning import run as running

    def stop(*arguments):
        raise KeyboardInterrupt

    monkeypatch.setattr(running, "look", stop)
    assert "run it again, and it goes on from there" in run("--workers", 1, code=130)
