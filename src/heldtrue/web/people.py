"""The people of a shared app: who may come in and do what, one's own password and keys, and the audit trail."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.web import texts
from heldtrue.web.access.accounts import Accounts, Person
from heldtrue.web.access.door import Door, TooOftenError
from heldtrue.web.desk import Desk
from heldtrue.web.frame import button, confirmed, frame, html, in_words, not_here, page, say
from heldtrue.web.render import bullets, heading, paragraph, table
from heldtrue.web.who import ROLES, Role, Viewer

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
            await _People(desk, door).build()

    @page("/me")
    async def me() -> None:
        try:
            door, viewer = _door(desk), desk.viewer()
        except HeldtrueError as error:
            not_here(error)
            return
        with frame(f"{texts.MINE}: {viewer.name}", "/me"):
            html(paragraph(texts.ROLE_WORDS[viewer.role]))
            _own_password(desk, door)
            await _Tokens(desk, door, viewer).build()


def _door(desk: Desk) -> Door:
    if desk.door is None:
        raise InputError(texts.NOT_SHARED_PAGE)
    return desk.door


class _People:
    """The page of those who may let others in."""

    def __init__(self, desk: Desk, door: Door) -> None:
        self.desk, self.accounts = desk, door.accounts

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
            by = self.desk.require("administer").name
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
                ui.label(person.name).style("font-weight: 700; font-size: 20px")
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
            await self.desk.remember(work, self.desk.require("administer").name)
            say(texts.PERSON_CHANGED.format(name=person.name))
            await self.show()

        button(words, do).mark(f"{words}-{person.name}")

    @in_words
    async def _remove(self, name: str) -> None:
        if await confirmed(texts.REMOVE_PERSON_ASK.format(name=name)):
            await self.desk.remember(self.accounts.remove, name, by=self.desk.require("administer").name)
            say(texts.PERSON_REMOVED.format(name=name))
            await self.show()


def _own_password(desk: Desk, door: Door) -> None:
    html(heading(texts.CHANGE_PASSWORD))
    with ui.element("div").classes("grid"):
        old = _password(texts.OLD_PASSWORD, "old-password", "current-password")
        new, again = _password(texts.NEW_PASSWORD, "new-password"), _password(texts.SAME_AGAIN, "again")

    @in_words
    async def change() -> None:
        viewer, request = desk.viewer(), ui.context.client.request
        try:
            right = await door.is_password(viewer.name, str(old.value or ""), ui.context.client.ip)
        except TooOftenError as error:
            raise InputError(texts.TOO_OFTEN.format(minutes=round(error.wait / 60 + 0.5))) from error
        if not right:
            raise InputError(texts.WRONG_LOGIN)
        if new.value != again.value:
            raise InputError(texts.PASSWORDS_DIFFER)
        await desk.remember(
            door.accounts.set_password, viewer.name, str(new.value or ""), by=viewer.name, keep=door.secret(request)
        )
        old.value = new.value = again.value = ""
        say(texts.PERSON_CHANGED.format(name=viewer.name))

    button(texts.CHANGE_PASSWORD, change).mark("change-password")


class _Tokens:
    """Keys that somebody gives to other programs."""

    def __init__(self, desk: Desk, door: Door, viewer: Viewer) -> None:
        self.desk, self.viewer = desk, viewer
        self.accounts: Accounts = door.accounts

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
            name = self.desk.viewer().name
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
