"""What to measure, worked out in a worker, and the table of assumptions: plain data for the page."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from heldtrue.planning.entries import Assumptions
from heldtrue.planning.setup import Setup
from heldtrue.planning.shapes import fields_of
from heldtrue.web.fields import Table, get
from heldtrue.web.sections import has_range
from heldtrue.web.trouble import Trouble, told

if TYPE_CHECKING:
    from heldtrue.planning.odds.assumptions import AssumptionRow
    from heldtrue.planning.odds.measurements import Measurement, Window


@dataclass(frozen=True)
class MeasureRow:
    """One measurement that changes something.

    ``chance``: that it turns the plan into a pass, in words, empty where that passes already; ``now``, ``after``: the
    window, and its ends where it is open [MPa]; ``keys``: of the setup file, in the order in which they are to be
    entered.
    """

    what: str
    minutes: str
    chance: str
    now: str
    after: str
    now_span: tuple[tuple[float, float], ...]
    after_span: tuple[tuple[float, float], ...]
    keys: tuple[str, ...]
    guessed: bool


@dataclass(frozen=True)
class MeasureAnswer:
    """What to measure, best first.

    ``idle``: those that change nothing; ``check``: the leading one, ``shares`` what spreads it, in words, ``picture``
    how, as SVG; all three empty where nothing that is drawn moves it; ``verdict``, ``odds``: of the plan; ``pair``: two
    that together do more, in words.
    """

    rows: tuple[MeasureRow, ...]
    idle: tuple[str, ...]
    check: str
    shares: tuple[str, ...]
    picture: str
    verdict: str
    odds: str
    pair: str


@dataclass(frozen=True)
class AssumedRow:
    """One input as the table shows it.

    ``key``: of ``[assumptions]``, empty where the setup cannot state its spread; ``has_range``: may it state a range
    there, too?  ``change``: keys of the setup file that change the range.
    """

    label: str
    ends: tuple[str, str, str]
    spread: str
    scope: str
    source: str
    reason: str
    change: tuple[str, ...]
    key: str
    has_range: bool


@told
def measure_answer(setup: Setup) -> MeasureAnswer | Trouble:
    """What to measure for a setup."""
    from heldtrue.drawing.odds import draw_odds
    from heldtrue.planning.odds.odds_words import changes_something, odds_words, pair_words, share_words
    from heldtrue.planning.odds.what_to_measure import what_to_measure
    from heldtrue.planning.result import PASSES
    from heldtrue.planning.window import gauge_unit_of

    made = what_to_measure(setup)
    decided, passes, gauge = made.decided, made.plan.verdict == PASSES, gauge_unit_of(setup)
    pays = [one for one in made.found if changes_something(one)]
    return MeasureAnswer(
        tuple(_row(one, gauge, passes=passes) for one in pays),
        tuple(one.ask.what for one in made.found if not changes_something(one)),
        "" if decided is None else decided.check,
        () if decided is None else tuple(share_words(decided)),
        "" if decided is None else draw_odds(made.plan, decided, made.known, setup.units),
        made.plan.verdict,
        odds_words(made.plan),
        "" if made.pair is None else pair_words(made.pair, made.found),
    )


def _row(one: Measurement, gauge: str, *, passes: bool) -> MeasureRow:
    from heldtrue.planning.odds.odds_words import chance_words, room_words

    return MeasureRow(
        one.ask.what, f"{one.ask.minutes:g}", "" if passes else chance_words(one.chance), room_words(one.now, gauge),
        room_words(one.after, gauge), _span(one.now), _span(one.after), one.keys, one.guessed,
    )  # fmt: skip


def _span(window: Window) -> tuple[tuple[float, float], ...]:
    is_open = window.width >= 0 and isfinite(window.floor) and isfinite(window.ceiling)
    return ((window.floor, window.ceiling),) if is_open else ()


@told
def assumed_rows(setup: Setup) -> tuple[AssumedRow, ...] | Trouble:
    """Every input of a setup; nothing is solved for it.  Trouble: a spread that its range cannot have."""
    from heldtrue.planning.inputs import prepare
    from heldtrue.planning.odds.assumptions import assumptions_of

    return tuple(_assumed(row, setup) for row in assumptions_of(prepare(setup)))


def _assumed(row: AssumptionRow, setup: Setup) -> AssumedRow:
    from heldtrue.drawing.wording import value_text
    from heldtrue.planning.phrases import named_end
    from heldtrue.planning.window import gauge_unit_of

    known, spread = row.known, row.spread
    low, likely, high = (named_end(known, value) or value_text(value, known.kind, setup.units, gauge_unit_of(setup))
                         for value in (known.low, known.likely, known.high))  # fmt: skip
    return AssumedRow(
        known.label, (low, likely, high), "" if spread is None else spread.kind,
        "" if spread is None else spread.scope, known.source, "" if spread is None else spread.reason, row.change,
        row.spread_key, bool(row.spread_key) and has_range(row.spread_key),
    )  # fmt: skip


def stated_rows(table: Table) -> tuple[AssumedRow, ...]:
    """What a draft states under ``[assumptions]``, also where no plan can be made: so that it can be corrected."""
    stated = get(table, "assumptions") or {}
    return tuple(
        AssumedRow(one.description, ("", "", ""), "", "", "", "", (), one.key, has_range(one.key))
        for one in fields_of(Assumptions) if one.key in stated
    )  # fmt: skip
