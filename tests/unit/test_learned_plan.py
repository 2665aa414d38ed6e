"""What accepted readings have taught reaches later plans."""

from datetime import UTC, datetime

import pytest
from conftest import example, planned

from heldtrue.errors import InputError
from heldtrue.inspection.learning import Accepted
from heldtrue.inspection.taper import Bearing
from heldtrue.planning.inputs import prepare
from heldtrue.planning.plan import plan
from heldtrue.records import ChuckRecord, open_store
from heldtrue.shop.accepting import accept_bearing
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.from_records import with_records
from heldtrue.shop.gate import start
from heldtrue.shop.learned import accept, learned_base, with_learned_base
from heldtrue.tooling.jaws import BASE

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)


def test_a_stated_base_is_what_the_jaws_stand_on():
    setup = example("winch-shaft").with_({"jaws.base_tilt": 2e8})
    assert prepare(setup).jaw_kind.base.tilt == 2e8
    assert prepare(example("winch-shaft")).jaw_kind.base.tilt == BASE.tilt
    assert "jaw base" not in {one.name for one in plan(setup, helped=False).assumed}
    assert "jaw base" in {one.name for one in planned("winch-shaft").assumed}


def test_a_softer_base_opens_the_jaws_more():
    soft = plan(example("winch-shaft").with_({"jaws.base_tilt": 4e8}), helped=False)
    stiff = plan(example("winch-shaft").with_({"jaws.base_tilt": 4e10}), helped=False)
    assert soft.prints[0].peak > stiff.prints[0].peak


@pytest.fixture
def shop(tmp_path):
    with open_store(tmp_path / "records") as store:
        enter_setup(store, example("winch-shaft"), "Noor", id="w")
        yield store


def read(store, *values, chuck="CH-02", day=2, relative=0.3):
    """Readings of the base of a chuck, one a day."""
    for number, value in enumerate(values):
        card = store.get(ChuckRecord, chuck)
        reading = Accepted(value, relative, "feeler")
        accept(store, card, "jaw base", reading, "Noor", NOW.replace(day=day + number), style="standard")


def base_of(setup, store):
    return prepare(with_learned_base(setup, store)[0]).known["jaw base"]


def test_two_readings_that_agree_are_measured_in_the_next_plan(shop):
    setup = example("winch-shaft")
    assert with_learned_base(setup, shop) == (setup, ())
    for day, gap in ((2, 0.03), (9, 0.04)):
        at = NOW.replace(day=day)
        accept_bearing(shop, shop.get(ChuckRecord, "CH-02"), setup, Bearing("base", gap=gap), "Noor", at, pressure=2.5)
    known = learned_base(shop, shop.get(ChuckRecord, "CH-02"), "standard").learned
    taught, words = with_learned_base(setup, shop)
    assert all(one in with_records(setup, shop, NOW)[1] for one in words)
    started = start(shop, setup, "w", 2.5, typed="25 bar", by="Noor", now=NOW)
    assert taught.jaws.base_tilt == pytest.approx(known.median, rel=1e-4)
    assert taught.source("jaws.base_tilt_range") == "measured"
    found = prepare(taught).known["jaw base"]
    assert (found.low, found.high) == pytest.approx((known.low, known.high), rel=0.3)
    assert "measured (2 readings)" in words[0]
    assert all(one in started.from_log for one in words), "a start rests on what the plan rests on"
    stated = setup.with_({"jaws.base_tilt": 5e9})
    assert with_learned_base(stated, shop) == (stated, ())


@pytest.mark.parametrize("values", [
    (BASE.tilt * 90,), (BASE.tilt / 90,), (BASE.tilt * 6, BASE.tilt * 6), (BASE.tilt / 20, BASE.tilt * 20),
])  # fmt: skip
def test_a_bad_reading_makes_no_plan_better(shop, values):
    """Alone, entered twice on one day, or against another: all that was assumed stays in the range."""
    setup = example("winch-shaft")
    before = base_of(setup, shop)
    for value in values:
        read(shop, value)
    after = base_of(setup, shop)
    assert after.low <= before.low
    assert after.high >= before.high
    assert after.likely == pytest.approx(before.likely)
    assert "only makes plans more careful" in with_learned_base(setup, shop)[1][0]


def test_a_bad_reading_among_good_ones_stretches_the_range(shop):
    setup = example("winch-shaft")
    read(shop, 1e9, 1.1e9, 0.95e9)
    good = base_of(setup, shop)
    assert good.high / good.low < 6
    read(shop, 4e10, day=20)
    bad = base_of(setup, shop)
    assert bad.low <= good.low * 1.05
    assert bad.high >= 3.9e10
    assert "set aside because it contradicts" in with_learned_base(setup, shop)[1][0]


def test_however_many_readings_agree_the_model_s_own_error_stays(shop):
    read(shop, *(1e9 + 1e6 * n for n in range(20)), relative=0.1)
    found = base_of(example("winch-shaft"), shop)
    assert found.high / found.likely >= 1.5
    assert found.likely / found.low >= 1.5


def test_a_chuck_nobody_read_leans_on_the_others_and_no_plan_of_it_is_narrower(shop):
    setup, before = example("winch-shaft"), base_of(example("winch-shaft"), shop)
    for number in range(3):
        shop.write(ChuckRecord(id=f"CH-1{number}", name="wedge"), by="Noor")
        read(shop, 8e8, 9e8, chuck=f"CH-1{number}")
    known = learned_base(shop, shop.get(ChuckRecord, "CH-02"), "standard").learned
    assert 9e8 < known.median < BASE.tilt
    assert 1 < (known.high / known.low) ** 0.5 < 8.0
    assert known.source == "assumed"
    assert base_of(setup, shop) == before
    assert learned_base(shop, shop.get(ChuckRecord, "CH-02"), "pie").learned.median == pytest.approx(BASE.tilt)


def test_readings_that_say_little_take_nothing_of_a_plan_over_from_other_chucks(shop):
    """Two vague readings of a chuck must not open the door for what eight others say."""
    read(shop, 0.6 * BASE.tilt, 0.7 * BASE.tilt, relative=1.5)
    alone = base_of(example("winch-shaft"), shop)
    for number in range(8):
        shop.write(ChuckRecord(id=f"CH-1{number}", name="wedge"), by="Noor")
        read(shop, *(2.0 * BASE.tilt + 1e6 * n for n in range(4)), chuck=f"CH-1{number}", relative=0.1)
    found = base_of(example("winch-shaft"), shop)
    assert (found.low, found.likely, found.high) == (alone.low, alone.likely, alone.high)


@pytest.mark.parametrize(("changes", "words"), [
    ({"jaws.base_tilt": 1e9, "jaws.base_tilt_range": [2e9, 3e9]}, "is missing or lies outside"),
    ({"jaws.base_tilt_range": [2e9, 3e9]}, "is missing or lies outside"),
    ({"jaws.base_tilt": 1e9, "jaws.base_tilt_range": [2e9, 1e9]}, "does not run from low to high"),
])  # fmt: skip
def test_a_range_of_the_base_that_cannot_be_is_refused(changes, words):
    with pytest.raises(InputError, match=words):
        example("winch-shaft").with_(changes)
