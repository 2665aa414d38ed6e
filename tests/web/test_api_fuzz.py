"""The API under questions nobody thought of: never a fault of ours, one error shape, as it describes itself."""

import asyncio
import copy
import warnings
from functools import cache

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import positive_data_acceptance

from heldtrue.planning.setup import Setup
from heldtrue.planning.toml_file import read_toml
from heldtrue.records import ChuckRecord, JawSet, PartRecord
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.stock import chuck_cards
from heldtrue.web import worker
from heldtrue.web.api import Problem, make_api, work
from heldtrue.web.desk import Desk
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES, InProcess
from web.test_api import READS, WRITES

SETUP = open_example(EXAMPLES, "wear-ring")
SURE = settings(derandomize=True, database=None, deadline=None, phases=(Phase.explicit, Phase.generate),
                suppress_health_check=list(HealthCheck))  # fmt: skip


SOLVES = {
    **dict.fromkeys((work.plan_json, work.bore_json, work.compare_json, work.contact_json, work.recut_json,
                     work.move_json, work.taper_json, work.measure_json, work.assumptions_json, work.ways_json,
                     work.replan_json), "{}"),
    worker.enter_setup: 1,
}  # fmt: skip


class Quick(InProcess):
    """Reads every setup and solves none: what is solved has its own tests."""

    async def run(self, key, work, *arguments, **more):
        if work in SOLVES:
            self.asked.append((work.__name__, arguments))
            return SOLVES[work]
        return await super().run(key, work, *arguments, **more)


@pytest.fixture(scope="module")
def quick(tmp_path_factory):
    made = Desk(str(tmp_path_factory.mktemp("fuzz") / "records"), examples=EXAMPLES, pool=Quick())
    found = Setup.from_dict(SETUP)
    enter_setup(made.store, found, "Noor", id="wear-ring")
    made.store.write(JawSet(id="W-12", style="wide", material="steel"), by="Noor")
    made.store.write(ChuckRecord(id="C-1", gauge="psi"), PartRecord(id="P-1"), by="Noor")
    made.store.write(*chuck_cards(made.store, "CH-04", PLATE, machine=None, grease_days=None), by="Noor")
    yield made
    made.close()


@pytest.fixture(scope="module")
def described(quick):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return schemathesis.openapi.from_asgi("/openapi.json", make_api(quick))


NOTHING_ASKED = {"/chucks", "/setups", "/stock", "/materials", "/replan/standing"}


@pytest.mark.parametrize("mode", GenerationMode)
@pytest.mark.parametrize("path", sorted(READS | WRITES))
def test_as_it_describes_itself(described, path, mode):
    (way,) = described[path]
    if mode == GenerationMode.NEGATIVE and path in NOTHING_ASKED:
        pytest.skip("nothing is asked, so nothing can be asked wrongly")

    @given(case=described[path][way].as_strategy(generation_mode=mode))
    @settings(SURE, max_examples=3)
    def asked(case):
        answer = case.call()
        # A setup of the right shape may still be no setup: that is said in words, with 422.
        case.validate_response(answer, excluded_checks=[positive_data_acceptance])
        kept(answer.status_code, answer.json() if answer.content else None)

    asked()


def kept(status, body):
    """No fault of ours, and every error in its one shape."""
    assert status < 500, body
    if status >= 400:
        Problem.model_validate(body)
        assert set(body) == {"error"}
        assert body["error"]["problems"]
        assert all(body["error"]["problems"])


@cache
def the_api(desk):
    """Made once: forty operations take longer to describe than a question takes to answer."""
    return make_api(desk)


def ask(desk, path, body, way="POST", **more):
    async def once():
        transport = httpx.ASGITransport(the_api(desk), raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
            return await client.request(way, path, json=body, **more)

    return asyncio.run(once())


def places(value, path=()):
    """Every place in a nested value."""
    yield path
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, one in inner:
        yield from places(one, (*path, key))


ODD = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False, allow_infinity=False), st.text(max_size=12),
    st.sampled_from([-1, 0, 1e-300, 1e300, 10**400, "1e999 mm", "-5 bar", "nan", "inf mm", "5/0 in", "1,2,3", "\x00",
                     "9" * 300, "18 bar 3", [], {}, [[]], [0, 0], ["a", "b"], [1, 2, 3], {"value": 1}, {"from": "x"},
                     {"value": "1 mm", "from": "measured"}, {"value": None}]),
    st.lists(st.floats(allow_nan=False, allow_infinity=False), max_size=4),
    st.dictionaries(st.text(max_size=5), st.integers(), max_size=2),
)  # fmt: skip
PLACES = sorted((one for one in places(SETUP) if one), key=str)


def changed(place, value):
    made = copy.deepcopy(SETUP)
    inner = made
    for step in place[:-1]:
        inner = inner[step]
    inner[place[-1]] = value
    return made


@given(place=st.sampled_from(PLACES), value=ODD, way=st.sampled_from(["/plan", "/bore"]))
@settings(SURE, max_examples=60)
def test_a_setup_with_one_odd_value_is_read_or_refused_in_words(quick, place, value, way):
    answer = ask(quick, way, changed(place, value))
    kept(answer.status_code, answer.json())


FACTORS = given(place=st.sampled_from(PLACES), factor=st.sampled_from([0, -1, 1e-6, 0.5, 2, 1e3]))


@FACTORS
@settings(SURE, max_examples=5)
def test_a_setup_that_is_read_is_planned_or_refused_in_words(desk, place, factor):
    with_factor(desk, place, factor)


@pytest.mark.long
@FACTORS
@settings(SURE, max_examples=25)
def test_many_a_setup_that_is_read_is_planned_or_refused_in_words(desk, place, factor):
    with_factor(desk, place, factor)


def with_factor(desk, place, factor):
    inner = SETUP
    for step in place:
        inner = inner[step]
    value = inner * factor if isinstance(inner, int | float) and not isinstance(inner, bool) else inner
    for way in ("/plan", "/bore"):
        answer = ask(desk, way, changed(place, value))
        kept(answer.status_code, answer.json())


@given(gauge=st.one_of(st.text(max_size=20), st.sampled_from(["18 bar", "0 bar", "-3", "1e400 bar", "260 psi"])),
       by=st.text(max_size=5), step=st.one_of(st.none(), st.text(max_size=4)), override=st.text(max_size=12),
       id=st.text(min_size=1, max_size=5))  # fmt: skip
@settings(SURE, max_examples=10)
def test_a_start_with_odd_words_is_decided_or_refused_in_words(desk, gauge, by, step, override, id):
    body = {"setup": SETUP, "id": id, "gauge": gauge, "by": by, "step": step, "override": override}
    answer = ask(desk, "/start", body)
    kept(answer.status_code, answer.json())


ROUND = "angle_deg,reading_um\n" + "\n".join(f"{60 * n},{n % 3}" for n in range(6))
PLATE = read_toml(EXAMPLES / "chucks" / "250-wedge.toml")
GAUGE_RING, RING_READINGS = (read_toml(EXAMPLES / "gauge-ring" / f"{name}.toml") for name in ("ring-250", "readings"))
BODIES = {
    "/contact": {"setup": SETUP, "pressure": "18 bar"},
    "/ways": {"setup": SETUP, "most": 2},
    "/recut": {"setup": SETUP, "measured": "Ø97.5", "runout": "0.03 mm"},
    "/move": {"setup": SETUP, "chuck": read_toml(EXAMPLES / "chucks" / "250-wedge.toml"), "machine": "L",
              "max_speed": 9},
    "/indicator": {"typed": "1 2 3 4 5 6", "unit": "um", "side": "inside", "grip": "inside", "jaws": 3,
                   "resolution": "0.001 mm", "tolerance": "0.02 mm", "units": "metric"},
    "/taper": {"setup": SETUP, "touch": "base", "gap": "0.1 mm", "length": "8 mm", "taper": "0.01 mm",
               "pressure": "18 bar"},
    "/drift": {"measurements": "size_mm\n1\n2\n3", "limits": [{"name": "size", "low": "0.5", "high": "4"}],
               "units": "metric"},
    "/learn": {"id": "wear-ring", "setup": SETUP, "force": "60 kN", "pressure": "18 bar", "readings": ROUND,
               "surface": "seal land", "remark": "", "by": "N", "units": "inch"},
    "/runs/add": {"id": "wear-ring", "pressure": "18", "finish_pressure": "9 bar", "speed": 1200, "quantity": 4,
                  "scrap": 1, "lot": "L", "readings": {"runout_mm": 0.01}, "remark": "", "by": "N"},
    "/setups/enter": {"id": "wear-ring", "setup": SETUP, "why": "", "by": "N"},
    "/shelf/find": {"setup": SETUP, "any_style": True, "any_material": False},
    "/shelf/add": {"jaw_set": "W-1", "style": "wide", "material": "C45", "serration": "", "jaws": 3, "place": "r",
                   "remark": "", "by": "N"},
    "/shelf/out": {"jaw_set": "W-12", "holder": "I", "remark": "", "by": "N"},
    "/shelf/in": {"jaw_set": "W-12", "place": "r", "missing": [1], "remark": "", "by": "N"},
    "/shelf/condition": {"jaw_set": "W-12", "state": "good", "remark": "", "by": "N"},
    "/chucks/add": {"chuck": "C-2", "plate": read_toml(EXAMPLES / "chucks" / "250-wedge.toml"), "machine": "L-3",
                    "grease_days": 7, "by": "N"},
    "/chucks/gauge": {"chuck": "C-1", "pressure": "300", "force": "60 kN", "device": "", "remark": "", "by": "N"},
    "/chucks/grease": {"chuck": "C-1", "what": "paste", "by": "N"},
    "/stock/machine": {"id": "L-3", "max_speed": 4000, "max_swing": "350 mm", "by": "N"},
    "/stock/blank": {"id": "B", "jaws": read_toml(EXAMPLES / "jaws" / "wide-250-steel.toml"), "in_stock": 4,
                     "place": "", "by": "N"},
    "/stock/rings": {"rings": read_toml(EXAMPLES / "rings" / "shop.toml")["ring"], "units": "metric", "place": "",
                     "by": "N"},
    "/stock/tool": {"tool": read_toml(EXAMPLES / "tools" / "boring-bar-16.toml"), "place": "", "by": "N"},
    "/ring/design": {"chuck": PLATE, "side": "inside", "diameter": "Ø120", "widest": "30 mm", "most_pressure": "10",
                     "number": "G", "units": "metric"},
    "/ring/read": {"chuck": PLATE, "ring": GAUGE_RING, "readings": RING_READINGS},
    "/ring/enter": {"chuck": "CH-04", "ring": GAUGE_RING, "readings": RING_READINGS, "by": "N"},
    "/friction/read": {"setup": SETUP, "pressure": "6 bar", "torque": ["60 N m", "65 N m", "58 N m"], "pull": None,
                       "dry": False, "error": 3.0},
    "/friction/enter": {"id": "wear-ring", "setup": SETUP, "pressure": "6 bar", "pull": ["900 N", "950 N", "1 kN"],
                        "torque": None, "dry": True, "error": 3.0, "by": "N"},
    "/stock/revision": {"part": "P-1", "revision": "B", "changes": "", "by": "N"},
}  # fmt: skip


@pytest.mark.parametrize("path", BODIES)
def test_a_body_with_one_odd_value_is_taken_or_refused_in_words(quick, path):
    body = BODIES[path]
    all_places = sorted((one for one in places(body) if one and one[0] != "setup"), key=str)

    @given(place=st.sampled_from(all_places), value=ODD)
    @settings(SURE, max_examples=10)
    def odd(place, value):
        made = copy.deepcopy(body)
        inner = made
        for step in place[:-1]:
            inner = inner[step]
        inner[place[-1]] = value
        answer = ask(quick, path, made)
        kept(answer.status_code, answer.json())

    kept(ask(quick, path, body).status_code, ask(quick, path, body).json())
    odd()


@given(what=st.one_of(st.text(min_size=1, max_size=30), st.sampled_from(
    ["about 82", "99999999 years ago", "0001-01-01", "2026-13-45", "last winter", "9999", "about 1e999", "machine \x00",
     "january 0000", "from 0 to 0", "summer of 9999"])), southern=st.booleans())  # fmt: skip
@settings(SURE, max_examples=60)
def test_whatever_somebody_remembers_is_searched_or_refused_in_words(quick, what, southern):
    answer = ask(quick, "/shelf/search", None, "GET", params={"what": what, "southern": southern})
    kept(answer.status_code, answer.json())
