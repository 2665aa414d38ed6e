"""A setup that was made from a drawing keeps which one, with a copy of it; a changed drawing is told."""

from hashlib import sha256
from pathlib import Path

import pytest

from heldtrue.errors import InputError
from heldtrue.planning.setup import Setup
from heldtrue.records import SetupRecord, open_store
from heldtrue.records.documents import setup_document
from heldtrue.shop.enter import enter_setup
from heldtrue.web.drafts import Drafts
from heldtrue.web.fields import bare, put
from heldtrue.web.part import kept_drawings, words
from heldtrue.web.part.earlier import listed, made_from_another
from heldtrue.web.part.kept_drawings import KeptDrawings
from heldtrue.web.plan.drawn_note import drawn_of, drawn_words
from heldtrue.web.sections import corner_fields
from heldtrue.web.sources import open_bytes, open_example, open_stored
from web.in_process import EXAMPLES, at_rest, until
from web.test_pages import shown
from web.test_part import dropped

DRAWING = b"ISO-10303-21; no matter what"
DIGEST = sha256(DRAWING).hexdigest()


def from_drawing():
    table = open_example(EXAMPLES, "wear-ring")
    corners = table["part"]["profile"]
    table["part"]["profile"] = {"file": "ring.step", "sha256": DIGEST, "seat_end": "high", "corners": bare(corners)}
    return table


@pytest.fixture
def ring(tmp_path):
    return Drafts(tmp_path / "drafts").new("ring", from_drawing())


def test_the_plan_of_a_drawing_is_that_of_its_corners(ring):
    assert ring.setup().part.profile == Setup.from_dict(open_example(EXAMPLES, "wear-ring")).part.profile
    assert ring.setup().drawn["profile"].sha256 == DIGEST
    key, drawn = drawn_of(ring.table)
    assert "high z" in drawn_words(key, drawn)
    assert DIGEST in drawn_words(key, drawn)


def test_a_changed_corner_takes_the_drawing_away_and_undo_brings_it_back(ring):
    """The must-fail: corners typed by hand must not stand under the name of a drawing."""
    before = ring.table
    ring.edit(corner_fields("part.profile", 1)[3], "0.3")
    assert ring.problems == {}
    assert drawn_of(ring.table) is None
    assert ring.setup().drawn == {}
    assert ring.setup().part.profile[1].chamfer == 0.3
    ring.undo()
    assert ring.table == before
    assert put(before, "part.profile", [[1, 2]])["part"]["profile"] == [[1, 2]]


def test_another_field_leaves_the_drawing_alone(ring):
    ring.change({"part.number": "WR-9"}, "number")
    assert drawn_of(ring.table) is not None


def test_records_and_files_keep_the_drawing(tmp_path, ring):
    with open_store(str(tmp_path / "records")) as store:
        enter_setup(store, ring.setup(), "Noor", id="ring")
        again = open_stored(store, "ring")
    assert drawn_of(again) == drawn_of(ring.table)
    assert Setup.from_dict(again).part == ring.setup().part
    from heldtrue.planning.toml_text import toml_of

    assert drawn_of(open_bytes(toml_of(again).encode())) == drawn_of(ring.table)


def test_a_copy_is_kept_by_its_hash_and_one_that_changed_is_found_out(tmp_path, monkeypatch):
    kept = KeptDrawings(tmp_path / "drawings")
    assert kept.state(DIGEST, "ring.step") == "missing"
    assert kept.keep("Ring.STEP", DRAWING)
    assert kept.keep("ring.step", DRAWING)
    (path,) = (tmp_path / "drawings").iterdir()
    assert (path.name, path.stat().st_mode & 0o111) == (f"{DIGEST}.step", 0)  # and nothing can run it
    assert kept.content(DIGEST, "ring.step") == DRAWING
    path.write_bytes(DRAWING + b" ")
    assert kept.state(DIGEST, "ring.step") == "changed"
    with pytest.raises(InputError, match="changed on disk"):
        kept.content(DIGEST, "ring.step")
    assert kept.keep("ring.step", DRAWING)
    assert kept.state(DIGEST, "ring.step") == "kept"
    monkeypatch.setattr(kept_drawings, "MOST_KEPT", len(DRAWING) + 5)
    assert not kept.keep("other.dxf", b"0" * 6)
    monkeypatch.setattr(kept_drawings, "LARGEST_DRAWING", 3)
    assert not kept.keep("other.dxf", b"0" * 4)
    assert [one.name for one in (tmp_path / "drawings").iterdir()] == [f"{DIGEST}.step"]


@pytest.mark.parametrize(("digest", "name"), [("../../x", "a.step"), (DIGEST.upper(), "a.step"), (DIGEST, "a.exe")])
def test_no_other_file_can_be_asked_for(tmp_path, digest, name):
    with pytest.raises(InputError, match="No copy"):
        KeptDrawings(tmp_path).content(digest, name)


def test_a_drawing_that_has_changed_is_told_with_the_setups_that_came_from_the_other(tmp_path, ring):
    drafts = Drafts(tmp_path / "drafts")
    with open_store(str(tmp_path / "records")) as store:
        setup = ring.setup()
        store.write(SetupRecord(id="kept", title="Kept ring", document=setup_document(setup)), by="Noor")
        assert made_from_another(store, drafts, "ring.step", DIGEST) == ()
        assert made_from_another(store, drafts, "other.step", "0" * 64) == ()
        found = made_from_another(store, drafts, "RING.step", "0" * 64)
    assert found == (ring.title, "Kept ring")
    assert listed(("a", "b", "c", "d", "e")) == "a, b, c and 2 more"


def test_the_pages_say_which_drawing_and_that_it_changed(visit):
    example = (EXAMPLES / "drawings" / "valve-stem.dxf").read_bytes()

    async def steps(user, desk):
        await dropped(user, "stem.dxf", example)
        await user.should_see(words.END)
        await user.should_not_see(marker="part-changed")
        user.find(marker="end-low").click()
        await user.should_see(marker="grip-1")
        user.find(marker="make-setup").click()
        await until(lambda: desk.drafts.ids() == ["stem"])
        await user.should_see(words.COPY)
        await at_rest(desk)
        assert "stem.dxf" in shown(user, "drawn")
        assert words.KEPT_COPY in shown(user, "drawn")
        user.find(marker="drawn-copy").click()
        assert (await user.download.next()).content == example
        (path,) = (Path(desk.drafts.folder).parent / "drawings").iterdir()
        path.write_bytes(b"another")
        await user.open("/plan/stem")
        await until(lambda: "changed on disk" in shown(user, "drawn"))
        await user.should_not_see(marker="drawn-copy")
        await dropped(user, "stem.dxf", example.replace(b"EOF", b"EOF\n"))
        await user.should_see(marker="part-changed")
        assert "stem" in shown(user, "part-changed")

    visit(steps)
