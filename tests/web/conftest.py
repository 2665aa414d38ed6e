"""What the tests of the app share: an app in this process, and a user who looks at its pages."""

import asyncio
import os
import warnings
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from heldtrue.web import worker
from heldtrue.web.desk import Desk
from web.in_process import EXAMPLES, HERE, InProcess

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
        async def all_of_it():
            failed = None
            async with visitor(tmp_path / "records") as (user, desk):
                try:
                    await steps(user, desk)
                except BaseException as error:  # noqa: BLE001  the library does not shut down if it goes through
                    failed = error
            if failed is not None:
                raise failed

        asyncio.run(all_of_it())

    return run


@asynccontextmanager
async def visitor(records):
    """A simulated user of an app of their own."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # on import, by the library itself
        from nicegui import app
        from nicegui.testing.user_simulation import user_simulation
    os.environ["HELDTRUE_TEST_RECORDS"] = str(records)
    async with user_simulation(main_file=HERE / "app_main.py") as user:
        user.http_client.headers["host"] = "127.0.0.1"
        yield user, app.state.desk
