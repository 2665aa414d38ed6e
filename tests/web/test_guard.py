import asyncio

import httpx
import pytest

from heldtrue.web.guard import LARGEST_BODY, Guard


async def inner(scope, receive, send):
    body = b""
    if scope["type"] == "http":
        while True:
            message = await receive()
            body += message.get("body", b"")
            if message["type"] == "http.disconnect" or not message.get("more_body"):
                break
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": str(len(body)).encode()})


def ask(method="GET", path="/", host="127.0.0.1:8475", **more):
    async def asking():
        transport = httpx.ASGITransport(Guard(inner))
        async with httpx.AsyncClient(transport=transport, base_url=f"http://{host}") as client:
            return await client.request(method, path, **more)

    return asyncio.run(asking())


@pytest.mark.parametrize("host", ["127.0.0.1:8475", "localhost:8475", "localhost", "[::1]:8475"])
def test_it_answers_to_its_own_name(host):
    assert ask(host=host).status_code == 200


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example:8475", "192.168.1.4:8475"])
def test_another_name_is_refused(host):
    answer = ask(host=host)
    assert answer.status_code == 421
    assert answer.json()["error"]["kind"] == "refused"


def test_a_page_from_elsewhere_cannot_write():
    assert ask("POST", headers={"origin": "http://evil.example"}).status_code == 403
    assert ask("POST", headers={"origin": "null"}).status_code == 403
    assert ask("POST", headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert ask("POST", headers={"origin": "http://127.0.0.1:9999"}).status_code == 403
    assert ask("POST", headers={"origin": "http://127.0.0.1:8475"}).status_code == 200


def test_nor_open_a_socket():
    path = "/_nicegui_ws/socket.io/?EIO=4&transport=polling"
    assert ask("GET", path, headers={"origin": "http://evil.example"}).status_code == 403

    async def connecting():
        sent = []

        async def receive():
            return {"type": "websocket.connect"}

        async def send(message):
            sent.append(message)

        headers = [(b"host", b"127.0.0.1:8475"), (b"origin", b"http://evil.example")]
        await Guard(inner)({"type": "websocket", "path": "/_nicegui_ws/", "headers": headers}, receive, send)
        return sent

    assert [message["type"] for message in asyncio.run(connecting())] == ["websocket.close"]


def test_too_much_is_refused_before_it_is_read():
    assert ask("POST", content=b"x" * (LARGEST_BODY + 1)).status_code == 413


def test_and_cut_off_where_nobody_said_how_much():
    async def endless():
        for _ in range(40):
            yield b"x" * 100_000

    assert int(ask("POST", content=endless()).text) <= LARGEST_BODY


def test_the_browser_is_told_to_load_nothing_from_elsewhere():
    headers = ask().headers
    assert "default-src 'self'" in headers["content-security-policy"]
    assert "http" not in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
