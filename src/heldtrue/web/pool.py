"""Worker processes for the solves: a lane for each group of drafts, and others for what takes long.

A draft meets the worker that keeps its study, unless that is held up for long.  No question is without an end.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from typing import ParamSpec, TypeVar
from zlib import crc32

from heldtrue.errors import HeldtrueError
from heldtrue.web import texts
from heldtrue.web.lane import Lane

P = ParamSpec("P")
R = TypeVar("R")
LIMIT = 60.0
"""The longest a question about a draft may take, s: a plan takes about 1 s, on a slow and busy machine ten."""
LONG_LIMIT = 300.0
"""The longest a comparison or a jaw cut may take, s: the longest of the examples takes about 10 s."""
PATIENCE = 2.0
"""How long a question waits for its own worker before it takes any that is free, s: a new study takes about 1."""
MOST_WAITING = 60
"""Questions that wait for a turn; more is a flood, and the shop is told to come again."""


class WorkerLostError(HeldtrueError):
    """A worker process ended; the next question gets a new one."""


class WorkerHungError(WorkerLostError):
    """A worker took longer than anything may take; it was ended, the next question gets a new one."""


class PoolBusyError(WorkerLostError):
    """Too many wait already."""


class Pool:
    """The worker processes of one server. ``limit``, ``long_limit``: seconds for one question."""

    def __init__(
        self, lanes: int | None = None, *, limit: float = LIMIT, long_limit: float = LONG_LIMIT,
        patience: float = PATIENCE,
    ) -> None:  # fmt: skip
        self.limit, self.long_limit, self.patience = limit, long_limit, patience
        self._drafts = [Lane() for _ in range(lanes or max(2, min(4, (os.cpu_count() or 2) - 1)))]
        # Nobody's pressure waits behind comparisons and jaw cuts. The second starts only where the first is held up.
        self._long = [Lane(), Lane()]
        self._turns = asyncio.Condition()
        self._waiting = 0

    def warm(self) -> None:
        """Start the workers now, so that the first question does not wait for it."""
        for lane in (*self._drafts, self._long[0]):
            lane.begin()

    async def run(self, key: str, work: Callable[P, R], *arguments: P.args, **more: P.kwargs) -> R:
        """The answer of the worker that has the draft ``key``; an empty key for what takes long.

        Who gives up waiting (the task is cancelled) ends the worker at once: nobody wants its answer.
        Raises: ``WorkerLostError`` where the process ended on the way, ``WorkerHungError`` where it took too long,
        ``PoolBusyError`` where too many wait.
        """
        lane = await self._turn(key)
        limit = self.limit if key else self.long_limit
        try:
            future = lane.ask(work, arguments, more)
            try:
                done, _ = await asyncio.wait({future}, timeout=limit)
                if not done:
                    lane.renew()
                    raise WorkerHungError(texts.WORKER_HUNG.format(seconds=limit))
                return future.result()  # type: ignore[no-any-return]
            except asyncio.CancelledError:
                lane.renew()
                raise
            except (EOFError, OSError) as error:
                lane.renew()
                raise WorkerLostError(texts.WORKER_LOST) from error
            finally:
                future.add_done_callback(_heard)
        finally:
            lane.busy = False
            async with self._turns:
                self._turns.notify_all()

    async def _turn(self, key: str) -> Lane:
        """A lane that is free and is ours from now on: our own, or after a while any that does the same work."""
        lanes = self._drafts if key else self._long
        own = lanes[crc32(key.encode()) % len(lanes)] if key else lanes[0]
        if self._waiting >= MOST_WAITING:
            raise PoolBusyError(texts.POOL_BUSY)
        self._waiting += 1
        try:
            async with self._turns:
                try:
                    async with asyncio.timeout(self.patience):
                        await self._turns.wait_for(lambda: not own.busy)
                except TimeoutError:
                    await self._turns.wait_for(lambda: not all(lane.busy for lane in lanes))
                found = next(lane for lane in (own, *lanes) if not lane.busy)
                found.busy = True
                return found
        finally:
            self._waiting -= 1

    def close(self) -> None:
        """End the workers; none is waited for without end."""
        for lane in (*self._drafts, *self._long):
            lane.close()


def _heard(future: asyncio.Future[object]) -> None:
    """Of an answer that nobody waits for any more nothing is said."""
    if not future.cancelled():
        future.exception()
