"""What a ring, its readings and slips say, as HTML: the answer first, then what it cannot tell."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from heldtrue.drawing.gauge_ring_words import (
    design_words,
    engraved,
    friction_words,
    lost_words,
    ring_title,
    trial_words,
    uneven_words,
    untold_words,
)
from heldtrue.inspection.ring_reading import RingAnswer
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.quantities import UnitSystem, format_both, format_quantity, to_core
from heldtrue.shop.gauge_rings import CAUTIONS, FrictionTrial
from heldtrue.web import texts
from heldtrue.web.measuring import words
from heldtrue.web.measuring.work import Made
from heldtrue.web.render import Safe, bullets, facts, heading, paragraph, picture, table


def cautions() -> str:
    """What every page about rings and friction trials says."""
    return heading(texts.CAUTIONS) + bullets(CAUTIONS)


def made_html(made: Made, system: UnitSystem, gauge: str) -> str:
    """A ring to make: sizes, how it reads, how strong it is, its drawing."""
    one, ring = made.design, made.design.gauge.ring
    kind, mark = ("not-proven", "!") if one.misses else ("passes", "✓")
    missed = paragraph(words.MISSED) + bullets(one.misses) if one.misses else ""
    title = ring_title(one, system)
    head = (f'<div class="verdict {kind} small" role="status"><strong>{mark} {escape(words.DESIGNED)}</strong>'
            f'<div class="word">{escape(title[0].upper() + title[1:])}</div>{missed}</div>')  # fmt: skip
    names = words.FACTS
    rows = [
        (names["outer"], f"Ø{format_both(2 * ring.outer, 'length', system)}"),
        (names["inner"], f"Ø{format_both(2 * ring.inner, 'length', system)}"),
        (names["width"], format_both(ring.width, "length", system)),
        (names["material"], one.material.name),
        (names["most"], f"{format_both(one.most_grip, 'force', system)} in all"),
        (names["factor"], f"{one.factor:.2f}"),
    ]
    told = (*design_words(one, system), *filter(None, [engraved(one, gauge)]))
    return (head + heading(words.SIZES) + facts(rows) + bullets(told)
            + picture(made.drawing, words.DRAWING, broad=True))  # fmt: skip


def read_html(answer: RingAnswer, system: UnitSystem, gauge: str) -> str:
    """Forces with their ranges, the line of grip, the jaws; then what cannot be told."""
    last = max(answer.clamped, key=lambda one: one.pressure)
    head = (f'<div class="verdict small" role="status"><strong>{escape(words.READ_ANSWER)}</strong>'
            f'<div class="word">{escape(f"{_force(last.total[1], system)} at {pressure_text(last.pressure, gauge)}")}'
            f"</div>{paragraph(_between(last.total, system))}{_uneven(answer)}</div>")  # fmt: skip
    rows = [(pressure_text(one.pressure, gauge), _force(one.total[1], system), _between(one.total, system))
            for one in answer.clamped]  # fmt: skip
    heads = (words.FORCE_HEADS[0], *(words.JAW_HEAD.format(n=jaw + 1) for jaw in range(len(last.by_jaw))))
    each = [(pressure_text(one.pressure, gauge), *(_jaw(ends, system) for ends in one.by_jaw))
            for one in answer.clamped]  # fmt: skip
    return "".join((
        head, table(words.FORCE_HEADS, rows, numeric=(0, 1)),
        heading(words.EACH_JAW), table(heads, each, numeric=(0,)),
        heading(words.LINE), bullets(_line(answer, system, gauge)),
        heading(words.CANNOT), bullets((*untold_words(answer), words.SECOND_LOOK)),
    ))  # fmt: skip


def friction_html(trial: FrictionTrial, system: UnitSystem, *, oiled: bool) -> str:
    """The friction with its range, and what it is of."""
    title = friction_words(trial.found)
    return (f'<div class="verdict small" role="status"><strong>{escape(words.FRICTION)}</strong>'
            f'<div class="word">{escape(title[0].upper() + title[1:])}</div></div>'
            + bullets(trial_words(trial.found, trial.grip, trial.of, system, oiled=oiled)))  # fmt: skip


def _uneven(answer: RingAnswer) -> str:
    said = uneven_words(answer)
    return f"<p><strong>! {escape(said)}</strong></p>" if said else ""


def _line(answer: RingAnswer, system: UnitSystem, gauge: str) -> Sequence[str]:
    if answer.slope is None:
        return (words.ONE_PRESSURE,)
    low, likely, high = (_force(end * to_core(1.0, "pressure", gauge), system) for end in answer.slope)
    line = words.LINE_WORDS.format(slope=likely, unit=gauge, low=low, high=high)
    return (line, lost_words(answer, gauge))


def _between(ends: tuple[float, float, float], system: UnitSystem) -> str:
    return f"{_force(ends[0], system)} to {_force(ends[2], system)}"


def _jaw(ends: tuple[float, float, float], system: UnitSystem) -> Safe:
    low, likely, high = (escape(format_quantity(end, "force", system)) for end in ends)
    return Safe(f"<strong>{likely}</strong><br>{low} to {high}")


def _force(value: float, system: UnitSystem) -> str:
    return format_both(value, "force", system)
