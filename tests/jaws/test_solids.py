"""The cut jaws as solids, read back and held against plain figures; ``bench/jaw_solids.py`` does it to hundreds."""

import io
import re
from dataclasses import replace

import netgen.occ as occ
import numpy as np
import pytest
import shapely
import trimesh
from conftest import ROOT

from heldtrue.drawing.exchange import step_text, stl_bytes
from heldtrue.errors import GeometryError
from heldtrue.mechanics.cut_jaw import CutJaw, Turned, cut_solid, volume_by_sections, whole_set
from heldtrue.mechanics.facets import facets
from heldtrue.mechanics.jaw_outline import outline
from heldtrue.mechanics.jaw_shape import Bolt
from heldtrue.planning.inputs import prepare
from heldtrue.planning.jaw_layout import lay_out, lay_out_used
from heldtrue.planning.jaw_solid import cut_jaw
from heldtrue.planning.setup import Setup

from .plain import PlainCut, PlainJaw
from .plain_solid import PlainBlock, cut_away, volume

CASES = {  # example, what is changed in it, taper per side
    "pie, inside": ("wear-ring", {}, 0.012),
    "standard, outside": ("winch-shaft", {}, -0.008),
    "wide, outside": ("gland-flange", {}, 0.02),
    "straight": ("winch-shaft", {}, 0.0),
    "pointed, outside": ("winch-shaft", {"jaws.inner_end": "pointed", "jaws.gap": 2.0,
                                         "jaws.ends": [-45.0, 46.0]}, 0.01),
    "block, inside": ("wear-ring", {"jaws.style": "standard", "jaws.width": 50.0, "jaws.gap": None,
                                    "jaws.ends": [-55.0, 26.0], "jaws.holes": [-26.0]}, 0.01),
}  # fmt: skip


class Cut:
    """One case laid out by geometry alone, and its solid."""

    def __init__(self, example, changes, taper):
        setup = Setup.from_toml(ROOT / "examples" / f"{example}.toml").with_(changes)
        self.setup, self.job = setup, prepare(setup)
        self.layout = lay_out(self.job)
        assert not self.layout.refusals
        self.design = self.layout.design(taper)
        self.jaw = cut_jaw(self.design.profile, setup.grip.side, self.layout.hardware, self.layout.ring)
        self.solid = cut_solid(self.jaw)

    def plain(self):
        """The same blank in plan, from the setup."""
        jaws, zero, chuck = self.setup.jaws, self.layout.ring.way.zero, self.setup.chuck
        low, high = (zero + end for end in jaws.ends)
        if jaws.style == "pie":
            return PlainBlock(chuck.jaws, low, high, pie=True, gap=jaws.gap)
        return PlainBlock(chuck.jaws, low, high, jaws.width, jaws.inner_end == "pointed")

    def bolts(self):
        """Place, hole, head and depth of the head of every bolt."""
        jaws, zero = self.setup.jaws, self.layout.ring.way.zero
        hole = {"M10": 11.0, "M12": 13.5}[jaws.bolt]
        return [(zero + at, hole, jaws.counterbore_diameter, jaws.counterbore_depth) for at in jaws.holes]


@pytest.fixture(scope="module")
def cuts():
    """Every case."""
    return {name: Cut(*case) for name, case in CASES.items()}


def read_back(text, folder):
    """The solids of a STEP text, by the kernel's reader."""
    path = folder / "jaws.step"
    path.write_text(text, encoding="ascii")
    return occ.OCCGeometry(str(path)).shape.solids


@pytest.mark.parametrize("name", CASES)
def test_the_volume_is_that_of_plain_integration(cuts, name):
    cut = cuts[name]
    assert cut.solid.mass == pytest.approx(volume(cut.plain(), cut.design, cut.setup.grip.z, cut.bolts()), rel=1e-9)


@pytest.mark.parametrize("name", CASES)
def test_the_step_file_has_every_jaw_with_its_bore_and_taper(cuts, name, tmp_path):
    cut = cuts[name]
    solids = read_back(step_text(whole_set(cut.jaw, cut.solid), "jaw set", ("words",)), tmp_path)
    count = cut.setup.chuck.jaws
    assert [one.name for one in solids] == [f"jaw {number + 1}" for number in range(count)]
    out, (low, high), depth = (1.0 if cut.design.side == "outside" else -1.0), cut.setup.grip.z, cut.design.depth
    for number, one in enumerate(solids):
        assert one.mass == pytest.approx(cut.solid.mass, rel=1e-9)
        turn = 2 * np.pi * number / count
        across = one.center.x * np.cos(turn) + one.center.y * np.sin(turn)
        assert across == pytest.approx(cut.solid.center.x, abs=1e-6)
        assert -one.center.x * np.sin(turn) + one.center.y * np.cos(turn) == pytest.approx(0.0, abs=1e-6)
        ends = [edge.Value(t) for face in one.faces for edge in face.edges for t in edge.parameter_interval]
        found = {(round(float(np.hypot(p.x, p.y)), 7), round(p.z, 7)) for p in ends}

        def at(z, found=found, near=cut.design.diameter / 2):
            return min((r for r, height in found if abs(height - z) < 1e-6), key=lambda r: abs(r - near))

        foot, top = at(-(depth - cut.design.relief[0])), at(-cut.design.mouth_chamfer)
        for radius, above in ((foot, cut.design.relief[0]), (top, depth - cut.design.mouth_chamfer)):
            wanted = cut.design.diameter / 2 - out * cut.design.taper * (above - low) / (high - low)
            assert radius == pytest.approx(wanted, abs=1e-6)
        tall = depth - cut.design.mouth_chamfer - cut.design.relief[0]
        assert out * (foot - top) / tall == pytest.approx(cut.design.taper / (high - low), abs=1e-7)


def test_the_bore_of_a_step_file_is_true_and_not_made_of_splines(cuts):
    text = step_text(cuts["straight"].solid, "jaw", ())
    radii = [float(one) for one in re.findall(r"CYLINDRICAL_SURFACE\('',#\d+,([\d.E+-]+)\)", text)]
    assert any(abs(one - cuts["straight"].design.diameter / 2) < 1e-9 for one in radii)
    assert "B_SPLINE_SURFACE" not in text
    assert "SURFACE_OF_REVOLUTION" not in text


def far_from_the_cut(cut, points):
    """How far points lie from every surface the jaw can have: its ends, sides, cut and bolts, the nearest counts."""
    away, across = np.hypot(points[:, 0], points[:, 1]), np.abs(points[:, 1])
    plain, height = cut.plain(), cut.design.height
    line = shapely.LineString(cut.design.profile)
    found = [np.abs(points[:, 2]), np.abs(points[:, 2] + height),
             shapely.distance(line, shapely.points(np.column_stack([away, points[:, 2]])))]  # fmt: skip
    sector = np.pi / plain.jaws
    if plain.pie:
        side = points[:, 0] * np.sin(sector) - across * np.cos(sector)
        found += [np.abs(away - plain.low), np.abs(away - plain.high), np.abs(side - plain.gap / 2)]
    else:
        found += [np.abs(points[:, 0] - plain.high), np.abs(across - plain.width / 2)]
        tip = (points[:, 0] - plain.low) * np.sin(sector) - across * np.cos(sector)
        found.append(np.abs(tip if plain.tip else points[:, 0] - plain.low))
    for x, hole, head, deep in cut.bolts():
        off = np.hypot(points[:, 0] - x, points[:, 1])
        found += [np.abs(off - hole / 2), np.abs(off - head / 2), np.abs(points[:, 2] + deep)]
    return np.min(found, axis=0)


@pytest.mark.parametrize(("name", "chord"), [(name, 0.01) for name in CASES] + [("pie, inside", 0.1)])
def test_the_triangles_close_and_lie_within_the_chord(cuts, name, chord):
    cut = cuts[name]
    made = facets(cut.solid, chord)
    mesh = trimesh.load(io.BytesIO(stl_bytes(made, "jaw")), file_type="stl")
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert made.off <= chord
    near = np.random.default_rng(1).dirichlet((1, 1, 1), size=(len(mesh.faces), 12))
    points = np.concatenate([np.einsum("tij,tpi->tpj", mesh.triangles, near).reshape(-1, 3), mesh.triangles_center,
                             (mesh.triangles + np.roll(mesh.triangles, 1, axis=1)).reshape(-1, 3) / 2])  # fmt: skip
    assert far_from_the_cut(cut, points).max() <= chord + 1e-5  # the figures of an STL file
    assert abs(mesh.volume - cut.solid.mass) <= chord * mesh.area
    assert mesh.volume > 0


def test_a_cut_that_the_kernel_leaves_out_is_found(cuts, monkeypatch):
    """The volume by sections stands by itself: with a hole or a turning less, no solid is given."""
    for cut in cuts.values():
        assert volume_by_sections(cut.jaw) == pytest.approx(cut.solid.mass, rel=1e-4)
    nothing = occ.Box(occ.Pnt(900, 900, 900), occ.Pnt(901, 901, 901))
    jaw = cuts["standard, outside"].jaw
    for broken in ("cut_jaw._turned", "cut_jaw.occ.Cylinder"):
        with monkeypatch.context() as patched:
            patched.setattr(f"heldtrue.mechanics.{broken}", lambda *_, **__: nothing)
            with pytest.raises(GeometryError, match="its sections add up to"):
                cut_solid(jaw)


def test_a_used_set_has_its_old_cut_in_it():
    setup = Setup.from_toml(ROOT / "examples" / "gland-flange-repeat.toml")
    job = prepare(setup)
    layout, _ = lay_out_used(job, 89.55)
    design, zero, blank = layout.design(0.0), layout.ring.way.zero, layout.hardware.blank
    solid = cut_solid(cut_jaw(design.profile, "outside", layout.hardware, layout.ring))
    jaws = setup.jaws
    jaw = PlainJaw(3, False, False, jaws.width, 0.0, *jaws.ends, blank.height)
    centre = layout.hardware.master.zeros[blank.bored.tooth - 1] - blank.bored.shift
    old = PlainCut(True, blank.bored.radius, blank.bored.depth, centre)
    gone, _ = cut_away(design, setup.grip.z)
    step = 0.5
    x, y = np.meshgrid(np.arange(zero + jaws.ends[0], zero + jaws.ends[1], step) + step / 2,
                       np.arange(-30, 30, step) + step / 2)  # fmt: skip
    x, y = x.ravel(), y.ravel()
    there = jaw.holds(x, y, zero)
    deep = np.array([gone(float(np.hypot(*at))) for at in zip(x, y, strict=True)])
    deep = np.maximum(deep, np.where(old.gone(np.stack([x - zero, y], 1), -1.0), old.depth, 0.0))
    left = float(((blank.height - deep) * there).sum() * step**2)
    bolts = sum(np.pi / 4 * (20.0**2 * 20.0 + 13.5**2 * (blank.height - 20.0)) for _ in jaws.holes)
    assert solid.mass == pytest.approx(left - bolts, rel=2e-3)


def test_what_an_old_relief_leaves_behind_the_new_bore_is_in_the_solid():
    example = Setup.from_toml(ROOT / "examples" / "gland-flange-repeat.toml")
    setup = example.with_({"jaws.last_cut.relief_width": 2.0, "jaws.last_cut.relief_depth": 3.0})
    layout, _ = lay_out_used(prepare(setup), 89.55)
    design, bored, way = layout.design(0.0), layout.hardware.blank.bored, layout.ring.way
    solid = cut_solid(cut_jaw(design.profile, "outside", layout.hardware, layout.ring))
    off = way.zero + bored.shift - layout.hardware.master.zeros[bored.tooth - 1]
    ground = off + bored.radius + 3.0  # in the jaw's middle, at the old seat
    assert ground > design.diameter / 2 + design.relief[1] + 1.0

    def metal(x, z):  # how full a cube of 0.1 mm is there
        low, high = (occ.Pnt(x + step, step, z + step) for step in (-0.05, 0.05))
        return (solid * occ.Box(low, high)).mass / 0.1**3

    assert metal(ground - 0.4, -bored.depth + 0.06) == pytest.approx(0.0, abs=1e-6)
    assert metal(ground + 0.2, -bored.depth + 0.06) == pytest.approx(1.0, abs=1e-6)
    assert metal(ground - 0.2, -bored.depth - 0.06) == pytest.approx(1.0, abs=1e-6)


def test_an_old_cut_off_the_axis_that_reaches_further_stays():
    block = outline("standard", 3, (40.0, 100.0), 50.0)
    new = Turned(((60.0, 5.0), (60.0, -10.0), (0.0, -10.0), (0.0, 5.0)))
    old = Turned(((20.0, 5.0), (20.0, -15.0), (0.0, -15.0), (0.0, 5.0)), off=45.0)
    bare, both = (cut_solid(CutJaw(3, block, 40.0, turned)) for turned in ((new,), (old, new)))
    # Of the old cut what lies in the jaw and under or behind the new one.
    plan = shapely.box(40, -25, 100, 25)
    disc, bore = (shapely.Point(x, 0).buffer(r, 4000) for x, r in ((45, 20), (0, 60)))
    more = 15 * disc.difference(bore).intersection(plan).area + 5 * disc.intersection(bore).intersection(plan).area
    assert bare.mass - both.mass == pytest.approx(more, rel=1e-6)
    assert trimesh.Trimesh(*_surface(both)).is_watertight


def _surface(solid):
    made = facets(solid, 0.01)
    return made.points, made.triangles


def test_what_is_neither_flat_nor_round_about_z_is_refused():
    with pytest.raises(GeometryError, match="neither flat nor round"):
        facets(occ.Sphere(occ.Pnt(0, 0, 0), 5.0), 0.01)
    with pytest.raises(GeometryError, match="neither flat nor round"):
        facets(occ.Cylinder(occ.Pnt(0, 0, 0), occ.X, r=5.0, h=10.0), 0.01)


def test_a_jaw_in_pieces_is_refused():
    block = outline("standard", 3, (40.0, 100.0), 10.0)
    with pytest.raises(GeometryError, match="2 pieces"):
        cut_solid(CutJaw(3, block, 40.0, (), (Bolt(70.0, 12.0, 20.0, 10.0),)))


def test_words_of_any_script_and_signs_go_into_the_head(cuts, tmp_path):
    text = step_text(whole_set(cuts["straight"].jaw, cuts["straight"].solid), "Müller's", ("it's Ø60 \\ 鉤",))
    assert text.isascii()
    assert "'M\\X4\\000000FC\\X0\\ller''s'" in text
    assert "'it''s \\X4\\000000D8\\X0\\60 \\\\ \\X4\\00009264\\X0\\'" in text
    assert len(read_back(text, tmp_path)) == 3


def test_a_triangle_that_the_file_cannot_hold_is_refused():
    made = facets(occ.Box(occ.Pnt(0, 0, 0), occ.Pnt(1, 1, 1)), 0.01)
    thin = replace(made, points=made.points * np.array([1, 1, 1e-12]) + 1.0)
    with pytest.raises(GeometryError, match="too narrow"):
        stl_bytes(thin, "")
