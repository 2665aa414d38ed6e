"""The app: the same answers in a browser, served from this machine."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

import os
import socket
from collections import Counter
from ipaddress import ip_address
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
    unencrypted: Annotated[
        bool,
        typer.Option(
            "--unencrypted", help="With --share: without TLS; whoever is on the network can read every password."
        ),
    ] = False,
    sample: Annotated[bool, typer.Option("--sample", help="The sample shop: invented records in their own folder.")] = (
        False
    ),
    show: Annotated[bool, typer.Option(help="Open the browser.")] = True,
) -> None:
    """Everything in a browser: for this machine only, or with --share for everybody of the shop who may log in."""
    _check_free(port)
    from heldtrue.files import examples_folder
    from heldtrue.web import texts
    from heldtrue.web.desk import Desk, folder_of
    from heldtrue.web.server import Network, serve
    from heldtrue.web.spare_room import keep_spare, make_way

    where = _sample_shop(place(records), share) if sample else place(records)
    network = Network(address, tuple(name or ()), certificate, key) if share else None
    if network is not None:
        _check_certificate(network, unencrypted)
    folder = folder_of(where)
    full = make_way(folder)
    door = _door(where, network) if network else None
    desk = Desk(where, examples=examples_folder(), door=door)
    keep_spare(folder)
    for words in [
        *([texts.DISK_FULL_AT_START.format(folder=folder)] if full else []),
        *_greeting(desk.records, port, network),
        *(_people(door) if door else []),
    ]:
        error_screen().print(words, highlight=False, markup=False, soft_wrap=True)
    serve(desk, port, show=show, network=network)


def _sample_shop(where: str, share: bool) -> str:
    """The folder of the sample shop beside these records, made where there is none; every page says what it is."""
    from html import escape

    from nicegui import ui

    from heldtrue.files import examples_folder
    from heldtrue.web import sample, texts
    from heldtrue.web.desk import folder_of, now

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

    accounts = Accounts(folder_of(where))
    if not accounts.has_administrator():
        accounts.close()
        raise InputError(texts.NO_ADMINISTRATOR)
    return Door(accounts, secure=network.certificate is not None)


def _check_certificate(network: Network, unencrypted: bool) -> None:
    """Raises: ``InputError`` where the certificate is no use, or passwords would be sent so that others can read."""
    import ssl

    from heldtrue.web import texts

    if (network.certificate is None) != (network.key is None):
        raise InputError(texts.CERTIFICATE_PAIR)
    if network.certificate is None:
        if not (unencrypted or _is_loopback(network.address)):
            raise InputError(texts.TLS_NEEDED.format(address=network.address))
        return
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(network.certificate, network.key)
    except OSError as error:  # ssl.SSLError is one
        words = texts.CERTIFICATE_BROKEN.format(path=network.certificate, key=network.key, why=error)
        raise InputError(words) from error


def _is_loopback(address: str) -> bool:
    """Can nobody else reach it?  A name could be anybody's tomorrow: only an address is believed."""
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False


def _greeting(records: str, port: int, network: Network | None) -> list[str]:
    from heldtrue.web import texts

    if network is None:
        return [f"http://127.0.0.1:{port}/  records in {records}; stop with Ctrl+C", texts.OPEN_TO["here"]]
    from heldtrue.web.server import own_names

    kind, end = "https" if network.certificate else "http", f"records in {records}; stop with Ctrl+C"
    if _is_loopback(network.address):
        shown = f"[{network.address}]" if ":" in network.address else network.address
        return [f"{kind}://{shown}:{port}/", end, texts.OPEN_TO["here, login"]]
    names = [one for one in (*own_names(), *network.names) if not one.startswith(("127.", "[", "localhost"))]
    lines = [*(f"{kind}://{one}:{port}/" for one in names), end,
             texts.OPEN_TO["network"].format(address=network.address, port=port)]  # fmt: skip
    if network.key is None:
        return [*lines, texts.IN_THE_CLEAR]
    open_key = network.key.is_file() and network.key.stat().st_mode & 0o077
    return [*lines, *([texts.KEY_OPEN.format(key=network.key)] if open_key else [])]


def _people(door: Door) -> list[str]:
    """Who may come in, and how their trail stands."""
    from heldtrue.web import texts

    people, checked = door.accounts.people(), door.accounts.check_trail()
    count = Counter(person.role for person in people)
    second = sum(door.accounts.codes_left(person.name) is not None for person in people)
    roles = ", ".join(f"{role} {number}" for role, number in count.items())
    lines = [texts.WHO_MAY.format(count=len(people), roles=roles, second=second)]
    if checked.fault:
        return [*lines, texts.TRAIL_FAULTS[checked.fault].format(line=checked.line)]
    return [*lines, texts.TRAIL_STANDS.format(lines=checked.lines, digest=checked.digest)]


def _check_free(port: int) -> None:
    """Refuse early a port that somebody has."""
    with socket.socket() as probe:
        if probe.connect_ex(("127.0.0.1", port)) == 0:
            raise InputError(f"--port: something answers on port {port} already; is the app open? Else take another")
