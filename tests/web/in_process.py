"""What the tests of the app and the simulated app itself share."""

import asyncio
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from heldtrue.web.pool import Pool

HERE = Path(__file__).parent
EXAMPLES = HERE.parents[1] / "examples"


async def until(true, what="it does not come"):
    """Wait until it is true: how long things take is the machine's affair."""
    for _ in range(1000):
        if true():
            return
        await asyncio.sleep(0.02)
    raise TimeoutError(what)


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
