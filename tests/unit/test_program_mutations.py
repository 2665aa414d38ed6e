"""A program with one thing wrong is never proved; what is harmless is shown to be so by a second, slower cut.

The second cut shares nothing with the proof but shapely: it reads words with one regular expression and takes away the
hulls of nose and edge, move by move.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache, lru_cache
from itertools import pairwise
from math import atan2, ceil, cos, hypot, pi, radians, sin, sqrt

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from test_program_jobs import EXAMPLES, example_job

from heldtrue.program.dialect import load_dialect, parse_dialect
from heldtrue.program.front import program
from heldtrue.program.prove import prove

NEUTRAL = load_dialect()
IK = parse_dialect('name = "ik"\n[numbers]\narcs = "IK"\n' + '[text]\nheader = """' + NEUTRAL.header + '"""\n'
                   + 'footer = """' + NEUTRAL.footer + '"""\n')  # fmt: skip
MOST_A_KIND = 2
"""Mutants of a kind and job tried here, spread over the text; hypothesis draws others."""


@cache
def text_of(name, dialect=NEUTRAL):
    return program(example_job(name), dialect).text


# the second cut


def blocks(text):
    """Moves with their line: motion, start, end (radius, z), the arc's radius and the feed."""
    at, motion, found = None, "", []
    for i, line in enumerate(text.splitlines()):
        words = dict(re.findall(r"([GXZR])\s*(-?[\d.]+)", re.sub(r"\(.*?\)", "", line)))
        if "G" in words and float(words["G"]) in (0, 1, 2, 3):
            motion = f"G{float(words['G']):g}"
        if not words.keys() & {"X", "Z"}:
            continue
        end = (float(words["X"]) / 2 if "X" in words else at[0], float(words["Z"]) if "Z" in words else at[1])
        if at is not None:
            found.append((i, motion, at, end, float(words.get("R", 0))))
        at = end
    return found


def way(motion, start, end, radius):
    """Points along a move; G2 turns from +x towards +z."""
    chord = hypot(end[0] - start[0], end[1] - start[1])
    if motion in ("G0", "G1") or chord == 0:
        return [start, end]
    sense = 1 if motion == "G2" else -1
    rise = sqrt(max(radius**2 - chord**2 / 4, 0))
    along = ((end[0] - start[0]) / chord, (end[1] - start[1]) / chord)
    centre = ((start[0] + end[0]) / 2 - sense * rise * along[1], (start[1] + end[1]) / 2 + sense * rise * along[0])
    first = atan2(start[1] - centre[1], start[0] - centre[0])
    turn = (atan2(end[1] - centre[1], end[0] - centre[0]) - first) * sense % (2 * pi) * sense
    count = max(2, ceil(abs(turn) / 0.05))
    inner = [first + turn * i / count for i in range(1, count)]
    return [start, *((centre[0] + radius * cos(t), centre[1] + radius * sin(t)) for t in inner), end]


@lru_cache(8)
def cut(text, job):
    """What is left of the metal, and whether a rapid went through it."""
    tool, side = job.tool, 1 if job.grip == "outside" else -1
    tip = {3: (-1, -1), 4: (1, -1)}[tool.quadrant]
    lead, r = radians(tool.lead_angle), tool.nose_radius
    touch = (side * r * cos(lead), -r * sin(lead))
    far = (touch[0] - side * tool.edge_length * sin(lead), touch[1] - tool.edge_length * cos(lead))
    drop = shapely.union_all([shapely.Point(0, 0).buffer(r, 24), shapely.LineString([touch, far])]).convex_hull
    left, crash = shapely.Polygon(job.metal), False
    for _, motion, start, end, radius in blocks(text):
        for a, b in pairwise(way(motion, start, end, radius)):
            moved = [translate(drop, p[0] - r * tip[0], p[1] - r * tip[1]) for p in (a, b)]
            area = shapely.union_all(moved).convex_hull
            if motion == "G0":
                crash = crash or left.intersection(area).buffer(-1e-3).area > 0
            else:
                left = left.difference(area)
    return left, crash


def same_cut(text, changed, job):
    """Whether a changed program leaves the same shape and no rapid meets metal."""
    (before, _), (after, crash) = cut(text, job), cut(changed, job)
    return not crash and before.symmetric_difference(after).buffer(-1e-3).area == 0


# the mutants


def changed_lines(text, pattern, change):
    """A text for every match of ``pattern`` outside comments, with the match changed by ``change``."""
    lines = text.splitlines()
    found = []
    for i, line in enumerate(lines):
        for match in re.finditer(pattern, line.split("(")[0]):
            new = change(match)
            if new is not None and new != match[0]:
                new = line[: match.start()] + new + line[match.end() :]
                found.append((i, "\n".join([*lines[:i], new, *lines[i + 1 :]]) + "\n"))
    return found


def scaled(factor):
    def change(match):
        value = float(match[2])
        return None if value == 0 else f"{match[1]}{value * factor:.3f}"

    return change


def shifted(by):
    return lambda match: f"{match[1]}{float(match[2]) + by:.3f}"


def without(text, pattern):
    """A text for every line that matches, without it."""
    lines = text.splitlines()
    return [(i, "\n".join([*lines[:i], *lines[i + 1 :]]) + "\n") for i, s in enumerate(lines) if re.match(pattern, s)]


def of_finish(found, text):
    start = next(i for i, line in enumerate(text.splitlines()) if line == "(FINISH)")
    return [(i, t) for i, t in found if i > start]


X, Z, F, R = r"(X)(-?[\d.]+)", r"(Z)(-?[\d.]+)", r"(F)([\d.]+)", r"(R)([\d.]+)"


def swapped(match):
    return {"G2": "G3", "G3": "G2"}[match[0]]


def nothing(match):
    return ""


def instead(text):
    return lambda match: text


def bore(text):
    return "TIP 4" in text


def finish_x(text, by):
    """X of the finish moved by ``by`` on diameter into the metal."""
    return of_finish(changed_lines(text, X, shifted(by if bore(text) else -by)), text)


def passes_missing(text):
    """Without one roughing pass: the metal of two is met at once. The last may only clear the chamfer."""
    lines = text.splitlines()
    first = lines.index("(ROUGHING ALONG Z)") + 4
    starts = range(first, lines.index("(ALONG THE LINE)") - 8, 4)
    assert all(lines[i].startswith("G0 X") and lines[i + 1].startswith("G1 Z") for i in starts)
    return [(i, "\n".join(lines[:i] + lines[i + 4 :]) + "\n") for i in starts]


def truncated(text, end):
    lines = text.splitlines()
    last = max(i for i, line in enumerate(lines) if line.startswith("G1"))
    return [(i, "\n".join([*lines[:i], *end]) + "\n") for i in range(1, last)]


def with_move(text, name, motion):
    """A move, once all is cut, from above straight into what must not be touched."""
    job = next(example_job(n) for n in EXAMPLES if text_of(n) == text)
    centre = shapely.Polygon(next(k for k in job.keep_out if k.name == name).outline).centroid
    new = f"G0 X{2 * centre.x:.3f} Z30.000\n{motion} Z{centre.y:.3f}\nG0 Z30.000\nM9\n"
    return [(len(text.splitlines()) - 5, text.replace("M9\n", new))]


def once(text, old, new):
    assert old in text
    return [(text[: text.index(old)].count("\n"), text.replace(old, new))]


NEVER = {
    "sign of X": lambda t: changed_lines(t, X, scaled(-1)),
    "every X as a radius": lambda t: [(0, re.sub(X, scaled(0.5), t))],
    "every X twice": lambda t: [(0, re.sub(X, scaled(2), t))],
    "feeds dropped": lambda t: [(0, re.sub(F, "", t))],
    "finishing feed dropped": lambda t: once(t, " F0.080", ""),
    "feed times ten": lambda t: changed_lines(t, F, scaled(10)),
    "feed per minute": lambda t: once(t, "G95", "G94"),
    "feed per turn not said": lambda t: once(t, "G95", ""),
    "inch": lambda t: once(t, "G21", "G20"),
    "no unit": lambda t: once(t, "G21", ""),
    "no plane": lambda t: once(t, "G18", ""),
    "not absolute": lambda t: once(t, "G90", ""),
    "compensation not off": lambda t: once(t, "G40", ""),
    "compensation on": lambda t: once(t, "G40", "G42"),
    "no spindle limit": lambda t: without(t, "G92"),
    "spindle limit ten too high": lambda t: [(0, re.sub(r"G92 S(\d+)", lambda m: f"G92 S{int(m[1]) + 10}", t))],
    "limit after the moves": lambda t: [(0, re.sub(r"(G92 S\d+\n)(.*)(M9\n)", r"\2\1\3", t, flags=re.DOTALL))],
    "surface speed as turns": lambda t: once(t, "G96", "G97"),
    "surface speed twice": lambda t: [(0, re.sub(r"G96 S(\d+)", lambda m: f"G96 S{2 * int(m[1])}", t))],
    "spindle not started": lambda t: changed_lines(t, r"M3\b", nothing),
    "spindle stopped half way": lambda t: once(t, "(FINISH)", "M5"),
    "other tool": lambda t: changed_lines(t, r"T(\d\d)(\d\d)", lambda m: f"T{int(m[1]) + 1:02d}{m[2]}"),
    "other offset": lambda t: changed_lines(t, r"T(\d\d)(\d\d)", lambda m: f"T{m[1]}{int(m[2]) + 1:02d}"),
    "no tool": lambda t: without(t, "T"),
    "one stop less": lambda t: without(t, "M0"),
    "no end": lambda t: without(t, "M30"),
    "a move after the end": lambda t: once(t, "M30\n", "M30\nG0 X0.000\n"),
    "cut off": lambda t: truncated(t, []),
    "cut off, but ended": lambda t: truncated(t, ["M5", "M30"]),
    "a roughing pass missing": passes_missing,
    "a cut of the finish missing": lambda t: of_finish(without(t, "G[123]"), t),
    "roughing as a rapid": lambda t: changed_lines(t, r"G1(?= Z-[\d.]+ F0\.150)", instead("G0")),
    "finish as a rapid": lambda t: of_finish(changed_lines(t, r"G1\b", instead("G0")), t)[1:],
    "rapid to the floor": lambda t: changed_lines(t, r"G0 Z4\.000", instead("G0 Z-60.000"))[:-1],
    "rapid into the face": lambda t: once(t, "(ROUGHING ALONG Z)", "G0 Z-8.000"),
    "arc of the finish bent the other way": lambda t: of_finish(changed_lines(t, r"G[23]\b", swapped), t),
    "the long way round": lambda t: changed_lines(t, R, scaled(-1)),
    "arc without a radius": lambda t: changed_lines(t, R, nothing),
    "arc radius a fifth": lambda t: changed_lines(t, R, scaled(0.2)),
    "point lost": lambda t: changed_lines(t, r"([XZR])(-?\d+)\.(\d+)", lambda m: f"{m[1]}{m[2]}{m[3]}"),
    "point and places lost": lambda t: changed_lines(t, r"([XZR])(-?\d+)\.(\d+)", lambda m: f"{m[1]}{m[2]}"),
    "feed into the ring": lambda t: with_move(t, "ring", "G1"),
    "feed into a bolt": lambda t: with_move(t, "bolt 1", "G1"),
    "rapid into the chuck": lambda t: with_move(t, "chuck face", "G0"),
}
"""Wrong programs that must never be proved."""

SELDOM = {
    "sign of Z": lambda t: changed_lines(t, Z, scaled(-1)),
    "radius for diameter": lambda t: changed_lines(t, X, scaled(0.5)),
    "diameter for radius": lambda t: changed_lines(t, X, scaled(2)),
    "a line missing": lambda t: without(t, "G[0123]"),
    "a cut as a rapid": lambda t: changed_lines(t, r"G1\b", instead("G0")),
    "arc bent the other way": lambda t: changed_lines(t, r"G[23]\b", swapped),
    "arc radius a tenth larger": lambda t: changed_lines(t, R, scaled(1.1)),
    "arc radius a tenth smaller": lambda t: changed_lines(t, R, scaled(0.9)),
    "finish two hundredths deep": lambda t: of_finish(changed_lines(t, Z, shifted(-0.02)), t),
    "finish two hundredths wide": lambda t: finish_x(t, 0.04),
    "half a millimetre off": lambda t: changed_lines(t, r"([XZ])(-?[\d.]+)", shifted(0.5)),
}
"""Some of these are harmless: a way back in the air, a rough cut that the finish makes good, an arc that swings wider
round an edge and touches nothing.  Such a mutant may pass only if the second cut leaves the same shape."""
ALL = NEVER | SELDOM


def spread(found, most):
    return found if len(found) <= most else [found[i * (len(found) - 1) // (most - 1)] for i in range(most)]


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_programs_themselves_are_proved_and_the_second_cut_agrees(name):
    text, job = text_of(name), example_job(name)
    proof = prove(text, job)
    assert proof.passed
    left, crash = cut(text, job)
    assert not crash
    ours = shapely.Polygon(max(proof.outline, key=lambda ring: shapely.Polygon(ring).area))
    assert left.symmetric_difference(ours).buffer(-1e-3).area == 0


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("kind", NEVER)
def test_a_wrong_program_is_never_proved(kind, name):
    text, job = text_of(name), example_job(name)
    found = NEVER[kind](text)
    assert found, "no mutant made"
    for line, changed in spread(found, MOST_A_KIND):
        assert changed != text
        assert not prove(changed, job).passed, f"line {line + 1}: {changed.splitlines()[line]}"


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("kind", SELDOM)
def test_what_passes_cuts_the_same(kind, name):
    text, job = text_of(name), example_job(name)
    found = SELDOM[kind](text)
    for line, changed in spread(found, MOST_A_KIND):
        if prove(changed, job).passed:
            assert same_cut(text, changed, job), f"line {line + 1}: {changed.splitlines()[line]}"
    assert kind.startswith("arc radius") or any(not prove(changed, job).passed for _, changed in found[::-1])


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(EXAMPLES), st.sampled_from(sorted(ALL)), st.randoms(use_true_random=False))
def test_any_mutant_is_caught_or_harmless(name, kind, draw):
    text, job = text_of(name), example_job(name)
    line, changed = draw.choice(ALL[kind](text))
    if prove(changed, job).passed:
        assert kind in SELDOM
        assert same_cut(text, changed, job), f"line {line + 1}"


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(EXAMPLES), st.randoms(use_true_random=False), st.sampled_from("0123456789.-XZGFR "))
def test_a_slip_of_the_keyboard_is_caught_or_harmless(name, draw, key):
    """One character changed somewhere from the first word on."""
    text, job = text_of(name), example_job(name)
    at = draw.randrange(text.index("G21"), len(text) - 3)
    changed = text[:at] + key + text[at + 1 :]
    if prove(changed, job).passed:
        assert same_cut(text, changed, job), changed[max(0, at - 20) : at + 20]


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize(
    "change", [{"nose_radius": 0.8}, {"nose_radius": 0.2}, {"nose_radius": 0.39}, {"quadrant": 9}, {"number": 7}]
)
def test_a_program_for_another_tool_is_not_proved(change, name):
    job = example_job(name)
    assert not prove(text_of(name), replace(job, tool=replace(job.tool, **change))).passed


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("letter", "IK")
@pytest.mark.parametrize("by", [0.05, -0.05])
def test_a_wrong_centre_of_an_arc_is_caught(name, letter, by):
    text, job = text_of(name, IK), example_job(name)
    assert prove(text, job, IK).passed
    for _, changed in of_finish(changed_lines(text, rf"({letter})(-?[\d.]+)", shifted(by)), text):
        assert not prove(changed, job, IK).passed


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize(
    ("old", "new"),
    [(r" F0\.080", ""), (r"M8\n", ""), (r"G1 (?!.*F)", ""), (r"G0(?= Z24)", ""), (r"(\.\d\d\d)", r"\g<1>0")],
    ids=["nothing", "coolant", "G1 said again", "G0 said again", "a zero more"],
)
def test_what_changes_no_move_stays_proved(name, old, new):
    """Modal words said again, coolant, and digits without a meaning: the moves read are the same."""
    text, job = text_of(name), example_job(name)
    if old.startswith(" F"):
        changed = text
    elif old.startswith("G1"):
        lines = text.splitlines()
        changed = (
            "\n".join(
                line[3:] if line.startswith("G1 ") and before.startswith("G1 ") else line
                for before, line in zip(["", *lines], lines, strict=False)
            )
            + "\n"
        )
    else:
        changed = re.sub(old, new, text)
    assert [b[1:] for b in blocks(changed)] == [b[1:] for b in blocks(text)]
    assert prove(changed, job).passed
