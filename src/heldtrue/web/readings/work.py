"""What the readings pages ask of a worker process: the plan of a surface, the next taper, pages to print."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from heldtrue.inspection.taper import Bearing
from heldtrue.planning.setup import Setup
from heldtrue.shop.against_plan import Expected
from heldtrue.shop.learned import Knowledge
from heldtrue.web.fields import Table
from heldtrue.web.trouble import Trouble, told


@dataclass(frozen=True)
class TaperAnswer:
    """The next taper cut in words; ``rows``: figures with their names, in each of the two unit systems."""

    words: tuple[str, str]
    rows: tuple[tuple[str, str, str], ...]
    notes: tuple[str, ...]
    stop: bool
    cautions: tuple[str, ...]


@told
def expected_of(setup: Setup, surface: str) -> Expected | Trouble:
    """What the plan expects of a surface."""
    from heldtrue.shop.against_plan import expected, surface_of

    return expected(setup, surface_of(setup, surface))


@told
def next_taper_of(setup: Setup, seen: Bearing, taper: float | None, known: Knowledge | None) -> TaperAnswer | Trouble:
    """The taper to cut next."""
    from heldtrue.drawing.readings_rows import taper_rows
    from heldtrue.drawing.wording import in_units
    from heldtrue.planning.window import gauge_unit_of
    from heldtrue.quantities import UnitSystem
    from heldtrue.shop.next_cut import next_cut

    first: UnitSystem = setup.units
    second: UnitSystem = "inch" if first == "metric" else "metric"
    cut = next_cut(setup, seen, taper, known)
    gauge = gauge_unit_of(setup)
    pairs = zip(taper_rows(cut, first, gauge), taper_rows(cut, second, gauge), strict=True)
    return TaperAnswer(
        (in_units(cut.found.words, first), in_units(cut.found.words, second)),
        tuple((name, one, two if two != one else "") for (name, one), (_, two) in pairs),
        tuple(in_units(note, first) for note in cut.notes), cut.found.stop, cut.cautions,
    )  # fmt: skip


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


def indicator_pdf(table: Table, setup: Setup | None, plan: Expected | None, gauge: str, title: str) -> bytes | Trouble:
    """One page of what was read."""
    from heldtrue.planning.result import CAUTIONS
    from heldtrue.sheets.readings_sheet import indicator_sheet
    from heldtrue.web import texts
    from heldtrue.web.readings.typed import read_typed, system_of

    read = read_typed(table, setup, plan)
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
