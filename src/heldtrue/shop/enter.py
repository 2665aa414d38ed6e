"""Setups into the records and out of them: one setup brings the cards of its machine, chuck, part and jaws along."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from heldtrue.errors import InputError
from heldtrue.planning.document import document
from heldtrue.planning.result import Plan
from heldtrue.planning.setup import Setup
from heldtrue.records import (
    ChuckRecord,
    JawSet,
    MachineRecord,
    PartRecord,
    SetupRecord,
    Store,
    open_setup,
    plan_document,
    setup_document,
    since_last_run,
)
from heldtrue.records.differences import alike as alike_documents
from heldtrue.records.differences import differences
from heldtrue.records.things import Thing
from heldtrue.shop.identity import alike

C = TypeVar("C", bound=Thing)
GREASE_DAYS = 7
"""Between two greasings where the chuck's card says nothing: common practice, no source (a shift in heavy use)."""


def setup_id(setup: Setup, path: str | Path | None = None) -> str:
    """What a setup is called in the records: the name of its file, or its part and title."""
    if path is not None:
        return Path(path).stem
    word = re.sub(r"[^\w]+", "-", f"{setup.part.number} {setup.title}").strip("-")
    return word[:100] or "setup"


def enter_setup(
    store: Store, setup: Setup, by: str, *, id: str, plan: Plan | None = None, why: str = ""
) -> SetupRecord:
    """Keep a setup, a new version if it has changed, and cards of what it stands on where there are none yet.

    A chuck that is not numbered or a jaw set without a number gets no card: what has no name cannot be found again;
    nor does a number that looks like another's.
    Raises: as ``Store.write``.
    """
    machine = setup.machine.name if setup.machine else ""
    chuck, jaws, part = setup.chuck, setup.jaws, setup.part
    new: list[Any] = []
    if machine and _is_new(store, MachineRecord, machine):
        new.append(MachineRecord(
            id=machine, name=machine, max_speed_rpm=setup.machine.max_speed_rpm if setup.machine else None,
            max_swing=setup.machine.max_swing if setup.machine else None,
        ))  # fmt: skip
    if chuck.number and _is_new(store, ChuckRecord, chuck.number):
        serration = chuck.master_jaws.serration if chuck.master_jaws else None
        new.append(ChuckRecord(
            id=chuck.number, name=chuck.name, machine=machine or None, serration=serration or "", jaws=chuck.jaws,
            gauge=chuck.actuator.gauge or "", data=setup.chuck_table(),
        ))  # fmt: skip
    if part.number and _is_new(store, PartRecord, part.number):
        new.append(PartRecord(id=part.number, name=part.name, material=part.material))
    if jaws.number and _is_new(store, JawSet, jaws.number):
        new.append(JawSet(
            id=jaws.number, style=jaws.style, material=jaws.material, serration=jaws.serration or "",
            jaws=jaws.count or chuck.jaws, part=part.number or None,
        ))  # fmt: skip
    there = {(type(one), one.id) for one in new}

    def kept(kind: type[Thing], number: str) -> str | None:
        return number if number and ((kind, number) in there or known_card(store, kind, number)) else None

    card = SetupRecord(
        id=id, title=setup.title, part=kept(PartRecord, part.number), revision=part.revision,
        operation=part.operation,
        machine=kept(MachineRecord, machine), chuck=kept(ChuckRecord, chuck.number),
        jaw_set=kept(JawSet, jaws.number), document=setup_document(setup),
        plan=plan_document(document(plan).model_dump(by_alias=True, mode="json")) if plan else None,
    )  # fmt: skip
    old = known_card(store, SetupRecord, id)
    if old is not None:
        same = replace(card, version=old.version, plan=card.plan or old.plan, data=old.data, remark=old.remark,
                       operation=card.operation or old.operation)  # fmt: skip
        if not new and _content(same) == _content(old):
            return old
        card = same
    written = store.write(*new, card, by=by, why=why)[-1]
    assert isinstance(written, SetupRecord)
    return written


def _is_new(store: Store, kind: type[Thing], number: str) -> bool:
    """Is there no card of that number, nor one that looks like it? What was a slip must not get a log of its own."""
    return known_card(store, kind, number) is None and not alike(store, kind, number)


def known_card(store: Store, kind: type[C], id: str, *, retired: bool = True) -> C | None:
    """A card by its id, one row read; None where there is none, or where it is ``retired`` and that is not wanted."""
    try:
        card = store.get(kind, id)
    except InputError:
        return None
    return card if retired or not card.retired else None


def chuck_in_use(store: Store, setup: Setup) -> ChuckRecord | None:
    """The card of a setup's chuck; None where it has none, or is retired."""
    number = setup.chuck.number
    return known_card(store, ChuckRecord, number, retired=False) if number else None


def changes_of(store: Store, id: str, setup: Setup) -> tuple[str, ...]:
    """What is different in a setup from its last run, in words, whether it is entered yet or not."""
    last = store.last_run(id) if known_card(store, SetupRecord, id) else None
    if last is None:
        return ()
    then = next(one.card for one in store.versions(SetupRecord, id) if one.card.version == last.setup_version)
    assert isinstance(then, SetupRecord)
    in_file = differences(*alike_documents(then.document, setup_document(setup)))
    entered = [one for one in since_last_run(store, id) if not one.where.startswith("setup: ")]
    return (f"last run {last.at:%Y-%m-%d}", *(one.words for one in (*in_file, *entered)))


def setup_named(store: Store, what: str | Path) -> tuple[SetupRecord | None, Setup, str]:
    """A setup by its file or its id: its card where it has one, the setup, and its id.

    Raises: ``InputError`` where there is neither file nor card, or the file cannot be read.
    """
    path = Path(what)
    if path.suffix == ".toml" or path.is_file():
        setup = Setup.from_toml(path)
        id = setup_id(setup, path)
        return known_card(store, SetupRecord, id), setup, id
    card = known_card(store, SetupRecord, str(what))
    if card is None:
        raise InputError(f"{what} is neither a setup file nor the id of a setup in {store.name}")
    return card, open_setup(card.document), card.id


def card_of(store: Store, kind: type[C], id: str, word: str) -> C:
    """A card, or which ones there are. Raises: ``InputError``."""
    card = known_card(store, kind, id)
    if card is None:
        there = ", ".join(one.id for one in store.all(kind)[:8]) or "none"
        raise InputError(f"there is no {word} {id} in the records; there are: {there}")
    return card


def _content(card: SetupRecord) -> tuple[Any, ...]:
    """What makes a new version: the program that wrote the document does not."""
    document, plan = dict(card.document), dict(card.plan or {})
    for one in (document, plan):
        one.pop("program", None)
    return document, plan, card.machine, card.chuck, card.jaw_set, card.title, card.part, card.revision
