"""A re-plan as JSON and as CSV, for other programs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Any

from pydantic import Field

from heldtrue.json_document import FORMAT, Entry, to_json
from heldtrue.quantities import from_core
from heldtrue.records.cells import FORMULA
from heldtrue.shop.replanning.compare import Turned
from heldtrue.shop.replanning.run import Report

HEADS = ("setup", "chuck", "was", "now", "rough", "finish", "all cuts", "unit", "reason")


class PressureEntry(Entry):
    """The pressures to set now, by step, in the unit of the gauge."""

    unit: str
    steps: dict[str, float]


class TurnedEntry(Entry):
    """A setup whose outcome is another than the shop goes by."""

    setup: str
    chuck: str = Field(description="number of the chuck, empty where the setup says none")
    was: str = Field(description="passes, not proven or fails")
    now: str = Field(description="passes, not proven, fails, or passes at another pressure")
    reason: str
    pressure: PressureEntry | None = Field(description="null where there is none to set")


class FailedEntry(Entry):
    """A setup that cannot be planned."""

    setup: str
    reason: str


class RefusedEntry(Entry):
    """A setup that does not pass, and did not pass before or was never planned before."""

    setup: str
    chuck: str = Field(description="number of the chuck, empty where the setup says none")
    verdict: str = Field(description="not proven or fails")
    reason: str


class ReplanDocument(Entry):
    """What a re-plan found."""

    format: int = FORMAT
    looked_at: int
    unchanged: int
    stopped: int = Field(description="of those that turned: may no longer start as they did")
    first: int = Field(description="never re-planned before")
    planned: int = Field(description="planned in full; the others are decided by kept limits, or known")
    left: int = Field(description="not looked at for want of time: ask again; the command looks at all")
    turned: list[TurnedEntry]
    failed: list[FailedEntry]
    refused: list[RefusedEntry]
    seconds: float


def replan_document(report: Report) -> ReplanDocument:
    """The document of a report."""
    return ReplanDocument(
        looked_at=report.looked_at, unchanged=report.unchanged, stopped=len(report.stopped), first=report.first,
        planned=report.planned, left=report.left, turned=[_entry(one) for one in report.turned],
        failed=[FailedEntry(setup=one.setup, reason=one.reason) for one in report.failed],
        refused=[RefusedEntry(**vars(one)) for one in report.refused],
        seconds=round(report.seconds, 3),
    )  # fmt: skip


def replan_json(report: Report) -> str:
    """The same as text."""
    return to_json(replan_document(report))


def replan_csv(report: Report) -> str:
    """What turned, what cannot be planned, and what does not pass though it did not turn: one row each.

    Only what turned has a ``was``.
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(HEADS)
    writer.writerows([_cell(one) for one in row] for row in _rows(report))
    return text.getvalue()


def _rows(report: Report) -> Iterator[tuple[Any, ...]]:
    for one in report.turned:
        steps = {name: f"{from_core(value, 'pressure', one.unit):.4g}" for name, value in one.pressures.items()}
        yield (one.setup, one.chuck, one.was, one.now, *(steps.get(name, "") for name in HEADS[4:7]),
               one.unit if steps else "", one.reason)  # fmt: skip
    for failed in report.failed:
        yield (failed.setup, "", "", "cannot be planned", "", "", "", "", failed.reason)
    for refused in report.refused:
        yield (refused.setup, refused.chuck, "", refused.verdict, "", "", "", "", refused.reason)


def _cell(value: Any) -> str:
    """A text that a spreadsheet would take for a formula gets a mark before it."""
    text = str(value)
    return f"'{text}" if text.startswith(FORMULA) else text


def _entry(one: Turned) -> TurnedEntry:
    steps = {name: round(from_core(value, "pressure", one.unit), 6) for name, value in one.pressures.items()}
    pressure = PressureEntry(unit=one.unit, steps=steps) if steps else None
    return TurnedEntry(setup=one.setup, chuck=one.chuck, was=one.was, now=one.now, reason=one.reason,
                       pressure=pressure)  # fmt: skip
