"""Full plans by other processes: on all cores of this machine, or on a cluster. The same work, the same outcomes.

A worker opens the records by itself and only reads; what it finds is written by the program that asked.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from datetime import datetime
from itertools import chain, islice
from logging import CRITICAL, getLogger
from multiprocessing import get_context, parent_process
from multiprocessing.process import BaseProcess
from threading import Thread, current_thread, main_thread
from typing import Any
from uuid import uuid4

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.records import Replanned
from heldtrue.shop.replanning.look import look_from
from heldtrue.shop.replanning.run import LOST, Failed, Runner, broken
from heldtrue.shop.replanning.state import program

AHEAD = 2
"""Setups that wait for each worker: so many are under way at once, however many there are."""
FEW = 4
"""So many plans take no longer than to start a process."""
PATIENCE_S = 15
"""How long the scheduler of a cluster is waited for, s."""
ENDED = "the cluster's scheduler went away; every outcome so far is kept: run it again, and it goes on from there"


class ClusterError(HeldtrueError):
    """The cluster cannot be reached, or was lost on the way."""


def in_processes(where: str, workers: int, at: datetime | None = None) -> Runner:
    """Plans by ``workers`` processes of this machine; ``where``: the records.

    A process that ends takes the plans under way with it: each is tried again alone, and given up where it ends its
    process again.
    """

    def run(ids: Iterable[str]) -> Iterator[Replanned | Failed]:
        waiting = iter(ids)
        while lost := (yield from _until_one_ends(waiting, where, workers, at, under_way=AHEAD * workers)):
            again = iter(lost)
            while ended := (yield from _until_one_ends(again, where, 1, at, under_way=1)):
                yield from (Failed(id, LOST) for id in ended)

    return run


def few_here(here: Runner, others: Runner) -> Runner:
    """A few plans ``here``, more by ``others``: what takes seconds to start must save more than that."""

    def run(ids: Iterable[str]) -> Iterator[Replanned | Failed]:
        waiting = iter(ids)
        first = list(islice(waiting, FEW + 1))
        return here(first) if len(first) <= FEW else others(chain(first, waiting))

    return run


def _until_one_ends(
    ids: Iterator[str], where: str, workers: int, at: datetime | None, *, under_way: int
) -> Generator[Replanned | Failed, None, list[str]]:
    """Plan, so many ``under_way`` at once, until all is done or a process has ended; returns what was lost with it."""
    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_end_with_who_asks)
    asked: dict[Future[Replanned], str] = {}
    lost: list[str] = []
    try:
        while True:
            while not lost and len(asked) < under_way and (id := next(ids, None)) is not None:
                try:
                    with _deaf_to_ctrl_c():
                        asked[pool.submit(look_from, where, id, at, program())] = id
                except BrokenProcessPool:
                    lost.append(id)
            if not asked:
                return lost
            for future in wait(asked, return_when=FIRST_COMPLETED).done:
                id = asked.pop(future)
                try:
                    yield future.result()
                except BrokenProcessPool:
                    lost.append(id)
                except HeldtrueError:
                    raise
                except Exception as error:  # noqa: BLE001  one setup that breaks the program must not stop the rest
                    yield broken(id, error)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _end_with_who_asks() -> None:
    """In a worker: end when the program that asks was killed; it would wait for work for ever."""

    def wait_for_the_end(asks: BaseProcess) -> None:
        asks.join()
        os._exit(1)

    asks = parent_process()
    assert asks is not None, "a worker is started by somebody"
    Thread(target=wait_for_the_end, args=(asks,), daemon=True).start()


@contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
    """Processes started meanwhile never hear of Ctrl-C, which goes to all of a terminal: who asked ends its workers."""
    if current_thread() is not main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)


def on_cluster(where: str, scheduler: str, at: datetime | None = None) -> Runner:
    """Plans by the workers of a cluster; ``scheduler``: its address, ``tcp://...`` or ``tls://...``.

    Which worker plans what, and what happens when one dies, is the scheduler's.
    Raises: ``InputError`` without the extra ``cluster``, for what is no address, or for a worker with another program;
    ``ClusterError`` where the scheduler cannot be reached.
    """
    try:
        from distributed import Client, KilledWorker, as_completed
    except ModuleNotFoundError as error:
        raise InputError("--scheduler needs one more package: pip install 'heldtrue[cluster]'") from error
    _must_be_address(scheduler)
    # Of a scheduler that is lost it writes thirty lines of its insides before our own message.
    getLogger("distributed.client").setLevel(CRITICAL)

    def run(ids: Iterable[str]) -> Iterator[Replanned | Failed]:
        waiting, names = iter(ids), dict[str, str]()
        with _client(Client, scheduler) as client:
            try:
                client.wait_for_workers(1, timeout=PATIENCE_S)
            except TimeoutError as error:
                raise ClusterError(f"the scheduler {scheduler} has no worker: start one (docs/plant.md)") from error
            size = AHEAD * max(sum(client.nthreads().values()), 1)

            def submit(id: str) -> Any:
                names[key := f"replan-{id}-{uuid4().hex}"] = id
                return client.submit(look_from, where, id, at, program(), key=key, pure=False)

            done = as_completed(loop=client.loop)
            for id in _first(waiting, size):
                done.add(submit(id))
            for future in done:
                id = names.pop(future.key)
                try:
                    yield future.result()
                except KilledWorker:
                    yield Failed(id, LOST)
                except HeldtrueError:
                    raise
                except Exception as error:
                    if future.cancelled() or client.status != "running":
                        raise ClusterError(ENDED) from error
                    yield broken(id, error)
                if (after := next(waiting, None)) is not None:
                    done.add(submit(after))

    return run


def _must_be_address(scheduler: str) -> None:
    """A client made with what is no address waits half a minute, and then says so with its insides."""
    from distributed.comm.addressing import parse_address, parse_host_port
    from distributed.security import Security

    try:
        scheme, place = parse_address(scheduler, strict=True)
        host, _ = parse_host_port(place)
    except ValueError:
        scheme = host = ""
    if scheme not in ("tcp", "tls") or not host:
        raise InputError(
            f"--scheduler {scheduler}: found no address such as tls://10.0.0.5:8786 or tcp://10.0.0.5:8786"
        )
    if scheme == "tls" and Security().get_connection_args("client").get("ssl_context") is None:
        raise InputError(f"--scheduler {scheduler}: tls needs the files of the certificate: docs/plant.md says which "
                         "variables name them")  # fmt: skip


def _client(make: Any, scheduler: str) -> Any:
    try:
        return make(scheduler, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        words = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise ClusterError(f"the scheduler {scheduler} cannot be reached: {words}") from error


def _first(ids: Iterator[str], count: int) -> Iterator[str]:
    for _ in range(count):
        if (id := next(ids, None)) is None:
            return
        yield id


def cores() -> int:
    """How many processes this machine carries."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
