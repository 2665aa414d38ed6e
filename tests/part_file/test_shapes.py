"""Shapes from a few dimensions against closed-form volumes, and what is refused."""

from math import pi

import pytest

from heldtrue.drawing.shape_drawing import draw_shape
from heldtrue.errors import InputError
from heldtrue.part_file.shapes import SHAPES, outline_of_shape
from heldtrue.part_file.surfaces import surfaces_of


def tube(outside, inside, length):
    return pi / 4 * (outside**2 - inside**2) * length


def fillet(diameter, radius):
    """Ring of metal in an inner corner round an outside of that diameter, by Pappus."""
    square, quarter = radius**2, pi * radius**2 / 4
    r = diameter / 2
    # centre of area of the square less that of the quarter circle about its far corner
    moment = square * (r + radius / 2) - quarter * (r + radius - 4 * radius / (3 * pi))
    return 2 * pi * moment


VOLUMES = {
    "ring": tube(166, 140, 32),
    "stepped shaft": tube(60, 0, 30) + tube(48, 0, 40) + tube(36, 0, 35),
    "flange": tube(150, 60, 18) + tube(90, 60, 32) + fillet(90, 4),
    "sleeve": tube(90, 52, 20) + tube(70, 52, 70),
    "disc with hub": tube(70, 40, 60) + tube(160, 70, 20) + 2 * fillet(70, 3),
    "cup": tube(110, 90, 56) + tube(110, 0, 14)
    + 2 * pi * (25 * (45 - 2.5) - pi * 25 / 4 * (45 - 5 + 4 * 5 / (3 * pi))),
}  # fmt: skip


@pytest.mark.parametrize("name", SHAPES)
def test_every_shape_has_its_volume_and_seats_at_zero(name):
    outline = outline_of_shape(name, SHAPES[name].example)
    assert outline.volume == pytest.approx(VOLUMES[name], rel=1e-12)
    assert outline.z[0] == 0.0
    assert "face z 0" in {one.name for one in surfaces_of(outline)}


def test_every_dimension_changes_the_shape():
    for kind in SHAPES.values():
        whole = outline_of_shape(kind.name, kind.example)
        for key, value in kind.example.items():
            more = tuple(1.01 * one for one in value) if isinstance(value, tuple) else 1.01 * value
            assert outline_of_shape(kind.name, {**kind.example, key: more}) != whole, key


@pytest.mark.parametrize("name", SHAPES)
def test_the_picture_names_every_dimension(name):
    picture = draw_shape(name)
    for key in SHAPES[name].example:
        assert f"{key}<" in picture or f"{key}, 1<" in picture, key
    assert "seat<" in picture
    assert "nan" not in picture


@pytest.mark.parametrize(("name", "given", "problem"), [
    ("ring", {"outside": 100, "bore": 120, "length": 3}, "bore 120 mm must be less than outside 100 mm"),
    ("ring", {"outside": 100, "bore": 100, "length": 3}, "bore 100 mm must be less"),
    ("ring", {"outside": 100, "bore": 20}, "length is missing"),
    ("ring", {"outside": 100, "bore": 20, "length": -3}, "length must be above 0"),
    ("ring", {"outside": 100, "bore": 20, "length": 3, "hub": 3}, "has no hub; it has bore, length, outside"),
    ("stepped shaft", {"diameters": (60, 40), "lengths": (30,)}, "found 2 and 1"),
    ("stepped shaft", {"diameters": (60, 60), "lengths": (30, 20)}, "one diameter"),
    ("stepped shaft", {"diameters": (60, 40), "lengths": (30, 20), "bore": 40}, "smallest of the diameters"),
    ("flange", {"outside": 90, "thickness": 10, "neck": 100, "length": 40}, "neck 100 mm must be less"),
    ("flange", {"outside": 90, "thickness": 40, "neck": 50, "length": 40}, "thickness 40 mm must be less"),
    ("sleeve", {"outside": 60, "bore": 40, "length": 50, "collar": 80}, "collar_length is missing"),
    ("disc with hub", {"outside": 90, "thickness": 40, "hub": 50, "length": 50, "offset": 10}, "together, 50 mm"),
    ("cup", {"outside": 90, "bore": 80, "length": 50, "bottom": 10, "root": 45}, "does not fit"),
    ("bowl", {}, "shapes are ring"),
])  # fmt: skip
def test_a_shape_that_cannot_be_is_refused_in_words(name, given, problem):
    with pytest.raises(InputError, match=problem):
        outline_of_shape(name, given)
