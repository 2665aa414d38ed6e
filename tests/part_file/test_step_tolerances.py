"""Tolerances that a file ties to faces: on the right surface, or named."""

from pathlib import Path

import pytest
from plain_step import Style, write
from test_step import FLANGE

from heldtrue.part_file.exchange_text import read_exchange
from heldtrue.part_file.fits import deviations
from heldtrue.part_file.step import read_step
from heldtrue.part_file.step_tolerances import with_tolerances
from heldtrue.part_file.turned_part import Tolerances, TurnedSurface

UNITS = """
#9000=(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.));
#9001=PRODUCT_DEFINITION_SHAPE('','',$);
#9002=LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4),#9000);
#9003=(CONVERSION_BASED_UNIT('INCH',#9002) LENGTH_UNIT() NAMED_UNIT(*));
"""


def face_numbers():
    """The faces of the flange by what they are on: cylinder radius, or z of a plane."""
    rows = dict(
        row[1:].rstrip(";").split("=", 1) for row in write(FLANGE.pieces).decode().splitlines() if row[0] == "#"
    )
    found = {}
    for number, row in rows.items():
        if row.startswith("ADVANCED_FACE"):
            surface = rows[row.rsplit("#", 1)[1].split(",")[0]]
            placed = rows[surface.split("#")[1].split(",")[0].rstrip(")")]
            point = rows[placed.split("#")[1].split(",")[0]]
            size = (
                surface.rsplit(",", 1)[1].rstrip(")") if "CYL" in surface else f"z{point.rstrip(')').rsplit(',', 1)[1]}"
            )
            found.setdefault(f"{surface.split('_')[0].split('(')[0]} {size}", []).append(number)
    return found


FACES = face_numbers()


def read(extra):
    part = read_step("part.stp", write(FLANGE.pieces, extra=UNITS + extra), measured=False)
    return {one.name: one.tolerances for one in part.surfaces if one.tolerances != Tolerances()}, part.notes


def aspect(number, faces):
    uses = "".join(
        f"#{number + 1 + k}=GEOMETRIC_ITEM_SPECIFIC_USAGE('','',#{number},#9001,#{face});\n"
        for k, face in enumerate(faces)
    )
    return f"#{number}=SHAPE_ASPECT('','',#9001,.T.);\n{uses}"


def form(kind, value, faces, unit=9000):
    return aspect(9100, faces) + (
        f"#9200=LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE({value}),#{unit});\n#9201={kind}('frame 7','',#9200,#9100);\n"
    )


def size(span, faces, nominal="120.", what="diameter"):
    return aspect(9100, faces) + (
        f"{span}#9301=DIMENSIONAL_SIZE(#9100,'{what}');\n#9302=PLUS_MINUS_TOLERANCE(#9300,#9301);\n"
        "#9303=(LENGTH_MEASURE_WITH_UNIT() MEASURE_REPRESENTATION_ITEM() "
        f"MEASURE_WITH_UNIT(LENGTH_MEASURE({nominal}),#9000) REPRESENTATION_ITEM(''));\n"
        "#9304=SHAPE_DIMENSION_REPRESENTATION('',(#9303),#9001);\n"
        "#9305=DIMENSIONAL_CHARACTERISTIC_REPRESENTATION(#9301,#9304);\n"
    )


BETWEEN = (
    "#9310=MEASURE_WITH_UNIT(LENGTH_MEASURE(-0.02),#9000);\n#9311=MEASURE_WITH_UNIT(LENGTH_MEASURE(0.01),#9000);\n"
    "#9300=TOLERANCE_VALUE(#9310,#9311);\n"
)
OUTSIDE, BORE, LOW_END = FACES["CYLINDRICAL 60.0"], FACES["CYLINDRICAL 20.0"], FACES["PLANE z0.0"]


@pytest.mark.parametrize(
    ("kind", "key", "faces", "name"),
    [
        ("ROUNDNESS_TOLERANCE", "roundness", OUTSIDE, "outside Ø120"),
        ("CYLINDRICITY_TOLERANCE", "cylindricity", BORE, "bore Ø40"),
        ("FLATNESS_TOLERANCE", "flatness", LOW_END, "face z 0"),
    ],
)
def test_forms_stand_on_their_surface(kind, key, faces, name):
    found, notes = read(form(kind, "0.02", faces))
    assert found == {name: Tolerances(**{key: 0.02})}
    assert not notes


def test_run_out_of_a_complex_entity_on_one_half_of_a_face_in_inches():
    found, _ = read(aspect(9100, BORE[:1]) + (
        "#9200=MEASURE_WITH_UNIT(LENGTH_MEASURE(0.001),#9003);\n"
        "#9201=(CIRCULAR_RUNOUT_TOLERANCE() GEOMETRIC_TOLERANCE('','',#9200,#9100) "
        "GEOMETRIC_TOLERANCE_WITH_DATUM_REFERENCE((#9001)));\n"))  # fmt: skip
    assert found["bore Ø40"].runout == pytest.approx(0.0254)


def test_plus_and_minus_and_an_aspect_made_of_others():
    parts = "".join(aspect(9110 + 10 * k, [face]) for k, face in enumerate(OUTSIDE))
    links = "".join(
        f"#{9150 + k}=SHAPE_ASPECT_RELATIONSHIP('','',#9100,#{9110 + 10 * k});\n" for k in range(len(OUTSIDE))
    )
    found, notes = read(size(BETWEEN, []) + parts + links)
    assert found == {"outside Ø120": Tolerances(size=(-0.02, 0.01))}
    assert not notes


@pytest.mark.parametrize(("zone", "limits"), [("'h','','6'", (-0.022, 0.0)), ("'H','hole','7'", (0.0, 0.035))])
def test_fits(zone, limits):
    found, _ = read(size(f"#9300=LIMITS_AND_FITS({zone},'');\n", OUTSIDE))
    assert found["outside Ø120"].size == pytest.approx(limits)


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        (form("SURFACE_PROFILE_TOLERANCE", "0.1", OUTSIDE),
         "surface profile tolerance 0.1 mm (frame 7) is not taken over"),
        (form("FLATNESS_TOLERANCE", "0.1", OUTSIDE), "outside Ø120 is a cylinder"),
        (form("ROUNDNESS_TOLERANCE", "0.1", FACES["TOROIDAL z2.0"]), "no cylinder or flat"),
        (form("ROUNDNESS_TOLERANCE", "0.1", []), "the file ties it to no face"),
        (form("ROUNDNESS_TOLERANCE", "-0.1", OUTSIDE), "no value in a length"),
        (size(BETWEEN, OUTSIDE, nominal="119."), "its size Ø119 is not that of outside Ø120"),
        (size(BETWEEN, OUTSIDE, what="radius"), "heldtrue takes tolerances of diameters"),
        (size("#9300=LIMITS_AND_FITS('zb','','6','');\n", OUTSIDE), "class zb6 is not in the tables"),
        ("#9201=ROUNDNESS_TOLERANCE('','',#9777,#9778);\n", "could not be read"),
        (aspect(9100, OUTSIDE) + "#9200=MEASURE_WITH_UNIT(LENGTH_MEASURE(0.1),#9000);\n"
         "#9201=(FLATNESS_TOLERANCE() GEOMETRIC_TOLERANCE('','',#9200,#9100) "
         "GEOMETRIC_TOLERANCE_WITH_DEFINED_UNIT(#9200));\n",
         "changed by with defined unit"),
    ],
)  # fmt: skip
def test_what_cannot_be_mapped_is_named(extra, words):
    found, notes = read(extra)
    assert not found
    assert len(notes) == 1
    assert words in notes[0]


@pytest.mark.parametrize(
    ("zone", "diameter", "limits"),
    [("H7", 50, (0, 0.025)), ("h6", 50, (-0.016, 0)), ("g6", 50, (-0.025, -0.009)), ("F8", 50.01, (0.03, 0.076)),
     ("js9", 10, (-0.018, 0.018)), ("H7", 501, None), ("H99", 50, None), ("p6", 50, None), ("7H", 50, None)],
)  # fmt: skip
def test_classes(zone, diameter, limits):
    assert deviations(zone, diameter) == (None if limits is None else pytest.approx(limits))


def test_a_style_with_inches_keeps_the_tolerance_in_its_own_unit():
    part = read_step(
        "part.stp", write(FLANGE.pieces, Style(inch=True), extra=UNITS + form("FLATNESS_TOLERANCE", "0.02", []))
    )
    assert part.notes[0].startswith("flatness tolerance 0.02 mm")


CTC_02 = (Path(__file__).parent / "files" / "nist_ctc_02_tolerances.stp").read_bytes()
PUBLISHED = [(12, 0.05), (12, 0.05), (22, 0.1), (22, 0.1), (40, 0.15), (52, 0.15), (100, 0.15)]
"""Diameters and their plus and minus, mm: of the file's own text, read by eye (DIMENSIONAL_SIZE, TOLERANCE_VALUE)."""


def test_every_size_of_the_published_model_stands_on_the_cylinder_or_circle_of_that_diameter():
    """NIST's CTC-02: the diameters of its geometry are known apart from what its sizes say."""
    file = read_exchange(CTC_02)
    surfaces, faces, edges = [], [], []
    for face in file.of("ADVANCED_FACE"):
        ground = file[face.values[2]]
        round_ = ground.name == "CYLINDRICAL_SURFACE"
        size = (2 * ground.values[2],) * 2 if round_ else (0.0, 9.0)
        surfaces.append(TurnedSurface(str(face.id), "inside" if round_ else "face", size, (0.0, float(round_))))
        faces.append(frozenset([face.id]))
        edges.append(frozenset())
    for edge in file.of("EDGE_CURVE"):  # of faces that are not in the cut
        radius = file[edge.values[3]].values[2]
        surfaces.append(TurnedSurface(f"edge {edge.id}", "inside", (2 * radius, 2 * radius), (0.0, 1.0)))
        faces.append(frozenset())
        edges.append(frozenset([edge.id]))
    found, notes = with_tolerances(file, surfaces, faces, edges)
    sized = [(one.diameters[0], one.tolerances.size) for one in found if one.tolerances.size]
    assert sorted(sized) == [(diameter, (-off, off)) for diameter, off in PUBLISHED]
    assert [one.tolerances.flatness for one in found if one.side == "face"] == [0.05]
    assert [note.partition(" is not")[0] for note in notes] == [
        "perpendicularity tolerance 0.25 mm (Feature Control Frame (74))",
        "perpendicularity tolerance 0.05 mm (Feature Control Frame (37))",
    ]


def test_a_size_on_an_edge_of_another_diameter_and_a_form_on_an_edge_are_not_taken_over():
    """The must-fail: an edge belongs to two faces, and only a size says which."""
    file = read_exchange(
        CTC_02.replace(b"FLATNESS_TOLERANCE", b"ROUNDNESS_TOLERANCE").replace(b",#8143);", b",#5096);")
    )
    wrong = TurnedSurface("bore", "inside", (52.5, 52.5), (0.0, 1.0))
    found, notes = with_tolerances(file, [wrong], [frozenset()], [frozenset([5096])])
    assert found[0].tolerances == Tolerances()
    assert any("size tolerance -0.15/+0.15" in one and "tied" not in one for one in notes)
    assert any("roundness" in one and "to an edge" in one for one in notes)
