"""Errors on purpose as plain data: exceptions with several problems do not survive the way between processes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import ParamSpec, TypeVar

from heldtrue.errors import HeldtrueError, InputError

P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True)
class Trouble:
    """Why there is no answer, one sentence each."""

    problems: tuple[str, ...]


def problems_of(error: HeldtrueError) -> tuple[str, ...]:
    """One sentence each."""
    return error.problems if isinstance(error, InputError) else (str(error),)


def told(work: Callable[P, T | Trouble]) -> Callable[P, T | Trouble]:
    """Decorator of what a worker does: an error on purpose is its answer."""

    @wraps(work)
    def wrapped(*arguments: P.args, **more: P.kwargs) -> T | Trouble:
        try:
            return work(*arguments, **more)
        except HeldtrueError as error:
            return Trouble(problems_of(error))

    return wrapped
