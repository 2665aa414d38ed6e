"""What a drawing leaves open and a person has to say: which body, which axis, which unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from heldtrue.errors import InputError

LengthUnit = Literal["mm", "inch"]
Question = Literal["body", "axis", "units"]


@dataclass(frozen=True)
class Choices:
    """Answers given so far; ``None`` where nobody was asked. ``body`` and ``axis`` are ids of :class:`Option`."""

    body: str | None = None
    axis: str | None = None
    units: LengthUnit | None = None


@dataclass(frozen=True)
class Option:
    """One possible answer: its id, as a command or a page hands it back, and what it is, in words."""

    id: str
    what: str


class ChoiceNeededError(InputError):
    """The file has more than one answer; ``options`` are all of them, ``question`` is the field of :class:`Choices`."""

    def __init__(self, question: Question, options: tuple[Option, ...], message: str) -> None:
        super().__init__(message)
        self.question = question
        self.options = options
