"""The app as the simulated user meets it."""

import os
import sys
from pathlib import Path

from nicegui import app, ui

sys.path.insert(0, str(Path(__file__).parents[1]))
from heldtrue.web.access.accounts import Accounts
from heldtrue.web.access.door import Door
from heldtrue.web.desk import Desk
from heldtrue.web.server import register
from web.in_process import EXAMPLES, InProcess

records = os.environ["HELDTRUE_TEST_RECORDS"]
shared = os.environ.get("HELDTRUE_TEST_SHARED")
door = Door(Accounts(Path(records)), secure=False) if shared else None
app.state.desk = Desk(records, examples=EXAMPLES, pool=InProcess(), door=door)
# The application of the library outlives a test, and the first of two mounts answers.
app.router.routes[:] = [one for one in app.router.routes if getattr(one, "path", "") != "/api"]
register(app.state.desk)
ui.run(show=False, reload=False)
