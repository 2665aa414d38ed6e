"""Worker processes for the solves: a lane for each group of drafts, and one for what takes long.

A lane is one process, so that a draft always meets the worker that keeps its study.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from typing import ParamSpec, TypeVar
from zlib import crc32

from heldtrue.errors import HeldtrueError
from heldtrue.web import texts, worker

P = ParamSpec("P")
R = TypeVar("R")
LONG = -1
"""The lane of comparisons and jaw cuts: nobody's pressure waits behind them."""


class WorkerLostError(HeldtrueError):
    """A worker process ended; the next question gets a new one."""


class Pool:
    """The worker processes of one server."""

    def __init__(self, lanes: int | None = None) -> None:
        wanted = lanes or max(2, min(4, (os.cpu_count() or 2) - 1))
        self._lanes = [_lane() for _ in range(wanted + 1)]

    def warm(self) -> None:
        """Start every worker now, so that the first question does not wait for it."""
        for lane in self._lanes:
            lane.submit(worker.ready)

    async def run(self, key: str, work: Callable[P, R], *arguments: P.args, **more: P.kwargs) -> R:
        """The answer of the worker that has the draft ``key``; an empty key for what takes long.

        Raises: ``WorkerLostError`` where the process ended on the way.
        """
        number = crc32(key.encode()) % (len(self._lanes) - 1) if key else LONG
        lane = self._lanes[number]
        try:
            return await asyncio.wrap_future(lane.submit(work, *arguments, **more))
        except BrokenProcessPool as error:
            if self._lanes[number] is lane:  # the first to notice replaces it
                self._lanes[number] = _lane()
            raise WorkerLostError(texts.WORKER_LOST) from error

    def close(self) -> None:
        """End the workers, after what they are at."""
        for lane in self._lanes:
            lane.shutdown(wait=True, cancel_futures=True)


def _lane() -> ProcessPoolExecutor:
    # Spawned, not forked: the server has threads, and a fork copies their locks.
    return ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=worker.begin)
