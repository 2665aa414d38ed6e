"""STEP and STL: a solid of the kernel as text, its triangles as bytes, each with words on what it is. [mm]"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from tempfile import TemporaryDirectory

import netgen.occ as occ
import numpy as np

from heldtrue.errors import GeometryError
from heldtrue.mechanics.cut_jaw import CutJaw
from heldtrue.mechanics.facets import Facets

STEP_NAME, STL_NAME, ANSWER = "jaws.step", "jaw-1.stl", "answer.json"
LONGEST_TEXT = 240
"""Of one text in the head of a STEP file; ISO 10303-21 has room for more, old readers have not."""
STL_HEAD = 80


@dataclass(frozen=True)
class Asked:
    """What the process of the kernel gets: the jaw, how near its triangles must lie, and what its files say of it."""

    jaw: CutJaw
    chord: float
    name: str
    words: tuple[str, ...]
    day: str


def step_text(solid: occ.TopoDS_Shape, name: str, words: tuple[str, ...], day: str = "") -> str:
    """A solid, or several in one, as STEP; ``name`` of the product; ``words`` go into its head, ``day`` too.

    Raises: ``GeometryError`` where the kernel wrote something else than it does.
    """
    with TemporaryDirectory() as folder:
        path = Path(folder) / "solid.step"
        solid.WriteStep(str(path))
        text = path.read_text(encoding="ascii")
    head, ends, rest = text.partition("ENDSEC;")
    schema = re.search(r"FILE_SCHEMA\s*\(.*?\)\s*\)\s*;", head, re.DOTALL)
    products = re.findall(r"PRODUCT\('[^']*',\s*'[^']*'", rest)
    if not ends or schema is None or len(products) != 1:
        raise GeometryError("the kernel wrote a STEP file that is not one part")
    described = ",\n  ".join(_text(one) for one in words)
    return (
        "ISO-10303-21;\nHEADER;\n"
        f"FILE_DESCRIPTION((\n  {described}),'2;1');\n"
        f"FILE_NAME({_text(name)},{_text(day)},(''),(''),\n  {_text(_program())},{_text(occ_name())},'');\n"
        f"{schema[0]}\nENDSEC;{rest.replace(products[0], f'PRODUCT({_text(name)},{_text(name)}')}"
    )


def stl_bytes(made: Facets, words: str) -> bytes:
    """Triangles as binary STL; ``words`` fill its head, as far as they go. Raises: ``GeometryError`` for a flat one."""
    corners = made.points[made.triangles].astype("<f4")
    a, b, c = (made.points[made.triangles[:, i]] for i in range(3))
    normals = np.cross(b - a, c - a)
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    same = (corners == np.roll(corners, 1, axis=1)).all(axis=2).any()
    if same or not (lengths > 0).all():
        raise GeometryError("a triangle of the jaw is too narrow for the figures of an STL file")
    rows = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("left", "<u2")])
    rows["normal"], rows["corners"] = normals / lengths, corners
    head = words.encode("ascii", "replace")[:STL_HEAD].ljust(STL_HEAD, b" ")
    return head + struct.pack("<I", len(rows)) + rows.tobytes()


def occ_name() -> str:
    """The kernel that wrote the faces."""
    return f"Open CASCADE {occ.occ_version}"


def _program() -> str:
    try:
        return f"heldtrue {version('heldtrue')}"
    except PackageNotFoundError:
        return "heldtrue"


def _text(words: str) -> str:
    """A string of ISO 10303-21: what is not plain ASCII in its own code, apostrophes and backslashes twice."""
    coded = [
        one if 32 <= ord(one) < 127 else f"\\X4\\{ord(one):08X}\\X0\\"
        for one in words[:LONGEST_TEXT].replace("\\", "\\\\").replace("'", "''")
    ]
    return f"'{''.join(coded)}'"
