"""A plant's catalogue planned again: kept limits for all at once, full plans by 1 and 2 workers, and a cluster.

    .venv/bin/python bench/catalogue.py [--markdown] [--setups 10000] [--plans 24] [--workers 1,2] [--cluster]

A made catalogue: setups of four examples that pass, with cuts, tolerances and pressures varied by a seeded dice, on 40
chucks with a grip reading or grease each.  ``--setups`` of them go through the kept limits: each has the limits of one
of ``--plans`` variations that are really planned, by this process, by each number of ``--workers``, and with
``--cluster`` by two workers of dask on this machine.  Jaws are solved once, before any time is taken.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial
from multiprocessing import active_children
from pathlib import Path
from time import perf_counter, process_time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("HELDTRUE_CACHE", tempfile.mkdtemp(prefix="heldtrue-bench-jaws-"))

EXAMPLES = Path(__file__).parents[1] / "examples"
NAMES = ("gland-flange", "pump-sleeve-inch", "winch-shaft", "gland-flange-repeat")
NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
CHUCKS = 40
SEED = 24


def variations(count: int, dice: random.Random) -> Iterator:
    """Setups that differ in feed, depth and corner of the part's tolerance, on the chucks of the plant."""
    from heldtrue.errors import InputError
    from heldtrue.planning.setup import Setup

    shipped = [Setup.from_toml(EXAMPLES / f"{name}.toml") for name in NAMES]
    made = 0
    while made < count:
        kind = dice.randrange(len(shipped))
        setup, changes = shipped[kind], {}
        for number, cut in enumerate(setup.cuts):
            if cut.feed is not None:
                changes[f"cuts.{number}.feed"] = cut.feed * dice.uniform(0.7, 1.0)
        changes["chuck.number"] = f"CH-{kind + len(shipped) * dice.randrange(CHUCKS // len(shipped)):02}"
        changes["jaws.number"] = f"J-{made:05}"
        changes["part.number"] = f"P-{made:05}"
        try:
            yield setup.with_(changes)
        except InputError:
            continue
        made += 1


def filled(place: Path, setups: list) -> None:
    """Records with these setups."""
    from heldtrue.records import open_store
    from heldtrue.shop.enter import enter_setup

    with open_store(place) as store:
        for number, setup in enumerate(setups):
            enter_setup(store, setup, "Noor", id=f"S-{number:05}")


def catalogue(place: Path, planned: Path, count: int) -> None:
    """Records of ``count`` setups, each a copy of one that was planned in ``planned``, with its limits.

    Each has a part and a jaw set of its own, with their cards, as in a plant.
    """
    from heldtrue.records import ChuckRecord, JawSet, MachineRecord, PartRecord, SetupRecord, open_store
    from heldtrue.records.rests import SetupInShort
    from heldtrue.shop.replanning.compare import pressures_of
    from heldtrue.shop.replanning.state import States

    with open_store(planned) as source, open_store(place) as store:
        shared = [replace(one, version=0) for kind in (MachineRecord, ChuckRecord) for one in source.all(kind)]
        store.write(*shared, by="Noor")
        known = [(source.get(SetupRecord, row.setup), row) for row in source.replanned() if row.limits]
        parts, sets = ({one.id: one for one in source.all(kind)} for kind in (PartRecord, JawSet))
        cards, rows = [], []
        for number in range(count):
            card, row = known[number % len(known)]
            id, own = f"C-{number:05}", {"part": f"CP-{number:05}", "jaw_set": f"CJ-{number:05}"}
            cards += [replace(parts[card.part], id=own["part"], version=0),
                      replace(sets[card.jaw_set], id=own["jaw_set"], version=0, part=own["part"]),
                      replace(card, id=id, version=0, plan=None, **own)]  # fmt: skip
            names = {"chuck": card.chuck, "machine": card.machine or "", **own}
            planned = {"verdict": row.verdict, "pressures": pressures_of(row.steps)}
            rows.append((SetupInShort(id, 1, "", "", names),
                         replace(row, setup=id, version=1, names=names | {"gauge": row.names["gauge"]},
                                 planned=planned)))  # fmt: skip
        for start in range(0, len(cards), 3000):
            store.write(*cards[start : start + 3000], by="Noor")
        states = States(store, NOW).of([short for short, _ in rows])
        for start in range(0, count, 1000):
            store.keep_replanned([replace(row, state=states[short.id].whole, rest=states[short.id].rest)
                                  for short, row in rows[start : start + 1000]])  # fmt: skip


def read_chucks(place: Path, share: float) -> None:
    """Two readings for every chuck, at a share of its plate."""
    from heldtrue.records import ChuckRecord, GaugeReading, open_store
    from heldtrue.shop.chuck_card import chuck_on_card

    with open_store(place) as store:
        for card in store.all(ChuckRecord):
            chuck = chuck_on_card(card)
            area = chuck.actuator.pull_area or chuck.actuator.push_area
            slope = share * chuck.max_grip_force / chuck.max_draw_force * area
            for minute, pressure in enumerate((1.4, 1.9)):
                at, force = NOW + timedelta(minutes=minute), slope * (pressure - 0.05)
                store.write(GaugeReading(at=at, by="Noor", chuck=card.id, pressure=pressure, force=force), by="Noor")


def kept_limits(place: Path) -> list[str]:
    """All at once: the arithmetic alone, and with reading and writing of the records."""
    from heldtrue.planning.kept_limits import still_hold
    from heldtrue.records import open_store
    from heldtrue.shop.replanning import run, shortcut

    arithmetic = 0.0

    def timed(*arguments):
        nonlocal arithmetic
        began = process_time()
        found = still_hold(*arguments)
        arithmetic += process_time() - began
        return found

    shortcut.still_hold = timed
    left: list[str] = []

    def none(ids):
        left.extend(ids)
        return iter(())

    run.collect_rarely()  # as the command does
    with open_store(place) as store:
        began, cpu = perf_counter(), process_time()
        report = run.replan(store, at=NOW + timedelta(hours=1), runner=none)
        first, used, planned = perf_counter() - began, process_time() - cpu, len(left)
        cpu = process_time()
        again = run.replan(store, at=NOW + timedelta(hours=1), runner=none)
        second = process_time() - cpu
    shortcut.still_hold = still_hold
    assert again.shortened == report.shortened
    return [f"{report.shortened + planned}", f"{report.shortened}", f"{planned}", f"{arithmetic:.2f}", f"{first:.2f}",
            f"{used:.2f}", f"{second:.2f}", f"{memory():.0f}"]  # fmt: skip


def full_plans(place: Path, setups: list, who: str, runner_of) -> list[str]:
    """Fresh records with these setups, planned by somebody."""
    from heldtrue.records import open_store
    from heldtrue.shop.replanning.run import replan

    filled(place, setups)
    theirs, others = of_ended_processes()[0], set(active_children())
    with open_store(place) as store:
        began, cpu = perf_counter(), process_time()
        report = replan(store, runner=runner_of(str(place)), at=NOW)
        taken, used = perf_counter() - began, process_time() - cpu
    for process in set(active_children()) - others:
        process.join()
    spent, most = of_ended_processes()
    workers = [f"{spent - theirs:.1f}", f"{most:.0f}"] if spent > theirs else ["", ""]
    return [who, f"{report.planned}", f"{taken:.1f}", f"{report.planned / taken:.2f}", f"{used:.1f}", *workers]


def of_ended_processes() -> tuple[float, float]:
    """Processor time of the processes that this one started and that have ended [s], and the most one had [MB]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def memory() -> float:
    """The most that this process has had. [MB]"""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def table(markdown: bool, heads: tuple[str, ...], rows: list[list[str]]) -> None:
    lines = [" | ".join(row) for row in (heads, *([["---"] * len(heads)] if markdown else []), *rows)]
    print("\n".join(f"| {line} |" if markdown else line.replace(" | ", "\t") for line in lines), "\n", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--setups", type=int, default=10_000)
    parser.add_argument("--plans", type=int, default=24)
    parser.add_argument("--workers", default="1,2")
    parser.add_argument("--cluster", action="store_true")
    asked = parser.parse_args()
    from heldtrue.records import open_store
    from heldtrue.shop.replanning.run import replan
    from heldtrue.shop.replanning.workers import in_processes, on_cluster

    home = Path(tempfile.mkdtemp(prefix="heldtrue-bench-catalogue-"))
    setups = list(variations(asked.plans, random.Random(SEED)))
    filled(home / "planned", setups)
    with open_store(home / "planned") as store:
        replan(store, at=NOW)
    rows = [full_plans(home / "alone", setups, "this process", lambda place: None)]
    for count in (int(one) for one in asked.workers.split(",") if one):
        rows.append(
            full_plans(home / f"w{count}", setups, f"{count} workers", partial(in_processes, workers=count, at=NOW))
        )
    if asked.cluster:
        from distributed import LocalCluster

        with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as made:
            runner = partial(on_cluster, scheduler=made.scheduler_address, at=NOW)
            for again in ("cluster of 2, first", "cluster of 2, warm"):
                rows.append(full_plans(home / again, setups, again, runner))
    print(f"load of the last minute: {os.getloadavg()[0]:.0f}\n")
    heads = ("full plans by", "setups", "s", "a second", "processor of this process, s", "of its workers, s",
             "most memory of a worker, MB")  # fmt: skip
    table(asked.markdown, heads, rows)
    catalogue(home / "catalogue", home / "planned", asked.setups)
    read_chucks(home / "catalogue", 0.8)
    heads = ("setups", "by kept limits", "left to full plans", "arithmetic, processor s", "with the records, s",
             "processor s", "run again: processor s", "memory, MB")  # fmt: skip
    table(asked.markdown, heads, [kept_limits(home / "catalogue")])
    shutil.rmtree(home)


if __name__ == "__main__":
    main()
