"""Clients that hold a connection and ask nothing: they are let go, and the shop goes on."""

import asyncio
import socket

import pytest
import uvicorn

from heldtrue.web import guard, wire
from heldtrue.web.guard import Guard
from heldtrue.web.wire import Wire
from web.in_process import until


async def inner(scope, receive, send):
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.accept"})
        await receive()
        return
    body = b""
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            await send({"type": "http.response.start", "status": 408, "headers": [(b"connection", b"close")]})
            await send({"type": "http.response.body", "body": b""})
            return
        body += message["body"]
        if not message.get("more_body"):
            break
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
    await send({"type": "http.response.body", "body": b"ok"})


def serving(steps):
    async def all_of_it():
        with socket.socket() as listening:
            listening.bind(("127.0.0.1", 0))
            config = uvicorn.Config(Guard(inner), http=Wire, lifespan="off", log_config=None)
            server = uvicorn.Server(config)
            task = asyncio.create_task(server.serve([listening]))
            try:
                await until(lambda: server.started)
                async with asyncio.timeout(30.0):
                    await steps(listening.getsockname()[1])
            finally:
                server.should_exit = True
                await task

    asyncio.run(all_of_it())


@pytest.fixture(autouse=True)
def soon(monkeypatch):
    monkeypatch.setattr(wire, "HEAD_WITHIN", 0.3)
    monkeypatch.setattr(guard, "BODY_WITHIN", 0.3)
    monkeypatch.setattr(wire, "MOST_OF_ONE", 5)


async def asking(port, words):
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(words)
    await writer.drain()
    return reader, writer


async def answer_of(reader):
    """What comes; nothing where the connection is cut."""
    try:
        return await reader.read(1000)
    except ConnectionError:
        return b""


ASKED = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


@pytest.mark.parametrize("words", [b"", b"GET", b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ", ASKED + b"GET / HT"])
def test_half_a_head_is_let_go(words):
    async def steps(port):
        reader, writer = await asking(port, words)
        with pytest.raises((ConnectionError, asyncio.IncompleteReadError)):
            await reader.readexactly(1_000_000)
        writer.close()

    serving(steps)


def test_half_a_body_is_let_go():
    async def steps(port):
        head = b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 1000\r\n\r\n{"
        reader, writer = await asking(port, head)
        assert b" 408 " in await reader.read(1000)
        writer.close()

    serving(steps)


def test_who_asks_properly_may_take_their_time_between():
    async def steps(port):
        reader, writer = await asking(port, ASKED)
        assert (await reader.readuntil(b"ok")).startswith(b"HTTP/1.1 200")
        writer.write(b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 2\r\n\r\n{}")
        assert (await reader.readuntil(b"ok")).startswith(b"HTTP/1.1 200")
        writer.close()

    serving(steps)


def test_a_socket_stays():
    async def steps(port):
        upgrade = (b"GET /ws HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
                   b"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n")  # fmt: skip
        reader, writer = await asking(port, upgrade)
        assert b" 101 " in await reader.readuntil(b"\r\n\r\n")
        with pytest.raises(TimeoutError):
            async with asyncio.timeout(1.0):
                await reader.read(1)
        writer.close()

    serving(steps)


def test_one_address_has_its_share_and_no_more():
    async def steps(port):
        held = [await asking(port, b"GET") for _ in range(5)]
        reader, writer = await asking(port, ASKED)
        assert await answer_of(reader) == b""
        for _, one in held:
            one.close()
        await asyncio.sleep(0.2)
        reader, again = await asking(port, ASKED)
        assert (await reader.readuntil(b"ok")).startswith(b"HTTP/1.1 200")
        for one in (writer, again):
            one.close()

    serving(steps)
