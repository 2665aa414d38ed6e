"""The drawing of the plan page as its form: what is touched on it opens beside it, and is changed there."""

from __future__ import annotations

from copy import deepcopy
from pathlib import Path

from nicegui import ui
from nicegui.events import GenericEventArguments

from heldtrue.drawing.outline import draw_outline
from heldtrue.drawing.section_spots import HEIGHT, WIDTH
from heldtrue.planning.way_space import FROM_END_MM, GripPlace, candidate
from heldtrue.quantities import bare_unit, from_core
from heldtrue.web import texts
from heldtrue.web.answer import Answer
from heldtrue.web.desk import Desk, Live
from heldtrue.web.fields import Field, Table, bare, get
from heldtrue.web.frame import button, html, in_words, say
from heldtrue.web.plan.box import Box
from heldtrue.web.plan.drawn_fields import Outline, Place
from heldtrue.web.plan.form import Form, new_name
from heldtrue.web.plan.outline_view import length_of, typed_so_far
from heldtrue.web.render import SECTION_PICTURE, drawing_name, heading, picture, picture_source, save_button
from heldtrue.web.results import changes_to

LONG_ENOUGH_MM = 5.0
"""A surface shorter than this is gripped to its ends."""
KINDS = {"outside": "turn", "inside": "bore", "face": "face"}
"""The cut that makes a surface of that side."""


class DrawnSection(ui.element, component=Path(__file__).with_suffix(".js")):
    """The picture with its places. Event ``pick``: the key of a place, empty for none."""

    def __init__(self) -> None:
        super().__init__()
        self._props.update(picture="", name="", label=texts.DRAWING_LABEL, size=[WIDTH, HEIGHT], spots=[], picked="")


class DrawingPanel:
    """The drawing of one page, and the values of the place that was touched."""

    def __init__(self, desk: Desk, live: Live, form: Form) -> None:
        self.desk, self.live, self._form = desk, live, form
        self.key = ""
        self._boxes: list[Box] = []

    def build(self) -> None:
        """Put it on the page."""
        with ui.element("div").classes("block needs-server").mark("section") as self.sheet:
            self.typed = html("")
            with (
                ui.element("figure")
                .classes("picture drawn-section")
                .props(f'data-name="{drawing_name(SECTION_PICTURE)}"') as self.figure
            ):
                self.view = DrawnSection().mark("drawing")
                self.view.on("pick", self._picked)
                with ui.element("figcaption"):
                    html(_larger() + save_button(drawing_name(SECTION_PICTURE))).classes("drawn-buttons")
                html(f'<span class="hint">{texts.DRAWING_HELP}</span>').classes("drawn-help print-hide")
        self.figure.visible = self.typed.visible = False
        self.editor = ui.element("div").classes("drawn-editor").mark("drawn-editor").props('role="group"')
        self.editor.on("keydown.escape", self.close)
        self.editor.visible = False

    def show(self) -> None:
        """The section of the answer there is; while nothing can be planned the part as it is typed."""
        found = self.live.answer
        if found is None:
            return
        if not found.problems:
            if found.full:
                self._show_section(found)
            return
        typed = typed_so_far(self.live.draft)
        if typed.corners or typed.blank:
            self.figure.visible, self.typed.visible = False, True
            self.typed.content = picture(draw_outline(typed, self.live.draft.system), texts.OUTLINE)

    def _show_section(self, found: Answer) -> None:
        svg = dict(found.drawings).get(SECTION_PICTURE)
        self.typed.visible, self.figure.visible = False, svg is not None
        if svg is None:
            return
        outline = self._outline()
        spots = [
            {"key": one.key, "lines": one.lines, "area": one.is_area, "words": place.title}
            for one in found.spots
            if (place := outline.at(one.key)) is not None
        ]
        self.view._props.update(picture=picture_source(svg), name=drawing_name(SECTION_PICTURE), spots=spots)
        self.view.update()

    def refresh(self) -> None:
        """Follow the draft: another tab, or undo, may have changed what stands open here."""
        if not self.key:
            return
        place = self._outline().at(self.key)
        fields = [] if place is None else [one for group in place.groups for one in group.fields]
        if [one.path for one in fields] != [box.field.path for box in self._boxes]:
            self._open(self.key) if place is not None else self.close()
            return
        if place is not None:
            self._name(place)
        for box, field in zip(self._boxes, fields, strict=True):
            if box.field != field:
                box.rebind(field)
            box.show()

    def _outline(self) -> Outline:
        return Outline(self.live.draft, lambda path: length_of(self.live.draft, path))

    def _picked(self, event: GenericEventArguments) -> None:
        key = str(event.args or "")
        if not key:
            self.close()
            return
        self._open(key)
        if self._boxes:
            self._boxes[0].focus()

    def _open(self, key: str) -> None:
        place = self._outline().at(key)
        if place is None:
            self.close()
            return
        self.key, self._boxes = key, []
        self._mark(key)
        self.editor.clear()
        self.editor.classes(replace=f"drawn-editor {self._side(key)}")
        with self.editor:
            with ui.element("div").classes("drawn-head"):
                self._title = html(heading(place.title))
                button(texts.CLOSE, self.close).mark("drawn-close")
            self._offer(place)
            for group in place.groups:
                if group.words:
                    html(f"<h3>{group.words}</h3>")
                with ui.element("div").classes("grid"):
                    self._boxes += [self._box(field) for field in group.fields]
        self._name(place)
        self.editor.visible = True

    def _name(self, place: Place) -> None:
        """What it is called now: a dimension that is changed changes its name."""
        self._title.content = heading(place.title)
        self.editor.props(f'aria-label="{place.title}"')

    def _side(self, key: str) -> str:
        """The side of the drawing that leaves the place in sight."""
        found = self.live.answer.spots if self.live.answer is not None else ()
        across = [point[0] for one in found if one.key == key for line in one.lines for point in line]
        return "left" if across and sum(across) / len(across) > WIDTH / 2 else "right"

    def _box(self, field: Field) -> Box:
        return Box(self.desk, self.live, field, self._form.wrongs.at)

    def _mark(self, key: str) -> None:
        self.view._props["picked"] = key
        self.view.update()

    def close(self) -> None:
        """Put the values away; the cursor goes back to the drawing."""
        if not self.key:
            return
        self.key, self._boxes = "", []
        self.editor.visible = False
        self.editor.clear()
        self._mark("")
        self.view.run_method("back")

    def _offer(self, place: Place) -> None:
        """What else can be done there: grip it, turn it."""
        with ui.element("div").classes("buttons"):
            if place.grip is not None:
                button(texts.GRIP_HERE, lambda: self._grip(place)).mark("grip-here")
            if place.turn is not None:
                button(texts.TURN_HERE, lambda: self._turn(place)).mark("turn-here")

    @in_words
    async def _grip(self, place: Place) -> None:
        """Move the grip here, as another way to hold would: what was known of the other surface and its bore goes."""
        assert place.grip is not None
        setup = self.live.draft.setup()
        count = setup.jaws.count or setup.chuck.jaws
        low, high = place.grip.z
        end = FROM_END_MM if high - low > LONG_ENOUGH_MM else 0.0
        there = GripPlace(place.grip.side, place.grip.diameter, (low + end, high - end))
        changes = candidate(setup, count, there, setup.jaws.style, count).changes
        values = dict(changes_to(setup.with_(changes), setup))
        words = texts.GRIPPED_HERE.format(what=place.title)
        await self.desk.change(self.live, values, words)
        say(words)

    @in_words
    async def _turn(self, place: Place) -> None:
        """A surface here, and a cut that makes it: as the last cut, which the setter corrects."""
        assert place.turn is not None
        table = self.live.draft.table
        surfaces, cuts = deepcopy(_rows(table, "surface")), deepcopy(_rows(table, "cut"))
        side = str(place.turn["side"])
        name = new_name("surface", surfaces)
        made = {key: self._typed(value) for key, value in place.turn.items()}
        cut = {key: value for key, value in (cuts[-1] if cuts else {}).items() if key in ("depth", "feed", "speed")}
        cut |= {"name": new_name("cut", cuts), "kind": KINDS[side], "surface": name}
        words = texts.TURNED_HERE.format(what=place.title)
        values = {"surface": [*surfaces, {"name": name, **made}], "cut": [*cuts, cut]}
        await self.desk.change(self.live, values, words)
        say(words)

    def _typed(self, value: object) -> object:
        """A length or lengths [mm] as they stand in the file; what is no length as it is."""
        if isinstance(value, tuple):
            return [self._typed(one) for one in value]
        if not isinstance(value, float):
            return value
        unit = bare_unit("length", self.live.draft.system)
        return round(from_core(value, "length", unit), 6)


def _rows(table: Table, path: str) -> list[dict[str, object]]:
    return [one for one in bare(get(table, path)) or () if isinstance(one, dict)]


def _larger() -> str:
    """The button that shows the drawing over the whole screen (``pictures.js``)."""
    label = texts.ENLARGE.format(name=drawing_name(SECTION_PICTURE))
    return (f'<button type="button" class="enlarge save print-hide" data-close="{texts.CLOSE}" aria-label="{label}">'
            f"{texts.LARGER}</button>")  # fmt: skip
