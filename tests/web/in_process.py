"""What the tests of the app and the simulated app itself share."""

import asyncio
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from nicegui import Client, background_tasks, ui

from heldtrue.web.pool import Pool

HERE = Path(__file__).parent
EXAMPLES = HERE.parents[1] / "examples"


async def until(true, what="it does not come"):
    """Wait until it is true: how long things take is the machine's affair."""
    for _ in range(6000):
        if true():
            return
        await asyncio.sleep(0.02)
    raise TimeoutError(what)


FOREVER = {"Timer._run_in_loop", "Outbox.loop", "refresh_loop", "_end_pages"}
"""What the library does while a page is there, and a shared app while it is open."""
HANDLER = "_await_in_context"
"""In this the library waits for what a key or a press has set off."""


def at_work():
    """What goes on behind the pages; a handler that waits for the answer to its dialog has done its part."""
    running = [task.get_coro().__qualname__ for task in background_tasks.running_tasks if not task.done()]
    asked = sum(
        isinstance(one, ui.dialog) and one.value for page in Client.instances.values() for one in page.elements.values()
    )
    for _ in range(asked):
        if HANDLER in running:
            running.remove(HANDLER)
    return [name for name in running if name not in FOREVER]


async def taken_in():
    """Wait until what was typed and pressed has been taken in, though not what is solved because of it."""
    await until(lambda: HANDLER not in at_work(), "it is not taken in")


async def at_rest(desk):
    """Wait until nothing is at work behind the pages, and nothing is solved for any draft."""
    await until(lambda: not at_work() and all(live.task is None or live.task.done() for live in desk._live.values()))


class InProcess(Pool):
    """The same questions, answered in one thread of this process: one test must not wait for a worker to start."""

    one = ThreadPoolExecutor(1)

    def __init__(self):
        self.asked = []

    def warm(self):
        pass

    def close(self):
        pass

    async def run(self, key, work, *arguments, **more):
        self.asked.append((work.__name__, arguments))
        return await asyncio.wrap_future(self.one.submit(work, *arguments, **more))
