"""The text of a STEP file: what stands in it, and what is refused with its place."""

import pytest

from heldtrue.errors import InputError
from heldtrue.part_file.exchange_text import Choice, Ref, Typed, read_exchange


def of(data, ending="ENDSEC;\nEND-ISO-10303-21;\n"):
    return read_exchange(f"ISO-10303-21;\nHEADER;\nFILE_NAME('a;b');\nENDSEC;\nDATA;\n{data}\n{ending}".encode())


def all_of(data):
    file = of(data)
    return [file[one] for one in file[Ref(1)].values if isinstance(one, Ref)]


def test_every_kind_of_value():
    entity = of("#1 = A ( 'it''s; #5', -1.5E-3, 7, .T., $, *, #2 , (1.,(2.,3.)), LENGTH_MEASURE(25.4), \"0FF\" ) ;")[
        Ref(1)
    ]
    text, small, whole, choice, empty, derived, ref, rows, typed, binary = entity.values
    assert (text, small, whole) == ("it's; #5", -0.0015, 7.0)
    assert isinstance(choice, Choice)
    assert choice == "T"
    assert empty is derived is binary is None
    assert isinstance(ref, Ref)
    assert (ref, rows, typed) == (2, (1.0, (2.0, 3.0)), Typed("LENGTH_MEASURE", (25.4,)))


def test_complex_entities_have_named_parts():
    entity = of("#7=(NAMED_UNIT(*)LENGTH_UNIT() SI_UNIT(.MILLI.,.METRE.));")[Ref(7)]
    assert entity.has("LENGTH_UNIT")
    assert entity.part("SI_UNIT") == ("MILLI", "METRE")
    assert entity.part("PLANE_ANGLE_UNIT") is None


def test_escapes_and_comments():
    file = of(r"/* #9=B(); */ #1=A('\X2\00D8004D\X0\ 5', '\X\E9t\S\i', 'a\\b', '/* no comment */');")
    assert file[Ref(1)].values == ("ØM 5", "été", "a\\b", "/* no comment */")
    assert list(file.bodies) == [1]


def test_a_semicolon_or_the_end_of_a_section_in_a_string_ends_nothing():
    file = of("#1=A('ENDSEC; #3=B();');\n#2=C();")
    assert sorted(file.bodies) == [1, 2]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ("#1=A(;", "cannot be read at"),
        ("#1=A(1,(2);", "cannot be read at"),
        ("#1=A(1) B(2);", "goes on after its bracket"),
        ("#1=A;", "no entity"),
        ("#1=A(); rubbish #2=B();", "broken after #1: 'rubbish"),
        ("#1=A();\n#1=B();", "twice"),
        ("#1=A(#2);", "refers to #2"),
        ("#1=A(" + "(" * 70 + ")" * 70 + ");", "more than 64 deep"),
        ("#1=A('no end);", "cut off"),
    ],
)
def test_broken_text_is_refused_with_its_place(data, words):
    with pytest.raises(InputError, match="(?s)" + words):
        all_of(data)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b" \n\0\n", "empty"),
        (b"solid cube\nfacet", "no STEP file: it begins with 'solid cube facet'"),
        (b"\x89PNG\r\n\x1a\n", "no STEP file"),
        (b"ISO-10303-21;", "cut off"),
        (b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=A();\n", "cut off"),
        (b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=A();\nENDSEC;\n", "cut off"),
        (b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;", "no entity"),
    ],
)
def test_what_is_no_whole_step_file(content, words):
    with pytest.raises(InputError, match=words):
        read_exchange(content)


@pytest.mark.parametrize("piece", ["#1=", "'", "(", "#1=A('", "/*", "*/", "ENDSEC;'", "#1=A(#1", "\\X2\\"])
def test_nasty_text_is_refused_in_time_with_its_length(piece):
    """A rule that started over at each place would keep the test from ending."""
    content = b"ISO-10303-21;\nDATA;\n" + piece.encode() * 200_000 + b";\nENDSEC;\nEND-ISO-10303-21;\n"
    with pytest.raises(InputError):
        read_exchange(content)[Ref(1)]
