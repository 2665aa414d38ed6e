"""The people who may log in where the app is open to the shop network."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

import getpass
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from heldtrue.commands.common import DOES_NOT_PASS, said, screen
from heldtrue.commands.memory import Records, Yes, ask, place

if TYPE_CHECKING:
    from heldtrue.web.access.accounts import Accounts

user = typer.Typer(help="Who may log in to an app that is open to the shop network.", no_args_is_help=True)
Name = Annotated[str, typer.Argument(metavar="NAME", help="The name they log in with; it stands by what they record.")]
Role = Annotated[
    Literal["look", "set up", "administer"],
    typer.Option(help="look: see everything; set up: plan, start, record; administer: let people in as well."),
]
FromPipe = Annotated[bool, typer.Option("--password-stdin", help="Read the password from stdin and do not ask.")]


@user.command()
def add(name: Name, role: Role = "look", password_stdin: FromPipe = False, records: Records = None) -> None:
    """Add a person; asks for their password."""
    with _accounts(records) as accounts:
        accounts.add(name, role, _password(password_stdin), by=_here())
        said(f"{name} may log in: {role}")


@user.command("list")
def list_(records: Records = None) -> None:
    """Who may log in, and what they may do."""
    with _accounts(records) as accounts:
        people = accounts.people()
        for person in people:
            second = "" if accounts.codes_left(person.name) is None else ", second factor"
            words = f"{person.name}: {person.role}{second}, since {person.at.astimezone():%Y-%m-%d}, by {person.by}"
            screen().print(words, highlight=False, markup=False)
        if not people:
            said("nobody may log in yet")


@user.command()
def role(name: Name, role: Role, records: Records = None) -> None:
    """Change what somebody may do."""
    with _accounts(records) as accounts:
        accounts.set_role(name, role, by=_here())
        said(f"{name}: {role}")


@user.command()
def password(name: Name, password_stdin: FromPipe = False, records: Records = None) -> None:
    """Set a new password; every login of that person ends."""
    with _accounts(records) as accounts:
        accounts.set_password(name, _password(password_stdin), by=_here())
        said(f"{name} has a new password; every login ended")


@user.command()
def remove(name: Name, yes: Yes = False, records: Records = None) -> None:
    """Remove a person; what they recorded stays."""
    with _accounts(records) as accounts:
        ask(f"{name} can no longer log in. Go on?", yes)
        accounts.remove(name, by=_here())
        said(f"{name} is out; every login and key ended")


@user.command("reset-second")
def reset_second(name: Name, yes: Yes = False, records: Records = None) -> None:
    """Ask somebody for no second factor any more, where telephone and recovery codes are lost."""
    with _accounts(records) as accounts:
        ask(f"{name} will log in with the password alone: are you sure who asks for it? Go on?", yes)
        accounts.remove_second(name, by=_here())
        said(f"{name} has no second factor any more; every login ended")


@user.command("end-logins")
def end_logins(name: Name, records: Records = None) -> None:
    """End every login of somebody at once."""
    with _accounts(records) as accounts:
        accounts.log_out_everywhere(name, by=_here())
        said(f"every login of {name} ended")


@user.command("check-trail")
def check_trail(
    noted: Annotated[str, typer.Option(help="A digest that was noted before: is it still that of a line?")] = "",
    records: Records = None,
) -> None:
    """Has a line of the trail been changed or taken out since it was written?"""
    from heldtrue.web import texts

    with _accounts(records) as accounts:
        found = accounts.check_trail(noted.strip().casefold())
        first, last = found.dropped + 1, found.dropped + found.lines
        if found.fault:
            said(texts.TRAIL_FAULTS[found.fault].format(line=found.line))
        else:
            said(texts.TRAIL_WHOLE.format(first=first, last=last, digest=found.digest or "none"))
        if found.noted is not None:
            said(texts.TRAIL_NOTED if found.noted else texts.TRAIL_NOT_NOTED.format(first=first))
        if found.fault or found.noted is False:
            raise typer.Exit(DOES_NOT_PASS)


@user.command()
def trail(
    most: Annotated[int, typer.Option(help="How many lines, the newest.", min=1, max=100_000)] = 50,
    records: Records = None,
) -> None:
    """What happened: logins, wrong passwords, changes of people and setups; newest first."""
    with _accounts(records) as accounts:
        for one in accounts.trail(most):
            words = ", ".join(filter(None, [one.who, one.what, one.detail, one.address]))
            screen().print(f"{one.at.astimezone():%Y-%m-%d %H:%M:%S}  {words}", highlight=False, markup=False)


@contextmanager
def _accounts(records: str | None) -> Iterator[Accounts]:
    from heldtrue.web.access.accounts import Accounts
    from heldtrue.web.desk import folder_of

    found = Accounts(folder_of(place(records)))
    try:
        yield found
    finally:
        found.close()


def _password(from_pipe: bool) -> str:
    if from_pipe:
        return sys.stdin.readline().rstrip("\r\n")
    return str(typer.prompt("Password", hide_input=True, confirmation_prompt=True, err=True))


def _here() -> str:
    """Who sits at this PC, as the system calls them."""
    return f"{getpass.getuser()} at this PC"
