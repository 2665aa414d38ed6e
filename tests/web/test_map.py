"""The map of pressure and speed: what it says is the plan's own map, and what is dragged is what is planned."""

import numpy as np
import pytest
from conftest import longer, planned

from heldtrue.drawing.window import BOTTOM, LEFT, RIGHT, TOP, map_frame
from heldtrue.planning.plan import plan
from heldtrue.quantities import from_core, to_core
from heldtrue.web import texts
from heldtrue.web.plan.map_data import AMPLE, SPEED_STEP, map_look
from web.in_process import taken_in
from web.test_pages import only, opened, settled, shown


@pytest.fixture(scope="module")
def made():
    return planned("winch-shaft")


def test_a_look_agrees_with_the_map_of_the_plan(made):
    look, window = map_look(made), made.window
    seen = set()
    for row in range(3, len(window.pressure), 12):
        for column in range(3, len(window.speed_rpm), 12):
            spot = look._spot(float(window.pressure[row]), float(window.speed_rpm[column]), (True, True))
            assert spot.holds == pytest.approx(np.clip(window.holds[row, column], -AMPLE, AMPLE), abs=1e-6)
            assert spot.true == pytest.approx(np.clip(window.true[row, column], -AMPLE, AMPLE), abs=1e-6)
            good = window.holds[row, column] >= 0, window.true[row, column] >= 0
            assert spot.state == {(True, True): "passes", (False, True): "holds", (True, False): "true",
                                  (False, False): "both"}[good]  # fmt: skip
            seen.add(spot.state)
    assert {"passes", "holds", "true"} <= seen


def test_a_look_takes_no_time(made):
    from time import thread_time

    look = map_look(made)
    took = []
    for pressure in np.linspace(0, look.top_pressure, 40):
        began = thread_time()  # other work on this machine is not ours
        look.words(look.at(float(pressure), 500.0))
        took.append(thread_time() - began)
    assert min(took) < 0.002


@pytest.mark.parametrize("name", ["winch-shaft", *longer("pump-sleeve-inch")])
def test_a_dragged_place_is_a_round_number_of_the_gauge(name):
    look = map_look(planned(name))
    spot = look.at(look.pressure * 1.1234, look.speed * 0.871)
    gauge = from_core(spot.pressure, "pressure", look.unit)
    mark = {"bar": 0.1, "psi": 1.0}[look.unit]
    assert gauge / mark == pytest.approx(round(gauge / mark), abs=1e-9)
    assert spot.speed / SPEED_STEP == round(spot.speed / SPEED_STEP)
    assert spot.moved == (True, True)
    texts_ = look.texts(spot)
    number, unit = texts_["run.pressure"].split()
    assert to_core(float(number), "pressure", unit) == pytest.approx(spot.pressure, rel=1e-12)
    assert texts_["run.speed"] == f"{spot.speed:.0f} rev/min"
    assert look.words(spot)[0].split(" = ")[0].startswith(number), "shown is what is set"


def test_what_was_not_moved_is_not_set(made):
    look = map_look(made)
    assert look.texts(look.at(look.pressure, look.speed)) == {}
    up = look.at(look.pressure + 3 * look.pressure_step, look.speed)
    assert list(look.texts(up)) == ["run.pressure"]
    assert up.speed == look.speed


def test_no_place_beyond_the_axes_can_be_set(made):
    look = map_look(made)
    spot = look.at(99.0, 99_999.0)
    assert spot.pressure <= look.top_pressure + look.pressure_step
    assert spot.speed <= look.top_speed + SPEED_STEP
    assert look.at(-1.0, -5.0).pressure == 0.0


def test_two_pressures_are_said_and_not_taken_for_one(wear_ring):
    look = map_look(planned("wear-ring"))
    assert [name for name, _ in look.steps] == ["rough", "finish"]
    assert map_look(plan(wear_ring.with_(pressure=1.0), helped=False)).steps == ()


def test_where_the_job_is_too_fast_the_plan_stands_where_it_was_checked():
    made = planned("valve-stem")
    look = map_look(made)
    assert made.speed.limit < 999.0, "else this says nothing"
    assert look.speed == pytest.approx(1000.0, rel=1e-9)
    assert look.speed == made.check("speed").value
    assert look.start.state == "holds"
    assert [one.recommended is None for one in made.pressure.steps] == [True, False]
    assert look.steps == (), "one pressure of two is no answer"


def test_the_frame_lies_where_the_drawing_has_its_axes():
    left, top, width, height = map_frame()
    assert (110 * left, 85 * top) == pytest.approx((LEFT, TOP))
    assert 110 * (left + width) == pytest.approx(110 - RIGHT)
    assert 85 * (top + height) == pytest.approx(85 - BOTTOM)


def fire(user, name, x, y):
    ring = only(user, "map")
    for listener in ring._event_listeners.values():
        if listener.type == name:
            ring._handle_event({"listener_id": listener.id, "args": {"x": x, "y": y, "count": 1}})


def test_a_drag_sets_what_it_showed_and_undo_takes_it_back(visit):
    async def steps(user, desk):
        live = await opened(user, desk, "winch-shaft")
        advised = live.answer.map
        assert advised.stated == (False, False)
        x, y = 0.31, 0.42
        spot = advised.at(y * advised.top_pressure, x * advised.top_speed)
        fire(user, "look", x, y)
        pressure, speed = advised.words(spot)
        assert pressure in shown(user, "map-said")
        assert speed in shown(user, "map-said")
        assert texts.MAP_STATES[spot.state] in shown(user, "map-said")
        assert live.draft.table.get("run") is None, "a look sets nothing"
        fire(user, "drop", x, y)
        await taken_in()
        answer = await settled(desk, "winch-shaft")
        assert {f"run.{name}": value for name, value in live.draft.table["run"].items()} == advised.texts(spot)
        assert " = ".join(answer.stated) == pressure
        assert answer.map.speed == spot.speed, "also where the jaws do not allow it: every check is made there"
        assert answer.map.pressure == pytest.approx(spot.pressure, rel=1e-9)
        assert answer.map.at(answer.map.pressure, answer.map.speed).state == spot.state
        user.find(marker="undo").click()
        await taken_in()
        answer = await settled(desk, "winch-shaft")
        assert answer.stated is None
        assert answer.map.pressure == advised.pressure

    visit(steps)


@pytest.mark.long
def test_back_to_the_advised_clears_both(visit):
    async def steps(user, desk):
        live = await opened(user, desk, "winch-shaft")
        assert not only(user, "map-back").enabled
        fire(user, "drop", 0.2, 0.3)
        await taken_in()
        answer = await settled(desk, "winch-shaft")
        assert answer.map.stated == (True, True)
        user.find(marker="map-back").click()
        await taken_in()
        answer = await settled(desk, "winch-shaft")
        assert answer.map.stated == (False, False)
        assert "pressure" not in live.draft.table.get("run", {})

    visit(steps)
