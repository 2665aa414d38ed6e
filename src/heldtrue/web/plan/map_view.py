"""The map of pressure and speed on the plan page, with the working point to drag."""

from __future__ import annotations

from html import escape
from pathlib import Path

from nicegui import ui
from nicegui.events import GenericEventArguments

from heldtrue.drawing.window import map_frame
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.web import texts
from heldtrue.web.desk import Desk, Live
from heldtrue.web.frame import button, html, in_words
from heldtrue.web.plan.map_data import AMPLE, SPEED_STEP, MapLook, Spot
from heldtrue.web.render import MAP_PICTURE, paragraph, picture_source, save_button, state


class MapRing(ui.element, component=Path(__file__).with_suffix(".js")):
    """The picture with the ring on it. Events: ``look`` while it is moved, ``drop``, ``giveup``."""

    def __init__(self) -> None:
        super().__init__()
        self._props.update(
            picture="", frame=list(map_frame()), start=[0.0, 0.0], steps=[0.0, 0.0], label=texts.MAP_LABEL, said=""
        )


class MapPanel:
    """The map of one page: what is dragged is what is planned."""

    def __init__(self, desk: Desk, live: Live) -> None:
        self.desk, self.live = desk, live
        self.look: MapLook | None = None

    def build(self) -> None:
        """Put it on the page."""
        self.place = ui.element("div").classes("block picture-block")
        with self.place, ui.element("div").classes("map-beside"):
            self.ring = MapRing().mark("map")
            self.ring.on("look", self._moved)
            self.ring.on("drop", self._dropped)
            self.ring.on("giveup", lambda: self.show())
            with ui.element("div"):
                html(f"<h3>{escape(texts.MAP)}</h3>")
                self.said = html("").props('aria-live="polite"').mark("map-said")
                self.steps = html("").mark("map-steps")
                with ui.element("div").classes("buttons"):
                    self.back = button(texts.MAP_BACK, self._advised).mark("map-back")
                    html(save_button(texts.DRAWINGS[MAP_PICTURE])).classes("save-line").style("width: auto")
                self.help = html("")
        self.place.visible = False

    def show(self) -> None:
        """The map of the answer there is; none while there is no plan."""
        found = self.live.answer
        look = None if found is None else found.map
        self.place.visible = look is not None
        if found is None or look is None:
            self.look = None
            return
        self.look = look
        start = look.start
        drawings = dict(found.drawings)
        if MAP_PICTURE in drawings:  # a quick look brings none: the one before stays, pale
            self.ring._props["picture"] = picture_source(drawings[MAP_PICTURE])
        self.ring._props.update(
            start=list(_share(look, start)),
            steps=[SPEED_STEP / look.top_speed, look.pressure_step / look.top_pressure],
            said=" ".join(look.words(start)),
        )  # fmt: skip
        self.ring.update()
        self._say(look, start)
        steps = ", ".join(f"{name} {pressure_text(value, look.unit)}" for name, value in look.steps)
        self.steps.content = paragraph(texts.MAP_STEPS.format(count=len(look.steps), steps=steps)) if steps else ""
        self.back.set_enabled(any(look.stated))
        self.help.content = paragraph(texts.MAP_HELP.format(
            pressure=pressure_text(look.pressure_step, look.unit), speed=f"{SPEED_STEP:.0f} rev/min",
        ))  # fmt: skip

    def _spot(self, event: GenericEventArguments) -> Spot | None:
        look = self.look
        if look is None:
            return None
        x, y = (min(max(float(event.args[one]), 0.0), 1.0) for one in ("x", "y"))
        return look.at(y * look.top_pressure, x * look.top_speed)

    def _moved(self, event: GenericEventArguments) -> None:
        spot, look = self._spot(event), self.look
        if spot is None or look is None:
            return
        self._say(look, spot)
        self.ring.run_method("place", *_share(look, spot), event.args["count"])

    @in_words
    async def _dropped(self, event: GenericEventArguments) -> None:
        self._moved(event)
        spot, look = self._spot(event), self.look
        if spot is None or look is None:
            return
        values = look.texts(spot)
        if not values:
            self.show()
            return
        try:
            await self.desk.change(self.live, dict(values), texts.MAP_SET.format(values=", ".join(values.values())))
        except Exception:
            self.show()  # it was not taken in: the ring goes back to what is planned
            raise

    @in_words
    async def _advised(self) -> None:
        await self.desk.change(self.live, {"run.pressure": None, "run.speed": None}, texts.MAP_BACK)

    def _say(self, look: MapLook, spot: Spot) -> None:
        pressure, speed = look.words(spot)
        if any(spot.moved):
            kind = "passes" if spot.state == "passes" else "not-proven" if spot.state == "off" else "fails"
            words = (texts.MAP_ONE if look.steps else "") + texts.MAP_STATES[spot.state]
            mark = f'<span class="state {kind}">{escape(f"{texts.MAP_MARKS[spot.state]} {words}")}</span>'
            spare = texts.MAP_SPARE.format(holds=_percent(spot.holds), true=_percent(spot.true))
            below = f"<p>{mark}</p>{paragraph(spare)}"
        else:  # where the plan stands the plan's own verdict counts, which is of all its steps and checks
            found = self.live.answer
            below = f"<p>{state(found.verdict) if found is not None else ''} {escape(texts.MAP_NOW)}</p>"
            pressure = "; ".join(f"{name} {pressure_text(value, look.unit)}" for name, value in look.steps) or pressure
        self.said.content = (
            f'<p class="map-spot"><span class="big">{escape(pressure)}</span> <span class="big">{escape(speed)}</span>'
            f"</p>{below}"
        )


def _share(look: MapLook, spot: Spot) -> tuple[float, float]:
    """Where a spot stands on the axes, from 0 to 1: speed, pressure."""
    return (min(max(spot.speed / look.top_speed, 0.0), 1.0), min(max(spot.pressure / look.top_pressure, 0.0), 1.0))


def _percent(margin: float) -> str:
    if abs(margin) > 0.99 * AMPLE:
        return "ample" if margin > 0 else "far from enough"
    return f"{margin:.0%}".replace("-", "−")
