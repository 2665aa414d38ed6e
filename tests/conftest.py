"""Shared by all four homes of the tests."""

import os
import tempfile
from pathlib import Path

import pytest

os.environ["HELDTRUE_RECORDS"] = str(Path(tempfile.gettempdir()) / "heldtrue-test-records-that-are-not-there")
os.environ.pop("HELDTRUE_BY", None)
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does; before anything loads numpy

from heldtrue.planning.setup import Setup

ROOT = Path(__file__).parent.parent
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))


def pytest_addoption(parser):
    parser.addoption("--regenerate", action="store_true", help="write the golden files anew; review the diff")


def example(name: str) -> Setup:
    """One of the shipped setups."""
    return Setup.from_toml(ROOT / "examples" / f"{name}.toml")


@pytest.fixture(scope="session")
def wear_ring() -> Setup:
    return example("wear-ring")


@pytest.fixture(scope="session")
def winch_shaft() -> Setup:
    return example("winch-shaft")
