"""What the readings say, as HTML: the answer first, then the one test, causes, plan and figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from heldtrue.drawing.readings_rows import (
    budget_words,
    comparison_rows,
    direction,
    gauge_rows,
    indicator_rows,
    plan_answer,
    trace_name,
    without_words,
)
from heldtrue.drawing.wording import small_length
from heldtrue.inspection.causes import Diagnosis, JawHigh
from heldtrue.inspection.estimate import Estimate
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import in_units, joined
from heldtrue.shop.read_out import ReadOut
from heldtrue.web import texts
from heldtrue.web.readings.typed import LEAST, Read, where_words
from heldtrue.web.render import bullets, heading, paragraph, table

LEAST_LOBE = 1e-4
"""A lobe below this is in the table only [mm]: no shop measures it."""


def both(value: float, system: UnitSystem) -> tuple[str, str]:
    """A small length [mm] in the units of the dial, and in the other ones."""
    other: UnitSystem = "inch" if system == "metric" else "metric"
    return small_length(value, system), small_length(value, other)


def read_html(read: Read, system: UnitSystem, *, gauge: str = "bar", shown: int = 0, plan_words: str = "") -> str:
    """The whole answer. ``shown``: the trace on the dial; ``plan_words``: why nothing stands beside the plan yet."""
    short = [texts.TRACE_SHORT.format(n=at + 1, count=count, least=LEAST) for at, count in read.short]
    if read.wrong or read.problems:
        lines = (*dict.fromkeys((*read.wrong.values(), *read.problems)),)
        return (f'<div class="verdict not-proven" role="status"><div class="word">{escape(texts.NOT_READ)}</div>'
                f"{bullets(lines)}</div>")  # fmt: skip
    if read.out is None:
        return (f'<div class="verdict not-proven" role="status"><div class="word">{escape(texts.TOO_FEW)}</div>'
                f"{paragraph(texts.TOO_FEW_MORE.format(least=LEAST))}{bullets(short)}</div>")  # fmt: skip
    out = read.out
    one = out.results[(read.of_typed or {}).get(shown, 0)]
    return "".join((
        _answer(out.found, system), _figures(one, out.found, system), bullets((*short, *_more(out.found, system))),
        _test(out.found), _plan(out, system, gauge, plan_words), _causes(out.found, system),
        *(_table(each, system) for each in out.results),
        heading(texts.NOTES) + bullets(_notes(out, system)) if _notes(out, system) else "",
    ))  # fmt: skip


def _answer(found: Diagnosis, system: UnitSystem) -> str:
    sure = "passes" if found.told else "not-proven"
    word = texts.CAUSE_SURE if found.told else texts.CAUSE_NOT_SURE
    return (f'<div class="verdict {sure} small" role="status"><strong>{escape(word)}</strong>'
            f'<div class="word">{escape(in_units(found.words[0], system))}</div></div>')  # fmt: skip


def _figures(one: IndicatorResult, found: Diagnosis, system: UnitSystem) -> str:
    """The figures a setter looks for, large, in both units."""
    wave, face = one.eccentricity, one.trace.side == "face"
    name, size = texts.FACE_OFF if face else texts.OFFSET, wave.amplitude
    without = without_words(one, system) if one.outliers else ""
    cells = [
        _figure(texts.TIR, one.tir_of_all, system, without),
        _figure(name, size.value, system, _between(size, system)),
    ]
    seen = [lobe for lobe in one.lobes if lobe.amplitude.value > max(0.5 * one.resolution, LEAST_LOBE)]
    for lobe in sorted(seen, key=lambda lobe: -lobe.amplitude.value)[:2]:
        least = "" if lobe.whole else f"{texts.AT_LEAST} "
        cells.append(_figure(texts.LOBES_N.format(n=lobe.order), lobe.amplitude.value, system,
                             f"{least}{_between(lobe.amplitude, system)}"))  # fmt: skip
    if not seen:
        cells.append(f'<div><strong>{escape(texts.LOBES)}</strong><span class="big">{escape(texts.NONE)}</span>'
                     f"<span>{escape(texts.UP_TO.format(n=one.highest))}</span></div>")  # fmt: skip
    cells.append(_figure(texts.SCATTER, one.noise.value, system, _between(one.noise, system)))
    return f'<div class="figures">{"".join(cells)}</div>{_tap(one, found.jaw, system)}'


def _figure(name: str, value: float, system: UnitSystem, more: str = "") -> str:
    first, second = both(value, system)
    extra = f"<span>{escape(more)}</span>" if more else ""
    return (f'<div><strong>{escape(name)}</strong><span class="big">{escape(first)}</span>'
            f"<span>= {escape(second)}</span>{extra}</div>")  # fmt: skip


def _between(one: Estimate, system: UnitSystem) -> str:
    return texts.BETWEEN.format(low=small_length(one.low, system), high=small_length(one.high, system))


def _tap(one: IndicatorResult, jaw: JawHigh | None, system: UnitSystem) -> str:
    """Which way it is off, by the jaws, and where it would be tapped."""
    wave = one.eccentricity
    way = direction(wave)
    if not way.endswith("°"):
        return paragraph(texts.NO_WAY)
    size = " = ".join(both(wave.amplitude.value, system))
    words = texts.FACE_HIGH if one.trace.side == "face" else texts.TAP
    lines = [words.format(way=way, where=where_words(wave.direction, one.jaws), size=size)]
    if jaw is not None and one.trace.side != "face":
        lines.append(in_units(jaw.words, system))
    return bullets(lines)


def _more(found: Diagnosis, system: UnitSystem) -> list[str]:
    """What is said beside the answer; the jaw stands with the direction already."""
    return [in_units(words, system) for words in found.words[1:] if found.jaw is None or words != found.jaw.words]


def _test(found: Diagnosis) -> str:
    test = found.next_test
    if test is None:
        return ""
    outcomes = bullets(f"{cause}, {texts.IF} {means}" for cause, means in test.outcomes)
    return (f'<div class="sheet next-test"><strong>{escape(texts.NEXT_TEST)}: {escape(test.name)}</strong>'
            f"{paragraph(test.how)}{outcomes}</div>")  # fmt: skip


def _plan(out: ReadOut, system: UnitSystem, gauge: str, waiting: str) -> str:
    plan = out.beside
    content = heading(texts.BESIDE_PLAN) + paragraph(waiting) if waiting and plan is None else ""
    if plan is not None:
        rows = comparison_rows(plan, gauge, system)
        at = texts.PLAN_AT.format(surface=plan.surface.name, pressure=pressure_text(plan.pressure, gauge),
                                  source=plan.pressure_from)  # fmt: skip
        content = (heading(texts.BESIDE_PLAN) + paragraph(at) + bullets(plan_answer(plan, gauge))
                   + (table(texts.PLAN_HEADS, rows) if rows else paragraph(texts.NOTHING_TO_COMPARE)))  # fmt: skip
    if out.budget is not None:
        content += heading(texts.BUDGET) + bullets(budget_words(out.budget, system))
    return content


def _causes(found: Diagnosis, system: UnitSystem) -> str:
    if not found.causes:
        return ""
    rows = [
        (one.name, *(small_length(v, system) for v in (one.expected, one.least, one.most)),
         in_units(joined("; ", one.evidence), system))
        for one in found.causes
    ]  # fmt: skip
    return heading(texts.CAUSES) + table(texts.CAUSE_HEADS, rows)


def _table(one: IndicatorResult, system: UnitSystem) -> str:
    """Every figure of one trace, in both unit systems side by side."""
    other: UnitSystem = "inch" if system == "metric" else "metric"
    show: Callable[[UnitSystem], list[tuple[str, str]]] = lambda units: [  # noqa: E731
        *indicator_rows(one, units), *(gauge_rows(one, units) if one.trace.side != "face" else ())
    ]  # fmt: skip
    rows = [(name, value, second if second != value else "")
            for (name, value), (_, second) in zip(show(system), show(other), strict=True)]  # fmt: skip
    return heading(trace_name(one, system)) + table(texts.FIGURE_HEADS[system], rows)


def _notes(out: ReadOut, system: UnitSystem) -> Sequence[str]:
    notes = [note for one in out.results for note in one.notes]
    return [in_units(note, system) for note in dict.fromkeys((*notes, *(out.beside.words if out.beside else ())))]
