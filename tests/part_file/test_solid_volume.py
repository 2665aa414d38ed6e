"""The kernel's volume of a solid: kept by the content of its file, and only while all it rests on is the same."""

import pytest
import step_solids as solids
from plain_step import write

from heldtrue.errors import InputError
from heldtrue.part_file import solid_volume
from heldtrue.part_file.outline import Line, Outline
from heldtrue.part_file.step import read_step


def ring(outside):
    corners = [(20.0, 0.0), (outside, 0.0), (outside, 10.0), (20.0, 10.0)]
    return Outline.of(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)).pieces


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.setenv("HELDTRUE_CACHE", str(tmp_path))
    return tmp_path / "volumes"


@pytest.fixture
def measured(monkeypatch):
    """What the kernel was given, each time; it answers with what is put into ``said``."""
    given = []

    def answer(text):
        given.append(text)
        return given.said

    class Given(list):
        said = 3.141592653589793 * (30.0**2 - 20.0**2) * 10

    given = Given()
    monkeypatch.setattr(solid_volume, "_measured", answer)
    return given


def test_the_same_file_is_measured_once(place, measured):
    content = write(ring(30.0))
    volumes = [read_step("ring.stp", content).solid_volume for _ in range(2)]
    assert volumes == [measured.said] * 2
    assert len(measured) == 1
    assert len(list(place.iterdir())) == 1


def test_a_changed_file_another_kernel_and_a_spoilt_answer_are_measured_again(place, measured, monkeypatch):
    content = write(ring(30.0))
    read_step("ring.stp", content)
    (kept,) = place.iterdir()
    read_step("ring.stp", content.replace(b"DATA;", b"DATA; "))  # one letter of the file is another file
    assert len(measured) == 2
    kept.write_bytes(kept.read_bytes().replace(b"1570", b"1670"))
    assert read_step("ring.stp", content).solid_volume == measured.said
    assert len(measured) == 3
    monkeypatch.setattr(solid_volume, "_kernel", lambda: "another")
    read_step("ring.stp", content)
    assert len(measured) == 4


def test_a_kept_volume_still_refuses_a_section_that_it_does_not_fit(place, measured):
    """The must-fail: only the volume is kept, never that it agreed."""
    content = write(ring(30.0))
    measured.said *= 1.1
    for _ in range(2):
        with pytest.raises(InputError, match="does not agree with the solid"):
            read_step("ring.stp", content)
    assert len(measured) == 1


def test_a_kernel_that_fails_is_asked_again(place, measured):
    measured.said = None
    for _ in range(2):
        assert "no second opinion" in " ".join(read_step("ring.stp", write(ring(30.0))).notes)
    assert len(measured) == 2
    assert not place.exists()


def test_a_kept_volume_is_that_of_the_kernel(place):
    body = solids.hub()
    content = solids.step_of(body)
    first, again = (read_step("hub.step", content).solid_volume for _ in range(2))
    assert first == again == pytest.approx(body.mass, rel=1e-9)
