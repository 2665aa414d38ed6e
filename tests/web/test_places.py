"""Every problem leads to a field, and what is missing is asked for at once."""

import pytest

from heldtrue.planning.entries import Assumptions, SetupData
from heldtrue.planning.shapes import fields_of
from heldtrue.web.alignment import aligned, moved
from heldtrue.web.fields import put, shape_at
from heldtrue.web.places import in_labels, meant, path_of, points_of, problems_in, said_of_it
from heldtrue.web.sections import (
    FIXED,
    LISTS,
    assumption_fields,
    corner_fields,
    cut_fields,
    reading_fields,
    ring_fields,
    step_fields,
    surface_fields,
)
from heldtrue.web.sources import blank_setup, open_example
from web.in_process import EXAMPLES

RING = open_example(EXAMPLES, "wear-ring")
BY_LIST = {
    "units",
    "use",
    "boring.template",
    *(f"part.not_round.0.{key}" for key in ("what", "side", "diameters", "z")),
    "jaws.last_cut.steps.0.grips",
}
"""Keys no field is for: units are chosen with the new setup, a template is handed over, what is not round is drawn; a
step that was cut took its metal, whether or not it gripped."""


def keys(table=SetupData, path=""):
    for one in fields_of(table):
        here = f"{path}{one.key}"
        inner = one.shape.table or (one.shape.item.table if one.shape.item else None)
        if inner is None:
            yield here
        elif one.shape.name == "list":
            yield from keys(inner, f"{here}.0.")
        else:
            yield from keys(inner, f"{here}.")


def test_every_key_of_the_setup_file_can_be_typed():
    face = put(RING, "surface.0.side", "face")
    kinds = ("turn", "groove", "drill", "thread")
    fields = [field for section in FIXED for field in section.fields]
    for kind in kinds:
        fields += [field for group in cut_fields(put(RING, "cut.0.kind", kind), 0) for field in group]
    fields += [*surface_fields(RING, 0), *surface_fields(face, 0), *corner_fields("part.profile", 0),
               *corner_fields("part.blank", 0), *reading_fields(0), *ring_fields(0),
               *step_fields("boring.steps", 0), *step_fields("jaws.last_cut.steps", 0)]  # fmt: skip
    fields += [field for one in fields_of(Assumptions) for field in assumption_fields(one.key)]
    typed = {field.path for field in fields} | {field.path.rpartition(".")[0] for field in fields}
    names = {
        "part.profile.0.diameter": "part.profile.0.0",
        "part.profile.0.z": "part.profile.0.1",
        "part.profile.0.radius": "part.profile.0.2.radius",
        "part.profile.0.chamfer": "part.profile.0.2.chamfer",
    }
    names |= {one.replace("profile", "blank"): to.replace("profile", "blank") for one, to in names.items()}
    names["surface.0.diameters"] = "surface.0.diameter"
    left = {one for one in keys() if names.get(one, one) not in typed} - BY_LIST
    assert left == set()


@pytest.mark.parametrize("path", ["grip.diametre", "chuck.actuator.area", "cut.0.colour"])
def test_a_key_the_setup_file_does_not_know_is_no_field(path):
    with pytest.raises(KeyError):
        shape_at(path)


@pytest.mark.parametrize(("path", "value", "leads_to"), [
    ("cut.1.feed", 25, "cut.1.feed"),
    ("grip.z.0", None, "grip.z.0"),
    ("grip.diameter", None, "grip.diameter"),
    ("assumptions.friction", {"spread": "uniform"}, "assumptions.friction.reason"),
    ("part.profile.2.0", "x", "part.profile.2.0"),
    ("chuck.actuator.push_area", None, "chuck.actuator.push_area"),
    ("chuck.max_speed", "fast", "chuck.max_speed"),
    ("cut.0.name", "a: b 'c'", None),
    ("jaws.material", "cheese", "jaws.material"),
    ("limits.safety_factor", 3, "limits.safety_factor"),
    ("boring.tool.nose_radius", None, "boring.tool.nose_radius"),
    ("surface.0.roundness", 900, "surface.0.roundness"),
])  # fmt: skip
def test_a_problem_leads_to_its_field(path, value, leads_to):
    table = put(RING, path, value)
    found = {path_of(table, one) for one in problems_in(table)}
    assert found == ({leads_to} if leads_to else set())


def test_the_name_of_a_cut_may_look_like_a_problem():
    table = put(put(RING, "cut.0.name", "grip: z: corner 1"), "cut.0.feed", 25)
    assert [path_of(table, one) for one in problems_in(table)] == ["cut.0.feed"]


def test_an_empty_setup_says_at_once_what_it_needs():
    table = blank_setup("metric")
    points = points_of(table, problems_in(table))
    assert all(one.missing for one in points)
    assert {one.path for one in points} == {
        "part.number", "part.material", "part.profile", "grip.diameter", "grip.z.0", "grip.seat", "chuck.name",
        "chuck.max_draw_force", "chuck.max_grip_force", "chuck.max_speed", "chuck.actuator.pull_area",
        "jaws.material", "cut",
    }  # fmt: skip


def test_a_material_nobody_knows_is_said_though_other_things_are_missing():
    table = put(blank_setup("metric"), "part.material", "bronce")
    wrong = [one for one in points_of(table, problems_in(table)) if not one.missing]
    assert [one.path for one in wrong] == ["part.material"]
    assert "bronce" in wrong[0].problem


@pytest.mark.parametrize(("path", "value", "meant_is"), [
    ("part.profile.2.0", "166.0002", "166 mm"),  # of one cylinder with the corner before it
    ("part.profile.1.1", "0.00002 in", "0 mm"),
    ("grip.diameter", "140.0002", "140 mm"),
])  # fmt: skip
def test_what_misses_its_neighbour_by_less_than_a_drawing_says_is_asked_back(path, value, meant_is):
    problems = problems_in(put(RING, path, value))
    assert meant_is in [meant(one) for one in problems]
    assert path in [path_of(RING, one) for one in problems]


def test_a_cut_asks_for_what_its_kind_needs():
    table = {**blank_setup("metric"), "cut": [{"name": "a", "kind": "part_off"}]}
    asked = {one.path for one in points_of(table, problems_in(table)) if one.path.startswith("cut")}
    assert asked == {"cut.0.width", "cut.0.feed", "cut.0.surface", "cut.0.speed"}


def test_nothing_is_asked_of_a_setup_that_holds_together():
    assert points_of(RING, problems_in(RING)) == []


def test_what_was_probably_meant():
    assert meant("feed: 25 mm per turn is outside 0.01 to 2; did you mean 0.25?") == "0.25"
    assert meant('pressure: 250 bar is outside; did you mean "250 psi"? If not, write') == "250 psi"
    assert meant("was the profile typed in inch?") == ""


def test_rows_are_followed():
    rows = [[1, 0], [2, 0], [3, 0]]
    assert aligned(rows, rows[1:]) == [1, 2]
    assert aligned(rows, [[1, 0], [9, 9], [2, 0], [3, 0]]) == [0, None, 1, 2]
    empty = [[None, None], [None, None]]
    assert aligned(empty, [["80", None], [None, None]]) == [0, 1], "typing in a row moves none"
    assert moved("cut.2.feed", "cut", [0, 2]) == "cut.1.feed"
    assert moved("cut.1.feed", "cut", [0, 2]) is None


def test_every_list_of_the_form_is_one_of_the_setup_file():
    assert all(shape_at(path).name == "list" for path in LISTS)


@pytest.mark.parametrize(("problem", "own", "listed"), [
    ('run: pressure: 250 bar is outside 0.1 to 200 bar; did you mean "250 psi"?',
     '250 bar is outside 0.1 to 200 bar; did you mean "250 psi"?',
     'Pressure: 250 bar is outside 0.1 to 200 bar; did you mean "250 psi"?'),
    ("cut 2 'rough land': feed: is missing", "is missing", "cut 2, Feed: is missing"),
    ("count the teeth, and state jaws.tooth", "count the teeth, and state 'Stand on tooth' (Jaws)",
     "count the teeth, and state 'Stand on tooth' (Jaws)"),
    ("the shop.is shut at 5.30", "the shop.is shut at 5.30", "the shop.is shut at 5.30"),
])  # fmt: skip
def test_a_page_calls_a_field_by_its_label_not_by_its_key(problem, own, listed):
    assert said_of_it(RING, problem) == own
    assert in_labels(RING, problem) == listed


def test_whatever_a_setup_complains_of_is_said_without_losing_what_is_wrong():
    for path, value in (("run.pressure", 250), ("grip.z.0", None), ("cut.1.feed", 25), ("jaws.style", "pai")):
        for problem in problems_in(put(RING, path, value)):
            assert said_of_it(RING, problem)
            assert in_labels(RING, problem).endswith(said_of_it(RING, problem))
