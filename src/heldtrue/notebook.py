"""What a notebook shows of a plan, of ways to hold and of a contact: the picture, then the words of the terminal.

``%load_ext heldtrue`` turns it on.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from heldtrue.planning.jaw_contact import JawContact
    from heldtrue.planning.result import Plan
    from heldtrue.planning.ways import Ways

WIDTH = 120
WORDS = '<pre style="font-family: monospace; line-height: 1.25; white-space: pre">{code}</pre>'


def plan_html(plan: Plan) -> str:
    """The section with part, jaws and grip, and the plan in words."""
    from heldtrue.drawing.section import draw_section
    from heldtrue.terminal.plan import show_plan

    units = plan.setup.units
    return draw_section(plan, units) + _words(lambda console: show_plan(console, plan, units))


def ways_html(found: Ways) -> str:
    """Every way in words."""
    from heldtrue.terminal.ways import show_ways

    return _words(lambda console: show_ways(console, found, found.setup.units))


def contact_html(contact: JawContact) -> str:
    """The prints of the jaws, and the contact in words."""
    from heldtrue.drawing.contact_print import draw_contact_prints
    from heldtrue.terminal.contact import show_contact

    units = contact.setup.units
    prints = draw_contact_prints(contact.prints, units)
    return prints + _words(lambda console: show_contact(console, contact, units))


SHOWN: tuple[tuple[str, str, Callable[[Any], str]], ...] = (
    ("heldtrue.planning.result", "Plan", plan_html),
    ("heldtrue.planning.ways", "Ways", ways_html),
    ("heldtrue.planning.jaw_contact", "JawContact", contact_html),
)


def turn_on(ipython: Any) -> None:
    """Say to a notebook's kernel how to show them."""
    html = ipython.display_formatter.formatters["text/html"]
    for module, name, show in SHOWN:
        html.for_type_by_name(module, name, show)


def _words(show: Callable[[Any], None]) -> str:
    from rich.console import Console

    console = Console(
        width=WIDTH, record=True, highlight=False, file=io.StringIO(), force_terminal=True, color_system="truecolor"
    )
    show(console)
    return console.export_html(inline_styles=True, code_format=WORDS)
