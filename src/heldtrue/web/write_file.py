"""A setup as the file it would be: TOML, such that opening it gives an equal setup."""

from __future__ import annotations

from heldtrue.planning.toml_text import toml_of
from heldtrue.web.drafts import Draft


def setup_toml(draft: Draft) -> str:
    """The setup file of a draft. Raises: ``InputError`` while it does not hold together: a file is a whole setup."""
    return toml_of(draft.setup().to_dict())
