"""What the readings pages ask of a worker process: the plan of a surface, the next taper, pages to print."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from heldtrue.inspection.taper import Bearing
from heldtrue.planning.setup import Setup
from heldtrue.shop.against_plan import Expected
from heldtrue.shop.learned import Knowledge
from heldtrue.shop.part_cause import Parts
from heldtrue.shop.taught import Taught
from heldtrue.web.fields import Table
from heldtrue.web.trouble import Trouble, told


@dataclass(frozen=True)
class TaperAnswer:
    """The next taper cut in words; ``rows``: figures with their names, in each of the two unit systems.

    ``looked``: did anybody look at the jaws; ``told``: why finished parts are tapered, '' where none was read; ``why``
    in words, with its own rows ``why_rows``.
    """

    words: tuple[str, str]
    rows: tuple[tuple[str, str, str], ...]
    notes: tuple[str, ...]
    stop: bool
    cautions: tuple[str, ...]
    looked: bool = True
    told: str = ""
    why: tuple[str, ...] = ()
    why_rows: tuple[tuple[str, str, str], ...] = ()


@told
def expected_of(setup: Setup, surface: str) -> Expected | Trouble:
    """What the plan expects of a surface."""
    from heldtrue.shop.against_plan import expected, surface_of

    return expected(setup, surface_of(setup, surface))


@told
def next_taper_of(
    setup: Setup, seen: Bearing | None, taper: float | None, known: Knowledge | None, parts: Parts | None
) -> TaperAnswer | Trouble:
    """The taper to cut next, and why finished parts are tapered."""
    from heldtrue.drawing.readings_rows import part_taper_rows, taper_rows
    from heldtrue.planning.window import gauge_unit_of
    from heldtrue.quantities import UnitSystem
    from heldtrue.sentences import in_units
    from heldtrue.shop.next_cut import next_cut

    first: UnitSystem = setup.units
    second: UnitSystem = "inch" if first == "metric" else "metric"
    cut = next_cut(setup, seen, taper, known, parts)
    gauge, part = gauge_unit_of(setup), cut.part
    return TaperAnswer(
        (in_units(cut.found.words, first), in_units(cut.found.words, second)),
        _both(taper_rows(cut, first, gauge), taper_rows(cut, second, gauge)),
        tuple(in_units(note, first) for note in cut.notes), cut.found.stop, cut.cautions,
        looked=seen is not None, told="" if part is None else part.split.told,
        why=() if part is None else tuple(in_units(words, first) for words in part.words),
        why_rows=() if part is None else _both(part_taper_rows(part, first), part_taper_rows(part, second)),
    )  # fmt: skip


def _both(first: list[tuple[str, str]], second: list[tuple[str, str]]) -> tuple[tuple[str, str, str], ...]:
    """Rows of two unit systems side by side; the second empty where it says the same."""
    pairs = zip(first, second, strict=True)
    return tuple((name, one, two if two != one else "") for (name, one), (_, two) in pairs)


@told
def accept_bearing_of(
    records: str, setup: Setup, seen: Bearing, by: str, now: datetime, taper: float | None
) -> list[str] | Trouble:
    """Keep what a feeler or the bluing says of the base of these jaws; in words what was kept."""
    from heldtrue.records import open_store
    from heldtrue.shop.accepting import accept_bearing, chuck_card, knowledge_of

    with open_store(records) as store:
        kept = accept_bearing(store, chuck_card(store, setup), setup, seen, by, now, taper=taper)
        known = knowledge_of(store, chuck_card(store, setup), setup, now)
        return [*kept, *(one.words(setup.units) for one in known)]


def indicator_pdf(
    table: Table, setup: Setup | None, plan: Expected | None, gauge: str, title: str, taught: Taught | None = None
) -> bytes | Trouble:
    """One page of what was read."""
    from heldtrue.planning.result import CAUTIONS
    from heldtrue.sheets.readings_sheet import indicator_sheet
    from heldtrue.web import texts
    from heldtrue.web.readings.typed import read_typed, system_of

    read = read_typed(table, setup, plan, taught)
    if read.out is None:
        return Trouble((texts.NOTHING_TO_PRINT,))
    out = read.out
    return indicator_sheet(out.results, out.found, CAUTIONS, system_of(table), title=title, beside=out.beside,
                           gauge=gauge, budget=out.budget)  # fmt: skip


@told
def drift_pdf(table: Table, title: str) -> bytes | Trouble:
    """A page for each series."""
    from heldtrue.planning.result import CAUTIONS
    from heldtrue.sheets.readings_sheet import drift_sheet
    from heldtrue.web.readings.drift_read import read_parts

    return drift_sheet(read_parts(table).found, CAUTIONS, table["units"], title=title)
