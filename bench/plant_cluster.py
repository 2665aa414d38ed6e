"""A cluster as docs/plant.md sets it up: scheduler, workers and TLS by the commands of that page, run as they stand.

    .venv/bin/python bench/plant_cluster.py [--markdown] [--plans 24]

The records are on a PostgreSQL server of its own, scheduler and workers are processes of this machine.  Measured: a
re-plan with workers that have planned nothing yet, the same again on fresh records, one in which a worker is killed,
one in which the scheduler is killed and which is then run again.  Each must give the table that this process gives.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import shlex
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("HELDTRUE_CACHE", tempfile.mkdtemp(prefix="heldtrue-bench-jaws-"))

from catalogue import NOW, SEED, filled, table, variations
from run import ROOT

sys.path.insert(0, str(ROOT / "tests" / "records"))
PORT = 8786
PATIENCE_S = 180.0


class Page:
    """The commands of docs/plant.md, with this machine for HOST."""

    def __init__(self, records: str) -> None:
        page = (ROOT / "docs" / "plant.md").read_text(encoding="utf-8")
        blocks = re.findall(r"^```\n(.*?)^```", page, re.DOTALL | re.MULTILINE)
        lines = [line for block in blocks for line in block.splitlines()]
        known = {"tls://HOST:8786": f"tls://127.0.0.1:{PORT}", "postgresql://heldtrue@HOST/shop": records}
        for name, here in known.items():
            lines = [line.replace(name, here) for line in lines]
        self.lines = lines
        self.environment = dict(word.split("=", 1) for line in lines if line.startswith("export ")
                                for word in shlex.split(line)[1:])  # fmt: skip

    def of(self, start: str) -> list[str]:
        """The command that begins so."""
        line = next(line for line in self.lines if line.startswith(start))
        program, *words = shlex.split(line)
        there = [str(Path(sys.executable).parent / program)] if program == "dask" else [sys.executable, "-m", program]
        return [*there, *words]

    def certificates(self, folder: Path) -> None:
        """Authority and certificates, by the page's own lines."""
        script = "\n".join(line for line in self.lines if line.startswith(("openssl ", "for ", "  openssl ", "done")))
        subprocess.run(["bash", "-e", "-c", script], cwd=folder, check=True, capture_output=True)


class Machines:
    """Scheduler and workers, each with its children in a group of its own."""

    def __init__(self, page: Page, folder: Path) -> None:
        self.page, self.folder = page, folder
        self.running: dict[str, subprocess.Popen[bytes]] = {}

    def start(self, name: str) -> None:
        with (self.folder / f"{name}.log").open("ab") as log:
            self.running[name] = subprocess.Popen(self.page.of(f"dask {name}"), cwd=self.folder, stdout=log,
                                                  stderr=log, start_new_session=True)  # fmt: skip
        _until(lambda: {"scheduler": "Scheduler at:", "worker": "Registered to:"}[name]
               in (self.folder / f"{name}.log").read_text(), f"{name} starts")  # fmt: skip

    def workers(self) -> list[int]:
        """The processes that plan: below the one that was started."""
        return [one for one in _below(self.running["worker"].pid) if "spawn_main" in _words(one)]

    def most_memory(self) -> float:
        """The most that one of them has had. [MB]"""
        return max(map(most_memory, self.workers()), default=0.0)

    def kill(self, pid: int) -> None:
        os.kill(pid, signal.SIGKILL)

    def ended(self, name: str) -> None:
        """Wait until it has ended by itself: workers end with their scheduler."""
        process = self.running[name]
        _until(lambda: process.poll() is not None, f"{name} ends")
        del self.running[name]
        (self.folder / f"{name}.log").unlink()

    def stop(self, name: str) -> None:
        process = self.running.pop(name)
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


def _below(pid: int) -> Iterator[int]:
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        with suppress(OSError):  # it has ended meanwhile
            for child in map(int, task.read_text().split()):
                yield child
                yield from _below(child)


def _words(pid: int) -> str:
    return Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ").decode()


def most_memory(pid: int) -> float:
    """The most a process has had. [MB]"""
    found = re.search(r"VmHWM:\s+(\d+)", Path(f"/proc/{pid}/status").read_text())
    return int(found[1]) / 1024 if found else 0.0


def processor(pid: int) -> float:
    """Processor time of a process. [s]"""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _until(there: Callable[[], bool], what: str) -> None:
    give_up = time.monotonic() + PATIENCE_S
    while not there():
        if time.monotonic() > give_up:
            raise SystemExit(f"waited {PATIENCE_S:.0f} s: {what}")
        time.sleep(0.2)


def outcomes(records: str) -> list[tuple[str, ...]]:
    """The table of the records: what stands of each setup."""
    from heldtrue.records import open_store

    with open_store(records) as store:
        return [(one.setup, one.key, one.verdict, json.dumps(one.steps)) for one in store.replanned()]


def replanned(page: Page, folder: Path, records: str, meanwhile: Callable[[], None] | None = None) -> dict:
    """``heldtrue replan`` by the page's line; ``meanwhile`` is done once some outcomes are written."""
    began, said, told = time.perf_counter(), folder / "out", folder / "err"
    command = [*page.of("heldtrue replan --records"), "--json"]
    with said.open("wb") as out, told.open("wb") as err:
        asks = subprocess.Popen(command, cwd=folder, env=os.environ | page.environment, stdout=out, stderr=err)
    if meanwhile is not None:
        _until(lambda: bool(outcomes(records)), "the first outcomes")
        meanwhile()
    _, status, used = os.wait4(asks.pid, 0)
    document = said.read_text().strip()
    return {"s": time.perf_counter() - began, "cpu": used.ru_utime + used.ru_stime,
            "status": os.waitstatus_to_exitcode(status), "said": " ".join(told.read_text().split()),
            **(json.loads(document) if document else {})}  # fmt: skip


@contextmanager
def records_on(server: object, name: str, setups: list) -> Iterator[str]:
    server.sql(f"CREATE DATABASE {name}")  # type: ignore[attr-defined]
    url = server.url(name)  # type: ignore[attr-defined]
    filled(url, setups)
    yield url


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--plans", type=int, default=24)
    asked = parser.parse_args()
    from cluster import Cluster

    from heldtrue.records import open_store
    from heldtrue.shop.replanning.run import replan

    setups = list(variations(asked.plans, random.Random(SEED)))
    server, folder = Cluster(), Path(tempfile.mkdtemp(prefix="heldtrue-bench-cluster-"))
    rows: list[list[str]] = []
    machines: Machines | None = None
    try:
        with records_on(server, "alone", setups) as url, open_store(url) as store:
            replan(store, at=NOW)  # jaws are solved
            began, cpu = time.perf_counter(), time.process_time()
            store.database.write(lambda c: c.exec_driver_sql("DELETE FROM replans"))
            found = replan(store)
            rows.append(["this process", f"{found.planned}", f"{time.perf_counter() - began:.1f}",
                         f"{time.process_time() - cpu:.1f}", "", "", "", ""])  # fmt: skip
            wanted = outcomes(url)

        def told(name: str, run: dict, url: str, scheduler: float | None, memory: float) -> None:
            there = outcomes(url)
            agrees = "the same" if there == wanted else "a part of it" if set(there) < set(wanted) else "ANOTHER"
            agrees = agrees if there else "none"
            rows.append([name, f"{run.get('planned', '')}", f"{run['s']:.1f}", f"{run['cpu']:.1f}",
                         "" if scheduler is None else f"{scheduler:.1f}", f"{memory:.0f}" if memory else "",
                         f"{run['status']}", agrees])  # fmt: skip
            if run["said"]:
                print(f"{name}: {run['said']}", file=sys.stderr, flush=True)

        page = Page(server.url("first"))
        page.certificates(folder)
        machines = Machines(page, folder)
        machines.start("scheduler")
        machines.start("worker")
        for name, words in (("first", "first run of the workers"), ("again", "again, fresh records")):
            page = Page(server.url(name))
            with records_on(server, name, setups) as url:
                before = processor(machines.running["scheduler"].pid)
                run = replanned(page, folder, url)
                used = processor(machines.running["scheduler"].pid) - before
                told(words, run, url, used, machines.most_memory())
        other = folder / "another plant"
        other.mkdir()
        page.certificates(other)  # the same names, signed by another authority
        with records_on(server, "strange", setups) as url:
            told("who has a certificate of another authority", replanned(Page(url), other, url), url, None, 0.0)
        page = Page(server.url("killed"))
        with records_on(server, "killed", setups) as url:
            run = replanned(page, folder, url, lambda: machines.kill(machines.workers()[0]))
            told("a worker killed meanwhile", run, url, None, machines.most_memory())
        page = Page(server.url("lost"))
        with records_on(server, "lost", setups) as url:
            run = replanned(page, folder, url, lambda: machines.stop("scheduler"))
            there = len(outcomes(url))
            told(f"the scheduler killed meanwhile ({there} kept)", run, url, None, 0.0)
            machines.ended("worker")
            machines.start("scheduler")
            machines.start("worker")
            told("run again", replanned(page, folder, url), url, None, machines.most_memory())
    finally:
        for name in [*machines.running] if machines else []:
            machines.stop(name)
        server.stop()
    print(f"load of the last minute: {os.getloadavg()[0]:.0f}\n")
    heads = ("who plans", "planned", "s", "processor of the asking program, s", "of the scheduler, s",
             "most memory of a worker, MB", "exit status", "table")  # fmt: skip
    table(asked.markdown, heads, rows)


if __name__ == "__main__":
    main()
