"""The first pages that somebody follows: every command in them runs, and says what the page shows."""

import os
import re
import shlex

import pytest
from conftest import ROOT, longer
from typer.testing import CliRunner

from heldtrue.cli import app

BLOCK = re.compile(r"```(console|text)\n(.*?)```", re.DOTALL)
WITHOUT_FRICTION = ("mine/winch-shaft.toml", "mine/unknown.toml")
"""What the page asks the reader to do by hand: save one file as another, without the line of the friction."""


def plain(text):
    """Words alone: how wide a screen is, and the frames it draws, are no matter."""
    return " ".join(re.sub(r"[│╭╮╰╯─]", " ", text).split())


def by_hand(folder):
    there, new = (folder / name for name in WITHOUT_FRICTION)
    if there.exists() and not new.exists():
        lines = there.read_text(encoding="utf-8").splitlines(keepends=True)
        kept = [line for line in lines if not line.startswith("friction = ")]
        assert len(kept) == len(lines) - 1
        new.write_text("".join(kept), encoding="utf-8")


@pytest.mark.parametrize("page", ["first-plan", *longer("first-jaws", "first-readings")])
def test_it_does_what_it_says(page, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HELDTRUE_RECORDS", "mine/records")
    run = CliRunner()
    if page != "first-plan":
        run.invoke(app, ["examples", "--out", "mine"], catch_exceptions=False)
    said, shown = "", 0
    for kind, text in BLOCK.findall((ROOT / "docs" / f"{page}.md").read_text(encoding="utf-8")):
        if kind == "text":
            for line in text.splitlines():
                assert plain(line) in said, line
                shown += 1
            continue
        for line in text.splitlines():
            words = shlex.split(line.removeprefix("$ "))
            if words[0] == "export":
                name, _, value = words[1].partition("=")
                assert os.environ[name] == value
                continue
            assert words[0] == "heldtrue"
            by_hand(tmp_path)
            answer = run.invoke(app, words[1:], catch_exceptions=False)
            assert answer.exit_code in (0, 1), answer.output
            said = plain(answer.output)
    assert shown >= 3
