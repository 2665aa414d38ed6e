"""What accepted readings have taught reaches later plans."""

from datetime import UTC, datetime

import pytest
from conftest import example, planned

from heldtrue.inspection.taper import Bearing
from heldtrue.planning.inputs import prepare
from heldtrue.planning.plan import plan
from heldtrue.records import ChuckRecord, open_store
from heldtrue.shop.accepting import accept_bearing
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.from_records import with_records
from heldtrue.shop.gate import start
from heldtrue.shop.learned import learned_base, with_learned_base
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


def test_an_accepted_feeler_is_measured_in_the_next_plan(tmp_path):
    setup = example("winch-shaft")
    with open_store(tmp_path / "records") as store:
        enter_setup(store, setup, "Noor", id="w")
        assert with_learned_base(setup, store) == (setup, ())
        card, gap = store.get(ChuckRecord, "CH-02"), Bearing("base", gap=0.03)
        accept_bearing(store, card, setup, gap, "Noor", NOW, pressure=2.5)
        known = learned_base(store, store.get(ChuckRecord, "CH-02"), "standard").learned
        taught, words = with_learned_base(setup, store)
        assert all(one in with_records(setup, store, NOW)[1] for one in words)
        started = start(store, setup, "w", 2.5, typed="25 bar", by="Noor", now=NOW)
    assert taught.jaws.base_tilt == pytest.approx(known.median, rel=1e-4)
    assert taught.source("jaws.base_tilt") == "measured"
    assert "measured (1 reading)" in words[0]
    assert all(one in started.from_log for one in words), "a start rests on what the plan rests on"
    stated = setup.with_({"jaws.base_tilt": 5e9})
    with open_store(tmp_path / "records") as store:
        assert with_learned_base(stated, store) == (stated, ())
