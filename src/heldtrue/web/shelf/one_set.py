"""One jaw set: how it stands in large type, its photo and history, and everything that can be done with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from html import escape
from typing import Any

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.quantities import format_both, format_quantity
from heldtrue.records import History, JawSet, Photo, RunRecord, SetCut, SetMove
from heldtrue.records.events import Event
from heldtrue.sheets.jaw_tag import jaw_tags
from heldtrue.shop.enter import card_of
from heldtrue.shop.put_right import taken_back, with_diameter, with_steps
from heldtrue.shop.shelf import MoveKind, limits_of, move_of, part_of
from heldtrue.shop.typed import typed_size, typed_steps
from heldtrue.web import prints, texts
from heldtrue.web.boxes import NumberBox, TextBox
from heldtrue.web.desk import Desk, now
from heldtrue.web.frame import button, confirmed, frame, html, in_words, not_here, page, say
from heldtrue.web.render import Safe, bullets, heading, paragraph, table
from heldtrue.web.shelf.photos import in_turn, picture_boxes, shrunk
from heldtrue.web.who import NameBox

MINUTE = "%Y-%m-%d %H:%M"
MOST_WRONG = 30
"""Newest entries that are offered to be put right."""
Limits = tuple[float | None, str, float | None]


def register(desk: Desk) -> None:
    """The page ``/shelf/{number}``."""

    @page("/shelf/{number:path}")
    async def one(number: str) -> None:
        try:
            await desk.remember(card_of, desk.store, JawSet, number, "jaw set")
        except InputError as error:
            not_here(error)
            return
        with frame(f"{texts.SHELF}: {number}", "/shelf"):
            await _Set(desk, number).build()


class _Set:
    """The page of one set in one browser."""

    def __init__(self, desk: Desk, number: str) -> None:
        self.desk, self.number = desk, number
        self.rows: dict[str, Event] = {}

    async def build(self) -> None:
        """Put it on the page."""
        self.standing = html("").mark("set")
        with ui.element("div").classes("grid"):
            self.who = NameBox(self.desk)
            self.place = TextBox(texts.PLACE, "place")
            self.holder = TextBox(texts.HOLDER, "holder", most=60)
            self.missing = TextBox(texts.MISSING_JAWS, "missing", hint=texts.MISSING_HINT, most=40)
            self.remark = TextBox(texts.REMARK, "remark")
        with ui.element("div").classes("row-line"):
            button(texts.CHECK_OUT, self.out, main=True).mark("check-out")
            button(texts.CHECK_IN, self.back).mark("check-in")
            picture_boxes(texts.TAKE_PHOTO, self.photo, "photo")
        self._condition()
        self._tags()
        self.history = html("").mark("history")
        self._wrong()
        await self.show()

    async def show(self) -> None:
        """As it stands now."""
        history = await self.desk.remember(self.desk.store.history, self.number)
        limits = await self.desk.remember(limits_of, self.desk.store, self.number)
        self.missing.box.value = ", ".join(str(one) for one in history.standing.missing)
        self.standing.content = _photo(history) + _standing(history, limits)
        self.history.content = _history(history)
        self.retire_button.text = texts.BACK_ON_SHELF if history.card.retired else texts.RETIRE
        wrong = [row for row in reversed(history.counting) if isinstance(row, SetCut | SetMove)][:MOST_WRONG]
        self.rows = {row.id: row for row in wrong}
        self.entry.set_options({row.id: f"{row.at.astimezone():{MINUTE}}  {words_of(row)}" for row in wrong})
        self.entry.value = None

    async def _move(self, kind: MoveKind, **more: Any) -> None:
        by = self.who.name()
        row = await self.desk.remember(move_of, self.desk.store, self.number, kind, by=by, now=now(),
                                       remark=self.remark.text(), **more)  # fmt: skip
        await self.desk.write(row, by=by)
        self.remark.clear()
        await self.show()

    @in_words
    async def out(self) -> None:
        """Somebody takes it."""
        holder = self.holder.text() or self.who.name()
        await self._move("out", holder=holder)
        say(texts.SET_OUT.format(set=self.number, who=holder))

    @in_words
    async def back(self) -> None:
        """It comes back, all jaws or with some missing."""
        await self._move("in", place=self.place.text(), missing=self._missing())
        say(texts.SET_IN.format(set=self.number))

    def _missing(self) -> tuple[int, ...]:
        words = self.missing.text().replace(",", " ").split()
        if not all(one.isdecimal() and len(one) < 4 for one in words):
            raise InputError(texts.A_WHOLE_NUMBER.format(what=texts.MISSING_JAWS, typed=self.missing.text()))
        return tuple(sorted({int(one) for one in words}))

    @in_words
    async def photo(self, content: bytes) -> None:
        """A picture of it, made smaller, without what the camera wrote into it."""
        by, at = self.who.name(), now()
        self.desk.require("set up")
        made = Photo.of(await in_turn(shrunk, content), at=at, by=by, name=f"{self.number}.jpg")
        stands = await self.desk.remember(self.desk.store.standing, self.number)
        row = SetMove(at=at, by=by, jaw_set=self.number, kind="condition", photo=made.id, missing=stands.missing,
                      remark=self.remark.text())  # fmt: skip
        await self.desk.write(made, row, by=by)
        self.remark.clear()
        say(texts.PHOTO_KEPT)
        await self.show()

    def _condition(self) -> None:
        html(heading(texts.CONDITION))
        with ui.element("div").classes("row-line"):
            self.state = ui.select(list(texts.CONDITIONS), label=texts.CONDITION, value=texts.CONDITIONS[0])
            self.state.props("outlined stack-label").style("min-width: 220px").mark("condition")
            button(texts.SET_CONDITION, self.condition).mark("keep-condition")
            self.retire_button = button(texts.RETIRE, self.retire).mark("retire")

    @in_words
    async def condition(self) -> None:
        """How it is, and which jaws are missing."""
        await self._move("condition", condition=self.state.value, missing=self._missing())
        say(texts.CONDITION_KEPT.format(set=self.number, condition=self.state.value))

    @in_words
    async def retire(self) -> None:
        """Off the shelf for good, or back on it."""
        by = self.who.name()
        card = await self.desk.remember(card_of, self.desk.store, JawSet, self.number, "jaw set")
        if not card.retired and not await confirmed(texts.RETIRE_ASK.format(set=self.number)):
            return
        await self.desk.write(replace(card, retired=not card.retired), by=by)
        say((texts.IS_BACK if card.retired else texts.RETIRED_NOW).format(set=self.number))
        await self.show()

    def _tags(self) -> None:
        html(heading(texts.PRINT_TAGS))
        with ui.element("div").classes("row-line"):
            self.size = TextBox(texts.TAG_SIZE, "tag-size", value="50x25", most=20)
            button(texts.PRINT_TAGS, self.tags).mark("print-tags")

    @in_words
    async def tags(self) -> None:
        """A label for the set and one for each jaw."""
        size = typed_size(self.size.need())
        stands = await self.desk.remember(self.desk.store.standing, self.number)
        pressure, gauge, speed = await self.desk.remember(limits_of, self.desk.store, self.number)
        part = await self.desk.remember(part_of, self.desk.store, self.number)
        made = await self.desk.remember(jaw_tags, stands, "metric", size, pressure=pressure, gauge=gauge,
                                        speed_rpm=speed, part=part)  # fmt: skip
        prints.open_pdf(made, f"tag-{self.number}.pdf")

    def _wrong(self) -> None:
        html(heading(texts.WRONG_ENTRY))
        self.entry = ui.select({}, label=texts.WHICH_ENTRY).props("outlined stack-label").classes("wide")
        self.entry.mark("wrong-entry")
        with ui.element("div").classes("grid"):
            self.why = TextBox(texts.WHY_WRONG, "why-wrong")
            self.right = NumberBox(texts.RIGHT_DIAMETER, "right-diameter", "diameter")
            self.steps = TextBox(texts.RIGHT_STEPS, "right-steps", hint=texts.RIGHT_STEPS_HINT)
        with ui.element("div").classes("row-line"):
            button(texts.TAKE_ENTRY_BACK, self.take_back).mark("take-back")
            button(texts.PUT_DIAMETER, self.put_right).mark("put-right")
            button(texts.PUT_STEPS, self.put_steps).mark("put-steps")

    def _entry(self) -> Event:
        if self.entry.value not in self.rows:
            raise InputError(texts.CHOOSE_ENTRY)
        return self.rows[self.entry.value]

    def _cut(self) -> SetCut:
        row = self._entry()
        if not isinstance(row, SetCut):
            raise InputError(texts.ONLY_CUTS)
        return row

    @in_words
    async def take_back(self) -> None:
        """The entry does not count any more; it stays to be seen."""
        by = self.who.name()
        await self.desk.write(taken_back(self._entry(), by=by, why=self.why.text()), by=by)
        say(texts.ENTRY_BACK)
        await self._after_wrong()

    @in_words
    async def put_right(self) -> None:
        """The cut with another diameter in its place."""
        by, row = self.who.name(), self._cut()
        await self.desk.write(with_diameter(row, self.right.needed(), by=by, why=self.why.text()), by=by)
        say(texts.ENTRY_RIGHT)
        await self._after_wrong()

    @in_words
    async def put_steps(self) -> None:
        """The cut with the steps that were found in the jaws."""
        by, row, steps = self.who.name(), self._cut(), typed_steps(self.steps.need(), "metric")
        await self.desk.write(with_steps(row, steps, by=by, why=self.why.text()), by=by)
        say(texts.ENTRY_RIGHT)
        await self._after_wrong()

    async def _after_wrong(self) -> None:
        self.why.clear()
        self.right.clear()
        self.steps.clear()
        await self.show()


def _standing(history: History, limits: Limits) -> str:
    """How the set stands, to be read at arm's length."""
    one, unknown = history.standing, texts.NOT_KNOWN
    size, bracket = texts.NOT_CUT, ""
    if one.diameter is not None:
        size, bracket = f"Ø{format_quantity(one.diameter, 'length')}", format_quantity(one.diameter, "length", "inch")
        bracket += f", {measured_words(one.diameter_error)}"
    depth = "" if one.depth is None else f"{format_both(one.depth, 'length')} {texts.DEEP}"
    where = texts.HAS_IT.format(who=one.holder) if one.holder else one.place or texts.IS_IN
    parts = [
        _fact(one.side, size, bracket, "largest"), _fact(texts.PLACE, where, "", "largest"),
        _fact(texts.TOOTH, unknown if one.tooth is None else str(one.tooth)),
        _fact(texts.CUTS_LEFT, unknown if one.cuts_left is None else str(one.cuts_left),
              f"{texts.CUTS_DONE} {one.cuts_done}"),
        _fact(texts.CONDITION, texts.RETIRED if one.retired else one.condition or unknown),
        _fact(texts.CHUCK, one.chuck or unknown, one.machine or ""),
        _fact(texts.STYLE, one.style, one.material),
        _fact(texts.WEB, unknown if one.web_left is None else format_both(one.web_left, "length")),
    ]  # fmt: skip
    if one.missing:
        words = texts.JAW_MISSING.format(numbers=", ".join(str(number) for number in one.missing))
        parts.append(f'<div class="warn" role="alert"><strong>! {escape(words)}</strong></div>')
    steps = "" if one.diameter is None else steps_words(one.bore_steps)
    more = [
        depth,
        steps,
        one.serration,
        f"{texts.PART} {one.part}" if one.part else "",
        history.card.remark,
        _limits(limits),
    ]
    return f'<div class="standing">{"".join(parts)}</div>{bullets(filter(None, more))}'


def steps_words(steps: Sequence[tuple[float, float]] | None) -> str:
    """The steps of a bore; that nobody knows them is said, that there are none is not."""
    if steps is None:
        return texts.STEPS_NOT_KNOWN
    told = []
    for size, z in steps:
        where = texts.ABOVE_SEAT if z > 0 else texts.BEHIND_SEAT
        told.append(
            texts.STEP_OF.format(size=format_both(size, "length"), z=format_both(abs(z), "length"), where=where)
        )
    return "; ".join(told)


def measured_words(error: float | None) -> str:
    """Whether a bore was measured, and how well."""
    return texts.AS_PLANNED if error is None else texts.MEASURED_WITHIN.format(error=format_both(error, "length"))


def _fact(name: str, value: str, small: str = "", kind: str = "") -> str:
    less = f"<small>{escape(small)}</small>" if small else ""
    return f'<div class="{kind}"><span>{escape(name)}</span><strong>{escape(value)}</strong>{less}</div>'


def _limits(limits: Limits) -> str:
    pressure, gauge, speed = limits
    said = [] if pressure is None else [format_quantity(pressure, "pressure", unit=gauge)]
    if speed is not None:
        said.append(f"{speed:.0f} rev/min")
    return f"{texts.LIMITS} {', '.join(said)}" if said else f"{texts.LIMITS}: {texts.NO_LIMITS}"


def _photo(history: History) -> str:
    """The newest photo."""
    rows = [row for row in history.counting if isinstance(row, SetCut | SetMove) and row.photo]
    if not rows:
        return ""
    words = escape(texts.PHOTO_OF.format(set=history.card.id, when=f"{rows[-1].at.astimezone():{MINUTE}}"))
    return (f'<figure class="photo"><img src="/photo/{escape(rows[-1].photo or "")}" alt="{words}">'
            f"<figcaption>{words}</figcaption></figure>")  # fmt: skip


def _history(history: History) -> str:
    counting = {row.id for row in history.counting}
    rows = [
        (f"{row.at.astimezone():{MINUTE}}", _small_photo(row),
         words_of(row) + ("" if row.id in counting else texts.PUT_RIGHT), row.by)
        for row in reversed(history.rows)
    ]  # fmt: skip
    heads = (texts.HISTORY_HEADS[0], "", *texts.HISTORY_HEADS[1:])
    told = table(heads, rows, numeric=(0,)) if rows else paragraph(texts.NO_HISTORY)
    return heading(texts.HISTORY) + told


def _small_photo(row: Event) -> str:
    photo = getattr(row, "photo", None)
    if not photo:
        return ""
    words = escape(texts.PHOTO_OF.format(set=getattr(row, "jaw_set", ""), when=f"{row.at.astimezone():{MINUTE}}"))
    address = f"/photo/{escape(photo)}"
    return Safe(f'<a href="{address}" target="_blank" rel="noopener"><img class="small-photo" loading="lazy" '
                f'src="{address}?small=1" alt="{words}"></a>')  # fmt: skip


def words_of(row: Event) -> str:
    """One line of a set's history."""
    if isinstance(row, SetCut):
        where = " on ".join(filter(None, [row.chuck, row.machine]))
        size = f"Ø{format_both(row.diameter, 'length')} {measured_words(row.diameter_error)}"
        cut = f"{row.kind} {size}, tooth {row.tooth or '?'}"
        return ", ".join(filter(None, [cut, where, steps_words(row.bore_steps), row.remark]))
    if isinstance(row, SetMove):
        missing = texts.JAW_MISSING.format(numbers=", ".join(str(n) for n in row.missing)) if row.missing else ""
        what = "photo" if row.photo else row.kind
        return ", ".join(filter(None, [what, row.holder, row.place, row.condition, missing, row.remark]))
    if isinstance(row, RunRecord):
        return f"run of {row.setup}: {row.quantity} good, {row.scrap} scrap"
    return f"indicator reading, {getattr(row, 'surface', '') or 'no surface said'}"
