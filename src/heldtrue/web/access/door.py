"""The door of a shared app: a login page without scripts, and nobody past it who has not logged in."""

from __future__ import annotations

import asyncio
import json
from collections.abc import MutableMapping
from html import escape
from typing import Any
from urllib.parse import quote, urlencode

from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException
from starlette.requests import ClientDisconnect, HTTPConnection, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from heldtrue.web import texts
from heldtrue.web.access.accounts import LONGEST, Accounts
from heldtrue.web.access.attempts import Attempts
from heldtrue.web.who import Viewer

Scope = MutableMapping[str, Any]
LOGIN, LOGOUT, API = "/login", "/logout", "/api"
VIEWER = "heldtrue.viewer"
NOBODY = "a name that is not there"
MOST_AT_ONCE = 2
"""Passwords looked at in one moment: each takes 64 MiB."""
PAGE_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
STYLE = """
body { margin: 0; background: #f4f1e8; color: #1d1b18; font: 19px/1.4 "DejaVu Sans", "Segoe UI", Arial, sans-serif; }
main { max-width: 460px; margin: 6vh auto; padding: 24px 28px; background: #fffdf7; border: 3px double #1d1b18; }
h1 { font-size: 26px; margin: 0 0 12px; } label { display: block; font-weight: 700; margin: 16px 0 4px; }
input { width: 100%; box-sizing: border-box; min-height: 56px; font-size: 20px; padding: 4px 12px; color: #1d1b18;
  background: #fff; border: 2px solid #1d1b18; border-radius: 2px; }
button { margin-top: 24px; width: 100%; min-height: 60px; font-size: 20px; font-weight: 700; color: #fff;
  background: #1d1b18; border: 2px solid #1d1b18; border-radius: 2px; }
:focus-visible { outline: 3px solid #1c3f66; outline-offset: 2px; }
p { margin: 4px 0 0; }
.wrong { border: 3px solid #8f1d14; border-left-width: 12px; padding: 8px 12px; color: #8f1d14; font-weight: 700; }
"""


class Door:
    """Knows whose each request is. ``secure``: the app is served with a certificate."""

    def __init__(self, accounts: Accounts, *, secure: bool, attempts: Attempts | None = None) -> None:
        self.accounts, self.secure = accounts, secure
        self.attempts = attempts or Attempts()
        self.cookie = "__Host-heldtrue" if secure else "heldtrue"
        self._turn = asyncio.Semaphore(MOST_AT_ONCE)

    async def answer(self, scope: Scope, request: Request) -> Response | None:
        """What to answer in place of the app; None where the request may go on."""
        path = str(scope["path"])
        if path == LOGIN:
            return await self._login(request)
        if path == LOGOUT and request.method == "POST":
            return self._logout(request)
        if self.admit(scope, request):
            return None
        page = request.method == "GET" and "text/html" in request.headers.get("accept", "")
        if page and not path.startswith(f"{API}/"):
            where = path + (f"?{request.url.query}" if request.url.query else "")
            return RedirectResponse(f"{LOGIN}?{urlencode({'to': where})}", 303)
        return refusal(401, texts.NOT_LOGGED_IN)

    def admit(self, scope: Scope, request: HTTPConnection) -> bool:
        """May this request or socket go on?  Whose it is stands in its scope then."""
        viewer = self.viewer(request, token=str(scope["path"]).startswith(f"{API}/"))
        if viewer is not None:
            scope[VIEWER] = viewer
        return viewer is not None

    def viewer(self, request: HTTPConnection, *, token: bool = False, used: bool = True) -> Viewer | None:
        """Whose a request is. ``token``: a key of a program opens too; ``used``: keeps a login alive."""
        kind, _, secret = request.headers.get("authorization", "").partition(" ")
        if token and kind.casefold() == "bearer":
            return self.accounts.of_token(secret.strip())
        return self.accounts.of_login(self.secret(request), used=used)

    def secret(self, request: HTTPConnection) -> str:
        """What the browser keeps of its login; empty where it keeps none."""
        return request.cookies.get(self.cookie, "")

    async def is_them(self, name: str, password: str, code: str, address: str) -> bool:
        """Are password and, where they have a second factor, code right?  The code is used up.

        Which of the two was wrong stands in the trail and is told to nobody: who guesses must not learn that the
        password was right. Raises: ``TooOftenError`` where it was tried too often; nothing is looked at then.
        """
        self._may_try(name, address)
        async with self._turn:
            self._may_try(name, address)  # again: many tries at once must not all slip in before the first is counted
            wrong = "wrong password"
            if await asyncio.to_thread(self.accounts.is_password_of, name, password):
                if await asyncio.to_thread(self.accounts.take_code, name, code):
                    self.attempts.right(name, address)
                    return True
                wrong = "wrong code"
            self.attempts.wrong(name, address)
        await asyncio.to_thread(self._note_wrong, name, wrong, address)
        return False

    def _note_wrong(self, name: str, what: str, address: str) -> None:
        # A name that is not there is not written down: people type their password into the wrong box.
        who = self.accounts.name_of(name) or NOBODY
        self.accounts.note(who, what, address=address)
        wait = self.attempts.wait(name, address)
        if wait > 0.0:
            self.accounts.note(who, "locked out", f"{wait:.0f} s", address)

    def _may_try(self, name: str, address: str) -> None:
        wait = self.attempts.wait(name, address)
        if wait > 0.0:
            raise TooOftenError(wait)

    async def _login(self, request: Request) -> Response:
        if request.method != "POST":
            if self.viewer(request) is not None:
                return RedirectResponse(_inside(request.query_params.get("to", "/")), 303)
            return _page(request.query_params.get("to", "/"))
        try:
            async with request.form(max_files=0, max_fields=5, max_part_size=4000) as form:
                name, password, code, to = (_word(form, key) for key in ("name", "password", "code", "to"))
        except (HTTPException, MultiPartException, ClientDisconnect):
            return _page("/", texts.WRONG_LOGIN, status=400)
        address = request.client.host if request.client else ""
        try:
            right = await self.is_them(name, password, code, address)
        except TooOftenError as error:
            words = texts.TOO_OFTEN.format(minutes=max(1, round(error.wait / 60.0 + 0.49)))
            return _page(to, words, name, status=429, headers={"retry-after": str(round(error.wait) + 1)})
        if not right:
            return _page(to, texts.WRONG_LOGIN, name, status=401)
        # A login the browser came with is of no use any more: nobody can hand somebody a login prepared before.
        self.accounts.log_out(self.secret(request))
        answer = RedirectResponse(_inside(to), 303)
        answer.set_cookie(
            self.cookie, self.accounts.log_in(name, address), max_age=round(LONGEST.total_seconds()), path="/",
            secure=self.secure, httponly=True, samesite="strict",
        )  # fmt: skip
        return answer

    def _logout(self, request: Request) -> Response:
        self.accounts.log_out(self.secret(request))
        answer = RedirectResponse(LOGIN, 303)
        answer.delete_cookie(self.cookie, path="/", secure=self.secure, httponly=True, samesite="strict")
        answer.headers["clear-site-data"] = '"cache"'  # pages, not the look that the browser keeps
        return answer


class TooOftenError(Exception):
    """A password was tried too often; ``wait``: seconds until the next try is looked at."""

    def __init__(self, wait: float) -> None:
        super().__init__(wait)
        self.wait = wait


def refusal(status: int, why: str) -> Response:
    """No, in the one shape of every error."""
    body = json.dumps({"error": {"kind": "refused", "problems": [why]}})
    return Response(body, status, media_type="application/json")


def _inside(to: str) -> str:
    """Where to go after the login: a page of this app and nothing else."""
    if not to.startswith("/") or to.startswith(("//", "/\\", LOGIN, LOGOUT)) or any(ord(sign) < 32 for sign in to):
        return "/"
    return quote(to, safe="/?=&%-_.~+:,")


def _word(form: FormData, key: str) -> str:
    value = form.get(key, "")
    return value if isinstance(value, str) else ""


def _page(
    to: str, wrong: str = "", name: str = "", status: int = 200, headers: dict[str, str] | None = None
) -> Response:
    told = f'<p class="wrong" role="alert">{escape(wrong)}</p>' if wrong else ""
    focus = ("", " autofocus") if name else (" autofocus", "")
    return HTMLResponse(
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{texts.LOG_IN} · {texts.APP}</title>'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><style>{STYLE}</style></head><body><main>'
        f'<h1>{texts.APP}</h1>{told}<form method="post" action="{LOGIN}">'
        f'<input type="hidden" name="to" value="{escape(to[:500])}">'
        f'<label for="name">{escape(texts.LOGIN_NAME)}</label><input id="name" name="name" value="{escape(name[:60])}" '
        f'maxlength="60" autocomplete="username" autocapitalize="none" required{focus[0]}>'
        f'<label for="password">{escape(texts.PASSWORD)}</label><input id="password" name="password" type="password" '
        f'maxlength="200" autocomplete="current-password" required{focus[1]}>'
        f'<label for="code">{escape(texts.SECOND_CODE)}</label><input id="code" name="code" maxlength="60" '
        f'autocomplete="one-time-code" autocapitalize="none" spellcheck="false" aria-describedby="code-hint">'
        f'<p id="code-hint">{escape(texts.SECOND_HINT)}</p>'
        f"<button>{escape(texts.LOG_IN)}</button></form></main></body></html>",
        status, {"content-security-policy": PAGE_POLICY, "cache-control": "no-store", **(headers or {})},
    )  # fmt: skip
