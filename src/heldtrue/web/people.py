"""The people of a shared app: who may come in and do what, one's own password and keys, and the audit trail."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from html import escape
from time import monotonic

import segno
from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.web import texts
from heldtrue.web.access import totp
from heldtrue.web.access.accounts import Person
from heldtrue.web.access.door import Door, TooOftenError
from heldtrue.web.desk import Desk
from heldtrue.web.frame import button, confirmed, frame, html, in_words, not_here, page, say
from heldtrue.web.render import bullets, heading, paragraph, table
from heldtrue.web.who import ROLES, Role, Viewer

PROOF_LASTS = 300.0
"""How long somebody who typed their password once more is taken for who they are, on that page, s."""
DAY, MINUTE = "%Y-%m-%d", "%Y-%m-%d %H:%M"


def register(desk: Desk) -> None:
    """The pages ``/people`` and ``/me``."""

    @page("/people")
    async def people() -> None:
        try:
            door = _door(desk)
            desk.require("administer")
        except HeldtrueError as error:
            not_here(error)
            return
        with frame(texts.PEOPLE, "/people"):
            await _People(desk, _Proof(desk, door)).build()

    @page("/me")
    async def me() -> None:
        try:
            door, viewer = _door(desk), desk.viewer()
        except HeldtrueError as error:
            not_here(error)
            return
        with frame(f"{texts.MINE}: {viewer.name}", "/me"):
            html(paragraph(texts.ROLE_WORDS[viewer.role]))
            proof = _Proof(desk, door)
            _own_password(desk, proof)
            await _Second(desk, proof).build()
            await _Logins(desk, proof).build()
            await _Tokens(desk, proof, viewer).build()


def _door(desk: Desk) -> Door:
    if desk.door is None:
        raise InputError(texts.NOT_SHARED_PAGE)
    return desk.door


class _Proof:
    """Asks who sits there once more, before a page changes who comes in: a tablet may have been left open."""

    def __init__(self, desk: Desk, door: Door) -> None:
        self.desk, self.door, self.accounts = desk, door, door.accounts
        self._until = 0.0
        html(heading(texts.SAY_WHO) + paragraph(texts.SAY_WHO_HINT.format(minutes=round(PROOF_LASTS / 60))))
        with ui.element("div").classes("grid"):
            self._password = _password(texts.PASSWORD, "own-password", "current-password")
            self._code = _entry(texts.SECOND_CODE, "own-code").props('autocomplete="one-time-code"')
            self._code.props(f'hint="{texts.SECOND_HINT}"')

    async def viewer(self, role: Role = "look") -> Viewer:
        """Who it is, shown just now. Raises: ``InputError`` where it was not, or they may not do that."""
        viewer = self.desk.require(role)
        if monotonic() < self._until:
            return viewer
        password, code = str(self._password.value or ""), str(self._code.value or "")
        if not password:
            raise InputError(texts.SAY_WHO_FIRST)
        try:
            right = await self.door.is_them(viewer.name, password, code, ui.context.client.ip)
        except TooOftenError as error:
            raise InputError(texts.TOO_OFTEN.format(minutes=round(error.wait / 60 + 0.5))) from error
        self._password.value = self._code.value = ""
        if not right:
            raise InputError(texts.WRONG_LOGIN)
        self._until = monotonic() + PROOF_LASTS
        return viewer

    def secret(self) -> str:
        """The login of the browser that shows the page."""
        return self.door.secret(ui.context.client.request)


class _People:
    """The page of those who may let others in."""

    def __init__(self, desk: Desk, proof: _Proof) -> None:
        self.desk, self.proof, self.accounts = desk, proof, proof.accounts

    async def build(self) -> None:
        """Put it on the page."""
        self.list = ui.element("div").classes("block")
        html(heading(texts.ADD_PERSON) + bullets(texts.ROLE_WORDS.values()))
        with ui.element("div").classes("grid"):
            name = _entry(texts.LOGIN_NAME, "new-name")
            role = _roles("look").mark("new-role")
            password = _password(texts.NEW_PASSWORD, "new-password")

        @in_words
        async def add() -> None:
            by = (await self.proof.viewer("administer")).name
            said, asked = str(name.value or ""), str(password.value or "")
            await self.desk.remember(self.accounts.add, said, role.value, asked, by=by)
            password.value = name.value = ""
            say(texts.PERSON_ADDED.format(name=said))
            await self.show()

        button(texts.ADD_PERSON, add, main=True).mark("add-person")
        self.trail = html("").mark("trail")
        await self.show()

    async def show(self) -> None:
        """Everybody, and what happened."""
        people = await self.desk.remember(self.accounts.people)
        self.list.clear()
        with self.list:
            for person in people:
                self._row(person)
        lines = await self.desk.remember(self.accounts.trail)
        rows = [(f"{one.at.astimezone():{MINUTE}}", one.who, one.what, one.detail, one.address) for one in lines]
        self.trail.content = heading(texts.TRAIL) + table(texts.TRAIL_HEADS, rows, numeric=(0,))

    def _row(self, person: Person) -> None:
        accounts = self.accounts
        with ui.element("div").classes("row-line"):
            with ui.element("div").classes("what"):
                ui.label(person.name).style("font-weight: 700; font-size: var(--strong)")
                ui.label(f"{person.at.astimezone():{DAY}}, {person.by}")
            role = _roles(person.role).mark(f"role-{person.name}")
            password = _password(texts.NEW_PASSWORD, f"password-{person.name}")
            for words, work in (
                (texts.CHANGE_ROLE, lambda by: accounts.set_role(person.name, role.value, by=by)),
                (
                    texts.CHANGE_PASSWORD,
                    lambda by: accounts.set_password(person.name, str(password.value or ""), by=by),
                ),
                (texts.END_LOGINS, lambda by: accounts.log_out_everywhere(person.name, by=by)),
            ):
                self._does(words, person, work)
            button(texts.REMOVE_PERSON, partial(self._remove, person.name)).mark(f"remove-{person.name}")

    def _does(self, words: str, person: Person, work: Callable[[str], None]) -> None:
        @in_words
        async def do() -> None:
            await self.desk.remember(work, (await self.proof.viewer("administer")).name)
            say(texts.PERSON_CHANGED.format(name=person.name))
            await self.show()

        button(words, do).mark(f"{words}-{person.name}".replace(" ", "-"))

    @in_words
    async def _remove(self, name: str) -> None:
        viewer = await self.proof.viewer("administer")
        if await confirmed(texts.REMOVE_PERSON_ASK.format(name=name)):
            await self.desk.remember(self.accounts.remove, name, by=viewer.name)
            say(texts.PERSON_REMOVED.format(name=name))
            await self.show()


def _own_password(desk: Desk, proof: _Proof) -> None:
    html(heading(texts.CHANGE_PASSWORD))
    with ui.element("div").classes("grid"):
        new, again = _password(texts.NEW_PASSWORD, "new-password"), _password(texts.SAME_AGAIN, "again")

    @in_words
    async def change() -> None:
        viewer = await proof.viewer()
        if new.value != again.value:
            raise InputError(texts.PASSWORDS_DIFFER)
        await desk.remember(
            proof.accounts.set_password, viewer.name, str(new.value or ""), by=viewer.name, keep=proof.secret()
        )
        new.value = again.value = ""
        say(texts.PERSON_CHANGED.format(name=viewer.name))

    button(texts.CHANGE_PASSWORD, change).mark("change-password")


class _Second:
    """Somebody's own second factor: on with a new authenticator, or off."""

    def __init__(self, desk: Desk, proof: _Proof) -> None:
        self.desk, self.proof, self.accounts = desk, proof, proof.accounts
        self._secret = ""

    async def build(self) -> None:
        """Put it on the page."""
        html(heading(texts.SECOND))
        self.now = html("").mark("second-now")
        self.shown = ui.element("div").classes("block").mark("second-shown")
        with ui.element("div").classes("buttons"):
            button(texts.SECOND_SET, self._begin).mark("second-set")
            self.off = button(texts.SECOND_OFF, self._remove).mark("second-off")
        await self.show()

    async def show(self) -> None:
        """Whether it is on."""
        left = await self.desk.remember(self.accounts.codes_left, self.desk.viewer().name)
        self.now.content = paragraph(texts.SECOND_IS_OFF if left is None else texts.SECOND_IS_ON.format(left=left))
        self.off.visible = left is not None

    @in_words
    async def _begin(self) -> None:
        viewer = await self.proof.viewer()
        self._secret = self.accounts.new_secret()
        address = totp.address_of(self._secret, viewer.name, texts.APP)
        # A picture, as all drawings are: no script of it could run.
        picture = segno.make(address, error="m").svg_data_uri(scale=5, border=4, light="#fff", dark="#000")
        self.shown.clear()
        with self.shown:
            html(paragraph(texts.SECOND_SCAN.format(secret=totp.in_groups(self._secret))))
            html(f'<img src="{escape(picture)}" alt="{escape(texts.SECOND_QR)}" width="290" height="290">')
            with ui.element("div").classes("grid"):
                self.code = _entry(texts.SECOND_CONFIRM, "second-code").props('autocomplete="one-time-code"')
            button(texts.SECOND_ON, self._confirm, main=True).mark("second-on")

    @in_words
    async def _confirm(self) -> None:
        name = (await self.proof.viewer()).name
        codes = await self.desk.remember(
            self.accounts.set_second, name, self._secret, str(self.code.value or ""), by=name, keep=self.proof.secret()
        )
        self._secret = ""
        self.shown.clear()
        with self.shown:
            html(paragraph(texts.SECOND_CODES) + bullets(totp.in_groups(one) for one in codes)).mark("recovery")
        await self.show()

    @in_words
    async def _remove(self) -> None:
        name = (await self.proof.viewer()).name
        await self.desk.remember(self.accounts.remove_second, name, by=name, keep=self.proof.secret())
        self.shown.clear()
        await self.show()


class _Logins:
    """Where somebody is logged in."""

    def __init__(self, desk: Desk, proof: _Proof) -> None:
        self.desk, self.proof, self.accounts = desk, proof, proof.accounts

    async def build(self) -> None:
        """Put it on the page."""
        self.list = html("").mark("logins")
        button(texts.END_OTHERS, self._end).mark("end-others")
        await self.show()

    async def show(self) -> None:
        """Those there are."""
        found = await self.desk.remember(self.accounts.logins, self.desk.viewer().name, self.proof.secret())
        rows = [
            (f"{one.began.astimezone():{MINUTE}}", f"{one.seen.astimezone():{MINUTE}}", one.address,
             texts.THIS_LOGIN if one.here else "")
            for one in found
        ]  # fmt: skip
        self.list.content = heading(texts.LOGINS) + table(texts.LOGIN_HEADS, rows, numeric=(0, 1))

    @in_words
    async def _end(self) -> None:
        name = (await self.proof.viewer()).name
        await self.desk.remember(self.accounts.log_out_everywhere, name, by=name, keep=self.proof.secret())
        say(texts.OTHERS_ENDED)
        await self.show()


class _Tokens:
    """Keys that somebody gives to other programs."""

    def __init__(self, desk: Desk, proof: _Proof, viewer: Viewer) -> None:
        self.desk, self.proof, self.viewer, self.accounts = desk, proof, viewer, proof.accounts

    async def build(self) -> None:
        """Put them on the page."""
        html(heading(texts.TOKENS))
        self.list = ui.element("div").classes("block")
        self.shown = ui.label("").mark("token").style("font-weight: 700; overflow-wrap: anywhere; user-select: all")
        with ui.element("div").classes("grid"):
            label = _entry(texts.TOKEN_FOR, "token-for")
            role = _roles("look", self.viewer).mark("token-role")

        @in_words
        async def make() -> None:
            name = (await self.proof.viewer()).name
            made = await self.desk.remember(self.accounts.make_token, name, str(label.value or ""), role.value, by=name)
            self.shown.text = texts.TOKEN_SHOWN.format(token=made)
            label.value = ""
            await self.show()

        button(texts.MAKE_TOKEN, make).mark("make-token")
        await self.show()

    async def show(self) -> None:
        """Those there are."""
        found = await self.desk.remember(self.accounts.tokens, self.viewer.name)
        self.list.clear()
        with self.list:
            for one in found:
                used = f"{one.seen.astimezone():{MINUTE}}" if one.seen else ""
                words = (one.label, one.role, f"{one.at.astimezone():{DAY}}", f"{one.ends.astimezone():{DAY}}", used)
                with ui.element("div").classes("row-line"):
                    html(table(texts.TOKEN_HEADS[1:-1], [words])).classes("what")
                    button(texts.TAKE_BACK, partial(self._take_back, one.id)).mark(f"take-back-{one.label}")

    @in_words
    async def _take_back(self, id: str) -> None:
        name = self.desk.viewer().name
        await self.desk.remember(self.accounts.remove_token, id, name, by=name)
        await self.show()


def _entry(words: str, mark: str) -> ui.input:
    return ui.input(words).props('outlined stack-label maxlength=60 autocomplete="off"').mark(mark)


def _password(words: str, mark: str, kind: str = "new-password") -> ui.input:
    made = ui.input(words, password=True, password_toggle_button=True).mark(mark)
    return made.props(f'outlined stack-label maxlength=200 autocomplete="{kind}"')


def _roles(now: Role, viewer: Viewer | None = None) -> ui.select:
    choices = [role for role in ROLES if viewer is None or viewer.may(role)]
    return ui.select(choices, label=texts.ROLE, value=now).props("outlined stack-label")
