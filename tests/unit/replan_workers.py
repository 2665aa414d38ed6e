"""Work for worker processes of the tests of a re-plan."""

import os
import signal

from heldtrue.shop.replanning.look import look_from


def ends_its_process(where, id, at, code):
    """Plan a setup; the process ends at once where it is called bad."""
    if id.startswith("bad"):
        os.kill(os.getpid(), signal.SIGKILL)
    return look_from(where, id, at, code)


def breaks(where, id, at, code):
    """Plan a setup; a fault of the program where it is called bad."""
    if id.startswith("bad"):
        raise ZeroDivisionError("nobody thought of this")
    return look_from(where, id, at, code)
