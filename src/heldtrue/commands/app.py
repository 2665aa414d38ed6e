"""The app: the same answers in a browser, served from this machine."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

import socket
from typing import Annotated

import typer

from heldtrue.commands.common import error_screen
from heldtrue.commands.memory import Records, place
from heldtrue.errors import InputError

NOT_SHARED = (
    "--share is not built yet: it needs users, passwords and roles, and until they are there the app serves this "
    "machine only; start it without --share"
)


def app_(
    port: Annotated[int, typer.Option(help="Port on this machine.", min=1024, max=65535)] = 8475,
    records: Records = None,
    share: Annotated[bool, typer.Option("--share", help="Open it to the shop network (not built yet).")] = False,
    show: Annotated[bool, typer.Option(help="Open the browser.")] = True,
) -> None:
    """Everything in a browser, from this machine and for this machine only."""
    if share:
        raise InputError(NOT_SHARED)
    _check_free(port)
    from heldtrue.web.desk import Desk
    from heldtrue.web.server import serve
    from heldtrue.web.sources import examples_folder

    desk = Desk(place(records), examples=examples_folder())
    words = f"http://127.0.0.1:{port}/  records in {desk.records}; stop with Ctrl+C"
    error_screen().print(words, highlight=False, markup=False, soft_wrap=True)
    serve(desk, port, show=show)


def _check_free(port: int) -> None:
    """Refuse early a port that somebody has."""
    with socket.socket() as probe:
        if probe.connect_ex(("127.0.0.1", port)) == 0:
            raise InputError(f"--port: something answers on port {port} already; is the app open? Else take another")
