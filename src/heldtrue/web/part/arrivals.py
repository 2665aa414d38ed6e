"""Drawings that came in and are no setup yet: kept by the server for as long as it runs, the newest of them."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from secrets import token_urlsafe

from heldtrue.errors import InputError
from heldtrue.part_file.choices import Choices
from heldtrue.part_file.read import DXF_ENDINGS, STEP_ENDINGS
from heldtrue.part_file.shapes import SHAPES
from heldtrue.web.part import words
from heldtrue.web.part.draft import Chosen

LARGEST_DRAWING = 20_000_000
"""Bytes of a drawing: four times the largest of one turned part that is known here."""
MOST_BYTES, MOST = 80_000_000, 200
"""Bytes of all drawings that are kept, and how many; the oldest go first."""
SUFFIXES = (*STEP_ENDINGS, *DXF_ENDINGS)


@dataclass
class Arrival:
    """One drawing: its name and content as they came, what was answered about it, and what was chosen for the setup.

    ``shape``: the shape that was taken in place of a drawing, with its dimensions as ``typed``, by key;
    ``sides``: which way its surfaces look, in order.
    """

    id: str
    name: str
    content: bytes = b""
    shape: str = ""
    typed: dict[str, str] = field(default_factory=dict)
    choices: Choices = field(default_factory=Choices)
    chosen: Chosen = field(default_factory=Chosen)
    sides: list[str] = field(default_factory=list)

    @property
    def stem(self) -> str:
        """Its name without folder and ending."""
        return self.name.rpartition(".")[0] or self.name


class Arrivals:
    """All of them."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Arrival] = OrderedDict()

    def add(self, name: str, content: bytes) -> Arrival:
        """Keep one. Raises: ``InputError`` where it is no drawing by its name or its size."""
        name = name.replace("\\", "/").rpartition("/")[2][:120]
        if not name.lower().endswith(SUFFIXES) or len(content) > LARGEST_DRAWING:
            raise InputError(words.REFUSED.format(most=LARGEST_DRAWING // 1_000_000))
        return self._keep(Arrival(token_urlsafe(12), name, content))

    def add_shape(self, name: str) -> Arrival:
        """Begin with a shape, which sits on its seat. Raises: ``InputError`` where there is none of that name."""
        if name not in SHAPES:
            raise InputError(words.NO_SHAPE)
        return self._keep(Arrival(token_urlsafe(12), name, shape=name, chosen=Chosen(low_end=True)))

    def _keep(self, made: Arrival) -> Arrival:
        self._kept[made.id] = made
        while len(self._kept) > MOST or sum(len(one.content) for one in self._kept.values()) > MOST_BYTES:
            self._kept.popitem(last=False)
        return made

    def get(self, id: str) -> Arrival:
        """One of them. Raises: ``InputError`` where it is gone."""
        found = self._kept.get(id)
        if found is None:
            raise InputError(words.GONE)
        return found
