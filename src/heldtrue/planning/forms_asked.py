"""Does a setup file use other forms than corners and figures? Light, so that those that do not load no geometry."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

Section = Literal["profile", "blank"]
SECTIONS: tuple[Section, ...] = ("profile", "blank")


def is_form(raw: Any) -> bool:
    """Is this a profile or blank in another form than corners?"""
    return isinstance(raw, str) or (isinstance(raw, Mapping) and "value" not in raw)


def asks_for_forms(raw: Mapping[str, Any]) -> bool:
    """Does the setup name a file, a shape or stock, or a surface of the part without its figures?"""
    part, grip = (one if isinstance(one := raw.get(key), Mapping) else {} for key in ("part", "grip"))
    surfaces, cuts = (
        [item for item in one if isinstance(item, Mapping)] if isinstance(one := raw.get(key), list | tuple) else []
        for key in ("surface", "cut")
    )
    names = [one.get("name") for one in surfaces]
    return (
        any(is_form(part.get(key)) for key in SECTIONS)
        or "surface" in grip
        or any(not {"side", "diameter", "z"} & one.keys() for one in surfaces)
        or any(isinstance(name := cut.get("surface"), str) and name not in names for cut in cuts)
    )
