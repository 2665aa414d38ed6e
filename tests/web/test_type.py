"""Sizes of letters: five on the page, five in the drawings, none that cannot be read."""

import re

import pytest

from heldtrue.drawing import all_pictures
from heldtrue.drawing.svg import HEAD, LEAST, LETTER, STRONG, TITLE
from heldtrue.planning.plan import plan
from heldtrue.planning.setup import Setup
from web.in_process import EXAMPLES, HERE

WEB = HERE.parents[1] / "src" / "heldtrue" / "web"
ROOT_SIZES = {"100%", "125%", "150%"}
"""What the text size chosen under Display makes of all others."""
ICON = "3.25rem"
"""The box of a tick is measured as type by the library."""


def test_the_page_has_five_sizes():
    css = (WEB / "style.css").read_text(encoding="utf-8")
    screen = css.partition("@media print")[0]
    named = dict(re.findall(r"--(text|strong|large|figure|gate): ([^;]+);", screen))
    assert list(named) == ["text", "strong", "large", "figure", "gate"]
    assert float(named["text"].removesuffix("rem")) >= 1, "16 px"
    used = set(re.findall(r"font-size: ([^;}]+?)\s*[;}]", screen))
    assert used - ROOT_SIZES - {ICON, "16px"} == {f"var(--{name})" for name in named}
    for file in WEB.rglob("*.py"):
        assert not re.findall(r"font-size: [\d.]+rem", file.read_text(encoding="utf-8")), file


@pytest.mark.parametrize("name", ["wear-ring"])
def test_the_drawings_have_five_sizes(name):
    drawings = all_pictures.all_drawings(plan(Setup.from_toml(EXAMPLES / f"{name}.toml")))
    used = {float(size) for svg in drawings.values() for size in re.findall(r'font-size="([\d.]+)"', svg)}
    assert used <= {LEAST, LETTER, STRONG, HEAD, TITLE}
    assert min(used) / 25.4 * 72 >= 7.5
