"""Public names: listed once, in order, and there."""

import subprocess
import sys

import pytest

import heldtrue


def test_public_names_are_sorted_and_importable():
    assert heldtrue.__all__ == sorted(heldtrue.__all__)
    assert set(heldtrue.__all__) == set(heldtrue._HOMES)
    for name in heldtrue.__all__:
        found = getattr(heldtrue, name)
        assert found.__name__ == name
        assert found.__module__ == heldtrue._HOMES[name]
        assert found.__doc__


def test_a_name_that_is_not_public_says_so():
    with pytest.raises(AttributeError, match="module 'heldtrue' has no attribute 'Plan'"):
        _ = heldtrue.Plan


def test_the_package_itself_imports_nothing_heavy():
    script = "import sys, heldtrue; sys.exit(bool({'numpy', 'ngsolve', 'pydantic'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", script]).returncode == 0


@pytest.mark.parametrize("floor", ["inspection", "planning.setup"])
def test_floors_that_list_their_names_list_them_sorted(floor):
    from importlib import import_module

    module = import_module(f"heldtrue.{floor}")
    assert module.__all__ == sorted(module.__all__)
    assert all(hasattr(module, name) for name in module.__all__)
