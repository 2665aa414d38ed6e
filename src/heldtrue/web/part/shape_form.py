"""The dimensions of a shape, typed beside its picture, which names them."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import cache, partial
from html import escape

from nicegui import ui

from heldtrue.drawing.seated_part import SeatedPart, draw_seated
from heldtrue.drawing.shape_drawing import draw_shape
from heldtrue.errors import HeldtrueError, InputError
from heldtrue.part_file.outline import Outline
from heldtrue.part_file.shapes import SHAPES, Dimension, Given, outline_of_shape
from heldtrue.quantities import UnitSystem, bare_unit, parse_quantity
from heldtrue.web.boxes import NumberBox, TextBox
from heldtrue.web.frame import button, html, press
from heldtrue.web.part import words
from heldtrue.web.part.arrivals import Arrival
from heldtrue.web.render import bullets, heading, picture_source
from heldtrue.web.trouble import problems_of

MOST_STEPS = 40
"""Lengths of one list; more is no usual shape."""


@cache
def example_picture(name: str) -> str:
    """The shape in usual dimensions, all of them named."""
    return draw_shape(name)


@cache
def shape_icon(name: str) -> str:
    """The shape alone, small."""
    kind = SHAPES[name]
    return draw_seated(SeatedPart(outline_of_shape(name, kind.example)), name, width=70.0, height=60.0, words=False)


class ShapeForm:
    """The boxes of one shape; ``changed``: told of the outline, None while there is none."""

    def __init__(self, arrival: Arrival, changed: Callable[[Outline | None], Awaitable[None]]) -> None:
        self.arrival, self.changed = arrival, changed
        self.kind = SHAPES[arrival.shape]

    def build(self) -> None:
        """Put it on the page."""
        with ui.element("div").classes("shape-form"):
            self.picture = html("").classes("shape-picture").mark("shape-picture")
            with ui.element("section"):
                html(heading(words.DIMENSIONS.format(what=self.kind.what)))
                with ui.element("div").classes("row-line"):
                    self.units = {
                        system: button(said, partial(self._choose_units, system)).mark(f"units-{system}")
                        for system, said in words.UNITS.items()
                    }
                self.place = ui.element("div").classes("block")
                self.problems = html("").mark("shape-problems").props('aria-live="polite"')
        self._boxes()

    async def _choose_units(self, system: UnitSystem) -> None:
        self.arrival.chosen = self.arrival.chosen.in_units(system)
        self._boxes()
        await self.look()

    def _boxes(self) -> None:
        system = self.arrival.chosen.system
        for units, made in self.units.items():
            press(made, units == system)
        self.boxes: dict[str, TextBox] = {}
        self.place.clear()
        with self.place, ui.element("div").classes("grid"):
            for one in self.kind.dimensions:
                box = self._box(one, system)
                box.box.on_value_change(partial(self._typed, one.key))
                self.boxes[one.key] = box

    def _box(self, one: Dimension, system: UnitSystem) -> TextBox:
        said, typed = one.key.replace("_", " ").capitalize(), self.arrival.typed.get(one.key, "")
        hint = one.what if one.needed else f"{words.OPTIONAL}: {one.what}"
        if one.several:
            box = TextBox(said, f"shape-{one.key}", value=typed, hint=f"{one.what}; {words.SEVERAL}")
            box.box._props["suffix"] = bare_unit("length", system)
            return box
        return NumberBox(said, f"shape-{one.key}", "length", system, value=typed, hint=hint)

    async def _typed(self, key: str) -> None:
        self.arrival.typed[key] = self.boxes[key].text()
        await self.look()

    async def look(self) -> None:
        """Draw what is typed, and hand it on where it is a part."""
        name, system = self.arrival.shape, self.arrival.chosen.system
        try:
            given = self._given()
            outline = outline_of_shape(name, given)
        except HeldtrueError as error:
            any_typed = any(box.text() for box in self.boxes.values())
            self.picture.content = _figure(example_picture(name), words.EXAMPLE_SIZES)
            self.problems.content = bullets(problems_of(error)) if any_typed else ""
            await self.changed(None)
            return
        self.picture.content = _figure(draw_shape(name, given, system), words.SHAPE_OF)
        self.problems.content = ""
        await self.changed(outline)

    def _given(self) -> Given:
        """The dimensions that are typed [mm]. Raises: ``InputError``."""
        found: dict[str, float | tuple[float, ...]] = {}
        for one in self.kind.dimensions:
            box = self.boxes[one.key]
            if isinstance(box, NumberBox):
                if (value := box.value()) is not None:
                    found[one.key] = value
            elif box.text():
                found[one.key] = self._several(box)
        return found

    def _several(self, box: TextBox) -> tuple[float, ...]:
        typed = [one.strip() for one in box.text().split(";") if one.strip()]
        if len(typed) > MOST_STEPS:
            raise InputError(words.TOO_MANY.format(what=box.words, most=MOST_STEPS))
        try:
            return tuple(float(parse_quantity(one, "length", self.arrival.chosen.system)) for one in typed)
        except InputError as error:
            raise InputError(f"{box.words}: {error}") from error


def _figure(svg: str, said: str) -> str:
    return (f'<figure class="picture"><figcaption>{escape(said)}</figcaption>'
            f'<img alt="{escape(said)}" src="{picture_source(svg)}"></figure>')  # fmt: skip
