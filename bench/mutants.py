"""Spoils the program a little, one place at a time, and asks its tests: what none of them notices is what nobody tests.

    .venv/bin/python bench/mutants.py --count 300 --keep FILE [--markdown] [--only PART]

Places are drawn evenly over the modules of ``TESTS``, from the whole of their code but sentences.  A comparison is
turned or moved by its equal sign, + and -, * and /, min and max, and and or are swapped, a number is changed by a
tenth, a ``not`` goes.  Each copy runs the tests named for its module, in a folder of its own, until one fails.
``--keep`` writes a line for each and goes on from there after a stop.  What survives is either a gap in the tests or
makes no difference; which one, somebody has to look at.
"""

from __future__ import annotations

import argparse
import ast
import copy
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent
SECONDS = 240
TESTS = {
    "mechanics/holding.py": "unit/test_holding.py unit/test_hold_bounds.py validation/test_chuck_manuals.py",
    "mechanics/spin.py": "unit/test_spin.py validation/test_spin_published.py validation/test_chuck_manuals.py",
    "mechanics/section.py": "unit/test_section.py unit/test_elastic.py",
    "mechanics/contact.py": "unit/test_contact.py unit/test_elastic.py unit/test_friction_contact.py",
    "mechanics/friction_contact.py": "unit/test_friction_contact.py unit/test_elastic.py",
    "mechanics/form.py": "unit/test_form.py validation/test_form_published.py unit/test_indicator.py",
    "mechanics/cutting.py": "unit/test_cutting.py validation/test_cutting_published.py",
    "mechanics/operations.py": "unit/test_cutting.py validation/test_cutting_published.py",
    "tooling/grip_estimate.py": "unit/test_grip_estimate.py unit/test_kept_limits.py",
    "tooling/placing.py": "unit/test_placing.py unit/test_bore.py unit/test_ring.py",
    "tooling/ring.py": "unit/test_ring.py unit/test_bore.py",
    "tooling/bore.py": "unit/test_bore.py unit/test_boring.py",
    "tooling/recut.py": "unit/test_recut.py unit/test_boring.py",
    "tooling/bolts.py": "unit/test_bolts.py validation/test_boring_published.py",
    "program/read.py": "unit/test_program_text.py unit/test_program_prove.py unit/test_program_spoilt.py",
    "program/rules.py": "unit/test_program_prove.py unit/test_program_spoilt.py unit/test_program_text.py",
    "program/simulate.py": "unit/test_program_prove.py unit/test_program_spoilt.py",
    "program/prove.py": "unit/test_program_prove.py unit/test_program_spoilt.py",
    "planning/judge.py": "unit/test_every_pass_is_a_pass.py unit/test_same_answer_everywhere.py golden "
    "falsifier/test_campaign.py",
    "planning/window.py": "unit/test_every_pass_is_a_pass.py unit/test_start_gate.py golden unit/test_kept_limits.py",
    "planning/holds.py": "unit/test_hold_bounds.py unit/test_every_pass_is_a_pass.py golden falsifier/test_campaign.py",
    "planning/loads.py": "unit/test_every_pass_is_a_pass.py golden falsifier/test_campaign.py",
    "planning/stages.py": "unit/test_every_pass_is_a_pass.py golden",
    "planning/inputs.py": "unit/test_every_pass_is_a_pass.py golden falsifier/test_campaign.py",
    "planning/ranges.py": "unit/test_every_pass_is_a_pass.py golden falsifier/test_campaign.py",
    "planning/start_gate.py": "unit/test_start_gate.py unit/test_every_pass_is_a_pass.py",
    "inspection/indicator.py": "unit/test_indicator.py unit/test_inspection_causes.py",
    "inspection/causes.py": "unit/test_inspection_causes.py unit/test_inspection_readings.py",
    "inspection/budget.py": "unit/test_inspection_budget.py",
    "inspection/wear.py": "unit/test_drift.py",
    "shop/chuck_log.py": "unit/test_shop.py unit/test_against_records.py",
    "shop/against_records.py": "unit/test_against_records.py unit/test_shop.py",
    "records/standing.py": "unit/test_against_records.py unit/test_shop.py records/test_store.py",
}
SWAPS: dict[type, type] = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.And: ast.Or,
                           ast.Or: ast.And, ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
                           ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
                           ast.In: ast.NotIn, ast.NotIn: ast.In}  # fmt: skip
TURNS: dict[type, type] = {ast.Lt: ast.Gt, ast.LtE: ast.GtE, ast.Gt: ast.Lt, ast.GtE: ast.LtE}
WORDS = {"min": "max", "max": "min", "all": "any", "any": "all"}


def places(tree: ast.AST) -> Iterator[tuple[ast.AST, str]]:
    """Every node that can be spoilt, and how."""
    inside = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    seen: set[int] = set()
    for function in inside:
        skipped = {id(one) for node in ast.walk(function) if isinstance(node, ast.JoinedStr | ast.Raise | ast.arguments)
                   for one in ast.walk(node)}  # fmt: skip
        skipped |= {id(one) for node in function.decorator_list for one in ast.walk(node)}
        if function.returns is not None:
            skipped |= {id(one) for one in ast.walk(function.returns)}
        for node in ast.walk(function):
            if id(node) in skipped or id(node) in seen:
                continue
            seen.add(id(node))
            if isinstance(node, ast.BinOp) and type(node.op) in SWAPS and not _is_text(node):
                yield node, "operator"
            elif isinstance(node, ast.BoolOp):
                yield node, "and, or"
            elif isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPS:
                yield node, "comparison"
                if type(node.ops[0]) in TURNS:
                    yield node, "turned comparison"
            elif isinstance(node, ast.Constant) and type(node.value) in (int, float) and node.value not in (0, 1):
                yield node, "number"
            elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
                yield node, "not"
            elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in WORDS:
                yield node, "word"


def _is_text(node: ast.BinOp) -> bool:
    return any(isinstance(one, ast.JoinedStr) or (isinstance(one, ast.Constant) and isinstance(one.value, str))
               for one in (node.left, node.right))  # fmt: skip


def spoil(node: Any, how: str) -> None:
    """Spoil one node of a tree."""
    if how in ("operator", "and, or"):
        node.op = SWAPS[type(node.op)]()
    elif how == "comparison":
        node.ops[0] = SWAPS[type(node.ops[0])]()
    elif how == "turned comparison":
        node.ops[0] = TURNS[type(node.ops[0])]()
    elif how == "number":
        node.value = node.value + 1 if isinstance(node.value, int) else node.value * 1.1
    elif how == "word":
        node.func.id = WORDS[node.func.id]
    elif how == "not":
        node.op = ast.UAdd()
        node.operand = ast.Call(ast.Name("bool", ast.Load()), [node.operand], [])


def drawn(count: int, only: str) -> list[tuple[str, int, str, int, str]]:
    """Module, number of the place, how, line, and the code there: the same for the same count and code."""
    found = []
    for name in TESTS:
        if only and only not in name:
            continue
        text = (ROOT / "src/heldtrue" / name).read_text(encoding="utf-8")
        every = list(places(ast.parse(text)))
        rng = random.Random(name)
        share = -(-count // len(TESTS))
        for number in sorted(rng.sample(range(len(every)), min(share, len(every)))):
            node, how = every[number]
            found.append((name, number, how, node.lineno, ast.unparse(node)[:100]))  # type: ignore[attr-defined]
    random.Random(1).shuffle(found)
    return found


def tried(name: str, number: int, how: str, workshop: Path) -> str:
    """``caught``, ``survived`` or ``too long``."""
    path = workshop / "src/heldtrue" / name
    original = path.read_text(encoding="utf-8")
    tree = copy.deepcopy(ast.parse(original))
    node, _ = list(places(tree))[number]
    spoil(node, how)
    path.write_text(ast.unparse(ast.fix_missing_locations(tree)), encoding="utf-8")
    files = [f"tests/{one}" for one in TESTS[name].split() if (workshop / "tests" / one).exists()]
    environment = {**os.environ, "PYTHONPATH": str(workshop / "src"), "OPENBLAS_NUM_THREADS": "1",
                   "PYTHONDONTWRITEBYTECODE": "1"}  # fmt: skip
    try:
        for file in files:
            ended = subprocess.run([sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", file],
                                   cwd=workshop, env=environment, capture_output=True, timeout=SECONDS)  # fmt: skip
            if ended.returncode not in (0, 5):
                return "caught"
    except subprocess.TimeoutExpired:
        return "too long"
    finally:
        path.write_text(original, encoding="utf-8")
    return "survived"


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--only", default="")
    parser.add_argument("--markdown", action="store_true")
    asked = parser.parse_args()
    found = (
        [json.loads(line) for line in asked.keep.read_text().splitlines()] if asked.keep and asked.keep.exists() else []
    )
    done = {(one["module"], one["place"]) for one in found}
    workshop = Path(tempfile.mkdtemp(prefix="heldtrue-mutants-"))
    for folder in ("src", "tests", "examples", "docs", "bench"):
        shutil.copytree(ROOT / folder, workshop / folder, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "CHANGELOG.md", "Makefile", "mkdocs.yml"):
        shutil.copy(ROOT / name, workshop / name)
    for name, number, how, line, code in drawn(asked.count, asked.only):
        if (name, number) in done:
            continue
        one = {"module": name, "place": number, "how": how, "line": line, "code": code}
        found.append({**one, "end": tried(name, number, how, workshop)})
        if asked.keep:
            with asked.keep.open("a") as file:
                file.write(json.dumps(found[-1]) + "\n")
    shutil.rmtree(workshop, ignore_errors=True)
    said(found)


def said(found: list[dict[str, Any]]) -> None:
    """The table by folder, and what survived."""
    print("| folder | mutants | caught | too long | survived |\n|---|---|---|---|---|")
    for folder in sorted({one["module"].partition("/")[0] for one in found}):
        ends = Counter(one["end"] for one in found if one["module"].startswith(f"{folder}/"))
        print(f"| {folder} | {ends.total()} | {ends['caught']} | {ends['too long']} | {ends['survived']} |")
    print("\nSurvived:\n")
    for one in found:
        if one["end"] == "survived":
            print(f"- `{one['module']}:{one['line']}` {one['how']}: `{one['code']}`")


if __name__ == "__main__":
    main()
