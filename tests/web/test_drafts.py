import errno
import json

import pytest

from heldtrue.errors import InputError, StorageError
from heldtrue.planning.setup import Setup
from heldtrue.web import drafts as module
from heldtrue.web.drafts import Drafts
from heldtrue.web.fields import Field
from heldtrue.web.sections import FIXED, corner_fields, cut_fields
from heldtrue.web.sources import blank_setup, chuck_of, jaws_of, open_bytes, open_example
from web.in_process import EXAMPLES

FIELDS = {field.path: field for section in FIXED for field in section.fields}
PRESSURE, DIAMETER = FIELDS["run.pressure"], FIELDS["grip.diameter"]
FEED = next(field for field in [*cut_fields({}, 0)[0]] if field.label == "Feed")


@pytest.fixture
def drafts(tmp_path):
    return Drafts(tmp_path / "drafts")


@pytest.fixture
def ring(drafts):
    return drafts.new("wear-ring", open_example(EXAMPLES, "wear-ring"))


@pytest.fixture(autouse=True)
def every_change_alone(monkeypatch):
    monkeypatch.setattr(module, "ONE_TYPING", 0.0)


def test_what_is_typed_is_read_by_the_setup_itself(ring):
    ring.edit(PRESSURE, "18,5")
    assert ring.setup().run.pressure == pytest.approx(1.85)
    ring.edit(PRESSURE, "250 psi")
    assert ring.setup().run.pressure == pytest.approx(1.7236893)


def test_a_slip_stays_as_typed_with_what_is_wrong(ring):
    ring.edit(FEED, "25")
    assert ring.pending == {"cut.0.feed": "25"}
    assert ring.problems["cut.0.feed"] == [
        "cut 1 'face end': feed: 25 mm per turn is outside 0.01 to 2; did you mean 0.25?"
    ]
    assert ring.setup().cuts[0].feed == 0.2


def test_two_fields_that_only_hold_together_are_taken_together(ring):
    low, high = FIELDS["grip.z.0"], FIELDS["grip.z.1"]
    ring.edit(low, "20")
    assert ring.pending == {"grip.z.0": "20"}
    ring.edit(high, "30")
    assert ring.pending == {}
    assert ring.setup().grip.z == (20, 30)


def test_an_empty_field_takes_the_value_away(ring):
    ring.edit(PRESSURE, "18")
    ring.edit(PRESSURE, "")
    assert ring.setup().run is None or ring.setup().run.pressure is None


def test_undo_goes_back_through_everything(ring):
    before = json.dumps(ring.table)
    ring.edit(PRESSURE, "18")
    ring.edit(FEED, "25")
    ring.edit(corner_fields("part.profile", 1)[0], "168")
    ring.edit(FIELDS["grip.diameter_tolerance.1"], "0.05")
    labels = [ring.undo() for _ in range(5)]
    assert labels == ["Ø, upper deviation", "2: Ø", "Feed", "Pressure", ""]
    after = json.loads(json.dumps(ring.table))
    assert Setup.from_dict(after) == Setup.from_dict(json.loads(before))
    assert ring.pending == {}


def test_letters_of_one_value_are_one_change(ring, monkeypatch):
    monkeypatch.setattr(module, "ONE_TYPING", 60.0)
    for text in ("1", "18", "18 b", "18 bar"):
        ring.edit(PRESSURE, text)
    assert ring.setup().run.pressure == pytest.approx(1.8)
    ring.undo()
    assert ring.past == []
    assert ring.setup().run is None or ring.setup().run.pressure is None
    assert ring.pending == {}


@pytest.mark.parametrize("text", ["10,5", "x"])
def test_the_same_value_handed_over_again_is_no_change_to_undo(ring, monkeypatch, text):
    monkeypatch.setattr(module, "ONE_TYPING", -1.0)
    before = ring.text(PRESSURE)
    for _ in range(3):
        ring.edit(PRESSURE, text)
    assert ring.text(PRESSURE) == text
    assert ring.undo() == "Pressure"
    assert ring.text(PRESSURE) == before
    assert ring.undo() == ""


def test_a_reload_loses_nothing(drafts, ring):
    ring.edit(PRESSURE, "18,5 bar")
    ring.edit(FEED, "25")
    ring.ticks = ["abc"]
    drafts.save(ring)
    again = Drafts(drafts.folder).get("wear-ring")
    assert again == ring


def test_two_programs_do_not_overwrite_each_other(drafts, ring):
    other = Drafts(drafts.folder)
    theirs = other.get("wear-ring")
    theirs.edit(PRESSURE, "20")
    other.save(theirs)
    ring.edit(PRESSURE, "10")
    with pytest.raises(InputError, match="Somebody else saved"):
        drafts.save(ring)
    assert drafts.get("wear-ring").setup().run.pressure == pytest.approx(2.0)


@pytest.mark.parametrize("id", ["../records", "a/b", "", "..", "C:x", "a" * 81])
def test_no_other_file_can_be_reached_by_name(drafts, id):
    with pytest.raises(InputError, match="no setup of that name"):
        drafts.get(id)


def test_a_broken_file_is_said_so(drafts, ring):
    (drafts.folder / "wear-ring.json").write_text("{")
    with pytest.raises(InputError, match="cannot be read"):
        Drafts(drafts.folder).get("wear-ring")


def test_names_do_not_collide(drafts, ring):
    assert drafts.new("wear-ring", ring.table).id == "wear-ring-2"


def test_too_long_a_text_is_refused_not_cut(ring):
    with pytest.raises(InputError, match="too long"):
        ring.edit(PRESSURE, "1" * 401)


def test_a_change_that_does_not_hold_together_is_refused_whole(ring):
    with pytest.raises(InputError):
        ring.change({"part.profile": [[140, 0]]}, "corners")
    assert len(ring.table["part"]["profile"]) == 6


def test_an_empty_setup_comes_to_a_plan_field_by_field(drafts, desk):
    draft = drafts.new("setup", blank_setup("metric"))
    with pytest.raises(InputError):
        draft.setup()
    draft.change({"chuck": chuck_of(desk.store, EXAMPLES, "file:250-wedge")}, "chuck")
    draft.change({"part.profile": [[0, 0], [0, 0], [0, 0], [0, 0]]}, "corners")
    for path, text in (("part.number", "P-7"), ("part.material", "C45"), ("jaws.material", "C45"),
                       ("grip.diameter", "80"), ("grip.z.0", "2"), ("grip.z.1", "30")):  # fmt: skip
        draft.edit(FIELDS[path], text)
    for number, (diameter, z) in enumerate((("40", "0"), ("80", "0"), ("80", "60"), ("40", "60"))):
        for field, text in zip(corner_fields("part.profile", number)[:2], (diameter, z), strict=True):
            draft.edit(field, text)
    draft.change({"cut": [{"kind": "turn", "name": "cut 1"}]}, "cut")
    for field, text in zip([*cut_fields({}, 0)[0]][3:9], ("80", "35", "60", "1", "0,2", "120"), strict=True):
        draft.edit(field, text)
    assert draft.pending == {}
    assert draft.setup().grip.diameter == 80


def test_a_template_that_comes_along_is_taken_by_its_name(drafts, ring):
    ring.table = {**ring.table, "boring": {**ring.table["boring"], "template": "iso-g50-g99"}}
    assert ring.setup().boring.template == "iso-g50-g99"


def test_a_template_of_this_computer_is_not_read_for_a_file_that_was_handed_over(drafts, ring):
    ring.table = {**ring.table, "boring": {**ring.table["boring"], "template": "../../etc/passwd"}}
    with pytest.raises(InputError, match="template"):
        ring.setup()


def test_a_file_handed_over_cannot_name_other_files():
    with pytest.raises(InputError, match="cannot name other files"):
        open_bytes((EXAMPLES / "wear-ring.toml").read_bytes())


def test_a_table_in_a_file_handed_over_comes_in(drafts):
    toml = (EXAMPLES / "wear-ring.toml").read_bytes()
    for line in (b'use = "chucks/250-wedge.toml"', b'use = "jaws/pie-250-aluminium.toml"', b'rings = "rings/shop.toml"',
                 b'tool = "tools/turning-25.toml"'):  # fmt: skip
        toml = toml.replace(line, b"")
    with pytest.raises(InputError) as caught:
        open_bytes(toml)
    assert any("chuck" in problem for problem in caught.value.problems)


def test_jaws_of_the_shop_can_be_taken(ring, desk):
    ring.change({"jaws": jaws_of(EXAMPLES, "wide-250-steel")}, "jaws")
    assert ring.setup().jaws.style == "wide"
    with pytest.raises(InputError):
        jaws_of(EXAMPLES, "../chucks/250-wedge")


def test_every_field_of_the_form_is_a_key_of_the_setup_file(ring):
    """A misspelt path would be refused by the setup as unknown."""
    for path, field in FIELDS.items():
        ring.edit(field, "nonsense that no field takes" if field.is_quantity else (field.choices or ("3",))[0])
        assert not any("unknown" in one or "not known" in one for one in ring.problems.get(path, ())
                       if "material" not in path), (path, ring.problems[path])  # fmt: skip
        ring.undo()


def test_a_field_without_a_kind_takes_words(ring):
    ring.edit(Field("title", "Title"), "A <b>bold</b> name")
    assert ring.setup().title == "A <b>bold</b> name"


def test_a_second_draft_of_one_setup_goes_under_the_same_name_in_the_records(drafts, ring):
    second = drafts.new("wear-ring", ring.table)
    assert (second.id, second.record) == ("wear-ring-2", "wear-ring")
    assert Drafts(drafts.folder).get("wear-ring-2").record == "wear-ring"


def test_a_save_that_fails_throws_nothing_away(tmp_path, monkeypatch):
    """The disk is full once; what was typed is still there, and saved with the next letter."""

    drafts = Drafts(tmp_path)
    draft = drafts.new("ring", {"title": "one"})
    draft.table = {"title": "two"}
    with monkeypatch.context() as full:

        def stop(*_):
            raise OSError(errno.ENOSPC, "No space left on device")

        full.setattr("os.fsync", stop)
        with pytest.raises(StorageError, match="no space"):
            drafts.save(draft)
        with pytest.raises(StorageError, match="no space"):
            drafts.new("flange", {"title": "flange"})
    drafts.save(draft)
    assert Drafts(tmp_path).get("ring").table == {"title": "two"}
    assert drafts.new("flange", {"title": "flange"}).id == "flange"


@pytest.mark.parametrize("change", [{"past": [1]}, {"past": {}}, {"table": []}, {"version": "3"}, {"ticks": None}])
def test_a_draft_of_another_shape_is_named_as_broken(tmp_path, change):

    Drafts(tmp_path).new("ring", {"title": "one"})
    path = tmp_path / "ring.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | change))
    with pytest.raises(InputError, match=r"ring\.json"):
        Drafts(tmp_path).get("ring")
