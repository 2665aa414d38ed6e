"""The figures of the docs: drawn by the code, well-formed, there, and shown."""

import re
import xml.etree.ElementTree as ET

import pytest
from conftest import ROOT

PICTURES = ROOT / "docs" / "pictures"
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@pytest.fixture(scope="module")
def figures():
    import sys

    sys.path.insert(0, str(ROOT / "docs"))
    import make_figures

    sys.path.remove(str(ROOT / "docs"))
    return make_figures.FIGURES


def words(svg):
    return [e.text for e in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


@pytest.mark.parametrize(
    "name",
    [
        "ring-harmonics.svg",
        "contact-taper.svg",
        "grip-at-speed.svg",
        "window.svg",
        "jaw.svg",
        "tool-path.svg",
        "shape-disc-with-hub.svg",
    ],
)
def test_a_figure_says_what_the_code_says_today(figures, name):
    recorded, drawn = (PICTURES / name).read_text(encoding="utf-8"), figures[name]()
    assert "nan" not in drawn
    for old, new in zip(words(recorded), words(drawn), strict=True):
        assert NUMBER.sub("#", old) == NUMBER.sub("#", new)
        numbers = [[float(n) for n in NUMBER.findall(text)] for text in (old, new)]
        assert numbers[0] == pytest.approx(numbers[1], rel=0.03, abs=0.11), (old, new)


def test_every_figure_is_shown_on_a_page_and_every_shown_one_is_drawn(figures):
    pages = "".join(page.read_text(encoding="utf-8") for page in (ROOT / "docs").glob("*.md"))
    assert set(re.findall(r"\]\(pictures/([\w-]+\.svg)\)", pages)) == set(figures)


def test_thin_ring_of_the_figure_is_three_lobed(figures):
    amplitudes = [float(w.replace("−", "-")) for w in words(figures["ring-harmonics.svg"]()) if w.startswith("−")]
    assert len(amplitudes) == 6
    assert min(amplitudes) == amplitudes[1]
    assert amplitudes[1] < 10 * amplitudes[2]
