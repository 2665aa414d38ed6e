"""What a notebook shows is what the terminal says, with a picture."""

from types import SimpleNamespace

from conftest import example, planned

import heldtrue
from heldtrue import contact
from heldtrue.notebook import contact_html, plan_html


def test_a_plan_has_its_picture_and_its_words():
    shown = plan_html(planned("winch-shaft"))
    assert shown.startswith("<svg")
    assert "passes" in shown
    assert "hold: rough thread end" in shown
    assert "can kill" in shown
    assert "<script" not in shown


def test_names_that_somebody_typed_do_nothing_there():
    from heldtrue.planning.plan import plan

    made = plan(example("winch-shaft").with_({"title": "<script>alert(1)</script>"}), helped=False)
    assert "<script" not in plan_html(made)


def test_a_contact_has_its_prints():
    shown = contact_html(contact(example("winch-shaft")))
    assert "<svg" in shown
    assert "taper" in shown


def test_a_kernel_is_told_of_all_three():
    told = []
    html = SimpleNamespace(for_type_by_name=lambda *one: told.append(one[:2]))
    heldtrue.load_ipython_extension(SimpleNamespace(display_formatter=SimpleNamespace(formatters={"text/html": html})))
    from importlib import import_module

    assert [name for _, name in told] == ["Plan", "Ways", "JawContact"]
    assert all(hasattr(import_module(module), name) for module, name in told)
