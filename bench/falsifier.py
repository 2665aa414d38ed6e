"""Tries to catch the program passing what would go wrong, on setups nobody chose, and says how useful its passes are.

Run by hand: ``python bench/falsifier.py --markdown --setups 200 --draws 60``.  ``--keep FILE`` writes one JSON line for
each setup and goes on from there after a stop; ``--seconds`` ends a run early, and the tables say how far it came.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import textwrap
import time
from collections import Counter
from dataclasses import asdict
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does
ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT))

from heldtrue.errors import HeldtrueError, InputError  # noqa: E402
from heldtrue.planning.setup import Setup  # noqa: E402
from heldtrue.planning.window import highest_pressure  # noqa: E402
from tests.falsifier import campaign  # noqa: E402
from tests.falsifier.continuity import jumps, knobs, one_setting, plain  # noqa: E402
from tests.falsifier.setups import KNOWLEDGE, random_setup  # noqa: E402

EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))
OWN_DRAWS, OWN_HOLDS, FINE_ANGLES, GATE_SHARES = 24, 4, 24, (0.2, 0.4, 0.6, 0.8, 1.0)
SHOCK_DRAWS = 30
FAIL_DRAWS, FLOOR_DRAWS = 16, 10
PASSES = "passes"


def try_one(raw: Any, name: str, knowledge: str, draws: int) -> dict[str, Any]:
    """Everything about one setup, as plain data."""
    started = time.perf_counter()
    seed = int(name) if name.isdigit() else 0
    found: dict[str, Any] = {"name": name, "knowledge": knowledge, "draws": draws}
    try:
        plan = campaign.planned(raw, name, knowledge)
    except InputError as error:
        return {**found, "verdict": "refused", "why": str(error), "seconds": time.perf_counter() - started}
    window = plan.advice.has_window
    found |= {"verdict": plan.verdict if window else "no window", "deciding": plan.deciding}
    found["window"] = [(s.name, s.floor, s.floor_by, s.ceiling, s.ceiling_by, s.recommended) for s in plan.advice.steps]
    caught = campaign.missed_corners(plan, OWN_DRAWS, seed) + campaign.missed_holds(plan, OWN_HOLDS, seed)
    found["eight"] = campaign.search_misses(plan, 8)
    found["finer"] = campaign.search_misses(plan, FINE_ANGLES)
    if plan.is_modelled:
        drawn = list(campaign.draws(plan.ranges, draws, seed))
        found["fine"], _ = campaign.fine(plan, drawn)
        # What is fine everywhere is tried harder: corners are looked for.
        searched = list(campaign.worlds_for(plan, 0, seed, searched=True)) if found["fine"] == "all" else []
        found["fine at searched corners"] = campaign.fine(plan, [*searched, *drawn])[0] if searched else found["fine"]
        caught += campaign.broken_at_floor(raw, FLOOR_DRAWS, seed, name, knowledge)
        caught += campaign.false_passes(plan, [*drawn, *searched]) + campaign.wrong_fails(plan, drawn[:FAIL_DRAWS])
        if plan.verdict == PASSES:
            found["lets go"] = campaign.lets_go(plan, SHOCK_DRAWS, seed)
    top = highest_pressure(plan.study)[0]
    caught += campaign.disagreements(plan, [share * top for share in GATE_SHARES])
    found["caught"] = [asdict(one) for one in caught]
    found["seconds"] = time.perf_counter() - started
    return found


def run(setups: int, draws: int, seconds: float, keep: Path | None) -> list[dict[str, Any]]:
    """Examples first, then random setups at each knowledge, as far as the time allows."""
    found = [json.loads(line) for line in keep.read_text().splitlines()] if keep and keep.exists() else []
    done = {(one["name"], one["knowledge"]) for one in found}
    end = time.monotonic() + seconds
    cases = [(path.stem, "example") for path in EXAMPLES]
    cases += [(str(seed), word) for seed in range(setups) for word in KNOWLEDGE]
    for name, word in cases:
        if (name, word) in done:
            continue
        if time.monotonic() > end:
            break
        raw = (
            Setup.from_toml(ROOT / "examples" / f"{name}.toml") if word == "example" else random_setup(int(name), word)
        )
        try:
            found.append(try_one(raw, name, word, draws))
        except HeldtrueError as error:
            found.append({"name": name, "knowledge": word, "draws": draws, "verdict": "not tried", "why": str(error)})
        if keep:
            with keep.open("a") as file:
                file.write(json.dumps(found[-1]) + "\n")
    return found


def continuity() -> list[str]:
    """Every number of every example by 0.1 and 1 %: the largest changes of a margin over 1 + the margin."""
    lines = ["## Small steps", "", "| example | step | numbers | refused | holds at most | everything else at most |"]
    lines.append("|---|---|---|---|---|---|")
    for path in EXAMPLES:
        setup = Setup.from_toml(path)
        raw, setting = plain(setup.to_dict()), one_setting(setup)
        for step in (0.001, 0.01):
            found, refused = jumps(raw, setting, step, pressed=True)
            worst = []
            for holding in (True, False):
                mine = {what: jump for what, jump in found.items() if what[1].startswith("hold") == holding}
                what = max(mine, key=lambda one: mine[one])
                worst.append(f"{100 * mine[what]:.2f} % ({what[1]}, by {what[0]})")
            lines.append(
                f"| {path.stem} | {100 * step:g} % | {len(knobs(raw))} | {refused} | " + " | ".join(worst) + " |"
            )
    return lines


# --- the tables ----------------------------------------------------------------------------------------------------


def share(part: int, whole: int) -> str:
    return f"{part} of {whole}" + (f" ({100 * part / whole:.0f} %)" if whole else "")


def markdown(found: list[dict[str, Any]]) -> str:
    """The tables of what was measured."""
    tried = [one for one in found if one["verdict"] not in ("refused", "not tried")]
    random = [one for one in tried if one["knowledge"] != "example"]
    lines = [
        *INTRO.splitlines(),
        *_counts(found, tried, random),
        *_caught(tried),
        "",
        "## Truth against verdict",
        "",
        FINE_WORDS,
        "",
    ]
    for word in KNOWLEDGE:
        lines += _useful(word, [one for one in random if one["knowledge"] == word])
    return "\n".join([*lines, *_shocks([one for one in tried if "lets go" in one])])


INTRO = """# The falsifier

The program opens every input to a range and says that nothing inside it goes wrong.  Here a second, plain model of the
truth, written apart from it (`tests/falsifier`), tries to break that: on the examples and on random setups, each told
at three levels of knowledge, with worlds drawn inside ranges of its own, corners oversampled, and corners looked for
where everything drawn is fine.  A check is broken where it passes and the plain model says, in one drawn world, that
the part lets go, comes off outside the whole tolerance, or yields.  Both models share the elastic solvers, the material
tables and the places of the contact points, and neither knows heat, chatter or creep: what is wrong in those is not
found here (list: docstring of `tests/falsifier/__init__.py`).  Made by `python bench/falsifier.py --markdown`; a part
of it runs with the tests.

"""
FINE_WORDS = """Fine: nothing lets go, yields, or comes off out of tolerance at some pressure (the program's own, or one
of five from floor to plates), in all draws, in some, in none.  No window: the program has no pressure to recommend."""


def _counts(found: list[dict[str, Any]], tried: list[dict[str, Any]], random: list[dict[str, Any]]) -> list[str]:
    draws = "/".join(str(n) for n in sorted({one["draws"] for one in tried}))
    refused, unsolved = (sum(one["verdict"] == word for one in found) for word in ("refused", "not tried"))
    unknown = sum("fine" not in one for one in tried)
    setups = len({one["name"] for one in random})
    return paragraph(
        f"Measured on {len(tried) - len(random)} examples and {setups} random setups",
        f"at up to three levels of knowledge ({len(random)} plans), {draws} draws each, every second one a corner.",
        f"Refused: {refused}; not solved: {unsolved}; with a kind of cut that the plain model does not know, and so",
        f"only held against the program itself: {unknown}.",
    )


def paragraph(*parts: str) -> list[str]:
    """Prose, wrapped."""
    return textwrap.wrap(" ".join(parts), 118)


def _caught(tried: list[dict[str, Any]]) -> list[str]:
    lines = ["", "## What was caught", "", "| claim refuted | times | in plans | worst |", "|---|---|---|---|"]
    caught = [one for plan in tried for one in plan["caught"]]
    for what, words in CLAIMS.items():
        mine = [one for one in caught if one["what"] == what]
        where = len({(one["name"], one["knowledge"]) for one in mine})
        worst = max(mine, key=severity, default=None)
        text = "" if worst is None else f"{worst['check']}, {worst['name']} {worst['knowledge']}: {figures(worst)}"
        lines.append(f"| {words} | {len(mine)} | {share(where, len(tried))} | {text} |")
    eight = max((one["eight"] for one in tried), default=0.0)
    finer = sorted(one["finer"] for one in tried)
    return [
        *lines,
        "",
        *paragraph(
            f"Every case at 8 angles asks for at most {max(eight, 0):.0e} more than the search found.",
            f"At {FINE_ANGLES} angles it is at most {100 * max(finer, default=0.0):.1f} % more, and under",
            f"{100 * finer[len(finer) // 2]:.2f} % in half of the plans.",
        ),
    ]


def _useful(word: str, mine: list[dict[str, Any]]) -> list[str]:
    mine = [one for one in mine if "fine" in one]
    lines = [
        f"### {KNOWN_WORDS[word]}",
        "",
        "| fine in | passes | not proven | fails | no window |",
        "|---|---|---|---|---|",
    ]
    for fine in ("all", "some", "none"):
        row = Counter(one["verdict"] for one in mine if one["fine"] == fine)
        lines.append(f"| {fine} | " + " | ".join(str(row[verdict]) for verdict in VERDICTS) + " |")
    good = [one for one in mine if one["fine"] == "all"]
    hard = [one for one in good if one["fine at searched corners"] == "all"]
    passed, hard_passed = (sum(one["verdict"] == PASSES for one in some) for some in (good, hard))
    why = Counter(in_the_way(one) for one in good if one["verdict"] != PASSES)
    text = [f"Of those fine in all draws, {share(passed, len(good))} pass; of those fine at the corners looked for as",
            f"well, {share(hard_passed, len(hard))}."]  # fmt: skip
    if why:
        text.append("In the way of the others: " + ", ".join(f"{name} {n}" for name, n in why.most_common(6)) + ".")
    lines += ["", *paragraph(*text)]
    return [*lines, ""]


CLAIMS = {
    "false pass": "a check passes, and a drawn world breaks it",
    "broken at floor": "a hold begins to pass at some pressure, and a drawn world breaks it just there",
    "wrong fails": "a check fails, and a drawn world keeps both rules",
    "corner missed": "a value inside the program's ranges is over 1 % worse than its worst corner",
    "pass broken": "a check passes, and a value inside the program's ranges is over its limit",
    "hold missed": "values inside the program's ranges ask for more grip than its worst case",
    "gate differs": "start gate and judge differ at a gauge reading",
    "window too wide": "a check does not pass inside the window",
    "window too narrow": "everything passes outside the window",
}
OVER = ("corner missed", "pass broken", "hold missed")
KNOWN_WORDS = {"plates": "Only the plates known", "usual": "What is usually known", "all": "Everything measured"}
VERDICTS = (PASSES, "not proven", "fails", "no window")


def severity(one: dict[str, Any]) -> float:
    """How far off: share over the program's figure, or below 0."""
    if one["what"] in OVER:
        return one["truth"] / one["program"] - 1
    return abs(one["truth"])


def figures(one: dict[str, Any]) -> str:
    if one["what"] in OVER:
        return f"{one['truth'] / one['program'] - 1:+.1%}"
    if one["what"] in ("false pass", "broken at floor", "wrong fails"):
        return f"margin {one['program']:+.2f}, truth {one['truth']:+.2f}"
    return one["note"]


def in_the_way(one: dict[str, Any]) -> str:
    """What keeps a plan from passing: a check, or the two that leave no window."""
    if one["verdict"] != "no window":
        return str(one["deciding"])
    step = next(step for step in one["window"] if step[-1] is None)
    floor, ceiling = campaign.group_of(step[2]), campaign.group_of(step[4])
    return f"no window between {floor} and {ceiling}"


def _shocks(passed: list[dict[str, Any]]) -> list[str]:
    """Odds of letting go at the recommended pressure, inside the ranges and with one shock outside them."""
    lines = ["## Outside the ranges", ""]
    lines += paragraph(
        f"Share of draws in which the part lets go at the recommended pressure, over the {len(passed)} plans that pass",
        f"({SHOCK_DRAWS} draws each, spread evenly inside the ranges).",
    )
    lines += ["", "| draws | lets go | plans in which it ever does | highest share in one plan |", "|---|---|---|---|"]
    words = {"inside": "inside the ranges", "cut": "cutting force 1.5 times, untold", "friction": "friction 0.75 times",
             "grip": "grip 0.75 times"}  # fmt: skip
    for shock, name in words.items():
        counts = [one["lets go"][shock] for one in passed]
        odds = f"{100 * sum(counts) / (SHOCK_DRAWS * len(counts)):.2f} %" if counts else ""
        most = f"{100 * max(counts, default=0) / SHOCK_DRAWS:.0f} %"
        lines.append(f"| {name} | {odds} | {share(sum(n > 0 for n in counts), len(counts))} | {most} |")
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--setups", type=int, default=200)
    parser.add_argument("--draws", type=int, default=60)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--continuity", action="store_true", help="small steps of every number instead")
    asked = parser.parse_args()
    if asked.continuity:
        print("\n".join(continuity()))
        return
    found = run(asked.setups, asked.draws, asked.seconds, asked.keep)
    if asked.markdown:
        print(markdown(found))
        return
    for plan in found:
        print(f"{plan['name']:24} {plan['knowledge']:8} {plan['verdict']:11} fine in {plan.get('fine', '?'):5}")
        for one in plan.get("caught", ()):
            print(f"    {one['what']}: {one['check']}: {figures(one)}; {one['note']}")


if __name__ == "__main__":
    main()
