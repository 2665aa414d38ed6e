"""Cutting force and centring that the shop's own readings have taught: what plans and answers take of it."""

import json
import math
from dataclasses import replace
from datetime import UTC, datetime

import jsonschema
import numpy as np
import pytest
from conftest import ROOT, example
from test_readings_commands import flat, run
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.errors import InputError
from heldtrue.inspection import rank_causes, read_indicator, read_readings
from heldtrue.inspection.learning import Accepted
from heldtrue.inspection.power_reading import PowerRead, force_at_edge
from heldtrue.inspection.readings import trace
from heldtrue.inspection.shop_documents import learned_schema
from heldtrue.mechanics.cutting import cutting_force_range
from heldtrue.mechanics.materials import WORK_MATERIALS, work_material
from heldtrue.planning.inputs import prepare
from heldtrue.records import ChuckRecord, open_store
from heldtrue.shop.accepting import accept_traces, knowledge_of
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.from_records import with_records
from heldtrue.shop.learned import accept
from heldtrue.shop.learned_centring import centring_reading, known_centring
from heldtrue.shop.learned_force import CutRead, accept_force, force_reading, job_key, with_learned_force

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
TABLE = cutting_force_range(work_material("42CrMo4"))
SHAFT = ROOT / "examples" / "winch-shaft.toml"


@pytest.fixture
def shop(tmp_path):
    with open_store(tmp_path / "records") as store:
        enter_setup(store, example("winch-shaft"), "Noor", id="w")
        yield store


def power_of(force, diameter=60.0, speed=780.0, efficiency=0.85, idle=600.0):
    """Power of a spindle by the plain formula: force times speed over efficiency, and what it idles with. [W]"""
    return force * math.pi * diameter / 1000 * speed / 60 / efficiency + idle


def kienzle(kc11, depth=2.5, feed=0.3, lead=95.0, mc=0.26):
    """Tangential force by Kienzle, written here a second time: b h^(1 - mc) kc1.1. [N]"""
    sine = math.sin(math.radians(lead))
    return kc11 * depth / sine * (feed * sine) ** (1 - mc)


def read(kc11, **more):
    return CutRead("rough drum seat", power_of(kienzle(kc11), **more), 600.0, 780.0, 60.0)


def put(store, *values, setup=None, chuck="CH-02", day=2):
    """Readings of the cutting force, one a day."""
    for number, value in enumerate(values):
        row, at = Accepted(value, 0.13, "load meter"), NOW.replace(day=day + number)
        key = job_key(setup or example("winch-shaft"))
        accept(store, store.get(ChuckRecord, chuck), "cutting force", row, "Noor", at, style=key)


def force_of(setup, store):
    return prepare(with_learned_force(setup, store)[0]).known["cutting data"]


def test_the_reading_is_that_of_the_plain_formula():
    mc = work_material("42CrMo4").mc.value
    force = kienzle(2000.0, mc=mc)
    found, relative = force_at_edge(PowerRead(power_of(force), 600.0, 780.0, 60.0))
    assert found == pytest.approx(force, rel=0.01)  # efficiency 0.75 to 0.95: middle 0.844
    assert 0.06 < relative < 0.12
    kc11 = force_reading(example("winch-shaft"), CutRead("rough drum seat", power_of(force), 600.0, 780.0, 60.0))
    assert kc11.value == pytest.approx(2000.0 / math.sqrt(1.5), rel=0.02)  # the edge may be worn: 1 to 1.5


@pytest.mark.parametrize(("changes", "words"), [
    ({"power": 500.0}, "cannot tell from nothing"), ({"power": 690.0}, "cannot tell from nothing"),
    ({"power": 60_000.0}, "where the table has 2500"), ({"speed": 0.0}, "spindle speed"),
    ({"idle": -1.0}, "idle power"), ({"cut": "drum"}, "expected rough drum seat"),
    ({"cut": "ring groove"}, "is a groove cut"), ({"diameter": None}, "say the diameter"),
    ({"diameter": 80.0}, "works from"),
])  # fmt: skip
def test_a_reading_that_says_nothing_of_the_force_is_refused(changes, words):
    with pytest.raises(InputError, match=words):
        force_reading(example("winch-shaft"), replace(read(2000.0), **changes))


def test_a_cut_that_may_be_interrupted_is_refused():
    with pytest.raises(InputError, match="may be interrupted"):
        force_reading(example("winch-shaft").with_({"cut.0.interrupted": True}), read(2000.0))


# What plans take of it


@pytest.mark.parametrize("values", [(500.0,), (500.0, 500.0), (500.0, 5000.0), (500.0, 2400.0), (9000.0,)])
def test_a_bad_reading_makes_no_plan_better(shop, values):
    """Alone, against another, beside a good one: the table's own worst stays in the range."""
    setup = example("winch-shaft")
    for number, value in enumerate(values):
        put(shop, value, day=2 if len(set(values)) == 1 else 2 + number)
    found = force_of(setup, shop)
    assert found.worst >= max(TABLE.most, *values) * (1 - 1e-6)
    assert found.likely >= TABLE.value


def test_readings_that_agree_on_too_little_never_go_under_the_table(shop):
    put(shop, *([900.0] * 12))
    found = force_of(example("winch-shaft"), shop)
    assert found.worst == pytest.approx(TABLE.value)
    assert found.likely == pytest.approx(TABLE.value)


def test_the_range_that_readings_leave_can_be_planned_for_the_widest_and_the_narrowest_table(shop):
    by_width = sorted(WORK_MATERIALS, key=lambda work: work.kc11.least / work.kc11.value)
    for work in (by_width[0], by_width[-1]):
        setup, table = example("winch-shaft").with_({"part.material": work.key}), cutting_force_range(work)
        put(shop, *([0.75 * table.value] * 6), setup=setup)
        worst = force_of(setup, shop).worst
        assert max(table.value, 1.12 * table.least) * (1 - 1e-5) <= worst <= table.most, work.key


def test_one_reading_of_more_stretches_what_others_said(shop):
    put(shop, 1700.0, 1750.0)
    assert force_of(example("winch-shaft"), shop).worst < 0.85 * TABLE.most
    put(shop, 3600.0, day=20)
    assert force_of(example("winch-shaft"), shop).worst >= 3600.0 * (1 - 1e-6)


def test_other_jobs_and_chucks_narrow_no_plan(shop):
    other = example("winch-shaft").with_({"part.number": "X-1"})
    put(shop, 1500.0, 1550.0, 1600.0, setup=other)
    assert with_learned_force(example("winch-shaft"), shop) == (example("winch-shaft"), ())
    # But they stand behind this job's first reading.
    put(shop, 1700.0)
    known = next(one for one in knowledge_of(shop, shop.get(ChuckRecord, "CH-02"), example("winch-shaft"), NOW)
                 if one.kind == "cutting force")  # fmt: skip
    alone_would_say = 2100.0
    assert known.learned.median < alone_would_say


def test_what_other_jobs_say_narrows_no_plan_of_a_job_that_was_read(shop):
    setup = example("winch-shaft")
    put(shop, 1900.0, 1950.0)
    alone = force_of(setup, shop).worst
    assert alone < TABLE.most
    for number in range(8):
        put(shop, 1300.0, 1310.0, 1320.0, setup=setup.with_({"part.number": f"X-{number}"}))
    assert force_of(setup, shop).worst == pytest.approx(alone)


def test_what_the_setup_states_itself_stands(shop):
    put(shop, 1700.0, 1750.0)
    setup = example("winch-shaft").with_(
        {"assumptions.cutting_data": {"range": ["1900 MPa", "3000 MPa"], "reason": "our own trials"}}
    )
    assert with_learned_force(setup, shop) == (setup, ())


def test_every_plan_says_what_it_took(shop):
    setup = example("winch-shaft")
    for day in (2, 3):
        accept_force(shop, shop.get(ChuckRecord, "CH-02"), setup, read(2000.0 + day), "Noor", NOW.replace(day=day))
    taught, words = with_records(setup, shop, NOW)
    assert any("specific cutting force" in one and "measured (2 readings)" in one for one in words)
    assert prepare(taught).known["cutting data"].note == "measured (2 readings), power of the spindle"


def test_what_plans_count_with_holds_the_true_force(tmp_path):
    """Drawn jobs: material up to a quarter off the table, drive and edge the same in all readings of a job."""
    rng, held, narrowed, count = np.random.default_rng(3), 0, 0, 30
    setup = example("winch-shaft")
    mc = work_material("42CrMo4").mc.value
    for k in range(count):
        true = TABLE.value * math.exp(rng.normal(0, 0.11))
        efficiency, edge = rng.uniform(0.78, 0.95), rng.uniform(1.0, 1.5)
        with open_store(tmp_path / f"{k}") as store:
            store.write(ChuckRecord(id="CH-02", name="wedge"), by="Noor")
            for day in range(2, 5):
                power = power_of(kienzle(true, mc=mc) * edge, efficiency=efficiency) * rng.normal(1, 0.03)
                one = CutRead("rough drum seat", power, 600.0 * rng.normal(1, 0.03), 780.0, 60.0)
                accept_force(store, store.get(ChuckRecord, "CH-02"), setup, one, "Noor", NOW.replace(day=day))
            worst = force_of(setup, store).worst
        held += true <= worst
        narrowed += worst < 0.999 * TABLE.most
    assert held >= 0.95 * count
    assert narrowed >= 3


# Centring


def clampings(rng, scatter, count, noise=0.0005):
    """Traces of one part clamped again, each with its own offset of this scatter."""
    angle = np.linspace(0, 2 * math.pi, 12, endpoint=False)
    for _ in range(count):
        x, y = rng.normal((0.004, -0.003), scatter)
        yield trace(angle, x * np.cos(angle) + y * np.sin(angle) + rng.normal(0, noise, 12), state="clamped")


@pytest.mark.parametrize("scatter", [0.001, 0.003])
def test_the_scatter_of_the_centre_is_found(scatter):
    rng, logs, widths = np.random.default_rng(4), [], []
    for _ in range(30):
        found = centring_reading([read_indicator(one, resolution=1e-4) for one in clampings(rng, scatter, 4)])
        logs.append(math.log(found.value / scatter))
        widths.append(found.relative)
    assert abs(np.mean(logs)) < 0.2
    assert np.mean(np.abs(logs) < 2.5 * np.array(widths)) > 0.9


def test_too_few_clampings_are_no_reading():
    rng = np.random.default_rng(5)
    with pytest.raises(InputError, match="at least 3 of one part"):
        centring_reading([read_indicator(one) for one in clampings(rng, 0.001, 2)])


def table_of(traces):
    rows = ["angle_deg,reading_mm,state,clamping"]
    rows += [f"{math.degrees(a):.0f},{r:.4f},clamped,{k}" for k, one in enumerate(traces, 1)
             for a, r in zip(one.angle, one.reading, strict=True)]  # fmt: skip
    return "\n".join(rows)


def test_a_column_parts_what_was_clamped_again():
    found = read_readings(table_of(clampings(np.random.default_rng(6), 0.001, 3)))
    assert [len(one.angle) for one in found] == [12, 12, 12]


def test_two_readings_of_the_centring_reach_the_causes(shop):
    setup, rng = example("winch-shaft"), np.random.default_rng(7)
    surface = setup.surfaces[0]
    for day in (2, 3):
        assert known_centring(shop, setup) is None
        kept = accept_traces(shop, setup, "w", surface, list(clampings(rng, 0.0004, 4)), "Noor", NOW.replace(day=day))
        assert "is centred within" in kept[-1]
    found = known_centring(shop, setup)
    assert found is not None
    low, high = found.scatters
    assert low < high < 0.0012
    assert high / low >= 1.5 ** (2 / 1.96) - 1e-9
    assert "measured (2 readings)" in found.words


def test_a_scatter_that_is_known_tells_more_and_no_scatter_tells_what_is_not_there():
    """An offset of 0.006 of the part turned by half a turn, with a chuck that centres within 0.0003."""
    angle = np.linspace(0, 2 * math.pi, 12, endpoint=False)
    both = [read_indicator(trace(angle, 0.006 * np.cos(angle - w), state="clamped", turned=w), resolution=0.001)
            for w in (0.0, math.radians(108))]  # fmt: skip
    blind, known = rank_causes(both, made="before"), rank_causes(both, made="before", centring=(0.0003, 0.0005))
    chance = [next(c.chance for c in one.causes if c.name == "part") for one in (blind, known)]
    assert chance[1] >= chance[0] - 0.02
    loose = rank_causes(both, made="before", centring=(0.006, 0.009))
    assert not loose.told


def test_the_commands_keep_and_say_both(tmp_path):
    records = ("--records", tmp_path / "records")
    chuck = ROOT / "examples" / "chucks" / "200-wedge.toml"
    CliRunner().invoke(app, ["chuck", "add", str(chuck), "--id", "CH-02", *map(str, records), "--by", "Noor"])
    cut = ("--cut", "rough drum seat", "--power", "8.5 kW", "--idle", "0.6 kW", "--speed", "780")
    assert "say the diameter" in str(run("learn", SHAFT, *cut, *records, "--by", "Noor", code=2).output)
    assert "give --cut" in str(run("learn", SHAFT, *cut[:2], *records, "--by", "Noor", code=2).output)
    said = flat(run("learn", SHAFT, *cut, "--diameter", "60", *records, "--by", "Noor"))
    assert "accepted for 42CrMo4 / WS-045 on chuck CH-02: 8.5 kW in cut 'rough drum seat', 0.6 kW idle" in said
    readings = tmp_path / "again.csv"
    readings.write_text(table_of(clampings(np.random.default_rng(8), 0.001, 3)))
    said = flat(run("learn", SHAFT, "--indicator", readings, "--surface", "drum seat", *records, "--by", "Noor"))
    assert "a part clamped 3 times is centred within" in said
    document = json.loads(run("learn", SHAFT, *records, "--json").stdout)
    jsonschema.validate(document, learned_schema())
    assert [one["unit"] for one in document["known"]] == ["N mm/rad", "MPa", "mm", ""]


def test_places_read_again_without_a_column_are_asked_about():
    merged = table_of(clampings(np.random.default_rng(9), 0.001, 3)).replace(",clamping", "").splitlines()
    (one,) = read_readings("\n".join([merged[0], *(row.rsplit(",", 1)[0] for row in merged[1:])]))
    assert "each place was read 3 times" in " ".join(read_indicator(one).notes)
