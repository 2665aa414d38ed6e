"""Design a gauge ring for a chuck: what is asked for, the drawing, and its files."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from nicegui import ui

from heldtrue.inspection.ring_design import Asked
from heldtrue.quantities import format_both, format_quantity
from heldtrue.shop.gauge_rings import WIDE_SHARE, ring_for
from heldtrue.web import texts
from heldtrue.web.boxes import NumberBox, TextBox
from heldtrue.web.busy import Busy
from heldtrue.web.desk import checked
from heldtrue.web.frame import button, html, in_words, say
from heldtrue.web.measuring import words, work
from heldtrue.web.measuring.answer import made_html
from heldtrue.web.measuring.bench_page import answers
from heldtrue.web.measuring.here import Here
from heldtrue.web.measuring.work import Made
from heldtrue.web.render import paragraph

FILES = (
    ("gauge-ring.pdf", words.SAVE_PDF), ("gauge-ring.dxf", words.SAVE_DXF), ("gauge-ring.toml", words.SAVE_RING),
    ("readings.toml", words.SAVE_FORM),
)  # fmt: skip
WIDEST = Asked("outside", 3, 100.0, 1.0).widest


class MakeTab:
    """One tab of one browser; ``taken``: called when the ring was set to be read with."""

    def __init__(self, here: Here, taken: Callable[[], object]) -> None:
        self.here, self.taken = here, taken
        self.made: Made | None = None

    def build(self) -> None:
        """Put it on the page."""
        here = self.here
        body, plate = here.chuck.body_diameter, here.chuck.plate_pressure
        wide = words.NO_BODY if body is None else words.FROM_BODY.format(
            size=format_both(round(WIDE_SHARE * body), "length", here.system))  # fmt: skip
        html(paragraph(words.MAKE_WORDS))
        with ui.element("div").classes("grid"):
            self.side = ui.select(texts.GRIP_SIDES, label=words.SIDE, value="outside").mark("ring-side")
            self.side.props('outlined stack-label behavior="menu"')
            self.diameter = NumberBox(words.DIAMETER, "ring-diameter", "diameter", here.system, hint=wide)
            usual = words.USUAL_WIDTH.format(size=format_both(WIDEST, "length", here.system))
            self.widest = NumberBox(words.WIDEST, "ring-widest", "length", here.system, hint=usual)
            self.most = NumberBox(
                words.MOST, "ring-most", "pressure", here.system, unit=here.unit,
                hint=words.FROM_PLATE if plate is None else f"{words.FROM_PLATE}, "
                f"{format_quantity(plate, 'pressure', unit=here.unit)}",
            )  # fmt: skip
            self.number = TextBox(words.NUMBER, "ring-number", value="GR-01", most=40)
        for box in (self.side, self.diameter.box, self.widest.box, self.most.box, self.number.box):
            box.on_value_change(self._forget)
        with ui.element("div").classes("row-line"):
            button(words.DESIGN, self.design, main=True).mark("design-ring")
            self.busy = Busy("ring-busy")
        with answers():
            self.answer = html("").mark("ring-design")
            with ui.element("div").classes("row-line") as self.files:
                for name, said in FILES:
                    button(said, partial(self.save, name)).mark(f"save-{name}")
                button(words.USE_RING, self.use, main=True).mark("use-ring")
        self.files.visible = False

    def _forget(self) -> None:
        """What stands there was made for something else."""
        self.made = None
        self.answer.content = ""
        self.files.visible = False

    @in_words
    async def design(self) -> None:
        """The ring that is asked for."""
        here = self.here
        self._forget()
        asked = ring_for(here.chuck, str(self.side.value), self.diameter.value(), self.widest.value(),
                         self.most.value(), self.number.text())  # fmt: skip
        question = self._typed()
        made = checked(await self.busy.over(
            here.desk.pool.run("", work.ring_made, asked, here.system, here.unit), words.DESIGNING
        ))  # fmt: skip
        if question != self._typed():
            return
        self.made = made
        self.answer.content = made_html(made, here.system, here.unit)
        self.files.visible = True

    def _typed(self) -> tuple[str, ...]:
        boxes = (self.diameter, self.widest, self.most, self.number)
        return (str(self.side.value), *(box.text() for box in boxes))

    def save(self, name: str) -> None:
        """One of its files."""
        if self.made is not None:
            ui.download(self.made.files[name], name)

    @in_words
    async def use(self) -> None:
        """Put the ring where readings are typed."""
        if self.made is None:
            return
        text = self.made.files["gauge-ring.toml"].decode()
        await self.here.desk.type_reading(self.here.bench, {"ring": text}, words.RING)
        say(words.RING_TAKEN)
        self.taken()
