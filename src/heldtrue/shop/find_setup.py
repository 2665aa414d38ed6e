"""Saved setups by what somebody remembers: part, number, material, diameter, machine, person. Lengths in mm."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime

from heldtrue.errors import InputError
from heldtrue.mechanics.materials import work_material
from heldtrue.planning.setup import Setup
from heldtrue.records import RunRecord, SetupRecord, Store, open_setup
from heldtrue.records.rests import SetupInShort
from heldtrue.records.standing import words_of
from heldtrue.records.typed_sizes import ABOUT, UNITS, in_mm, with_decimals

NEAR_MM, NEAR_SHARE = 0.5, 0.01
"""How far a diameter may lie from the one that was typed: the larger of both."""
ABOUT_SHARE = 0.05
"""The same after "about"."""
NEVER = datetime.min.replace(tzinfo=UTC)
_DIAMETER = re.compile(rf"(?:ø|⌀|dia\.?)?(\d+(?:[.,]\d+)?|[.,]\d+)({UNITS})?")
_FILLERS = frozenset(("a", "an", "and", "at", "by", "dia", "diameter", "for", "from", "in", "mm", "of", "on", "the",
                      "with", "ø", "⌀"))  # fmt: skip


@dataclass(frozen=True)
class SetupFound:
    """A saved setup: its id and title, what it is for in short, and when it ran last, None where it never did."""

    id: str
    title: str
    about: str
    last_run: datetime | None


@dataclass(frozen=True)
class _Entry:
    """What is looked through of one version of a setup: its words, folded, and its diameters."""

    version: int
    about: str
    words: str
    diameters: tuple[float, ...]
    is_inch: bool


@dataclass
class SetupFinder:
    """Looks through the saved setups; what it has read of a version is kept, a document is opened once."""

    _entries: dict[str, _Entry] = field(default_factory=dict)

    def find(self, store: Store, sought: str, limit: int = 8) -> tuple[tuple[SetupFound, ...], int]:
        """The first ``limit`` setups that have all that is sought, the last run first, and how many there are.

        A number is a diameter of part or grip, or stands in a name; a text stands anywhere, a material by any of its
        names and its family. Nothing sought: every setup.
        """
        asked = list(_asked(sought))
        people: dict[str, set[str]] = {}
        last: dict[str, datetime] = {}
        for run in store.events(RunRecord):
            people.setdefault(run.setup, set()).add(run.by.casefold())
            last[run.setup] = max(run.at, last.get(run.setup, NEVER))
        found = []
        for card in store.setups_in_short():
            entry = self._entry(store, card)
            words = f"{entry.words} {' '.join(people.get(card.id, ()))}"
            if all(_has(one, entry, words) for one in asked):
                found.append(SetupFound(card.id, card.title or card.id, entry.about, last.get(card.id)))
        found.sort(key=lambda one: one.last_run or NEVER, reverse=True)
        return tuple(found[:limit]), len(found)

    def _entry(self, store: Store, card: SetupInShort) -> _Entry:
        known = self._entries.get(card.id)
        if known is None or known.version != card.version:
            known = self._entries[card.id] = _entry_of(store, card)
        return known


@dataclass(frozen=True)
class _Asked:
    """One thing that is sought: a text; where it may be a diameter, what ``size`` in mm and in ``inch``, and how near.

    One of both is None where its unit was typed.
    """

    text: str
    size: float | None = None
    inch: float | None = None
    share: float = NEAR_SHARE


def _asked(sought: str) -> Iterator[_Asked]:
    """What a line asks for, one thing after the other."""
    about = False
    typed = re.sub(r"([~≈])", r" \1 ", with_decimals(sought.casefold()))
    joined = re.sub(rf"(?<=\d)\s+(?=(?:{UNITS})(?!\w))", "", typed)
    for word in re.split(r"[\s;]+|,(?!\d)", joined):
        if word in ABOUT:
            about = True
            continue
        if not word or word in _FILLERS:
            continue
        match = _DIAMETER.fullmatch(word)
        if match is None:
            yield _Asked(word)
        else:
            unit, share = match[2], ABOUT_SHARE if about else NEAR_SHARE
            mm, inch = in_mm(match[1], "mm"), in_mm(match[1], "in")
            yield _Asked(word, None if unit and unit != "mm" else mm, None if unit == "mm" else inch, share)
        about = False


def _has(one: _Asked, entry: _Entry, words: str) -> bool:
    """A number without a unit is in mm, in a setup in inches in either; in a name it stands by itself."""
    typed_inch = one.inch is not None and one.size is None
    sizes = [one.size, one.inch if entry.is_inch or typed_inch else None]
    for size in (size for size in sizes if size is not None):
        room = max(NEAR_MM, one.share * size)
        if any(abs(diameter - size) <= room for diameter in entry.diameters):
            return True
    if one.size is None and one.inch is None:
        return one.text in words
    return re.search(rf"(?<![\w.]){re.escape(one.text)}(?![\w.])", words) is not None


def _entry_of(store: Store, card: SetupInShort) -> _Entry:
    """What is looked through of a setup; of one whose document cannot be read, what its card says."""
    people = [one.by for one in store.versions(SetupRecord, card.id)]
    names = [card.id, card.title, card.revision, *card.names.values(), *people]
    try:
        setup = open_setup(store.get(SetupRecord, card.id).document)
    except InputError:
        return _Entry(card.version, "", words_of(*names), (), False)
    part, machine = setup.part, setup.machine.name if setup.machine else ""
    material = work_material(part.material)
    names += [part.number, part.name, part.operation, part.program, machine, setup.chuck.name, setup.chuck.number,
              setup.jaws.number, setup.jaws.material, material.key, material.name, material.group,
              *material.aliases]  # fmt: skip
    number = " ".join(filter(None, [part.number, part.revision and f"rev {part.revision}"]))
    inch = setup.units == "inch"
    size = f"{setup.grip.diameter / 25.4:.4g} in" if inch else f"{setup.grip.diameter:g} mm"
    about = ", ".join(filter(None, [number, part.material, f"{setup.grip.side} Ø{size}", machine,
                                    setup.jaws.number and f"jaws {setup.jaws.number}"]))  # fmt: skip
    return _Entry(card.version, about, words_of(*names), _diameters(setup), inch)


def _diameters(setup: Setup) -> tuple[float, ...]:
    """Every diameter that part and grip have. [mm]"""
    surfaces = [one.diameter for one in setup.surfaces if one.diameter is not None]
    return tuple({setup.grip.diameter, *surfaces, *(corner.diameter for corner in setup.part.profile)})
