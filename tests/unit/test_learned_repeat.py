"""What a dial repeats to, learned from places read again, and what answers about causes take of it."""

import json
import math
from dataclasses import replace
from datetime import UTC, datetime

import jsonschema
import numpy as np
import pytest
from conftest import ROOT, example, longer
from run_out_world import RunOutWorld, readings_of
from test_readings_commands import flat, run
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.errors import InputError
from heldtrue.inspection import rank_causes, read_indicator, read_readings
from heldtrue.inspection.elements import elements, seen, visible
from heldtrue.inspection.evidence import ELSE, NOISE_MM, noise_odds, posterior
from heldtrue.inspection.learning import Accepted
from heldtrue.inspection.part_taper import PartSize, split_taper
from heldtrue.inspection.readings import trace
from heldtrue.inspection.repeats import FEWEST, is_read_again, read_repeats, typed_repeats
from heldtrue.inspection.shop_documents import learned_schema
from heldtrue.records import ChuckRecord, open_store
from heldtrue.shop.accepting import accept_traces, knowledge_of
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.learned import accept
from heldtrue.shop.learned_repeat import accept_repeats, dial_key, known_repeats
from heldtrue.shop.read_out import read_out
from heldtrue.shop.taught import taught_for_causes

NOW = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
SHAFT = ROOT / "examples" / "winch-shaft.toml"
PLACES = np.linspace(0, 2 * math.pi, 12, endpoint=False)


@pytest.fixture
def shop(tmp_path):
    with open_store(tmp_path / "records") as store:
        enter_setup(store, example("winch-shaft"), "Noor", id="w")
        yield store


def again(rng, scatter, rounds=2, readers=1, feel=0.0, division=0.001, drift=0.0):
    """One clamped part read again and again: what every place has, what every reader feels there, and scatter. [mm]"""
    shape = 0.008 * np.cos(PLACES - 0.4) + 0.003 * np.cos(3 * PLACES)
    angle, value, who = [], [], []
    for reader in range(readers):
        felt = rng.normal(0, feel, 12) + rng.uniform(-0.02, 0.02) * (readers > 1)
        for k in range(rounds):
            angle.append(PLACES)
            value.append(shape + felt + drift * k + rng.normal(0, scatter, 12))
            who += [f"reader {reader}"] * 12
    readings = np.round(np.concatenate(value) / division) * division
    return trace(np.concatenate(angle), readings, state="clamped", reader=tuple(who) if readers > 1 else ())


def card(store):
    return store.get(ChuckRecord, "CH-02")


def put(store, *scatters, key="dial D-7", relative=0.15, day=2):
    for k, value in enumerate(scatters):
        accept(store, card(store), "repeatability", Accepted(value, relative), "Noor", NOW.replace(day=day + k),
               style=key)  # fmt: skip


# --- one study ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("scatter", [0.0012, 0.004])
def test_the_scatter_of_a_dial_is_found(scatter):
    rng = np.random.default_rng(4)
    found = [read_repeats([again(rng, scatter)], 0.001) for _ in range(40)]
    assert {one.freedom for one in found} == {12}
    rounding = math.hypot(scatter, 0.001 / math.sqrt(12))
    assert np.mean([one.whole**2 for one in found]) == pytest.approx(rounding**2, rel=0.15)
    assert all(one.one == pytest.approx(one.whole) and one.between is None for one in found)


def test_readers_who_feel_their_way_to_other_values_count():
    rng = np.random.default_rng(5)
    found = [read_repeats([again(rng, 0.0012, readers=3, feel=0.003)], 0.001) for _ in range(40)]
    assert {(one.places, one.readers) for one in found} == {(12, 3)}
    assert np.mean([one.one**2 for one in found]) == pytest.approx(0.0012**2 + 0.001**2 / 12, rel=0.15)
    between = np.mean([one.between**2 for one in found])
    assert between == pytest.approx(0.003**2, rel=0.35)
    zeros = [read_repeats([again(rng, 0.0012, readers=3)], 0.001) for _ in range(40)]
    assert np.mean([one.whole for one in zeros]) < 0.0015, "that every reader sets a zero is no error"


def test_a_zero_that_creeps_while_one_reads_is_in_the_scatter():
    rng = np.random.default_rng(6)
    found = read_repeats([again(rng, 0.001, rounds=3, drift=0.004)], 0.001)
    assert found.whole > 0.003


def test_what_is_no_study_is_refused():
    rng = np.random.default_rng(7)
    with pytest.raises(InputError, match=f"takes {FEWEST} readings more than places"):
        read_repeats([trace(np.tile(PLACES[:6], 2), rng.normal(0, 0.002, 12))], 0.001)
    good = again(rng, 0.001)
    with pytest.raises(InputError, match="one round was copied"):
        read_repeats([replace(good, reading=np.tile(good.reading[:12], 2))], 0.001)
    with pytest.raises(InputError, match="too coarse"):
        read_repeats([again(rng, 0.0008, division=0.01)], 0.01)
    slip = good.reading.copy()
    slip[17] += 0.030
    with pytest.raises(InputError, match=r"trace 1, 150°, z 0 mm: readings of this place differ by 0\.0"):
        read_repeats([replace(good, reading=slip)], 0.001)
    assert not is_read_again([trace(PLACES, good.reading[:12])])
    turning = np.tile(PLACES, 100)
    assert not is_read_again([trace(turning, rng.normal(0, 0.001, turning.size))]), "a probe on a spindle that turned"


def test_a_column_says_who_read():
    rows = ["angle_deg,reading_mm,reader"]
    rows += [f"{30 * k},{0.001 * k},{who}" for who in ("Noor", "Ode ") for k in range(12)]
    (one,) = read_readings("\n".join(rows))
    assert one.reader == ("noor",) * 12 + ("ode",) * 12
    assert is_read_again([one])


# --- what is learned ------------------------------------------------------------------------------------------------


def test_two_studies_that_agree_are_believed_and_one_is_not(shop):
    rng, setup = np.random.default_rng(8), example("winch-shaft")
    for day in (2, 3):
        assert known_repeats(shop, card(shop)) == {}
        kept = accept_traces(shop, setup, "w", setup.surfaces[0], [again(rng, 0.0015)], "Noor", NOW.replace(day=day),
                             dial="D-7")  # fmt: skip
        assert "accepted for dial D-7 on chuck CH-02: it repeats to 0.001" in kept[-1]
    (found,) = known_repeats(shop, card(shop)).values()
    assert 0.001 < found.scatter < 0.0022
    assert 1.5 <= found.factor < 2.0
    assert "measured (2 readings)" in found.words
    known = [one for one in knowledge_of(shop, card(shop), setup, NOW) if one.kind == "repeatability"]
    assert [(one.style, one.unit) for one in known] == [("dial D-7", "mm")]


def test_it_is_wide_until_enough_was_read(shop):
    put(shop, 0.0010, 0.0011, relative=0.5)
    few = known_repeats(shop, card(shop))["dial D-7"]
    put(shop, *(0.00100 + 0.00001 * k for k in range(12)), relative=0.1, key="dial D-8")
    many = known_repeats(shop, card(shop))["dial D-8"]
    assert few.factor > 1.8
    assert many.factor == 1.5, "never nearer, however many"


def test_the_same_file_on_two_days_is_one_study(shop):
    one = again(np.random.default_rng(9), 0.0015)
    for day in (2, 3, 4):
        accept_repeats(shop, card(shop), [one], "D-7", "Noor", NOW.replace(day=day))
    assert known_repeats(shop, card(shop)) == {}


def test_a_study_that_shows_far_more_stretches_what_is_known(shop):
    """Two small ones and a large one: the large one contradicts, is not averaged in, and is in the interval."""
    put(shop, 0.0005, 0.0006, 0.004, relative=0.1)
    found = known_repeats(shop, card(shop))["dial D-7"]
    assert found.scatter * found.factor >= 0.004
    odds = np.exp(noise_odds((found.scatter, found.factor)))
    assert odds[3] + odds[4] > 0.15


def test_a_study_that_was_taken_off_the_card_still_counts(shop):
    """Whoever takes a study away that shows much does not make the dial better."""
    put(shop, 0.0005, 0.0006, relative=0.1)
    before = card(shop)
    put(shop, 0.004, relative=0.1, day=9)
    shop.write(replace(card(shop), data=before.data), by="Ode", why="wrong dial")
    found = known_repeats(shop, card(shop))["dial D-7"]
    assert found.scatter * found.factor >= 0.004


def test_studies_that_contradict_each_other_teach_nothing(shop):
    put(shop, 0.0004, 0.006, relative=0.1)
    assert known_repeats(shop, card(shop)) == {}


def test_what_a_dial_showed_on_other_chucks_narrows_nothing_here(shop):
    put(shop, 0.0030, 0.0033, relative=0.7)
    alone = known_repeats(shop, card(shop))["dial D-7"]
    for number in range(8):
        other = ChuckRecord(id=f"CH-1{number}", name="wedge")
        shop.write(other, by="Noor")
        for k in range(3):
            accept(shop, shop.get(ChuckRecord, other.id), "repeatability", Accepted(0.0005 + 1e-6 * k, 0.1), "Noor",
                   NOW.replace(day=2 + k), style="dial D-7")  # fmt: skip
    assert known_repeats(shop, card(shop))["dial D-7"] == alone


# --- what is taken of it --------------------------------------------------------------------------------------------


def test_a_dial_is_known_by_its_number_or_by_its_division(shop):
    setup = example("winch-shaft")
    put(shop, 0.0005, 0.0006)
    put(shop, 0.0020, 0.0022, key=dial_key("", 0.001), day=5)
    taught = taught_for_causes(shop, setup)
    part = [trace(PLACES, np.round(0.01 * np.cos(PLACES), 3), state="clamped")]

    def said(dial, **more):
        words = read_out(part, 3, setup=setup, taught=taught, dial=dial, **more).found.words
        return [one for one in words if one.startswith("this rests on")]

    assert "repeatability of dial D-7" in said(" d-7 ")[0]
    assert "repeatability of a dial of 0.001 mm" in said("")[0]
    assert said("D-9") == [], "a dial nobody tried"
    assert said("", resolution=0.01) == [], "a dial of another division"


def test_what_is_learned_moves_the_scatter_that_is_taken_and_leaves_a_tail():
    even, small, large = (np.exp(noise_odds(one)) for one in (None, (0.0004, 1.5), (0.004, 1.5)))
    assert even == pytest.approx(np.full(len(NOISE_MM), 1 / len(NOISE_MM)))
    for odds in (small, large):
        assert odds.sum() == pytest.approx(1.0)
        assert odds.min() >= ELSE / len(NOISE_MM) - 1e-12
    assert small.argmax() == 0
    assert large.argmax() == 3
    wide = np.exp(noise_odds((0.0004, 6.0)))
    assert wide[2:].sum() > small[2:].sum(), "what is hardly known says less"


def with_a_chuck(folder):
    """Records with a card of the chuck, as the options of a command."""
    records = ("--records", folder / "records")
    chuck = ROOT / "examples" / "chucks" / "200-wedge.toml"
    CliRunner().invoke(app, ["chuck", "add", str(chuck), "--id", "CH-02", *map(str, records), "--by", "Noor"])
    return records


def test_the_commands_keep_it_and_say_what_they_took(tmp_path):
    records = with_a_chuck(tmp_path)
    rng = np.random.default_rng(10)
    for k in range(2):
        one, file = again(rng, 0.0015), tmp_path / f"again{k}.csv"
        file.write_text("angle_deg,reading_mm,state\n" + "\n".join(
            f"{math.degrees(a):.0f},{r:.3f},clamped" for a, r in zip(one.angle, one.reading, strict=True)))  # fmt: skip
        said = flat(run("learn", SHAFT, "--indicator", file, "--surface", "drum seat", "--dial", "D-7", *records,
                        "--by", "Noor"))  # fmt: skip
        assert "accepted for dial D-7 on chuck CH-02: it repeats to 0.00" in said
    typed = ("indicator", "--typed", "0 1 2 3 4 5", "--dial", "D-7")
    assert "--dial needs --setup" in run(*typed, code=2).output
    assert "--dial needs --indicator" in run("learn", SHAFT, "--dial", "D-7", *records, code=2).output
    document = json.loads(run("learn", SHAFT, *records, "--json").stdout)
    jsonschema.validate(document, learned_schema())
    assert [one["unit"] for one in document["known"]] == ["N mm/rad", "mm", ""]
    asked = ("indicator", ROOT / "examples" / "readings" / "winch-shaft.csv", "--setup", SHAFT, "--surface",
             "drum seat", *records)  # fmt: skip
    assert "repeatability of dial D-7 on chuck CH-02" in flat(run(*asked, "--dial", "D-7"))
    assert "repeatability" not in flat(run(*asked))


def test_a_dial_taken_for_too_good_leaves_the_scatter_as_it_is_read():
    """Learned: 0.0003.  Read: places that scatter by 0.004, in one plane of twelve, which hardly say so themselves."""
    large = np.zeros((8, 2))
    for k, one in enumerate(np.random.default_rng(11).normal(0, 0.004, (8, 12))):
        rows = seen([read_indicator(trace(PLACES, np.round(one, 3), state="clamped"), resolution=0.001)], 0.0)
        waves = visible(rows, elements(3, 12, False))
        for at, repeat in enumerate((None, (0.0003, 1.5))):
            large[k, at] = np.mean(posterior(rows, waves, np.ones(len(waves)), repeat=repeat).noise > 0.0015)
    before, after = large.mean(axis=0)
    assert before > 0.5
    assert after > 0.3 * before


@pytest.mark.parametrize("plan", ["turned 180, one plane", *longer("clamped and free", "turned 108, two planes")])
def test_a_dial_taken_for_too_good_makes_nothing_sure_that_is_wrong(plan):
    """Bigger runs of this: 400 parts, none told wrong."""
    for k in range(5):
        world = RunOutWorld(np.random.default_rng([99, k]), size=(8.0, 20.0))
        world.noise = 2.5e-3
        results = [
            read_indicator(trace(r.angle, r.value, r.z, "outside", r.ask.state, r.ask.turned,
                                 2.0 if r.ask.state == "clamped" else None), resolution=0.001)
            for r in readings_of(world, plan)
        ]  # fmt: skip
        found = rank_causes(results, repeat=(0.0003, 1.5))
        assert not found.told or found.answer in (world.truth()[0], "nothing to find")


def test_typed_places_are_a_study_too():
    rng = np.random.default_rng(12)
    text = "; ".join(" ".join(f"{50 + 0.01 * k + rng.normal(0, 0.002):.3f}" for _ in range(4)) for k in range(5))
    found, division = typed_repeats(text, "mm")
    assert (found.places, found.freedom, division) == (5, 15, 0.001)
    assert 0.001 < found.whole < 0.0035
    with pytest.raises(InputError, match="found 3 readings at 1 places"):
        typed_repeats("1.1 1.2 1.1", "um")
    with pytest.raises(InputError, match='place 2: found "x"'):
        typed_repeats("1.1 1.2; x", "um")


def test_a_micrometer_that_repeats_badly_makes_a_taper_less_sure_and_a_good_one_never_surer():
    """Jaws alone, 0.02 at the full pressure: three parts at two pressures."""
    sizes = [PartSize(60.0 + 0.02 * share + off, 60.0, 20_000.0 * share) for share in (1.0, 0.5)
             for off in (-0.001, 0.0, 0.001)]  # fmt: skip
    plain, good, bad = (split_taper(sizes, 50.0, one) for one in (None, (0.0003, 1.5), (0.006, 1.5)))
    assert plain.told == "jaws"
    width = [one.jaws.high - one.jaws.low for one in (plain, good, bad)]
    assert width[1] == pytest.approx(width[0], rel=0.05)
    assert width[2] > 2 * width[0]
    assert bad.told == "open"
    assert bad.repeat > 0.006


def test_the_taper_says_what_it_took_of_the_micrometer(tmp_path):
    records = with_a_chuck(tmp_path)
    rng = np.random.default_rng(13)
    for _ in range(2):
        text = "; ".join(" ".join(f"{rng.normal(0, 6):.0f}" for _ in range(4)) for _ in range(5))
        said = flat(run("learn", SHAFT, "--again", text, "--unit", "um", "--dial", "M-3", *records, "--by", "Noor"))
        assert "accepted for dial M-3 on chuck CH-02: it repeats to 0.00" in said
    asked = ("taper", SHAFT, "--surface", "drum seat", "--part", "50.012 50.000 20 bar free", *records)
    assert "repeatability of dial M-3 on chuck CH-02: 0.00" in flat(run(*asked, "--dial", "M-3"))
    assert "repeatability" not in flat(run(*asked))
