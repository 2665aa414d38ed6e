import asyncio
import re

import httpx
import pytest

from heldtrue.web.guard import LARGEST_BODY, Guard, Scripts


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


@pytest.mark.parametrize("origin", ["https://127.0.0.1:8475", "http://127.0.0.1", "http://127.0.0.1:8475.evil.example",
                                    "http://evil.example#127.0.0.1:8475", "127.0.0.1:8475", "http://a@127.0.0.1:8475",
                                    "", "http://127.0.0.1:8475/"])  # fmt: skip
def test_another_origin_is_another_however_near(origin):
    assert ask("POST", headers={"origin": origin}).status_code == 403


def test_over_tls_a_page_without_it_is_another():
    async def asking(origin):
        transport = httpx.ASGITransport(Guard(inner))
        async with httpx.AsyncClient(transport=transport, base_url="https://127.0.0.1:8475") as client:
            return (await client.post("/", headers={"origin": origin})).status_code

    assert asyncio.run(asking("https://127.0.0.1:8475")) == 200
    assert asyncio.run(asking("http://127.0.0.1:8475")) == 403


@pytest.mark.parametrize("host", ["127.0.0.1:", "127.0.0.1:x", "127.0.0.1:80@evil.example", "a@127.0.0.1", "127.0.0.1.",
                                  "127.0.0.1 ", "", "evil.example:127.0.0.1", "[::1]:8475:1"])  # fmt: skip
def test_what_is_no_host_is_refused(host):
    assert ask(headers={"host": host}).status_code == 421


@pytest.mark.parametrize("name", ["host", "origin", "sec-fetch-site", "content-length"])
def test_a_header_that_stands_there_twice_is_refused(name):
    good = {"host": "127.0.0.1:8475", "origin": "http://127.0.0.1:8475", "sec-fetch-site": "same-origin",
            "content-length": "0"}  # fmt: skip
    assert ask("POST", headers=good).status_code == 200
    for other in (good[name], "http://evil.example"):
        answer = ask("POST", headers=[*good.items(), (name, other)])
        assert answer.status_code == 400


def test_a_request_that_says_its_length_in_two_ways_is_refused():
    answer = ask("POST", content=b"abcd", headers={"transfer-encoding": "chunked", "content-length": "4"})
    assert answer.status_code == 400


def test_nor_open_a_socket():
    path = "/_nicegui_ws/socket.io/?EIO=4&transport=polling"
    assert ask("GET", path, headers={"origin": "http://evil.example"}).status_code == 403

    async def connecting(origin, scheme):
        sent = []

        async def receive():
            return {"type": "websocket.connect"}

        async def send(message):
            sent.append(message)

        headers = [(b"host", b"127.0.0.1:8475"), (b"origin", origin)]
        scope = {"type": "websocket", "path": "/_nicegui_ws/", "headers": headers, "scheme": scheme}
        await Guard(inner)(scope, receive, send)
        return sent[0]["type"] == "websocket.close"

    for origin, scheme, refused in (
        (b"http://evil.example", "ws", True), (b"null", "ws", True), (b"http://127.0.0.1:8475", "wss", True),
        (b"https://127.0.0.1:8475", "ws", True), (b"http://127.0.0.1:8475", "ws", False),
        (b"https://127.0.0.1:8475", "wss", False),
    ):  # fmt: skip
        assert asyncio.run(connecting(origin, scheme)) is refused, (origin, scheme)


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
    assert "script-src 'none'" in headers["content-security-policy"], "what is no page runs no script"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cross-origin-opener-policy"] == headers["cross-origin-resource-policy"] == "same-origin"
    assert "camera=()" in headers["permissions-policy"]
    assert headers["cache-control"] == "no-store", "a tablet that is handed on must not show the page from its cache"
    assert "strict-transport-security" not in headers, "it would lock everybody out of an app without a certificate"


def test_what_is_refused_has_the_headers_too():
    headers = ask(host="evil.example").headers
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"


def test_files_of_the_library_may_be_kept():
    assert "cache-control" not in ask(path="/_nicegui/3/static/a.js").headers


# Scripts of a page

WORDS = b'<html><script src="/a.js"></script><SCRIPT type=module>1</SCRIPT>&lt;script&gt; <scripture>'


async def a_page(scope, receive, send):
    kind = b"page" if scope["path"] == "/" else b"file"
    await send({"type": "http.response.start", "status": 200, "headers": [
        (b"content-type", b"text/html"), (b"content-length", str(len(WORDS)).encode()), (b"x-" + kind, b"1"),
        *([(b"X-NiceGUI-Content", b"page")] if kind == b"page" else [])]})  # fmt: skip
    await send({"type": "http.response.body", "body": WORDS[:20], "more_body": True})
    await send({"type": "http.response.body", "body": WORDS[20:]})


def page(path="/"):
    async def asking():
        transport = httpx.ASGITransport(Guard(Scripts(a_page)))
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8475") as client:
            return await client.get(path)

    return asyncio.run(asking())


def test_only_the_servers_own_scripts_run_in_a_page():
    answer = page()
    policy = answer.headers["content-security-policy"]
    scripts = re.search("script-src ([^;]*);", policy)[1]
    nonce = re.search("'nonce-([A-Za-z0-9_-]{24})'", scripts)[1]
    assert "unsafe-inline" not in scripts
    assert f'<script nonce="{nonce}" src="/a.js">' in answer.text
    assert f'<script nonce="{nonce}" type=module>' in answer.text
    assert answer.text.count(nonce) == 2
    assert answer.text.endswith("&lt;script&gt; <scripture>")
    assert int(answer.headers["content-length"]) == len(answer.content)
    assert nonce not in page().headers["content-security-policy"], "whoever saw one must not be able to use it again"


def test_what_is_no_page_is_left_as_it_is():
    answer = page("/file")
    assert answer.content == WORDS
    assert "script-src 'none'" in answer.headers["content-security-policy"]
