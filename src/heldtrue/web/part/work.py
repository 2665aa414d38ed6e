"""What runs in a worker process where a part comes in: reading the file, and drawing what was read.

A file may come from anywhere: whatever it does to its reader, the server goes on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.part_file.choices import ChoiceNeededError, Choices, Question
from heldtrue.part_file.outline import Outline
from heldtrue.part_file.surfaces import seated, surfaces_of
from heldtrue.part_file.turned_part import TurnedPart, TurnedSurface
from heldtrue.quantities import UnitSystem
from heldtrue.web.fields import Table
from heldtrue.web.part import words
from heldtrue.web.part.draft import Chosen, table_of
from heldtrue.web.trouble import Trouble, told

MOST_PICTURES = 6
"""Possible answers that get a picture; each is the file read once more, half a second with a solid to measure."""


@dataclass(frozen=True)
class Answer:
    """One answer to a question about a file: its id, what it is, and the part it would give; ``None`` undrawn."""

    id: str
    what: str
    picture: str | None


@dataclass(frozen=True)
class Asked:
    """The file leaves something open: the field of ``Choices`` it is, in words why, and every answer."""

    question: Question
    message: str
    answers: tuple[Answer, ...]


@dataclass(frozen=True)
class Ends:
    """A part that was read, and its section sitting on either end: low z, high z."""

    part: TurnedPart
    low: str
    high: str


@dataclass(frozen=True)
class Looked:
    """How far the file could be read: the part, or what is asked first."""

    ends: Ends | None = None
    asked: Asked | None = None


@dataclass(frozen=True)
class Shown:
    """The section with what was chosen, and its surfaces as they then lie."""

    picture: str
    surfaces: tuple[TurnedSurface, ...]


@told
def look(name: str, content: bytes, choices: Choices) -> Looked | Trouble:
    """Read a drawing as far as it can be read."""
    system = system_of(choices)
    try:
        part = _read(name, content, choices)
    except ChoiceNeededError as error:
        pictured = [one.id for one in error.options[:MOST_PICTURES]]
        return Looked(asked=Asked(error.question, "; ".join(error.problems), tuple(
            Answer(one.id, one.what, _tried(name, content, answered(choices, error.question, one.id))
                   if one.id in pictured else None)
            for one in error.options
        )))  # fmt: skip
    low, high = (_on(part, end, system) for end in (True, False))
    return Looked(Ends(part, low, high))


def shaped(name: str, outline: Outline, system: UnitSystem) -> Ends:
    """The part that a shape is. A shape is small: no worker is needed for it."""
    part = TurnedPart(name, "", outline, surfaces_of(outline, system))
    low, high = (_on(part, end, system) for end in (True, False))
    return Ends(part, low, high)


def answered(choices: Choices, question: Question, id: str) -> Choices:
    """With one more answer."""
    if question == "units":
        return replace(choices, units="inch" if id == "inch" else "mm")
    return replace(choices, axis=id) if question == "axis" else replace(choices, body=id)


def system_of(choices: Choices) -> UnitSystem:
    """Units of a setup that comes of it."""
    return "inch" if choices.units == "inch" else "metric"


def _read(name: str, content: bytes, choices: Choices) -> TurnedPart:
    from heldtrue.part_file.read import read_part

    try:
        return read_part(name, content, choices)
    except (MemoryError, RecursionError) as error:
        raise InputError(words.TOO_MUCH.format(name=name)) from error


def _tried(name: str, content: bytes, choices: Choices) -> str | None:
    """The part that one answer gives; none where more is asked after it, or it gives none."""
    from heldtrue.drawing.seated_part import SeatedPart, draw_seated

    try:
        part = _read(name, content, choices)
    except HeldtrueError:
        return None
    return draw_seated(SeatedPart(part.outline), name, system_of(choices), width=90.0, height=70.0)


def _on(part: TurnedPart, low_end: bool, system: UnitSystem) -> str:
    from heldtrue.drawing.seated_part import SeatedPart, draw_seated

    title = words.END_PICTURE.format(end=words.END_CHOICES[low_end])
    picture = SeatedPart(part.outline.seated(low_end), on_jaws=True)
    return draw_seated(picture, title, system, width=90.0, height=70.0)


@told
def show(part: TurnedPart, chosen: Chosen) -> Shown | Trouble:
    """The section as it sits, with its numbered surfaces and what was chosen of them."""
    from heldtrue.drawing.seated_part import SeatedPart, draw_seated

    assert chosen.low_end is not None
    outline, surfaces = seated(part, chosen.low_end, chosen.system)
    gripped = "" if chosen.gripped is None else surfaces[chosen.gripped].name
    turned = {surfaces[number].name for number in chosen.turned}
    picture = SeatedPart(outline, on_jaws=True, surfaces=surfaces, gripped=gripped, turned=turned)
    return Shown(draw_seated(picture, words.SECTION.format(name=part.source), chosen.system), surfaces)


@told
def make(part: TurnedPart, chosen: Chosen, choices: Choices, title: str, new: Table) -> Table | Trouble:
    """The setup that comes of it."""
    return table_of(part, chosen, choices, title, new)
