"""What the records know for a job that is done again: the last run, what has changed since, how the jaws were cut."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.planning.setup import Setup
from heldtrue.records import JawSet, RunRecord, SetCut, SetupRecord, StartDecision, Store
from heldtrue.shop.enter import changes_of, known_card
from heldtrue.shop.runs import override_of


@dataclass(frozen=True)
class Repeat:
    """A setup as the records have it.

    ``setup``: its id; ``version``: of its card, 0 where it has none; ``last`` run, None where it never ran;
    ``changes`` since then, in words; ``cut``: the last cut of its jaw set, None where none is recorded;
    ``override``: the last start, or that of the last run, where it was made against the answer.
    """

    setup: str = ""
    version: int = 0
    last: RunRecord | None = None
    changes: tuple[str, ...] = ()
    cut: SetCut | None = None
    override: StartDecision | None = None


def repeat_of(store: Store, id: str, setup: Setup) -> Repeat:
    """What a floor sheet takes from the records; ``setup``: as its file has it, without what the records add."""
    card, number = known_card(store, SetupRecord, id), setup.jaws.number
    cut = None
    if number and known_card(store, JawSet, number) is not None:
        cut = next(iter(store.events(SetCut, newest=1, jaw_set=number)), None)
    if card is None:
        return Repeat(id, cut=cut)
    last = store.last_run(id)
    return Repeat(id, card.version, last, changes_of(store, id, setup) if last else (), cut, override_of(store, id))
