"""A re-plan with the records on a server: processes that read it, and a server that goes away meanwhile."""

import threading
import time
from datetime import UTC, datetime

import pytest
from conftest import example, longer

from heldtrue.records.store import open_store
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.replanning.look import AWAY_S
from heldtrue.shop.replanning.run import replan
from heldtrue.shop.replanning.workers import in_processes

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
FEEDS = (0.1, 0.15)


def fill(store):
    for number, feed in enumerate(FEEDS):
        enter_setup(store, example("winch-shaft").with_({"cuts.0.feed": feed}), "Noor", id=f"s{number}")


def outcomes(store):
    rows = store.replanned()
    return [(one.setup, one.state, one.key, one.verdict, sorted(one.steps)) for one in rows]


@pytest.mark.long
@pytest.mark.parametrize("away", [0.0, *longer(10.0, 35.0)])
def test_processes_plan_from_a_server_also_while_it_is_away(postgres_place, folder, cluster, away):
    with open_store(folder) as alone:
        fill(alone)
        replan(alone, at=NOW)
        wanted = outcomes(alone)
    back = []

    def outage(progress):
        if progress.planned and away and not back:
            cluster.kill()
            back.append(threading.Thread(target=lambda: (time.sleep(away), cluster.start())))
            back[0].start()

    with open_store(postgres_place, patience=AWAY_S) as store:
        fill(store)
        report = replan(store, runner=in_processes(store.where, 2, NOW), at=NOW, watch=outage)
        for thread in back:
            thread.join()
        assert (report.looked_at, report.failed) == (len(FEEDS), [])
        assert outcomes(store) == wanted
        assert replan(store, at=NOW).known == len(FEEDS)
    assert bool(back) == bool(away)
