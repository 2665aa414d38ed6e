"""The app: the same answers in a browser, served from this machine."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

import os
import socket
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from heldtrue.commands.common import error_screen
from heldtrue.commands.memory import Records, place
from heldtrue.errors import InputError

if TYPE_CHECKING:
    from heldtrue.web.access.door import Door
    from heldtrue.web.server import Network


def app_(
    port: Annotated[int, typer.Option(help="Port on this machine.", min=1024, max=65535)] = 8475,
    records: Records = None,
    share: Annotated[bool, typer.Option("--share", help="Open it to the shop network; everybody logs in.")] = False,
    address: Annotated[str, typer.Option(help="With --share: the network address to listen on.")] = "0.0.0.0",
    name: Annotated[
        list[str] | None, typer.Option(help="With --share: one more host name it may be called by; repeatable.")
    ] = None,
    certificate: Annotated[Path | None, typer.Option(help="With --share: TLS certificate, a PEM file.")] = None,
    key: Annotated[Path | None, typer.Option(help="With --share: the private key to it, a PEM file.")] = None,
    sample: Annotated[bool, typer.Option("--sample", help="The sample shop: invented records in their own folder.")] = (
        False
    ),
    show: Annotated[bool, typer.Option(help="Open the browser.")] = True,
) -> None:
    """Everything in a browser: for this machine only, or with --share for everybody of the shop who may log in."""
    _check_free(port)
    from heldtrue.web.desk import Desk
    from heldtrue.web.server import Network, serve
    from heldtrue.web.sources import examples_folder

    where = _sample_shop(place(records), share) if sample else place(records)
    network = Network(address, tuple(name or ()), certificate, key) if share else None
    door = _door(where, network) if network else None
    desk = Desk(where, examples=examples_folder(), door=door)
    for words in _greeting(desk.records, port, network):
        error_screen().print(words, highlight=False, markup=False, soft_wrap=True)
    serve(desk, port, show=show, network=network)


def _sample_shop(where: str, share: bool) -> str:
    """The folder of the sample shop beside these records, made where there is none; every page says what it is."""
    from html import escape

    from nicegui import ui

    from heldtrue.web import sample, texts
    from heldtrue.web.desk import folder_of, now
    from heldtrue.web.sources import examples_folder

    if share:
        raise InputError(texts.SAMPLE_ALONE)
    back = os.environ.get(sample.BACK, "")
    link = f' <a href="{escape(back)}">{escape(texts.SAMPLE_BACK)}</a>' if back.startswith("http") else ""
    banner = f'<div class="sample-shop" role="note">{escape(texts.SAMPLE_BANNER)}{link}</div>'
    ui.add_body_html(banner, shared=True)
    shop, examples = folder_of(where), examples_folder()
    if (shop / sample.MARK).is_file():
        return str(shop)
    if examples is None:
        raise InputError(texts.SAMPLE_NOT_UP)
    return str(sample.load(shop, examples, now()))


def _door(where: str, network: Network) -> Door:
    """The door of a shared app. Raises: ``InputError`` where it could not be shut."""
    from heldtrue.web import texts
    from heldtrue.web.access.accounts import Accounts
    from heldtrue.web.access.door import Door
    from heldtrue.web.desk import folder_of

    _check_certificate(network)
    accounts = Accounts(folder_of(where))
    if not accounts.has_administrator():
        accounts.close()
        raise InputError(texts.NO_ADMINISTRATOR)
    return Door(accounts, secure=network.certificate is not None)


def _check_certificate(network: Network) -> None:
    import ssl

    from heldtrue.web import texts

    if (network.certificate is None) != (network.key is None):
        raise InputError(texts.CERTIFICATE_PAIR)
    if network.certificate is None:
        return
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(network.certificate, network.key)
    except OSError as error:  # ssl.SSLError is one
        words = texts.CERTIFICATE_BROKEN.format(path=network.certificate, key=network.key, why=error)
        raise InputError(words) from error


def _greeting(records: str, port: int, network: Network | None) -> list[str]:
    if network is None:
        return [f"http://127.0.0.1:{port}/  records in {records}; stop with Ctrl+C"]
    from heldtrue.web import texts
    from heldtrue.web.server import own_names

    kind = "https" if network.certificate else "http"
    names = [one for one in (*own_names(), *network.names) if not one.startswith(("127.", "[", "localhost"))]
    lines = [f"{kind}://{one}:{port}/" for one in names]
    return [*lines, f"records in {records}; stop with Ctrl+C", *([] if network.certificate else [texts.IN_THE_CLEAR])]


def _check_free(port: int) -> None:
    """Refuse early a port that somebody has."""
    with socket.socket() as probe:
        if probe.connect_ex(("127.0.0.1", port)) == 0:
            raise InputError(f"--port: something answers on port {port} already; is the app open? Else take another")
