"""What the tests of the app share: an app in this process, and a user who looks at its pages."""

import asyncio
import gc
import os
import signal
import sys
import warnings
from contextlib import asynccontextmanager
from functools import partial
from itertools import count
from pathlib import Path

import pytest

from heldtrue.web import worker
from heldtrue.web.desk import Desk
from web.chromium import CHROMIUM, MISSING, Server, Visitor, open_browser
from web.in_process import EXAMPLES, HERE, InProcess

ENDS_WITHIN = 30.0
"""How long the end of a simulated app may take, s."""
LIBRARY_WARNINGS = (
    # Emitted by the web libraries themselves; nothing of ours.
    "ignore::DeprecationWarning:nicegui.*",
    "ignore::DeprecationWarning:starlette.*",
    "ignore::DeprecationWarning:fastapi.*",
    "ignore::DeprecationWarning:websockets.*",
    "ignore::DeprecationWarning:uvicorn.*",
)


def pytest_collection_modifyitems(items):
    for item in items:
        if HERE in Path(item.path).parents:
            for words in LIBRARY_WARNINGS:
                item.add_marker(pytest.mark.filterwarnings(words))


@pytest.fixture
def desk(tmp_path):
    worker._studies.clear()  # in a worker of its own it would be empty
    made = Desk(str(tmp_path / "records"), examples=EXAMPLES, pool=InProcess())
    yield made
    made.close()


@pytest.fixture
def visit(tmp_path):
    """Run a visit: ``visit(steps)`` with ``async def steps(user, desk)``."""

    def run(steps):
        failed: list[BaseException] = []

        async def all_of_it(done):
            async with visitor(tmp_path / "records") as (user, desk):
                try:
                    await steps(user, desk)
                except BaseException as error:  # noqa: BLE001  the library does not shut down if it goes through
                    failed.append(error)
                finally:
                    done.set()

        asyncio.run(ending(all_of_it))
        if failed:
            raise failed[0]

    return run


async def ending(visit):
    """Run a visit: ``visit(done)``, ``done`` set when its steps are over.

    Once in some thousand visits, on a busy machine, the library's own end of a simulated app never comes: it is shown
    what it waits for, and given up.
    """
    done = asyncio.Event()
    task, over = asyncio.ensure_future(visit(done)), asyncio.ensure_future(done.wait())
    await asyncio.wait({task, over}, return_when=asyncio.FIRST_COMPLETED)
    over.cancel()
    await asyncio.wait({task}, timeout=ENDS_WITHIN)
    if not task.done():
        print("the simulated app does not end; what it waits for:", file=sys.__stderr__)
        for one in asyncio.all_tasks():
            one.print_stack(file=sys.__stderr__)
        task.cancel()
        await asyncio.wait({task}, timeout=ENDS_WITHIN)
    if task.done() and not task.cancelled():
        task.result()


_visits = count(1)


def set_aside():
    """What has stayed is no rubbish: the library has all rubbish collected before and after each visit.

    Before the 1st, 2nd, 4th, 8th, ... visit: the first ones import most of the app, and kept solutions come later.
    """
    visit = next(_visits)
    if visit & (visit - 1) == 0:
        gc.collect()
        gc.freeze()


@asynccontextmanager
async def visitor(records):
    """A simulated user of an app of their own."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # on import, by the library itself
        from nicegui import app
        from nicegui.testing.user_simulation import user_simulation
    os.environ["HELDTRUE_TEST_RECORDS"] = str(records)
    set_aside()
    async with user_simulation(main_file=HERE / "app_main.py") as user:
        user.http_client.headers["host"] = "127.0.0.1"
        # The library's own user gives up after 0.3 s, and after 1 s on a download.
        user.should_see = partial(user.should_see, retries=1200)
        user.should_not_see = partial(user.should_not_see, retries=1200)
        user.download.next = partial(user.download.next, timeout=120.0)
        yield user, app.state.desk


@pytest.fixture(scope="session")
def needs_chromium():
    if CHROMIUM is None:
        if os.environ.get("HELDTRUE_REQUIRE_BROWSER") == "1":
            pytest.fail(MISSING)
        pytest.skip(MISSING)


@pytest.fixture(scope="session")
def served(needs_chromium, tmp_path_factory):
    """One real server for all real browsers: each test works on setups and sets of its own."""
    made = Server(tmp_path_factory.mktemp("served"))
    yield made
    made.close()


@pytest.fixture
def own(needs_chromium, tmp_path):
    """A server of its own: it is stopped on the way."""
    made = Server(tmp_path / "own")
    yield made
    made.process.send_signal(signal.SIGCONT)
    made.close()


@pytest.fixture(scope="module")
def chromium(request, needs_chromium):
    """One real browser for a module; no longer, as its event loop stands in the way of tests that run their own.

    A module that looks at what turns in space says ``GL = True``: drawing all pages that way takes half a processor.
    """
    with open_browser(gl=getattr(request.module, "GL", False)) as browser:
        yield browser


@pytest.fixture
def new_visitor(chromium, served):
    """Make visitors with browsers of their own: ``new_visitor(size=..., ...)``.

    The test fails if a script complained, the server said an error, or anything was asked for elsewhere.
    """
    made = []

    def make(**more):
        made.append(Visitor(chromium, served.address, **more))
        return made[-1]

    served.complaints()
    yield make
    for one in made:
        one.close()
    for one in made:
        one.check()
    assert served.complaints() == ""


@pytest.fixture(name="visitor")
def one_visitor(new_visitor):
    """Somebody at a browser."""
    return new_visitor()
