"""The API under questions nobody thought of: never a fault of ours, one error shape, as it describes itself."""

import asyncio
import copy
import warnings

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import positive_data_acceptance

from heldtrue.web import worker
from heldtrue.web.api import Problem, make_api
from heldtrue.web.desk import Desk
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES, InProcess

SETUP = open_example(EXAMPLES, "wear-ring")
SURE = settings(derandomize=True, database=None, deadline=None, phases=(Phase.explicit, Phase.generate),
                suppress_health_check=list(HealthCheck))  # fmt: skip


class Quick(InProcess):
    """Reads every setup and solves none: what is solved has its own tests."""

    async def run(self, key, work, *arguments, **more):
        if work in (worker.plan_json, worker.bore_json):
            self.asked.append((work.__name__, arguments))
            return "{}"
        return await super().run(key, work, *arguments, **more)


@pytest.fixture(scope="module")
def quick(tmp_path_factory):
    made = Desk(str(tmp_path_factory.mktemp("fuzz") / "records"), examples=EXAMPLES, pool=Quick())
    yield made
    made.close()


@pytest.fixture(scope="module")
def described(quick):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return schemathesis.openapi.from_asgi("/openapi.json", make_api(quick))


@pytest.mark.parametrize("mode", GenerationMode)
@pytest.mark.parametrize("path", ["/plan", "/bore", "/start"])
def test_as_it_describes_itself(described, path, mode):
    @given(case=described[path]["POST"].as_strategy(generation_mode=mode))
    @settings(SURE, max_examples=40)
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


def ask(desk, path, body):
    async def once():
        transport = httpx.ASGITransport(make_api(desk), raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
            return await client.post(path, json=body)

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
@settings(SURE, max_examples=400)
def test_a_setup_with_one_odd_value_is_read_or_refused_in_words(quick, place, value, way):
    answer = ask(quick, way, changed(place, value))
    kept(answer.status_code, answer.json())


@given(place=st.sampled_from(PLACES), factor=st.sampled_from([0, -1, 1e-6, 0.5, 2, 1e3]))
@settings(SURE, max_examples=12)
def test_a_setup_that_is_read_is_planned_or_refused_in_words(desk, place, factor):
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
