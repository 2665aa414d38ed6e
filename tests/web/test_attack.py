"""A shared app as it is really served, with a certificate, attacked from the network and from within a page."""

import re
import shutil
import socket
import ssl
import subprocess
import warnings
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.web import texts
from web.chromium import Server, Visitor

GOOD = "three wet horses"


class Shared:
    """A shared app with a certificate of its own on this machine."""

    def __init__(self, folder):
        for name, role in (("Noor", "administer"), ("Sam", "look")):
            words = ["user", "add", name, "--role", role, "--password-stdin", "--records", str(folder / "records")]
            assert CliRunner().invoke(app, words, input=f"{GOOD}\n").exit_code == 0
        self.certificate, key = folder / "certificate.pem", folder / "key.pem"
        subprocess.run(
            ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days",
             "2", "-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", key, "-out",
             self.certificate], check=True, capture_output=True,
        )  # fmt: skip
        more = ("--share", "--address", "127.0.0.1", "--certificate", str(self.certificate), "--key", str(key))
        self.server = Server(folder, more=more)
        self.port, self.address = self.server.port, f"https://127.0.0.1:{self.server.port}"
        self.trust = ssl.create_default_context(cafile=str(self.certificate))
        self.client = httpx.Client(base_url=self.address, verify=self.trust)
        self.cookies = {}
        for name in ("Noor", "Sam"):
            answer = httpx.post(f"{self.address}/login", data={"name": name, "password": GOOD}, verify=self.trust)
            self.cookies[name] = answer.headers["set-cookie"]

    def said(self):
        return (Path(self.server.records).parent / "said.txt").read_bytes()

    @contextmanager
    def wire(self, trust):
        """A connection, over TLS where ``trust`` is given."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=20) as plain:
            if trust is None:
                yield plain
                return
            with trust.wrap_socket(plain, server_hostname="127.0.0.1") as wire:
                yield wire

    def raw(self, line, *headers, name="Noor", body=b"", tls=True):
        """The head of what is answered to a request as it is written here; empty where nothing is."""
        own = [f"Host: 127.0.0.1:{self.port}", f"Cookie: {self.cookies[name].partition(';')[0]}", "Connection: close"]
        request = "\r\n".join([line, *(own if headers[:1] != ("bare",) else []), *headers[headers[:1] == ("bare",) :]])
        found = b""
        with self.wire(self.trust if tls else None) as wire:
            wire.sendall(request.encode("latin-1") + b"\r\n\r\n" + body)
            try:
                while b"\r\n\r\n" not in found and (more := wire.recv(65536)):
                    found += more
            except OSError:
                return b""
        return found.partition(b"\r\n\r\n")[0]

    def close(self):
        self.client.close()
        self.server.close()


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    if shutil.which("openssl") is None:
        pytest.skip("openssl is not installed: it makes the certificate")
    made = Shared(tmp_path_factory.mktemp("attacked"))
    yield made
    made.close()
    assert "Traceback" not in made.said().decode()


def status(head):
    return int(head.split()[1]) if head else None


def test_only_newer_tls_with_forward_secrecy(shared):
    def spoken(version, ciphers):
        words = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        words.check_hostname, words.verify_mode = False, ssl.CERT_NONE
        words.set_ciphers(ciphers)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)
            words.minimum_version = words.maximum_version = version
        try:
            with shared.wire(words) as wire:
                return wire.version()
        except OSError:
            return None

    every = "ALL:@SECLEVEL=0"
    assert spoken(ssl.TLSVersion.TLSv1_3, every) == "TLSv1.3"
    assert spoken(ssl.TLSVersion.TLSv1_2, every) == "TLSv1.2"
    assert spoken(ssl.TLSVersion.TLSv1_2, "ECDHE+AES+SHA:ECDHE+SHA256:AES128-SHA:@SECLEVEL=0") is None
    assert spoken(ssl.TLSVersion.TLSv1_1, every) is None
    assert shared.raw("GET /login HTTP/1.1", tls=False) == b"", "nothing is said without it"


def test_over_tls_the_browser_is_told_to_stay_with_it(shared):
    for path in ("/login", "/", "/api/openapi.json", "/nowhere", "/_nicegui/x"):
        head = shared.raw(f"GET {path} HTTP/1.1", "Accept: text/html").lower()
        assert b"\r\nstrict-transport-security: max-age=31536000\r\n" in head + b"\r\n", path
        assert b"\r\nserver:" not in head
    for cookie in shared.cookies.values():
        assert cookie.startswith("__Host-heldtrue=")
        assert {"Secure", "HttpOnly", "SameSite=strict", "Path=/"} <= set(cookie.split("; "))
        assert "domain" not in cookie.lower()


@pytest.mark.parametrize("kind", ["one header", "many headers", "address"])
def test_headers_without_end_are_cut_off(shared, kind):
    """Anybody on the network can send them, before any login."""
    begin = {"address": b"GET /", "one header": b"GET / HTTP/1.1\r\nX: ", "many headers": b"GET / HTTP/1.1\r\n"}[kind]
    more = b"X: " + b"a" * 1000 + b"\r\n" if kind == "many headers" else b"a" * 1000
    found = b""
    with shared.wire(shared.trust) as wire:
        try:
            wire.sendall(begin + more * 200)  # and no end of it
            while more := wire.recv(65536):
                found += more
        except TimeoutError:
            pytest.fail("the server waits for more")
        except OSError:
            pass
    assert found == b"" or status(found) in (400, 431)


@pytest.mark.parametrize("head", [
    ("GET / HTTP/1.1", "Host: evil.example"), ("GET / HTTP/1.1", "bare", "Host: evil.example"),
    ("GET / HTTP/1.1", "bare", "Connection: close"), ("GET / HTTP/1.0", "bare"),
    ("POST /api/plan HTTP/1.1", "Content-Length: 4", "Content-Length: 5"),
    ("POST /api/plan HTTP/1.1", "Content-Length: 4", "Transfer-Encoding: chunked"),
    ("POST /api/plan HTTP/1.1", "Content-Length: -1"), ("POST /api/plan HTTP/1.1", "Content-Length: 99999999"),
    ("POST /api/plan HTTP/1.1", "Origin: https://evil.example", "Content-Length: 2"),
    ("POST /api/plan HTTP/1.1", "Origin: null", "Content-Length: 2"),
    ("POST /logout HTTP/1.1", "Sec-Fetch-Site: cross-site"), ("POST /logout HTTP/1.1", "Sec-Fetch-Site: same-site"),
    ("TRACE / HTTP/1.1",), ("FOO / HTTP/1.1",), ("PUT / HTTP/1.1",), ("GET  HTTP/1.1",),
    ("GET /\x01 HTTP/1.1",), ("GET http://evil.example/ HTTP/1.1",), ("CONNECT evil.example:443 HTTP/1.1",),
])  # fmt: skip
def test_odd_requests_are_refused(shared, head):
    assert 400 <= status(shared.raw(*head, body=b"0\r\n\r\nGET /people HTTP/1.1\r\n\r\n")) < 500


@pytest.mark.parametrize("path", [
    "/_nicegui/3/static/../../../../etc/passwd", "/_nicegui/3/static/..%2f..%2f..%2f..%2fetc%2fpasswd", "/people.db",
    "/plan/..%2f..%2fpeople.db", "/plan/%2e%2e/people.db", "/shelf/..%2f..%2fpeople.db", "/photos/..%2f..%2fpeople.db",
    "/prints/..%5c..%5cpeople.db", "/api/setups/show/..%2f..%2fpeople.db", "/api/..%2fpeople", "/.git/config", "/%00",
    "/api/shelf/show/..%2f..%2f..%2fetc%2fpasswd", "/_nicegui/3/resources/..%2f..%2fetc/passwd", "//evil.example/",
])  # fmt: skip
def test_no_path_leads_to_a_file_of_the_server(shared, path):
    for name in ("Noor", "Sam"):
        answer = shared.client.get(path, headers={"cookie": shared.cookies[name], "accept": "text/html"})
        assert answer.status_code in (200, 400, 404, 405, 422)
        assert "location" not in answer.headers
        for word in ("SQLite format", "root:", "argon2", str(shared.server.records)):
            assert word not in answer.text


@pytest.mark.parametrize("path", ["/login?to=%0d%0aset-cookie:%20a=b", "/scan/%0d%0aset-cookie:%20a=b",
                                  "/login?to=//evil.example", "/setups/file/%0d%0aset-cookie:%20a=b",
                                  "/api/setups/file/%22%0d%0aset-cookie:%20a=b"])  # fmt: skip
def test_no_word_becomes_a_header_or_another_place(shared, path):
    head = shared.raw(f"GET {path} HTTP/1.1", "Accept: text/html").lower()
    assert b"set-cookie" not in head
    assert b"evil" not in head


def test_what_a_browser_sends_does_not_write_lines_into_the_log(shared):
    marked = "/scan/marked%0d%0aERROR%20made%20up%1b[2J"
    shared.client.get(marked, headers={"cookie": shared.cookies["Sam"]})
    lines = [line for line in shared.said().split(b"\n") if b"marked" in line]
    assert lines, "it is logged"
    assert all(rb"marked\r\nERROR made up\x1b[2J" in line for line in lines)


SOCKET = "GET /_nicegui_ws/socket.io/?EIO=4&transport=websocket HTTP/1.1"
UPGRADE = ("Upgrade: websocket", "Connection: Upgrade", "Sec-WebSocket-Version: 13",
           "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==")  # fmt: skip


def test_a_socket_is_opened_only_from_an_own_page_with_a_login(shared):
    own = (f"Host: 127.0.0.1:{shared.port}", *UPGRADE)
    cookie = f"Cookie: {shared.cookies['Sam'].partition(';')[0]}"
    assert status(shared.raw(SOCKET, "bare", *own, cookie, f"Origin: {shared.address}")) == 101
    for headers in ((), ("Cookie: __Host-heldtrue=guessed",), (cookie, "Origin: https://evil.example"),
                    (cookie, "Origin: null"), (cookie, f"Origin: http://127.0.0.1:{shared.port}"),
                    (cookie, f"Origin: https://127.0.0.1:{shared.port + 1}"),
                    (cookie, f"Origin: {shared.address}", "Sec-Fetch-Site: cross-site")):  # fmt: skip
        assert status(shared.raw(SOCKET, "bare", *own, *headers)) == 403, headers


def test_a_form_of_another_page_cannot_be_taken_for_json(shared):
    """A form needs no leave of this server to be sent with a cookie; a browser says where it comes from."""
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"):
        headers = {"cookie": shared.cookies["Noor"], "content-type": kind}
        for origin in ("https://evil.example", "null"):
            answer = shared.client.post("/api/chucks/add", headers={**headers, "origin": origin}, content=b"{}")
            assert answer.status_code == 403
        assert shared.client.post("/api/chucks/add", headers=headers, content=b"{}").status_code in (400, 415, 422)


def test_a_cookie_is_of_no_use_after_its_login_ended(shared):
    answer = shared.client.post("/login", data={"name": "Sam", "password": GOOD})
    cookie = {"cookie": answer.headers["set-cookie"].partition(";")[0]}
    assert shared.client.get("/api/materials", headers=cookie).status_code == 200
    out = shared.client.post("/logout", headers=cookie)
    assert out.headers["clear-site-data"] == '"cache"'
    assert shared.client.get("/api/materials", headers=cookie).status_code == 401
    shared.client.cookies.clear()


# From within a page, in a real browser

SCRIPTS_TYPED_IN = """() => {
  const place = document.createElement('div');
  document.body.append(place);
  place.innerHTML = '<img src="data:," onerror="window.ran = 1"><svg onload="window.ran = 2"></svg>'
    + '<a href="javascript:window.ran=3">go</a><iframe srcdoc="<script>parent.ran = 4</script>"></iframe>';
  place.querySelector('a').click();
  for (const words of [{textContent: 'window.ran = 5'}, {src: 'data:text/javascript,window.ran=6'},
                       {src: 'https://evil.example/a.js'}])
    place.append(Object.assign(document.createElement('script'), words));
}"""


def test_no_script_that_came_into_a_page_runs(shared, chromium):
    visitor = Visitor(chromium, shared.address, ignore_https_errors=True)
    page = visitor.page
    page.goto(f"{shared.address}/login")
    page.get_by_label(texts.LOGIN_NAME).fill("Noor")
    page.get_by_label(texts.PASSWORD).fill(GOOD)
    page.get_by_role("button").click()
    visitor.connected()
    assert visitor.faults == [], "the page itself, with its socket over TLS, runs"
    page.evaluate(SCRIPTS_TYPED_IN)
    page.wait_for_timeout(500)
    assert page.evaluate("window.ran") is None
    blocked = [one for one in visitor.faults if "Content Security Policy" in one]
    assert len(blocked) >= 5, visitor.faults
    page.goto(f"{shared.address}/people")
    visitor.connected()
    assert re.search("Sam", page.inner_text("main"))
    visitor.close()
