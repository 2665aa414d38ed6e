"""The picture of what decides: the verdict largest, the limit marked, all on its paper, nothing like permission."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import plan_fixture as fixture
import pytest
from conftest import ROOT
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.drawing.odds import LIMITS, draw_odds
from heldtrue.drawing.svg import ACCENT, GREY, INK, PAPER, text_width
from heldtrue.planning.known import Known
from heldtrue.planning.odds.odds_words import odds_words
from heldtrue.planning.odds.shares import Decides, InputShare
from heldtrue.planning.result import Odds

SVG = "{http://www.w3.org/2000/svg}"
PALE = "#c9cdd2"
KNOWN = {
    "friction": Known("friction", "friction, jaw on part", 0.1, 0.3, "ratio", "assumed"),
    "part size": Known("part size", "diameter of the gripped surface", 79.9, 80.1, "length", "measured"),
}


def decided(plan, *, low=-0.4, high=0.4, label="friction, jaw on part"):
    edges = np.linspace(low, high, 41)
    counts = np.exp(-(((edges[:-1] + edges[1:]) / 2) ** 2) * 20)
    shares = (InputShare("friction", label, 0.6), InputShare("part size", "diameter of the gripped surface", 0.3))
    return Decides(plan.answer.leading.name, edges, counts, shares, 0.1)


def with_odds(plan, part=2e-7):
    odds = Odds(part, None, None, max(part / 20, 1e-6))
    return replace(plan, checks=tuple(replace(one, odds=odds) for one in plan.checks))


def texts(svg):
    return [(float(one.get("font-size")), one.text or "") for one in ET.fromstring(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", sorted(fixture.ALL))
@pytest.mark.parametrize("system", ["metric", "inch"])
def test_the_verdict_is_first_and_largest_and_its_colours_say_nothing(name, system):
    plan = with_odds(fixture.ALL[name]())
    if plan.answer.leading is None:
        pytest.skip("nothing leads")
    svg = draw_odds(plan, decided(plan), KNOWN, system)
    found = texts(svg)
    assert found[0][1] == plan.verdict.upper()
    assert all(size < found[0][0] for size, _ in found[1:])
    # No green, whatever the odds: paper, ink and the one colour of lines.
    assert set(re.findall(r"#[0-9a-f]{6}", svg)) <= {ACCENT, GREY, INK, PAPER, PALE}
    joined = " ".join(text for _, text in found)
    assert joined.endswith(odds_words(plan))
    assert "Odds decide nothing: the worst case does." in joined


@pytest.mark.parametrize("group", LIMITS)
@pytest.mark.parametrize(("low", "high"), [(-0.4, 0.4), (0.0, 0.9), (-0.9, 0.0), (-3e-4, 2e-4)])
def test_all_of_it_stays_on_its_paper(group, low, high):
    plan = with_odds(fixture.ALL["no-window"](), 0.7)
    name = "hold: rough the whole outside of the flange over six holes with the long holder and a worn edge"
    leading = plan.answer.leading.name
    plan = replace(plan, checks=tuple(replace(one, name=name, group=group) if one.name == leading else one
                                      for one in plan.checks))  # fmt: skip
    found = decided(plan, low=low, high=high, label="an input whose name is far too long " * 6)
    svg = draw_odds(plan, replace(found, check=name), KNOWN)
    root = ET.fromstring(svg)
    _, _, width, height = (float(v) for v in root.get("viewBox").split())
    for one in root.iter(f"{SVG}text"):
        x, y, size = (float(one.get(key)) for key in ("x", "y", "font-size"))
        wide = text_width(one.text or "", size, bold=one.get("font-weight") == "700") / 1.06
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[one.get("text-anchor", "start")]
        assert left >= -0.3, one.text
        assert left + wide <= width + 0.3, one.text
        assert 0 < y <= height, one.text
    assert "nan" not in svg


def test_draws_beyond_the_limit_are_black_and_those_within_are_not():
    plan = with_odds(fixture.ALL["bush"]())
    black = f'fill="{INK}" stroke-linejoin'
    beyond, within = (draw_odds(plan, decided(plan, low=low, high=high), {}) for low, high in ((-0.8, 0), (0, 0.8)))
    assert beyond.count(black) > 30
    assert within.count(black) == 0


def test_what_nobody_stated_is_told_by_hatching_and_in_words():
    plan = with_odds(fixture.ALL["bush"]())
    stated = {**KNOWN, "friction": replace(KNOWN["friction"], source="measured")}
    assumed, known = (draw_odds(plan, decided(plan), one) for one in (KNOWN, stated))
    assert "friction, jaw on part (assumed)" in [text for _, text in texts(assumed)]
    assert assumed.count('fill="none" stroke') == known.count('fill="none" stroke') + 1


@pytest.mark.long
def test_the_command_writes_it(tmp_path, monkeypatch):
    monkeypatch.setenv("HELDTRUE_RECORDS", str(tmp_path / "records"))
    made = CliRunner().invoke(app, ["measure", str(ROOT / "examples" / "valve-stem.toml"), "--drawings",
                                    str(tmp_path / "pictures")])  # fmt: skip
    assert made.exit_code == 0, made.output
    svg = (tmp_path / "pictures" / "odds.svg").read_text()
    assert texts(svg)[0][1] == "FAILS"
    assert "← lets go" in [text for _, text in texts(svg)]
