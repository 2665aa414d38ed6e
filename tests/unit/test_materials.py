import pytest
from hypothesis import given
from hypothesis import strategies as st

from heldtrue.errors import InputError
from heldtrue.mechanics import materials as m

DATA = ("young", "poisson", "density", "yield_strength")
WORK_DATA = (*DATA, "kc11", "mc")
FACES = ("smooth", "grooved", "diamond", "serrated")
SURFACES = ("ground", "turned", "raw")


def test_there_are_enough_materials():
    assert len(m.WORK_MATERIALS) >= 25
    assert len(m.JAW_MATERIALS) >= 6


@pytest.mark.parametrize("material", m.WORK_MATERIALS, ids=lambda x: x.key)
def test_every_number_has_a_source_and_a_sane_size(material):
    for name in WORK_DATA:
        datum = getattr(material, name)
        assert len(datum.source) > 5
        assert datum.least <= datum.value <= datum.most
    assert 500 < material.young.value < 300_000
    assert 0.2 < material.poisson.value < 0.45
    assert 1e-6 < material.density.value < 9e-6
    assert material.yield_strength.least > 30
    assert 50 < material.kc11.value < 3000
    assert 0.1 < material.mc.least <= material.mc.most < 0.5  # 1 - mc misread would fail this
    assert material.kc11.most >= 1.01 * material.kc11.value  # scatter is always on show
    assert material.kc11.least <= 0.95 * material.kc11.value
    assert material.group in m.WORK_FRICTION_FACTOR


@pytest.mark.parametrize("material", m.JAW_MATERIALS, ids=lambda x: x.key)
def test_jaw_materials_share_the_data_of_the_same_part_material(material):
    twin = m.work_material(material.key)
    for name in DATA:
        assert getattr(material, name) is getattr(twin, name)


@pytest.mark.parametrize(
    ("typed", "key"),
    [("42CrMo4", "42CrMo4"), ("4140", "42CrMo4"), ("1.7225", "42CrMo4"), (" 42 crmo 4 ", "42CrMo4"),
     ("17-4 ph", "17-4PH"), ("brass 360", "C36000"), ("en-gjl-250", "GJL-250"), ("TI-6AL-4V", "Ti6Al4V"),
     ("Inconel 718", "Inconel718"), ("cusn12", "CuSn12"), ("nylon", "PA6")],
)  # fmt: skip
def test_work_lookup_forgives(typed, key):
    assert m.work_material(typed).key == key


@pytest.mark.parametrize(
    ("typed", "key"),
    [("aluminium 6061-T6", "6061-T6"), ("1018", "C15"), ("soft steel", "C15"), ("Acetal", "POM")],
)
def test_jaw_lookup_forgives(typed, key):
    assert m.jaw_material(typed).key == key


@given(st.sampled_from(m.WORK_MATERIALS), st.data())
def test_every_key_name_and_alias_leads_back(material, data):
    name = data.draw(st.sampled_from((material.key, material.name, *material.aliases)))
    assert m.work_material(f" {name.swapcase()} ") is material


def test_unknown_work_material_lists_the_closest():
    with pytest.raises(InputError, match=r"'42CrMo5' is not known; closest names: 42CrMo4"):
        m.work_material("42CrMo5")


def test_unknown_jaw_material_lists_all_when_none_is_close():
    with pytest.raises(InputError, match=r"known names: .*C15.*PA6"):
        m.jaw_material("zzzz")


def test_a_part_material_is_not_a_jaw_material():
    with pytest.raises(InputError, match="jaw material"):
        m.jaw_material("Inconel 718")


def test_datum_guards_itself():
    with pytest.raises(InputError, match="no source"):
        m.Datum(1.0, " ")
    with pytest.raises(InputError, match="outside its own range"):
        m.Datum(1.0, "here", 1.1, 1.2)
    with pytest.raises(InputError, match="finite"):
        m.Datum(float("nan"), "here")


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")])
def test_require_positive_names_the_value(bad):
    with pytest.raises(InputError, match="jaw mass is"):
        m.require_positive(jaw_mass=bad, other=1.0)


def test_requires_accept_what_they_should():
    m.require_positive(a=1e-300)
    m.require_not_negative(a=0.0)
    m.require_finite(a=-5.0)
    with pytest.raises(InputError, match="below 0"):
        m.require_not_negative(a=-1e-300)


@pytest.mark.parametrize(
    ("face", "surface", "low", "value", "high"),
    [("smooth", "ground", 0.05, 0.07, 0.08), ("smooth", "turned", 0.07, 0.10, 0.13),
     ("smooth", "raw", 0.10, 0.15, 0.16),
     ("diamond", "ground", 0.07, 0.12, 0.12), ("diamond", "turned", 0.12, 0.20, 0.20),
     ("diamond", "raw", 0.20, 0.30, 0.30),
     ("serrated", "ground", 0.11, 0.20, 0.20), ("serrated", "turned", 0.20, 0.35, 0.35),
     ("serrated", "raw", 0.25, 0.45, 0.45),
     ("grooved", "turned", 0.07, 0.10, 0.165)],
)  # fmt: skip
def test_friction_of_steel_oily_as_printed_and_greatest(face, surface, low, value, high):
    found = m.friction_range("steel", face, surface)
    assert (found.low, found.value, found.high) == pytest.approx((low, value, high), rel=1e-12)


@pytest.mark.parametrize(
    ("group", "factor", "most"), [("aluminium", 0.95, 0.97), ("brass", 0.90, 0.92), ("iron", 0.80, 0.80)]
)
def test_part_material_factor_on_friction(group, factor, most):
    """The lesser factor of two tables at the low end, the greater at the high end."""
    steel, other = m.friction_range("steel", "diamond", "raw"), m.friction_range(group, "diamond", "raw")
    assert (other.least / steel.least, other.most / steel.most) == pytest.approx((factor, most), rel=1e-12)
    assert other.value / steel.value == pytest.approx(factor, rel=1e-12)
    assert f"{factor:g}" in other.source


def test_friction_says_which_end_comes_from_which_table():
    smooth, serrated = (m.friction_range("steel", *pair).source for pair in (("smooth", "raw"), ("serrated", "raw")))
    assert smooth.startswith("manual of a chuck maker, read, p. 45: smooth jaw, raw steel part; low end oily")
    assert smooth.endswith("high end manual of a second chuck maker, read, along the axis")
    assert serrated.endswith("low end manual of a second chuck maker, read, round the part")
    assert "taken as steel" in m.friction_range("stainless", "smooth", "raw").source


@given(st.sampled_from(sorted(m.WORK_FRICTION_FACTOR)), st.sampled_from(FACES), st.sampled_from(SURFACES))
def test_friction_never_reaches_clean_laboratory_values(group, face, surface):
    found = m.friction_range(group, face, surface)
    assert 0.03 < found.least < found.most <= 0.45
    assert found.least < found.value <= found.most
    assert found.value <= m.friction_range("steel", face, surface).value
    assert found.source.startswith("manual of a chuck maker, read")


@pytest.mark.parametrize("bad", [("wood", "smooth", "raw"), ("steel", "sticky", "raw"), ("steel", "smooth", "wet")])
def test_friction_refuses_unknown_words(bad):
    with pytest.raises(InputError, match="must be one of"):
        m.friction_range(*bad)


@pytest.mark.parametrize(("name", "key"), [
    ("AISI 4140", "42CrMo4"), ("SAE 1045", "C45"), ("W.Nr. 1.7225", "42CrMo4"), ("UNS S30400", "304"),
    ("EN AW-6082", "6082-T6"), ("EN-GJL-250", "GJL-250"), ("JIS SCM440", "42CrMo4"), ("S355J2", "S355"),
    ("St 52-3", "S355"), ("AISI 8620", "8620"), ("1.6523", "8620"), ("EN 1.4301", "304"), ("AA 7075", "7075-T6"),
])  # fmt: skip
def test_names_of_several_norm_systems(name, key):
    assert m.work_material(name).key == key


@pytest.mark.parametrize(("name", "members"), [
    ("steel", ("S235", "42CrMo4")), ("cast iron", ("GJL-250", "GJS-400")), ("ductile", ("GJS-400", "GJS-500")),
    ("bronze", ("CuSn12", "CuAl10Ni")), ("aluminium", ("6061-T6", "AlSi7Mg")), ("Brass", ("CuZn39Pb3", "C36000")),
    ("stainless steel", ("304", "316")), ("duplex", ("2205",)), ("grey iron", ("GJL-250",)),
])  # fmt: skip
def test_a_family_is_asked_back_and_never_chosen(name, members):
    with pytest.raises(InputError, match="is a family of materials; say which") as found:
        m.work_material(name)
    said = str(found.value).partition("say which: ")[2].split(", ")
    assert set(members) <= set(said)
    if name == "ductile":
        assert "2205" not in said


def test_a_norm_system_alone_is_no_material():
    for name in ("AISI", "DIN", "EN", "UNS ", "AISI 9999"):
        with pytest.raises(InputError):
            m.work_material(name)


@pytest.mark.parametrize("key", ["S355", "8620"])
def test_what_nobody_read_has_a_wide_range_and_says_so(key):
    found = m.work_material(key)
    assert "from memory" in found.kc11.source
    assert found.kc11.most / found.kc11.least >= 1.5
    assert found.yield_strength.most / found.yield_strength.least >= 1.4
