"""What readings say, as PDF: one page for an indicator, one for each series of a drift."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heldtrue.drawing.readings import draw_drift, draw_indicator
from heldtrue.drawing.readings_rows import (
    budget_words,
    comparison_rows,
    drift_name,
    drift_rows,
    event_rows,
    gauge_rows,
    indicator_rows,
    plan_answer,
    tir_words,
    trace_name,
)
from heldtrue.drawing.wording import small_length
from heldtrue.inspection.budget import Budget
from heldtrue.inspection.causes import Diagnosis
from heldtrue.inspection.drift import Drift
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import in_units, joined
from heldtrue.sheets.paper import paper_size, pdf_of

if TYPE_CHECKING:  # readings alone must not wait for the finite element kernel
    from heldtrue.shop.against_plan import AgainstPlan

TEMPLATE = Path(__file__).with_name("readings_sheet.typ")
MOST_ROWS, MOST_NOTES = 14, 6
"""Rows and notes on a page; what does not fit is counted, and stands on the screen and in the JSON."""


def indicator_sheet(
    results: Sequence[IndicatorResult], found: Diagnosis, cautions: Sequence[str], system: UnitSystem = "metric",
    paper: str = "a4", *, title: str = "", beside: AgainstPlan | None = None, gauge: str = "bar",
    budget: Budget | None = None,
) -> bytes:  # fmt: skip
    """One page: the answer, the next test, causes, plot and figures of the first trace, the rest in short.

    Raises: ``InputError`` for a paper it does not know.
    """
    first = results[0]
    parts = []
    if beside is not None:
        rows = comparison_rows(beside, gauge, system)
        parts.append((f"Beside the plan, {beside.surface.name}", [f"{name}: {words}" for name, words in rows]))
    if budget is not None:
        parts.append(("Where the run-out tolerance goes", budget_words(budget, system)))
    more = [
        f"{trace_name(one, system)}: run-out {tir_words(one, system)}, offset "
        f"{small_length(one.eccentricity.amplitude.value, system)}"
        for one in results[1:]
    ]
    parts.append(("Other readings", more))
    notes = dict.fromkeys(note for one in results for note in one.notes)
    parts.append(("Notes", [in_units(note, system) for note in (*notes, *(beside.words if beside else ()))]))
    test = found.next_test
    page = {
        "heading": title or "Indicator readings", "aside": trace_name(first, system),
        "answer": [*(in_units(words, system) for words in found.words),
                   *(plan_answer(beside, gauge) if beside is not None else ())],
        "test": None if test is None else {"name": test.name, "how": test.how, "outcomes": list(test.outcomes)},
        "causes": [
            [c.name, *(small_length(v, system) for v in (c.expected, c.least, c.most)),
             in_units(joined("; ", c.evidence), system)]
            for c in found.causes
        ],
        "wide": False, "picture": "picture0", "picture_width": 90.0, "parts": _parts(parts),
        "rows": _short([*indicator_rows(first, system), *(gauge_rows(first, system) if _round(first) else [])]),
    }  # fmt: skip
    return _compiled([page], [draw_indicator(first, system, jaw=found.jaw)], title or "Indicator readings", cautions,
                     paper)  # fmt: skip


def drift_sheet(
    found: Sequence[Drift], cautions: Sequence[str], system: UnitSystem = "metric", paper: str = "a4", *,
    title: str = "",
) -> bytes:  # fmt: skip
    """One page for each series: the answer, the chart, the figures, the events.

    Raises: ``InputError`` for a paper it does not know.
    """
    pages = [
        {
            "heading": drift_name(one), "aside": title or f"{one.series.values.size} parts",
            "answer": [in_units(words, system) for words in one.words], "test": None, "causes": [],
            "wide": True, "picture": f"picture{number}", "picture_width": 182.0,
            "rows": _short(drift_rows(one, system)),
            "parts": _parts([("Events", [f"{name}: {words}" for name, words in event_rows(one, system)])]),
        }
        for number, one in enumerate(found)
    ]  # fmt: skip
    charts = [draw_drift(one, system, width=182.0, height=118.0) for one in found]
    return _compiled(pages, charts, title or "Drift", cautions, paper)


def _round(one: IndicatorResult) -> bool:
    return one.trace.side != "face"


def _short(rows: list[tuple[str, str]]) -> list[tuple[str, str]]:
    return rows if len(rows) <= MOST_ROWS else [*rows[: MOST_ROWS - 1], ("and", f"{len(rows) - MOST_ROWS + 1} more")]


def _parts(parts: Sequence[tuple[str, list[str]]]) -> list[dict[str, Any]]:
    found = []
    for heading, lines in parts:
        shown = lines
        if len(lines) > MOST_NOTES:
            shown = [*lines[: MOST_NOTES - 1], f"and {len(lines) - MOST_NOTES + 1} more"]
        if shown:
            found.append({"heading": heading, "lines": shown})
    return found


def _compiled(
    pages: list[dict[str, Any]], pictures: Sequence[str], title: str, cautions: Sequence[str], paper: str
) -> bytes:
    content = {"title": title, "pages": pages, "cautions": list(cautions), "paper": paper_size(paper)}
    # Signs of the sheet's own typeface are no letters.
    letters = "".join(filter(str.isalpha, json.dumps(content, ensure_ascii=False)))
    return pdf_of(TEMPLATE, content, letters, {f"picture{i}": svg for i, svg in enumerate(pictures)})
