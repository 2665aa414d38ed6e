"""A re-plan by several processes: what one process finds, whatever happens to a worker."""

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest
import replan_workers
from conftest import example
from numpy.lib.recfunctions import structured_to_unstructured

from heldtrue.errors import InputError
from heldtrue.planning.kept_limits import KeptLimits
from heldtrue.records import open_store
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.replanning import workers
from heldtrue.shop.replanning.look import look_from
from heldtrue.shop.replanning.run import LOST, replan
from heldtrue.shop.replanning.state import program
from heldtrue.shop.replanning.workers import ENDED, ClusterError, few_here, in_processes, on_cluster

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
FEEDS = (0.1, 0.12, 0.15, 0.18)


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "records"


@pytest.fixture
def store(folder):
    with open_store(folder) as opened:
        for number, feed in enumerate(FEEDS):
            setup = example("winch-shaft").with_({"cuts.0.feed": feed})
            enter_setup(opened, setup, "Noor", id=f"s{number}")
        yield opened


def outcomes(store):
    """What stands in the records, but not when it came: words, and numbers to what a solution has in common."""
    rows = store.replanned()
    words = [(one.setup, one.state, one.key, one.verdict, one.reason, sorted(one.steps)) for one in rows]
    limits = KeptLimits.read([one.limits for one in rows]).rows["steps"]
    found = [number for one in rows for number in numbers(one.steps)]
    return words, found + structured_to_unstructured(limits[list(limits.dtype.names[1:])]).ravel().tolist()


def same(one, other):
    return one[0] == other[0] and one[1] == pytest.approx(other[1], rel=1e-6, nan_ok=True)


def numbers(value):
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        return [number for one in value for number in numbers(one)]
    return [float(value)] if isinstance(value, int | float) else []


@pytest.fixture(scope="module")
def alone(tmp_path_factory):
    """What one process finds."""
    with open_store(tmp_path_factory.mktemp("alone") / "records") as opened:
        for number, feed in enumerate(FEEDS):
            enter_setup(opened, example("winch-shaft").with_({"cuts.0.feed": feed}), "Noor", id=f"s{number}")
        report = replan(opened, at=NOW)
        assert report.planned == len(FEEDS)
        return outcomes(opened)


@pytest.mark.long
def test_two_processes_find_what_one_finds(store, folder, alone):
    report = replan(store, runner=in_processes(folder, 2, NOW), at=NOW)
    assert (report.looked_at, report.planned, report.failed) == (len(FEEDS), len(FEEDS), [])
    assert same(outcomes(store), alone)
    assert replan(store, runner=in_processes(folder, 2, NOW), at=NOW).known == len(FEEDS)


@pytest.mark.long
def test_a_worker_that_is_killed_loses_nothing(store, folder, alone):
    killed = []

    def kill(progress):
        if progress.planned and not killed:
            victim = multiprocessing.active_children()[0]
            os.kill(victim.pid, signal.SIGKILL)
            killed.append(victim.pid)

    report = replan(store, runner=in_processes(folder, 2, NOW), at=NOW, watch=kill)
    assert killed
    assert (report.looked_at, report.failed) == (len(FEEDS), [])
    assert same(outcomes(store), alone)
    assert len(store.replanned([one[0] for one in alone[0]], every=True)) == len(FEEDS)


@pytest.mark.long
def test_a_setup_that_ends_its_worker_is_listed_and_the_rest_goes_on(store, folder, alone, monkeypatch):
    enter_setup(store, example("winch-shaft").with_({"cuts.0.feed": 0.11}), "Noor", id="bad")
    monkeypatch.setattr(workers, "look_from", replan_workers.ends_its_process)
    report = replan(store, runner=in_processes(folder, 2, NOW), at=NOW)
    assert [(one.setup, one.reason) for one in report.failed] == [("bad", LOST)]
    assert report.looked_at == len(FEEDS) + 1
    assert [one[3:] for one in outcomes(store)[0]] == [one[3:] for one in alone[0]]


@pytest.mark.long
def test_a_fault_of_the_program_is_listed_too(store, folder, monkeypatch):
    enter_setup(store, example("winch-shaft").with_({"cuts.0.feed": 0.11}), "Noor", id="bad")
    monkeypatch.setattr(workers, "look_from", replan_workers.breaks)
    report = replan(store, runner=in_processes(folder, 1, NOW), at=NOW)
    assert [one.reason for one in report.failed] == ["ZeroDivisionError: nobody thought of this"]
    assert report.planned == len(FEEDS)


@pytest.mark.long
def test_two_re_plans_at_once_do_no_harm(store, folder, alone):
    with open_store(folder) as other, ThreadPoolExecutor(2) as both:
        one, two = both.map(lambda s: replan(s, runner=in_processes(folder, 1, NOW), at=NOW), (store, other))
    assert one.looked_at == two.looked_at == len(FEEDS)
    assert same(outcomes(store), alone)
    assert len(store.replanned([row[0] for row in alone[0]], every=True)) == len(FEEDS)
    assert store.check() == ()


@pytest.mark.long
def test_a_re_plan_that_is_killed_leaves_no_worker_behind_and_loses_nothing(store, folder, alone, tmp_path):
    """Killed as a power cut would, just after its first outcome: it is run again, and goes on from there."""
    code = ("import sys\nfrom datetime import datetime\nfrom heldtrue.records import open_store\n"
            "from heldtrue.shop.replanning.run import replan\n"
            "from heldtrue.shop.replanning.workers import in_processes\n"
            "if __name__ == '__main__':\n"
            "    at, where = datetime.fromisoformat(sys.argv[2]), sys.argv[1]\n"
            "    say = lambda progress: print(progress.planned, flush=True)\n"
            "    replan(open_store(where), runner=in_processes(where, 2, at), at=at, watch=say)\n")  # fmt: skip
    program = tmp_path / "asks.py"
    program.write_text(code, encoding="utf-8")
    command = [sys.executable, program, folder, NOW.isoformat()]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as asks:
        assert asks.stdout is not None
        while asks.stdout.readline().strip() in ("0", ""):
            assert asks.poll() is None
        workers_of = [int(one) for one in Path(f"/proc/{asks.pid}/task/{asks.pid}/children").read_text().split()]
        assert len(workers_of) >= 2
        asks.kill()
    for _ in range(300):
        left = [pid for pid in workers_of if Path(f"/proc/{pid}").exists()]
        if not left:
            break
        time.sleep(0.1)
    assert left == []
    replan(store, at=NOW)
    assert same(outcomes(store), alone)
    assert len(store.replanned([row[0] for row in alone[0]], every=True)) == len(FEEDS)


def test_a_worker_with_another_program_is_refused(folder, store):
    with pytest.raises(InputError, match="runs another heldtrue"):
        look_from(str(folder), "s0", NOW, "another")
    assert look_from(str(folder), "s0", NOW, program()).verdict == "passes"


def test_a_few_are_planned_here(monkeypatch):
    monkeypatch.setattr(workers, "FEW", 2)
    here, others = (lambda ids, who=who: [(who, id) for id in ids] for who in ("here", "others"))
    assert list(few_here(here, others)("ab")) == [("here", "a"), ("here", "b")]
    assert list(few_here(here, others)("abc")) == [("others", "a"), ("others", "b"), ("others", "c")]
    assert list(few_here(here, others)("")) == []


# A cluster


def test_a_cluster_needs_its_package(folder, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match="pip install 'heldtrue\\[cluster\\]'"):
        on_cluster(folder, "tcp://127.0.0.1:1")


def test_nothing_of_the_cluster_is_loaded_without_it():
    code = "import sys, heldtrue.cli, heldtrue.shop.replanning.workers; sys.exit('distributed' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.fixture
def cluster():
    distributed = pytest.importorskip("distributed")
    import dask

    with dask.config.set({"distributed.worker.daemon": False, "distributed.comm.retry.count": 0}), \
            distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as made:  # fmt: skip
        yield made


@pytest.mark.filterwarnings("ignore")
@pytest.mark.long
def test_a_cluster_finds_what_one_process_finds(store, folder, alone, cluster):
    killed = []

    def kill(progress):
        if progress.planned and not killed:
            killed.append(next(iter(cluster.workers.values())).pid)
            os.kill(killed[0], signal.SIGKILL)

    report = replan(store, runner=on_cluster(str(folder), cluster.scheduler_address, NOW), at=NOW, watch=kill)
    assert killed
    assert (report.looked_at, report.failed) == (len(FEEDS), [])
    assert same(outcomes(store), alone)


@pytest.mark.long
@pytest.mark.filterwarnings("ignore")
def test_a_scheduler_that_is_killed_loses_nothing(store, folder, alone, tmp_path):
    pytest.importorskip("distributed")
    place = tmp_path / "scheduler.json"
    dask = [sys.executable, "-m", "dask"]
    scheduler = subprocess.Popen([*dask, "scheduler", "--port", "0", "--no-dashboard", "--scheduler-file", place])
    worker = subprocess.Popen([*dask, "worker", "--scheduler-file", place, "--nthreads", "1", "--no-dashboard",
                               "--death-timeout", "60"])  # fmt: skip
    try:
        while not place.exists():
            time.sleep(0.1)
        address = json.loads(place.read_text())["address"]
        with pytest.raises(ClusterError, match="every outcome so far is kept"):
            replan(store, runner=on_cluster(str(folder), address, NOW), at=NOW,
                   watch=lambda progress: scheduler.kill() if progress.planned else None)  # fmt: skip
    finally:
        for one in (scheduler, worker):
            one.kill()
            one.wait()
    assert 1 <= len(store.replanned()) < len(FEEDS)
    replan(store, at=NOW)
    assert same(outcomes(store), alone)


@pytest.mark.long
@pytest.mark.filterwarnings("ignore")
def test_a_scheduler_without_a_worker_is_said_in_words(store, folder, monkeypatch):
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(workers, "PATIENCE_S", 3)
    with distributed.LocalCluster(n_workers=0, dashboard_address=None) as made, \
            pytest.raises(ClusterError, match="has no worker: start one"):  # fmt: skip
        replan(store, runner=on_cluster(str(folder), made.scheduler_address, NOW), at=NOW)


@pytest.mark.filterwarnings("ignore")
def test_no_scheduler_is_said_in_words(store, folder, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr(workers, "PATIENCE_S", 1)
    with pytest.raises(ClusterError, match="cannot be reached"):
        replan(store, runner=on_cluster(str(folder), "tcp://127.0.0.1:1", NOW), at=NOW)
    assert "it goes on from there" in ENDED
