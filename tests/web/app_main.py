"""The app as the simulated user meets it."""

import os
import sys
from pathlib import Path

from nicegui import app, ui

sys.path.insert(0, str(Path(__file__).parents[1]))
from heldtrue.web.desk import Desk
from heldtrue.web.server import register
from web.in_process import EXAMPLES, InProcess

app.state.desk = Desk(os.environ["HELDTRUE_TEST_RECORDS"], examples=EXAMPLES, pool=InProcess())
register(app.state.desk)
ui.run(show=False, reload=False)
