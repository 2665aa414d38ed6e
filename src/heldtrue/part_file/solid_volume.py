"""Second opinion: the volume of a solid by the kernel that comes with the finite elements.

The kernel reads the one body that was read here, written out alone.  It runs in a process of its own: on a damaged file
it may stop without a word, and it must not take the program with it.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from contextlib import suppress
from functools import lru_cache
from hashlib import sha256
from importlib import resources
from importlib.metadata import version
from pathlib import Path
from platform import machine

from heldtrue import kept_answers
from heldtrue.own_process import run_module
from heldtrue.part_file.exchange_text import Exchange
from heldtrue.part_file.step_bodies import Body

TIMEOUT_S = 60.0
MOST_MEMORY = 8_000_000_000
"""What the kernel may take before it is stopped; a part of 5 MB takes under a tenth of it. [bytes]"""
MOST_KEPT, DROPPED_AT_ONCE = 2000, 200
"""Volumes kept on disk, some tens of bytes each; the ones not used for longest go first."""
MEASURED_BY = ("solid_volume.py", "exchange_text.py", "step_bodies.py")
"""The code that takes the body out of the file and measures it."""
LIBRARIES = ("netgen-mesher", "netgen-occt")
DONE = "volume of the solids "

_HEAD = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION(('one body'),'2;1');
FILE_NAME('','',(''),(''),'','','');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));
ENDSEC;
DATA;
"""
_PRODUCT = """#{1}=APPLICATION_CONTEXT('');
#{2}=PRODUCT_CONTEXT('',#{1},'mechanical');
#{3}=PRODUCT('part','part','',(#{2}));
#{4}=PRODUCT_DEFINITION_FORMATION('','',#{3});
#{5}=PRODUCT_DEFINITION_CONTEXT('part definition',#{1},'design');
#{6}=PRODUCT_DEFINITION('design','',#{4},#{5});
#{7}=PRODUCT_DEFINITION_SHAPE('','',#{6});
#{8}=SHAPE_DEFINITION_REPRESENTATION(#{7},#{9});
#{9}=ADVANCED_BREP_SHAPE_REPRESENTATION('',(#{0}),#{10});
#{10}=(GEOMETRIC_REPRESENTATION_CONTEXT(3) GLOBAL_UNIT_ASSIGNED_CONTEXT((#{11},#{12},#{13}))
REPRESENTATION_CONTEXT('',''));
#{11}=(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.));
#{14}=(NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.));
#{13}=(NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT());
#{15}=DIMENSIONAL_EXPONENTS(0.,0.,0.,0.,0.,0.,0.);
#{16}=PLANE_ANGLE_MEASURE_WITH_UNIT(PLANE_ANGLE_MEASURE({angle!r}),#{14});
#{12}=(CONVERSION_BASED_UNIT('',#{16}) NAMED_UNIT(#{15}) PLANE_ANGLE_UNIT());
ENDSEC;
END-ISO-10303-21;
"""


def body_alone(file: Exchange, body: Body, angle: float) -> str:
    """One body as a STEP file of its own, its numbers read as mm. ``angle``: rad in one unit of the file."""
    rows = [f"#{number}={file.bodies[number]};" for number in file.needs(body.id) if number in file.bodies]
    free = max(file.bodies) + 1
    product = _PRODUCT.format(body.id, *(free + k for k in range(16)), angle=float(angle))
    return _HEAD + "\n".join(rows) + "\n" + product


def solid_volume(file: Exchange, body: Body, length: float, angle: float, digest: str) -> float | None:
    """Volume of a solid as the kernel measures it; ``None`` where the kernel cannot read it. [mm3]

    ``length``: mm in one unit of the file; ``angle``: rad in one; ``digest``: SHA-256 of the file.  The same file
    is measured once: its volume is kept on disk by that digest, a failure is not.
    """
    place = kept_answers.folder("volumes")
    path = None if place is None else place / kept_answers.name_of(_kernel(), digest, str(body.id), repr(angle))
    found = None if path is None else _kept(path)
    if found is None:
        found = _measured(body_alone(file, body, angle))
        if found is not None and path is not None:
            kept_answers.write(path, repr(found).encode(), MOST_KEPT, DROPPED_AT_ONCE)
    return None if found is None else found * length**3


def _kept(path: Path) -> float | None:
    """A volume that was measured before. [cubes of the file's unit]"""
    packed = kept_answers.read(path)
    if packed is None:
        return None
    kept_answers.used(path)
    return float(packed)


@lru_cache(maxsize=1)
def _kernel() -> str:
    """The code and libraries that a volume comes from."""
    code = sha256()
    for name in MEASURED_BY:
        code.update(resources.files("heldtrue.part_file").joinpath(name).read_bytes())
    return " ".join([code.hexdigest(), machine(), *(f"{name} {version(name)}" for name in LIBRARIES)])


def _measured(text: str) -> float | None:
    """Volume of the one body in the text of a STEP file. [cubes of its unit]"""
    with tempfile.TemporaryDirectory(prefix="heldtrue-part-") as folder:
        path = Path(folder) / "body.step"
        path.write_text(text, encoding="utf-8")
        try:
            done = run_module("heldtrue.part_file.solid_volume", str(path), longest=TIMEOUT_S)
        except (OSError, subprocess.TimeoutExpired):
            return None
    said = [line for line in done.stdout.decode().splitlines() if line.startswith(DONE)]
    return float(said[-1][len(DONE) :]) if done.returncode == 0 and said else None


def _measure(path: str) -> None:
    with suppress(ImportError, OSError, ValueError):  # where the system knows such a limit
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    from netgen.occ import OCCGeometry

    solids = OCCGeometry(path).shape.solids
    if not len(solids):
        raise SystemExit(1)
    sys.stdout.write(f"\n{DONE}{sum(solid.mass for solid in solids)!r}\n")


if __name__ == "__main__":
    _measure(sys.argv[1])
