"""The sample shop comes and goes, and nothing of the shop's own is touched by either."""

from datetime import UTC, datetime

import pytest

from heldtrue.errors import InputError
from heldtrue.records import ChuckRecord, JawSet, SetupRecord, open_store
from heldtrue.web import sample
from heldtrue.web.sources import since_run, stored
from web.in_process import EXAMPLES

AT = datetime(2026, 3, 2, 8, tzinfo=UTC)


@pytest.fixture
def shop(tmp_path):
    with open_store(str(tmp_path)) as store:
        store.write(JawSet(id="J-118", style="pie", material="C45"), by="Noor")
    return tmp_path


def everything(folder):
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file() and "sample-shop" not in str(path)}


def test_loading_and_removing_leave_the_own_records_as_they_were(shop):
    before = everything(shop)
    folder = sample.load(shop, EXAMPLES, AT)
    assert sample.is_loaded(shop)
    with open_store(str(folder)) as store:
        cards = store.all(SetupRecord)
        assert len(cards) == len(list(EXAMPLES.glob("*.toml")))
        assert all(card.id.startswith("sample-") and card.title.startswith("Sample: ") for card in cards)
        assert store.all(ChuckRecord)
        assert store.standing("J-118").place == "sample cabinet"
        assert store.check() == ()
        assert "grip gauge readings" in since_run(store, "sample-float-ring"), "the chuck was measured after its run"
    assert everything(shop) == before
    with open_store(str(shop)) as store:
        assert stored(store) == []
        assert store.history("J-118").counting == ()
    own = everything(shop)
    sample.remove(shop)
    assert not sample.folder_in(shop).exists()
    assert everything(shop) == own


def test_it_is_made_once(shop):
    folder = sample.load(shop, EXAMPLES, AT)
    with open_store(str(folder)) as store:
        store.write(JawSet(id="J-999", style="wide", material="C45"), by="Noor")
    sample.load(shop, EXAMPLES, AT)
    with open_store(str(folder)) as store:
        assert store.get(JawSet, "J-999").style == "wide"


def test_a_folder_that_is_none_is_left_alone(shop):
    folder = sample.folder_in(shop)
    folder.mkdir()
    (folder / "letters.txt").write_text("mine")
    with pytest.raises(InputError, match="left alone"):
        sample.remove(shop)
    with pytest.raises(InputError, match="left alone"):
        sample.load(shop, EXAMPLES, AT)
    assert (folder / "letters.txt").read_text() == "mine"
