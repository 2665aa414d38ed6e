"""In which state the records have a setup: digests that change with everything its plan rests on, and nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from hashlib import sha256
from importlib import resources
from importlib.metadata import version
from importlib.resources.abc import Traversable
from typing import NamedTuple

from heldtrue.planning.entries import Chuck
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.records import ChuckRecord, FrictionReading, JawSet, MachineRecord, PartRecord, Store
from heldtrue.records.rests import SetupInShort, digest
from heldtrue.records.things import Thing
from heldtrue.records.writing import CLOCK_SLACK
from heldtrue.shop.against_records import newest_entry
from heldtrue.shop.chuck_log import log_marks
from heldtrue.shop.enter import known_card
from heldtrue.shop.friction_log import FRESH_DAYS
from heldtrue.shop.identity import numbers_like
from heldtrue.tooling.grip_estimate import age_of

FACES = ("__main__.py", "cli.py", "notebook.py", "commands", "web", "terminal", "sheets", "drawing")
"""The floors above the shop: they show plans, and no plan comes out of them. Everything else may decide one."""
NUMBERED: Mapping[str, type[Thing]] = {
    "chuck": ChuckRecord, "machine": MachineRecord, "part": PartRecord, "jaw_set": JawSet,
}  # fmt: skip
"""What a setup names by number, and where another number may look like it."""
LIBRARIES = ("clarabel", "netgen-mesher", "netgen-occt", "ngsolve", "numpy", "scipy", "shapely")


class State(NamedTuple):
    """``rest``: everything but the log of the chuck; ``whole``: that and the log."""

    rest: str
    whole: str


@lru_cache(maxsize=1)
def program() -> str:
    """A digest of the program and of the libraries below it: another version plans everything anew."""
    code = sha256()
    for path, content in sources():
        code.update(f"{path}\n".encode() + content)
    return digest([code.hexdigest(), *(f"{name} {version(name)}" for name in LIBRARIES)])


def sources() -> list[tuple[str, bytes]]:
    """Every module below the faces, by its path in the package."""
    return [(path, content) for path, content in _sources(resources.files("heldtrue"), "")
            if path.split("/")[0] not in FACES]  # fmt: skip


def _sources(folder: Traversable, above: str) -> list[tuple[str, bytes]]:
    found = []
    for entry in sorted(folder.iterdir(), key=lambda one: one.name):
        here = f"{above}{entry.name}"
        if entry.is_dir():
            found += _sources(entry, f"{here}/")
        elif entry.name.endswith(".py"):
            found.append((here, entry.read_bytes()))
    return found


class States:
    """The states of setups at one moment; what they share is asked of the records once."""

    def __init__(self, store: Store, now: datetime) -> None:
        self.store, self.now = store, now
        self._logs: dict[str, str] = {}
        self._everywhere = digest([program(), *_by_the_clock(store, now), store.count(ChuckRecord, retired=True) > 0,
                                   store.count(JawSet, retired=True) > 0])  # fmt: skip

    def of(self, setups: Sequence[SetupInShort]) -> dict[str, State]:
        """The state of each setup, by id."""
        like = {name: numbers_like(self.store, kind, {one.names.get(name, "") for one in setups})
                for name, kind in NUMBERED.items()}  # fmt: skip
        also = {one.id: f"{self._everywhere}{_likes(one.names, like)}" for one in setups}
        rests = self.store.rests(setups, also)
        return {one.id: State(rest := rests[one.id], _whole(rest, self._log(one.names.get("chuck", ""))))
                for one in setups}  # fmt: skip

    def _log(self, chuck: str) -> str:
        """A digest of what plans may rest on in the log of a chuck."""
        if chuck not in self._logs:
            card = known_card(self.store, ChuckRecord, chuck) if chuck else None
            self._logs[chuck] = digest(None if card is None else log_marks(self.store, card, self.now))
        return self._logs[chuck]


def _whole(rest: str, log: str) -> str:
    return sha256(f"{rest}{log}".encode()).hexdigest()[:32]


def _likes(names: Mapping[str, str], like: Mapping[str, Mapping[str, tuple[str, ...]]]) -> str:
    """The cards that the numbers may be taken for, where they are others than the numbers say."""
    found = {}
    for name, numbers in like.items():
        number = names.get(name, "")
        cards = numbers.get(number, ())
        if cards != (number,) and not (name == "jaw_set" and number in cards):
            found[name] = cards  # of a jaw set that has its own card no other is asked for
    return digest(found) if any(found.values()) else ""


def _by_the_clock(store: Store, now: datetime) -> list[object]:
    """What changes with the date alone: friction that was tried too long ago, and a clock that is behind."""
    fresh = sum(now - one.at <= timedelta(days=FRESH_DAYS) for one in store.events(FrictionReading))
    newest = newest_entry(store)
    behind = newest is not None and newest > now + CLOCK_SLACK
    return [fresh, f"{now:%Y-%m-%d %H:%M}" if behind else ""]


def names_of(setup: Setup) -> dict[str, str]:
    """What a setup itself names of the records, and the unit of its ``gauge``."""
    machine = setup.machine.name if setup.machine else ""
    return {"chuck": setup.chuck.number, "machine": machine, "part": setup.part.number, "jaw_set": setup.jaws.number,
            "gauge": gauge_unit_of(setup)}  # fmt: skip


def named(one: SetupInShort, names: Mapping[str, str]) -> SetupInShort:
    """A setup in short with what the setup itself names: a card may have come after it was entered."""
    missing = [key for key, value in one.names.items() if not value and names.get(key)]
    return one._replace(names={**one.names, **{key: names[key] for key in missing}}) if missing else one


def content_of(setup: Setup) -> str:
    """A digest of a setup as it stands, wherever its part came from."""
    return digest(setup.to_dict(as_corners=True))


def key_of(setup: Setup, own: Chuck) -> str:
    """A digest of a setup with all that the records know, as it is planned; ``own``: the chuck as it states it itself.

    Of the ages of grip readings a plan knows only the worst, and in three classes.  What the setup states itself stays
    when the log changes, so that two setups leave the same limits only where they state the same.
    """
    table = setup.to_dict(as_corners=True)
    readings = setup.chuck.grip_readings or ()
    table.get("chuck", {}).pop("grip_readings", None)
    age = age_of([one.days for one in readings])
    rows = [[one.pressure, one.force, one.error] for one in readings]
    stated = [own.grease, *([one.pressure, one.force, one.error, one.days] for one in own.grip_readings or ())]
    against = [one.sentence for one in setup.contrary]
    return digest([program(), table, rows, age, setup.source("chuck.grip_readings"), against, stated])
