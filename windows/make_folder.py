"""Make a folder that runs on a Windows PC without installation, administrator or network. ``make windows-folder``.

Python for Windows itself is not fetched here: ``--python`` names the embeddable zip as its makers give it out.  Without
it everything else is laid out and checked, and the folder says what is missing.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from email.parser import HeaderParser
from pathlib import Path
from shutil import copy, rmtree
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parent.parent
PLATFORM, VERSION = "x86_64-pc-windows-msvc", "3.12"
STARTERS = {
    "heldtrue.cmd": '@echo off\r\n"%~dp0python\\python.exe" -m heldtrue %*\r\n',
    "Open the app.cmd": '@echo off\r\n"%~dp0python\\python.exe" -m heldtrue app %*\r\npause\r\n',
}
OF_PYTHON = re.compile(r"python3\d*\.dll|vcruntime140(_1)?\.dll", re.IGNORECASE)
"""What the zip of Python brings."""
OF_WINDOWS = re.compile(
    r"(api-ms-win-.*|ext-ms-.*|kernel32|kernelbase|combase|ntdll|user32|gdi32|gdiplus|advapi32|shell32|shlwapi|ole32|oleaut32|ws2_32"
    r"|wsock32|iphlpapi|bcrypt|bcryptprimitives|crypt32|cryptbase|secur32|userenv|version|winmm|comctl32|comdlg32|dbghelp"
    r"|opengl32|glu32|psapi|pdh|powrprof|rpcrt4|msvcrt|ucrtbase|ncrypt|normaliz|imm32|mpr|wtsapi32|setupapi|cfgmgr32"
    r"|winspool\.drv|uxtheme|dwmapi|propsys|dnsapi|netapi32|d3d.*|dxgi|synchronization|mswsock|authz|credui)(\.dll|\.drv)?",
    re.IGNORECASE,
)
"""What every Windows 10 and 11 has (from memory)."""
READ_ME = """heldtrue for Windows

Nothing to install: put this folder anywhere, also on a stick or a share, and start "Open the app.cmd".
On the command line: heldtrue.cmd plan setup.toml

Planning aid only. The plates of chuck, cylinder and machine rule. A part that lets go can kill.

Libraries of others and their licences: LICENCES.txt. Each lies in lib as a folder of its own and may be replaced
by another build of it, as the LGPL of netgen and ngsolve asks.
"""
NO_PYTHON = """
PYTHON IS MISSING. Take the "Windows embeddable package (64-bit)" of Python {version} from its makers, unpack it into a
folder named python here, and write these lines into its file python{short}._pth in place of what is there:

{path_file}"""


@dataclass
class Resolved:
    """Compiled modules, and what each asks for that is nowhere: by file."""

    looked_at: int = 0
    missing: dict[str, list[str]] = field(default_factory=dict)


def main() -> int:
    """Make it, check it, say what was found."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--python", type=Path, help="the embeddable zip of Python for Windows, 64 bit")
    ask.add_argument("--out", type=Path, default=ROOT / "out" / "heldtrue-windows")
    asked = ask.parse_args()
    version = VERSION if asked.python is None else version_in(asked.python)
    rmtree(asked.out, ignore_errors=True)
    asked.out.mkdir(parents=True)
    install(asked.out / "lib", version)
    lay_out(asked.out, version, asked.python)
    found = resolved(asked.out)
    size = sum(path.stat().st_size for path in asked.out.rglob("*") if path.is_file())
    print(f"{asked.out}: {size / 1e6:.0f} MB, {found.looked_at} compiled files")
    for name, missing in sorted(found.missing.items()):
        print(f"  {name} asks for {', '.join(missing)}, which is nowhere")
    if asked.python is None:
        print("  without Python: --python names its embeddable zip")
    print("not tried on Windows here")
    return 1 if found.missing else 0


def version_in(python: Path) -> str:
    """The version of an embeddable zip, as 3.12.  Raises: ``SystemExit`` for another file."""
    with zipfile.ZipFile(python) as packed:
        found = [match for name in packed.namelist() if (match := re.fullmatch(r"python3(\d+)\._pth", name))]
    if not found:
        raise SystemExit(f"{python} is no embeddable zip of Python: no python3xx._pth in it")
    return f"3.{found[0][1]}"


def install(lib: Path, version: str) -> None:
    """heldtrue and everything it stands on, for Windows."""
    with TemporaryDirectory() as made:
        subprocess.run(
            [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", made, str(ROOT)], check=True
        )
        (wheel,) = Path(made).glob("*.whl")
        subprocess.run(
            [sys.executable, "-m", "uv", "pip", "install", "--quiet", "--python-platform", PLATFORM, "--python-version",
             version, "--only-binary", ":all:", "--constraint", str(ROOT / "constraints.txt"), "--target", str(lib),
             str(wheel)], check=True,
        )  # fmt: skip


def lay_out(out: Path, version: str, python: Path | None) -> None:
    """Starters, words, licences, and Python with the way to the libraries."""
    short = version.replace(".", "")
    path_file = f"python{short}.zip\r\n.\r\n..\\lib\r\nimport site\r\n"
    for name, text in STARTERS.items():
        (out / name).write_text(text, encoding="ascii", newline="")
    words = READ_ME
    if python is None:
        words += NO_PYTHON.format(version=version, short=short, path_file=path_file.replace("\r", ""))
    else:
        with zipfile.ZipFile(python) as packed:
            packed.extractall(out / "python")
        (out / "python" / f"python{short}._pth").write_text(path_file, encoding="ascii", newline="")
    (out / "README.txt").write_text(words.replace("\n", "\r\n"), encoding="utf-8", newline="")
    (out / "LICENCES.txt").write_text("\r\n".join(licences(out / "lib")), encoding="utf-8", newline="")
    copy(ROOT / "LICENSE", out / "LICENSE.txt")


def licences(lib: Path) -> Iterator[str]:
    """Name, version and licence of every library, and where its text lies."""
    for metadata in sorted(lib.glob("*.dist-info/METADATA")):
        said = HeaderParser().parsestr(metadata.read_text(encoding="utf-8", errors="replace"))
        named = said["License-Expression"] or (said["License"] or "").splitlines()[:1]
        named = named if isinstance(named, str) else "".join(named)
        classified = [one.rpartition(" :: ")[2] for one in said.get_all("Classifier", []) if one.startswith("License")]
        texts = [path.relative_to(lib).as_posix() for path in metadata.parent.rglob("*")
                 if path.is_file() and re.match(r"(licen|copying|notice)", path.name, re.IGNORECASE)]  # fmt: skip
        yield f"{said['Name']} {said['Version']}: {named or ', '.join(classified) or 'see its own pages'}"
        yield from (f"    lib/{one}" for one in texts)


def resolved(out: Path) -> Resolved:
    """Does every compiled file find what it asks for: in the folder, in Python, or in Windows?"""
    import pefile

    files = [path for path in out.rglob("*") if path.suffix.lower() in (".pyd", ".dll")]
    there = {path.name.lower() for path in files}
    found = Resolved(len(files))
    for path in files:
        image = pefile.PE(str(path), fast_load=True)
        image.parse_data_directories([pefile.DIRECTORY_ENTRY["IMAGE_DIRECTORY_ENTRY_IMPORT"]])
        asked = [entry.dll.decode() for entry in getattr(image, "DIRECTORY_ENTRY_IMPORT", [])]
        missing = [name for name in asked if not is_there(name, there)]
        if missing:
            found.missing[path.relative_to(out).as_posix()] = missing
    return found


def is_there(name: str, there: set[str]) -> bool:
    """Is a library in the folder, or does Python or Windows bring it?"""
    return name.lower() in there or bool(OF_PYTHON.fullmatch(name) or OF_WINDOWS.fullmatch(name))


if __name__ == "__main__":
    sys.exit(main())
