"""One worker process that can be asked, given up and replaced."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

from heldtrue.web import worker

LAST_WORDS = 2.0
"""A worker that is asked to end has this long before it is made to, s."""


class Lane:
    """A process, started when it is first needed; ``busy``: somebody has its turn."""

    def __init__(self) -> None:
        self.busy = False
        # One thread that waits for the answer: a worker that hangs must hold up no other thread of the server.
        self._waits = ThreadPoolExecutor(1, thread_name_prefix="lane")
        self._process: BaseProcess | None = None
        self._way: Connection | None = None

    def begin(self) -> None:
        """Start the process, so that the first question does not wait for it."""
        if self._process is None:
            # Spawned, not forked: the server has threads, and a fork copies their locks.
            context = get_context("spawn")
            self._way, theirs = context.Pipe()
            self._process = context.Process(target=_serve, args=(theirs,), daemon=True)
            self._process.start()
            theirs.close()  # so that it is seen here when the process has gone

    def ask(self, work: Callable[..., Any], arguments: tuple[Any, ...], more: dict[str, Any]) -> asyncio.Future[Any]:
        """The answer of the process, whatever it raises; ``EOFError`` or ``OSError`` where the process has ended."""
        self.begin()
        assert self._way is not None
        return asyncio.get_running_loop().run_in_executor(self._waits, _exchange, self._way, (work, arguments, more))

    def renew(self) -> None:
        """End the process at once, whatever it is at, and start another."""
        if self._process is not None and self._way is not None:
            self._process.kill()
            self._process.join(LAST_WORDS)
            self._way = self._process = None
        self.begin()

    def close(self) -> None:
        """End the process: after what it is at if that is soon, else at once."""
        if self._process is not None and self._way is not None:
            if self.busy:
                self._process.join(LAST_WORDS)
                self._process.kill()
            else:
                self._way.close()
                self._process.join(LAST_WORDS)
                if self._process.is_alive():
                    self._process.kill()
            self._process.join(LAST_WORDS)
            self._way = self._process = None
        self._waits.shutdown(wait=True, cancel_futures=True)


def _exchange(way: Connection, question: Any) -> Any:
    way.send(question)
    fine, answer = way.recv()
    if fine:
        return answer
    raise answer


def _serve(way: Connection) -> None:
    """The life of a worker process: one question after another, until nobody is there to ask."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # who stops the server stops it, and the server ends its workers
    worker.begin()
    while True:
        try:
            work, arguments, more = way.recv()
        except (EOFError, OSError):
            return
        try:
            answer = True, work(*arguments, **more)
        except Exception as error:  # noqa: BLE001  whatever it is, whoever asked is told
            answer = False, error
        try:
            way.send(answer)
        except (BrokenPipeError, ConnectionError):
            return
        except Exception as error:  # noqa: BLE001  what cannot be sent is a fault of ours, and no reason to hang
            way.send((False, RuntimeError(f"{type(error).__name__}: {error}")))
