"""Our own recorded output, so that no number changes unseen.  It says nothing about whether a number is right.

``make golden`` writes the files anew; review the difference before you commit it.
"""

import json
from math import floor, log10
from pathlib import Path

import pytest
from conftest import EXAMPLES, longer, planned

from heldtrue.planning.document import to_json

RECORDED = Path(__file__).parent
FIGURES = 4
RELATIVE, NANOMETRE = 1e-3, 1e-6
MARGINS = ("margin", "best_margin")


def rounded(value):
    """The document with every number to a few figures, so that machines that differ in the last digits agree."""
    if isinstance(value, dict):
        return {key: rounded(one) for key, one in value.items()}
    if isinstance(value, list):
        return [rounded(one) for one in value]
    if isinstance(value, float) and value != 0.0:
        return round(value, FIGURES - 1 - floor(log10(abs(value))))
    return value


def differences(found, recorded, where=""):
    """Every place in which two documents differ, in words."""
    if isinstance(recorded, dict) and isinstance(found, dict):
        for key in sorted(found.keys() | recorded.keys()):
            if key not in found or key not in recorded:
                yield f"{where}.{key}: only in the {'record' if key in recorded else 'plan'}"
            else:
                yield from differences(found[key], recorded[key], f"{where}.{key}")
    elif isinstance(recorded, list) and isinstance(found, list):
        if len(found) != len(recorded):
            yield f"{where}: {len(found)} entries, recorded {len(recorded)}"
        for number, (one, other) in enumerate(zip(found, recorded, strict=False)):
            yield from differences(one, other, f"{where}[{number}]")
    elif isinstance(recorded, float) and isinstance(found, float):
        # A margin is one less than a ratio: it is as sure as that ratio, however near to zero it lies.
        least = RELATIVE if where.endswith(MARGINS) else NANOMETRE
        if found != pytest.approx(recorded, rel=RELATIVE, abs=least):
            yield f"{where}: {found}, recorded {recorded}"
    elif found != recorded:
        yield f"{where}: {found!r}, recorded {recorded!r}"


SOME = ("wear-ring", "winch-shaft", "float-ring")
"""A window of two pressures, one of one, and none."""


@pytest.mark.parametrize("name", [*SOME, *longer(*(path.stem for path in EXAMPLES if path.stem not in SOME))])
def test_the_plan_of_every_example_is_as_recorded(name, pytestconfig):
    found = rounded(json.loads(to_json(planned(name))))
    path = RECORDED / f"{name}.json"
    if pytestconfig.getoption("--regenerate"):
        path.write_text(json.dumps(found, indent=1, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")
        return
    assert path.exists(), "no record; make golden writes it"
    assert list(differences(found, json.loads(path.read_text(encoding="utf-8")))) == []


def test_there_is_no_record_without_an_example():
    assert {path.stem for path in RECORDED.glob("*.json")} == {path.stem for path in EXAMPLES}


def test_a_change_of_half_a_percent_is_seen_and_one_of_a_tenth_of_that_is_not():
    record = {"a": [1.0, {"b": 250.0, "margin": 0.001}], "c": "x", "d": None}
    assert list(differences({"a": [1.0005, {"b": 250.1, "margin": 0.0015}], "c": "x", "d": None}, record)) == []
    changed = {"a": [1.005, {"b": 250.0, "margin": 0.01}], "c": "y", "d": 1.0}
    assert len(list(differences(changed, record))) == 4
    assert len(list(differences({"a": [1.0], "c": "x", "e": None}, record))) == 3


def test_rounding_keeps_figures_not_decimals():
    assert rounded({"a": 123456.0, "b": [0.000123456, 0.0, True, 7, None]}) == {
        "a": 123500.0,
        "b": [0.0001235, 0.0, True, 7, None],
    }
