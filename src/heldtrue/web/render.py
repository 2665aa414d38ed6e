"""Answers as HTML: every word that comes from a setup or the records is escaped here, and nowhere else."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Callable, Collection, Iterable, Sequence
from html import escape

from heldtrue.web import texts
from heldtrue.web.answer import Answer, CheckRow, StepRow
from heldtrue.web.results import StartAnswer

MAP_PICTURE = "window.svg"


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], *, numeric: Sequence[int] = ()) -> str:
    """A table; cells are text, but for those already marked safe by ``state``."""
    head = "".join(f'<th scope="col">{escape(one)}</th>' for one in heads)
    body = "".join(
        "<tr>" + "".join(
            f'<td{" class=num" if number in numeric else ""}>{_cell(cell)}</td>' for number, cell in enumerate(row)
        ) + "</tr>"
        for row in rows
    )  # fmt: skip
    return f'<div class="scroll"><table class="t"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'


class Safe(str):
    """Text that is HTML already."""

    __slots__ = ()


def state(word: str) -> Safe:
    """A state with its mark: never by colour alone."""
    mark, words = texts.VERDICT_MARKS.get(word, ""), texts.VERDICTS.get(word, word)
    return Safe(f'<span class="state {escape(word.replace(" ", "-"))}">{escape(f"{mark} {words}")}</span>')


def bullets(lines: Iterable[str]) -> str:
    """A plain list; nothing for none."""
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f'<ul class="plain">{items}</ul>' if items else ""


def unbroken(words: str) -> str:
    """Words in which no torque is parted from its unit at the end of a line."""
    return re.sub(r"(?<=\d) N m\b", "\u00a0N\u00a0m", words)


def heading(words: str) -> str:
    """A heading of a part of a page."""
    return f"<h2>{escape(words)}</h2>"


def paragraph(words: str) -> str:
    """A paragraph; nothing for none."""
    return f"<p>{escape(words)}</p>" if words else ""


def facts(rows: Iterable[tuple[str, str]]) -> str:
    """Names and values."""
    items = "".join(f"<dt>{escape(name)}</dt><dd>{escape(words)}</dd>" for name, words in rows)
    return f'<dl class="facts">{items}</dl>'


def picture(svg: str | bytes, words: str, *, broad: bool = False) -> str:
    """A drawing as an image: whatever stands in it, an image runs no script.

    It is a button that shows it over the whole screen (``pictures.js``), with another that saves it.
    """
    name, source = escape(words), picture_source(svg)
    return (f'<figure class="picture{" broad" if broad else ""}" data-name="{name}"><figcaption><span>{name}</span>'
            f"{save_button(words)}</figcaption>"
            f'<button type="button" class="enlarge" data-close="{escape(texts.CLOSE)}" '
            f'aria-label="{escape(texts.ENLARGE.format(name=words))}"><img alt="{name}" src="{source}"></button>'
            f"</figure>")  # fmt: skip


def picture_source(svg: str | bytes) -> str:
    """A drawing as the address of an image."""
    return "data:image/svg+xml;base64," + b64encode(svg.encode() if isinstance(svg, str) else svg).decode()


def save_button(words: str) -> str:
    """A button that saves the picture it stands beside (``pictures.js``): the page need not carry it twice."""
    file = re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-")[:60] or "drawing"
    label = f"{texts.SAVE_SVG}: {words}"
    return (f'<button type="button" class="save print-hide" data-file="{file}.svg" aria-label="{escape(label)}">'
            f"{escape(texts.SAVE_SVG)}</button>")  # fmt: skip


def drawing_name(name: str) -> str:
    """What a drawing is called on the page."""
    if name.startswith("polar-"):
        return f"{texts.DRAWINGS['polar']}: {name.removeprefix('polar-').removesuffix('.svg').replace('-', ' ')}"
    return texts.DRAWINGS.get(name, name)


def answer(found: Answer | None, *, waiting: Sequence[str] = (), say: Callable[[str], str] = str,
           listed: Collection[str] = ()) -> str:  # fmt: skip
    """What the plan page says first: verdict, pressures and advice.

    ``waiting``: fields that could not be taken in; ``say``: how a problem is said on this page; ``listed``: problems
    that the page lists already, with the way to their fields.
    """
    if found is None:
        return paragraph(texts.SOLVING)
    held = f'<p role="alert"><strong>{escape(texts.HELD_BACK.format(fields=", ".join(waiting)))}</strong></p>'
    head = held if waiting else ""
    if found.problems:
        said = bullets(say(one) for one in found.problems if one not in listed)
        return (f'{head}<div class="verdict not-proven" role="status"><div class="word">{escape(texts.NOT_YET)}</div>'
                f"{said}</div>")  # fmt: skip
    windows = "".join(_window(step, len(found.steps) > 1) for step in found.steps)
    shown = f'{_verdict(found)}<div class="windows">{windows}</div>{_advice(found)}'
    # What stands there is not the answer to what is typed: it is pale, so that nobody takes it for that.
    return f'{head}<div class="stale">{shown}</div>' if waiting else shown


def reasons(found: Answer | None) -> str:
    """Why: every check with its margin, and what is assumed."""
    return "" if found is None or found.problems else _checks(found) + _assumed(found)


def pictures(found: Answer | None) -> str:
    """Every picture but the map, which is there to be touched."""
    if found is None or found.problems:
        return ""
    order = ("section.svg", "polar", "chuck-face.svg", "contact-print.svg")
    drawings = sorted(
        (one for one in found.drawings if one[0] != MAP_PICTURE),
        key=lambda one: next(i for i, name in enumerate(order) if one[0].startswith(name)),
    )
    figures = "".join(picture(svg, drawing_name(name), broad=name.startswith("contact")) for name, svg in drawings)
    return f'<div class="pictures">{figures}</div>'


def remarks(found: Answer | None) -> str:
    """What else there is to know of a plan."""
    if found is None or found.problems:
        return ""
    return "".join((
        heading(texts.SURFACES) + table(texts.SURFACE_HEADS, found.surfaces) if found.surfaces else "",
        heading(texts.GRIP_FORCE) + facts(found.grip),
        heading(texts.NOTES) + bullets(found.notes) if found.notes else "",
        heading(texts.CAUTIONS) + bullets(found.cautions),
    ))  # fmt: skip


def _verdict(found: Answer) -> str:
    kind = found.verdict.replace(" ", "-")
    mark, words = texts.VERDICT_MARKS[found.verdict], texts.VERDICTS[found.verdict]
    lines = f"<p><strong>! {escape(found.caveat)}</strong></p>" if found.caveat else ""
    if found.because.lower() != found.caveat.lower():
        lines += paragraph(unbroken(found.because))
    if found.decided_by:
        lines += f"<p><strong>{escape(texts.DECIDED_BY)}</strong> {escape(found.decided_by)}</p>"
    if found.measure_first:
        lines += f"<p><strong>{escape(texts.MEASURE_FIRST)}:</strong> {escape(found.measure_first)}</p>"
    return (f'<div class="verdict {kind}" role="status"><div class="word">{escape(f"{mark} {words}")}</div>'
            f"{lines}</div>")  # fmt: skip


def _window(step: StepRow, several: bool) -> str:
    name = f"{texts.PRESSURE}, {step.name}" if several else texts.PRESSURE
    if step.recommended is None:
        big, other = texts.NO_WINDOW, ""
    else:
        big, other = step.recommended
    rows = "".join(
        f"<dt>{escape(word)}</dt><dd>{escape(first)}{escape(f' ({second})' if second else '')}, {escape(by)}</dd>"
        for word, (first, second), by in (
            (texts.FLOOR, step.floor, step.floor_by), (texts.CEILING, step.ceiling, step.ceiling_by),
        )
    )  # fmt: skip
    return (f'<div class="window"><div><strong>{escape(name)}</strong><br><span class="big">{escape(big)}</span> '
            f'<span class="other">{escape(other)}</span></div><dl>{rows}</dl></div>')  # fmt: skip


def _advice(found: Answer) -> str:
    lines = [found.reason] if found.reason and found.reason.lower() != found.because.lower() else []
    lines += [texts.REMEDY.format(words=one) for one in found.remedies]
    if found.stated:
        lines.append(texts.STATED.format(pressure=" = ".join(filter(None, found.stated))))
    lines.append(f"{texts.SPINDLE} {found.speed} ({found.speed_reason}); {texts.TOP_SPEED} {found.top} "
                 f"({found.top_reason})")  # fmt: skip
    lines += [f"{texts.FROM_LOG}: {words}" for words in found.from_log]
    return bullets(lines)


def _checks(found: Answer) -> str:
    rows = [
        (
            state(one.state),
            Safe(f"<strong>{escape(one.name)}</strong><br>{escape(one.question)}"),
            Safe(f'<strong class="margin">{escape(one.margin)}</strong><br>'
                 f"{escape(_value(one))}" + (f"<br>{escape(unbroken(one.found))}" if one.found else "")),
            Safe(f"{escape(texts.CAME_FROM.format(input=one.decided_by, source=one.source))}"
                 + (f"<br><strong>{escape(texts.MEASURE_FIRST)}:</strong> {escape(one.measure)}"
                    if one.measure and one.state != "passes" else "")),
        )
        for one in found.checks
    ]  # fmt: skip
    return heading(texts.CHECKS) + table(texts.CHECK_HEADS, rows)


def _value(one: CheckRow) -> str:
    rule, end = f"{one.rule} " if one.rule else "", "least" if one.least else "most"
    return texts.VALUE_OF.format(rule=rule, value=one.value, end=end, limit=one.limit)


def _assumed(found: Answer) -> str:
    if not found.assumed:
        return heading(texts.ASSUMED) + paragraph(texts.NOTHING_ASSUMED)
    return heading(texts.ASSUMED) + table(texts.ASSUMED_HEADS, found.assumed)


def gate(made: StartAnswer) -> str:
    """The answer of the gate in the largest type."""
    word = texts.MAY if made.may else texts.OVERRIDDEN if made.overridden else texts.MUST_NOT
    kind = "may" if made.may else "must-not"
    override = f"{made.recorded}: {made.override_reason}" if made.overridden else ""
    return "".join((
        f'<div class="gate {kind}" role="alert">{escape(word)}</div>', paragraph(made.words),
        bullets((*made.reasons[1:], *made.warnings)), paragraph(override),
        paragraph(texts.RECORDED.format(who=made.recorded)),
    ))  # fmt: skip


def gate_more(made: StartAnswer) -> str:
    """What holds the part at that pressure, load by load, and the cautions."""
    loads = heading(texts.LOADS) + table(texts.LOAD_HEADS, made.loads) if made.loads else ""
    return loads + heading(texts.CAUTIONS) + bullets(made.cautions)


def _cell(cell: str) -> str:
    return cell if isinstance(cell, Safe) else escape(cell)
