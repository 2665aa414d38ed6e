"""Answers as HTML: every word that comes from a setup or the records is escaped here, and nowhere else."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Callable, Collection, Iterable, Sequence
from html import escape

from heldtrue.web import texts
from heldtrue.web.answer import Answer, CheckRow, StepRow
from heldtrue.web.results import StartAnswer
from heldtrue.web.ruler import bar, ruler

MAP_PICTURE, SECTION_PICTURE = "window.svg", "section.svg"


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
    windows = "".join(_window(found, step) for step in found.steps)
    shown = f'{verdict(found)}<div class="windows">{windows}</div>{_more_answer(found)}{_advice(found)}'
    # What stands there is not the answer to what is typed: it is pale, so that nobody takes it for that.
    return f'{head}<div class="stale">{shown}</div>' if waiting else shown


def reasons(found: Answer | None) -> str:
    """Why: every check with its margin."""
    return "" if found is None or found.problems else _checks(found)


def assumed(found: Answer | None) -> str:
    """What nobody stated, and what it was taken as."""
    return "" if found is None or found.problems else _assumed(found)


def paper(found: Answer | None, title: str, waiting: bool, *facts: str) -> str:
    """What the browser prints of a plan: one page with date, verdict, pressures, section and a place to sign.

    ``waiting``: something that was typed is not in it; nothing that could be taken for a plan is printed then.
    """
    head = f'<h1>{escape(title)}</h1><p>{escape("; ".join(facts))} · <span class="date"></span></p>'
    if found is None or found.problems or waiting or not found.full:
        return f'<div class="paper">{head}{paragraph(texts.NO_PAPER)}</div>'
    rows = [(step.name, both_of(found.stated or step.recommended or (texts.NO_WINDOW, "")), both_of(step.floor),
             both_of(step.ceiling)) for step in found.steps]  # fmt: skip
    drawn = dict(found.drawings).get(SECTION_PICTURE)
    image = f'<img alt="" src="{picture_source(drawn)}">' if drawn else ""
    sign = "".join(f"<span>{escape(one)}</span>" for one in texts.SIGN)
    return (f'<div class="paper">{head}{verdict(found)}{table(texts.PAPER_HEADS, rows)}'
            f"<p>{escape(texts.SPINDLE)}: {escape(found.speed)}, {escape(found.speed_reason)}</p>{image}"
            f'<div class="sign">{sign}</div><small>{escape(" ".join(texts.CAUTION_LINES))}</small></div>')  # fmt: skip


def section(found: Answer | None) -> str:
    """The half section in the chuck."""
    drawn = dict(found.drawings).get(SECTION_PICTURE) if found is not None else None
    return picture(drawn, drawing_name(SECTION_PICTURE)) if drawn else ""


def pictures(found: Answer | None, *starts: str) -> str:
    """The pictures whose names start like that, in that order."""
    if found is None or found.problems:
        return ""
    drawings = [one for start in starts for one in found.drawings if one[0].startswith(start)]
    figures = "".join(picture(svg, drawing_name(name), broad=name.startswith("contact")) for name, svg in drawings)
    return f'<div class="pictures">{figures}</div>'


def remarks(found: Answer | None) -> str:
    """What else there is to know of a plan."""
    if found is None or found.problems:
        return ""
    return "".join((
        heading(texts.SURFACES) + table(texts.SURFACE_HEADS, found.surfaces) if found.surfaces else "",
        heading(texts.PRESSURE) + facts(_ends(found)),
        heading(texts.SPINDLE) + facts(((texts.SPINDLE, f"{found.speed}, {found.speed_reason}"),
                                        (texts.TOP_SPEED, f"{found.top}, {found.top_reason}"))),
        heading(texts.GRIP_FORCE) + facts(found.grip),
        heading(texts.NOTES) + bullets(found.notes) if found.notes else "",
        heading(texts.CAUTIONS) + bullets(found.cautions),
    ))  # fmt: skip


def verdict(found: Answer) -> str:
    """The verdict of a plan and what decides it: one look and the same words on every page."""
    kind = found.verdict.replace(" ", "-")
    mark, words = texts.VERDICT_MARKS[found.verdict], texts.VERDICTS[found.verdict]
    lines = f"<p><strong>! {escape(found.caveat)}</strong></p>" if found.caveat else ""
    if found.because.lower() != found.caveat.lower():
        lines += paragraph(unbroken(found.because))
    if found.decided_by:
        lines += f"<p><strong>{escape(texts.DECIDED_BY)}</strong> {escape(found.decided_by)}</p>"
    return (f'<div class="verdict {kind}" role="status"><div class="word">{escape(f"{mark} {words}")}</div>'
            f"{lines}</div>")  # fmt: skip


def _window(found: Answer, step: StepRow) -> str:
    """One step: the pressure that is judged largest, on its ruler, and what ends the window."""
    name = f"{texts.PRESSURE}, {step.name}" if len(found.steps) > 1 else texts.PRESSURE
    judged, advised = found.stated or step.recommended, ""
    big, other = judged or (texts.NO_WINDOW, "")
    said = texts.STATED_HERE if found.stated else ""
    if found.stated:
        advised = texts.ADVISED.format(pressure=both_of(step.recommended)) if step.recommended else texts.NO_WINDOW
    ends = " ".join((
        texts.BELOW.format(pressure=step.floor[0], why=step.floor_by),
        texts.ABOVE.format(pressure=step.ceiling[0], why=step.ceiling_by),
    ))  # fmt: skip
    drawn = ruler(step.scale, f"{name}: {ends}") if step.scale else ""
    beside = " ".join(filter(None, (other, said)))
    return (
        f'<div class="window"><div class="pressed"><strong>{escape(name)}</strong>'
        f'<span class="big">{escape(big)}</span> <span class="other">{escape(beside)}</span></div>'
        f"{paragraph(advised)}{drawn}<p>{escape(ends)}</p></div>"
    )


def _ends(found: Answer) -> list[tuple[str, str]]:
    """Floor and ceiling of every step in both units, and what ends it."""
    return [(f"{step.name}, {word}", f"{both_of(pressure)}, {by}") for step in found.steps for word, pressure, by in (
        (texts.FLOOR, step.floor, step.floor_by), (texts.CEILING, step.ceiling, step.ceiling_by),
    )]  # fmt: skip


def both_of(pressure: tuple[str, str]) -> str:
    """A pressure with the other unit in brackets."""
    return f"{pressure[0]} ({pressure[1]})" if pressure[1] else pressure[0]


def _more_answer(found: Answer) -> str:
    """Spindle limit, what to measure first, and each toleranced form against its tolerance."""
    first = f"<p><strong>{escape(texts.MEASURE_FIRST)}:</strong> {escape(found.measure_first)}</p>"
    parts = [f'<div><strong>{escape(texts.SPINDLE)}</strong> <span class="big">{escape(found.speed)}</span>'
             f'{first if found.measure_first else ""}</div>']  # fmt: skip
    forms = [one for one in found.checks if one.share is not None]
    if forms:
        rows = "".join(f"<span>{escape(one.name)}</span>{bar(one.share or 0.0)}"
                       f"<span>{escape(texts.SHARE.format(share=one.share or 0.0))}</span>"
                       for one in forms)  # fmt: skip
        parts.append(f'<div class="tolerances" role="group" aria-label="{escape(texts.OF_TOLERANCE)}">{rows}</div>')
    return f'<div class="more-answer">{"".join(parts)}</div>'


def _advice(found: Answer) -> str:
    lines = [found.reason] if found.reason and found.reason.lower() != found.because.lower() else []
    lines += [texts.REMEDY.format(words=one) for one in found.remedies]
    if found.stated:
        lines.append(texts.STATED.format(pressure=" = ".join(filter(None, found.stated))))
    lines += [f"{texts.FROM_LOG}: {words}" for words in found.from_log]
    return bullets(lines)


def _checks(found: Answer) -> str:
    rows = [
        (
            Safe(state(one.state) + (f'<div class="hint odds">{escape(one.odds)}</div>' if one.odds else "")),
            Safe(f"<strong>{escape(one.name)}</strong><br>{escape(one.question)}"),
            Safe(f'<strong class="margin">{escape(one.margin)}</strong><br>'
                 f"{escape(_value(one))}" + (f"<br>{escape(unbroken(one.found))}" if one.found else "")),
            Safe(f"{escape(texts.CAME_FROM.format(input=one.decided_by, source=one.source))}"
                 + (f"<br><strong>{escape(texts.MEASURE_FIRST)}:</strong> {escape(one.measure)}"
                    if one.measure and one.state != "passes" else "")),
        )
        for one in found.checks
    ]  # fmt: skip
    return table(texts.CHECK_HEADS, rows) + odds(found.verdict, found.odds)


def odds(verdict: str, words: str) -> str:
    """The odds of a plan, after its verdict: what they say never stands alone; nothing where none are known."""
    return f'<p class="hint odds">{state(verdict)} {escape(words)}</p>' if words else ""


def _value(one: CheckRow) -> str:
    rule, end = f"{one.rule} " if one.rule else "", "least" if one.least else "most"
    return texts.VALUE_OF.format(rule=rule, value=one.value, end=end, limit=one.limit)


def _assumed(found: Answer) -> str:
    if not found.assumed:
        return paragraph(texts.NOTHING_ASSUMED)
    return table(texts.ASSUMED_HEADS, found.assumed)


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
