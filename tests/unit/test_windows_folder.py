"""What the folder for Windows holds besides the libraries; these are resolved by its own check when it is made."""

import importlib.util
import zipfile

import pytest
from conftest import ROOT


@pytest.fixture(scope="module")
def maker():
    spec = importlib.util.spec_from_file_location("make_folder", ROOT / "windows" / "make_folder.py")
    module = importlib.util.module_from_spec(spec)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(__import__("sys").modules, spec.name, module)  # dataclasses look their module up
        spec.loader.exec_module(module)
        yield module


def python_zip(folder, version="313"):
    made = folder / "python.zip"
    with zipfile.ZipFile(made, "w") as packed:
        packed.writestr(f"python{version}._pth", "python.zip\n.\n#import site\n")
        packed.writestr("python.exe", b"MZ")
    return made


def library(folder, name, text):
    (folder / f"{name}-1.0.dist-info").mkdir(parents=True)
    (folder / f"{name}-1.0.dist-info" / "METADATA").write_text(f"Name: {name}\nVersion: 1.0\n{text}\n")


def test_python_finds_the_libraries_and_the_starters_find_python(maker, tmp_path):
    packed = python_zip(tmp_path)
    assert maker.version_in(packed) == "3.13"
    out = tmp_path / "out"
    out.mkdir()
    maker.lay_out(out, "3.13", packed)
    assert (out / "python" / "python313._pth").read_text() == "python313.zip\n.\n..\\lib\nimport site\n"
    assert (out / "python" / "python.exe").read_bytes() == b"MZ"
    assert b'"%~dp0python\\python.exe" -m heldtrue app' in (out / "Open the app.cmd").read_bytes()
    said = (out / "README.txt").read_text()
    assert "PYTHON IS MISSING" not in said
    assert "can kill" in said


def test_without_python_the_folder_says_what_to_do(maker, tmp_path):
    maker.lay_out(tmp_path, "3.12", None)
    said = (tmp_path / "README.txt").read_text()
    assert "PYTHON IS MISSING" in said
    assert "python312._pth" in said
    assert "..\\lib" in said


def test_another_zip_is_refused(maker, tmp_path):
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as packed:
        packed.writestr("python.exe", b"MZ")
    with pytest.raises(SystemExit, match="no embeddable zip"):
        maker.version_in(tmp_path / "other.zip")


def test_every_library_is_named_with_its_licence(maker, tmp_path):
    library(tmp_path, "one", "License-Expression: MIT")
    library(tmp_path, "two", "Classifier: License :: OSI Approved :: BSD License")
    library(tmp_path, "three", "License: Apache 2.0")
    (tmp_path / "one-1.0.dist-info" / "LICENSE").write_text("words")
    assert list(maker.licences(tmp_path)) == [
        "one 1.0: MIT", "    lib/one-1.0.dist-info/LICENSE", "three 1.0: Apache 2.0", "two 1.0: BSD License",
    ]  # fmt: skip


def test_what_is_nowhere_is_missed(maker):
    there = {"msvcp140-a1.dll"}
    for name in (
        "MSVCP140-a1.dll",
        "KERNEL32.dll",
        "python312.dll",
        "vcruntime140_1.dll",
        "api-ms-win-crt-math-l1-1-0.dll",
    ):
        assert maker.is_there(name, there), name
    for name in ("msvcp140.dll", "ngcore.dll", "libiomp5md.dll", "python3.dll.exe"):
        assert not maker.is_there(name, there), name
