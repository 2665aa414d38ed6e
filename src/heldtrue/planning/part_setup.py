"""A setup to go on with, made from a drawing: part and surfaces filled in, the rest named for whoever types it.

Nothing is guessed: without grip, chuck, jaws and cuts the file gives no plan; ``heldtrue plan`` says what is missing.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePath

from heldtrue.part_file.choices import Choices
from heldtrue.part_file.outline import OutlineCorner
from heldtrue.part_file.surfaces import not_round_seated, seated
from heldtrue.part_file.turned_part import TurnedPart, TurnedSurface
from heldtrue.planning.drawn_part import PLAN_CHORD_MM, plan_corners
from heldtrue.planning.drawn_rows import asked, corner_row, not_round_row, rounded, surface_row
from heldtrue.planning.not_round import off_centre_drawn
from heldtrue.planning.toml_text import toml_keys, toml_value
from heldtrue.quantities import UnitSystem


@dataclass(frozen=True)
class Seating:
    """How a drawing is taken: the end of low z on the jaws, or the other; what was answered to its questions.

    ``file``: the drawing as the setup names it, ``None`` where it does not lie in the folder of the setup or below.
    """

    low_end: bool
    choices: Choices
    file: str | None


def setup_text(
    part: TurnedPart, seating: Seating, *, material: str | None = None, system: UnitSystem = "metric"
) -> str:
    """The setup file (TOML): with the drawing by its name and hash where it lies beside, else corner by corner.

    Raises: ``InputError`` for an outline that would need too many corners.
    """
    outline, surfaces = seated(part, seating.low_end, system)
    profile = _file(part, seating) if seating.file else _profile(plan_corners(outline), system)
    write = _named if seating.file else _surface
    stretches = [] if seating.file else _not_round(part, seating.low_end, system)
    return "\n".join([*_head(part, seating.low_end, material, system), *profile, *_part_end(part), *stretches,
                      *(line for one in surfaces for line in write(one, system)), *TO_FILL_IN, ""])  # fmt: skip


def _head(part: TurnedPart, low_end: bool, material: str | None, system: UnitSystem) -> list[str]:
    name = PurePath(part.source).name
    stem = PurePath(name).stem or "part"
    material_line = (
        f"material = {_quoted(material)}"
        if material
        else '# material = "..."                # fill in; heldtrue materials lists them'
    )
    return [
        f"# Made from {_comment(name)} (SHA-256 {part.digest}).",
        f"# The end of {'low' if low_end else 'high'} z in that file sits on the jaws. Not complete: see below.",
        *(f"# {line}" for note in part.notes for line in _comment(note).splitlines()),
        f"title = {_quoted(stem)}",
        f'units = "{system}"',
        "",
        "[part]",
        f"number = {_quoted(stem)}",
        material_line,
    ]


def _file(part: TurnedPart, seating: Seating) -> list[str]:
    """The drawing by name: a changed one is refused by its hash."""
    said = {"file": seating.file, "seat_end": "low" if seating.low_end else "high", "body": seating.choices.body,
            "axis": seating.choices.axis, "units": seating.choices.units, "sha256": part.digest}  # fmt: skip
    keys = ", ".join(f"{key} = {_quoted(value)}" for key, value in said.items() if value)
    return ["# half section of this drawing; if the drawing changes, look at it, then write its new sha256 here",
            f"profile = {{ {keys} }}"]  # fmt: skip


def _profile(corners: tuple[OutlineCorner, ...], system: UnitSystem) -> list[str]:
    rows = [f"    {toml_value(corner_row(corner, rounded(system)))}," for corner in corners]
    said = f"# half section as drawn, arcs as roundings or as chords within {PLAN_CHORD_MM:g} mm, [diameter, z]"
    return [said, "# z = 0 where the part sits on the jaws", "profile = [", *rows, "]"]


def _part_end(part: TurnedPart) -> list[str]:
    lines = ["# blank = [[..., ...], ...]            # fill in: half section before this operation",
             "# mass = \"... kg\"                      # fill in if it was weighed"]  # fmt: skip
    if part.not_turned:
        lines += ["holes = true                          # not turned on the part:"]
        lines += [f"#   {_comment(f'{one.kind}, {one.size}, {one.at}')}" for one in part.not_turned]
    return lines


def _not_round(part: TurnedPart, low_end: bool, system: UnitSystem) -> list[str]:
    """Hexagons, sockets and eccentrics: a drawing that is named says them itself."""
    size = rounded(system)
    lines = []
    if part.off_centre:
        off = toml_value(size(off_centre_drawn(part.off_centre)))
        lines.append(f"off_centre = {off}  # of the eccentrics by the drawing, 0.5 mm for the rest")
    for one in not_round_seated(part, low_end):
        lines += ["", "[[part.not_round]]", *toml_keys(not_round_row(one, size))]
    return lines


def _named(one: TurnedSurface, system: UnitSystem) -> list[str]:
    """A surface of the drawing: its name says the rest."""
    found = [f"{key} {toml_value(row['value'])}" for key, row in asked(one.tolerances, rounded(system)).items()]
    comment = f"  # {', '.join(found)}, from the drawing" if found else ""
    return ["", "[[surface]]", f"name = {_quoted(one.name)}{comment}"]


def _surface(one: TurnedSurface, system: UnitSystem) -> list[str]:
    return ["", "[[surface]]", *toml_keys(surface_row(one, rounded(system)))]


TO_FILL_IN = (
    "",
    "# Still to be filled in; docs/setup-file.md has every key:",
    "#",
    "# [grip]                               # where the jaws hold the part",
    '# surface = "..."                      # by its name above, or side and diameter',
    "# diameter_tolerance = [..., ...]",
    "# z = [..., ...]",
    "# seat = ...                          # true where it rests on a seat or stop; unsaid counts as none",
    "#",
    "# [chuck]",
    '# use = "chucks/....toml"',
    "#",
    "# [jaws]",
    '# style = "standard"                   # or "wide", "pie"',
    '# material = "..."',
    "#",
    "# [[cut]]                              # one for each cut of this operation; surface names as above",
    '# name = "..."',
    '# kind = "turn"',
    '# surface = "..."',
    "# depth = ...",
    "# feed = ...",
    "# speed = ...",
)


def _quoted(text: str) -> str:
    return toml_value("".join(c for c in text if c.isprintable()))


def _comment(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)
