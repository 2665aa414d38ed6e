"""What a setup can be started from: examples, files, the records; and chucks and jaws to put into one."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from heldtrue.errors import InputError
from heldtrue.planning.hardware_file import chuck_table, jaws_file
from heldtrue.planning.setup import Setup
from heldtrue.planning.toml_file import LARGEST_FILE, parse_toml, read_toml
from heldtrue.quantities import UnitSystem
from heldtrue.records import ChuckRecord, SetupRecord, Store, open_setup
from heldtrue.records.differences import since_last_run
from heldtrue.web import texts
from heldtrue.web.fields import Table


@dataclass(frozen=True)
class Source:
    """Something to open: its name for the program, what it is called."""

    key: str
    title: str


def examples(folder: Path | None) -> list[Source]:
    """Every example setup."""
    if folder is None:
        return []
    return [Source(path.stem, str(read_toml(path).get("title") or path.stem)) for path in sorted(folder.glob("*.toml"))]


def open_example(folder: Path | None, key: str) -> Table:
    """An example with everything it uses. Raises: ``InputError`` for a name that is not one of them."""
    if folder is None or key not in {one.key for one in examples(folder)}:
        raise InputError(texts.NO_SUCH_DRAFT)
    return Setup.from_toml(folder / f"{key}.toml").to_dict(as_corners=True, keep_files=True)


def open_bytes(content: bytes) -> Table:
    """A setup file that was handed over. It cannot name other files: nothing of this computer is read for it.

    Raises: ``InputError`` with everything that is wrong with it.
    """
    if len(content) > LARGEST_FILE:
        raise InputError(texts.FILE_TOO_LARGE)
    try:
        return Setup.from_dict(parse_toml(content), base_dir=None).to_dict(as_corners=True, keep_files=True)
    except InputError as error:
        named = any("does not come from a file" in problem for problem in error.problems)
        raise InputError(*error.problems, *([texts.FILE_NAMES_FILES] if named else [])) from error


def stored(store: Store) -> list[Source]:
    """Every setup in the records."""
    return [Source(card.id, card.title or card.id) for card in store.all(SetupRecord)]


def open_stored(store: Store, key: str) -> Table:
    """A setup of the records."""
    return open_setup(store.get(SetupRecord, key).document).to_dict(as_corners=True, keep_files=True)


MOST_CHANGES = 3
"""Changes since the last run that the first page names."""


def since_run(store: Store, key: str) -> str:
    """When a setup of the records ran last and what is different since, in words; that it never ran."""
    last = store.last_run(key)
    if last is None:
        return texts.NEVER_RUN
    changes = [one.words for one in since_last_run(store, key)]
    more = [texts.AND_MORE.format(count=len(changes) - MOST_CHANGES)] if len(changes) > MOST_CHANGES else []
    listed = "; ".join((*changes[:MOST_CHANGES], *more))
    what = texts.CHANGED_SINCE.format(what=listed) if changes else texts.NOTHING_CHANGED
    return f"{texts.LAST_RUN.format(when=last.at)}, {what}"


def blank_setup(units: UnitSystem) -> Table:
    """A setup with everything still to be typed."""
    return {
        "title": "", "units": units, "part": {"number": "", "material": "", "profile": []},
        "surface": [], "grip": {"side": "outside"}, "chuck": {"name": "", "actuator": {}},
        "jaws": {"style": "standard", "material": ""}, "cut": [],
    }  # fmt: skip


def chucks(store: Store, folder: Path | None) -> dict[str, str]:
    """Chucks to take: those of the records, then those of the examples, key and words."""
    found = {f"card:{one.id}": f"{one.id} {one.name}" for one in store.all(ChuckRecord) if one.data}
    for path in sorted((folder / "chucks").glob("*.toml")) if folder else ():
        found[f"file:{path.stem}"] = f"{path.stem} (example)"
    return found


def chuck_of(store: Store, folder: Path | None, key: str) -> dict[str, Any]:
    """The table of such a chuck. Raises: ``InputError`` where it is gone."""
    kind, _, name = key.partition(":")
    if key not in chucks(store, folder):
        raise InputError(texts.NO_SUCH_DRAFT)
    if kind == "card":
        return dict(store.get(ChuckRecord, name).data)
    assert folder is not None
    return chuck_table(folder / "chucks" / f"{name}.toml")


def jaws(folder: Path | None) -> dict[str, str]:
    """Jaw sets of the examples to take, key and words."""
    return {path.stem: f"{path.stem} (example)" for path in sorted((folder / "jaws").glob("*.toml"))} if folder else {}


def jaws_of(folder: Path | None, key: str) -> dict[str, Any]:
    """The table of such a jaw set. Raises: ``InputError`` where it is gone."""
    if folder is None or key not in jaws(folder):
        raise InputError(texts.NO_SUCH_DRAFT)
    return jaws_file(folder / "jaws" / f"{key}.toml")[1]
