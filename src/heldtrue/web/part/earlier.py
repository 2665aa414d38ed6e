"""Which setups were made from a drawing of the same name that was another: a drawing that has changed is told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from heldtrue.errors import InputError
from heldtrue.planning.forms_asked import SECTIONS
from heldtrue.records import SetupRecord, Store
from heldtrue.records.documents import content_of
from heldtrue.web.drafts import Drafts
from heldtrue.web.part import words

MOST_NAMED = 3


def made_from_another(store: Store, drafts: Drafts, name: str, digest: str) -> tuple[str, ...]:
    """Titles of the drafts and of the setups in the records that name this drawing with another content."""
    found = [title for title, table in _tables(store, drafts) if _is_of_another(table, name, digest)]
    return tuple(dict.fromkeys(found))


def listed(titles: tuple[str, ...]) -> str:
    """Some of them, and how many more there are."""
    names = ", ".join(titles[:MOST_NAMED])
    return words.AND_MORE.format(names=names, count=len(titles) - MOST_NAMED) if len(titles) > MOST_NAMED else names


def _tables(store: Store, drafts: Drafts) -> Iterator[tuple[str, Mapping[str, Any]]]:
    for id in drafts.ids():
        try:
            draft = drafts.get(id)
        except InputError:  # one that cannot be read is said where it is opened
            continue
        yield draft.title, draft.table
    for card in store.all(SetupRecord):
        try:
            yield card.title or card.id, content_of(card.document, "setup")
        except InputError:
            continue


def _is_of_another(table: Mapping[str, Any], name: str, digest: str) -> bool:
    part = table.get("part")
    forms = [part.get(key) for key in SECTIONS] if isinstance(part, Mapping) else []
    return any(_base(one.get("file")) == _base(name) and one.get("sha256") != digest
               for one in forms if isinstance(one, Mapping) and "file" in one)  # fmt: skip


def _base(path: Any) -> str:
    return str(path).replace("\\", "/").rpartition("/")[2].lower()
