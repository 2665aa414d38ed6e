"""How the app is opened: on this machine only."""

import socket

import pytest
from typer.testing import CliRunner

from heldtrue.commands import app as command
from heldtrue.errors import InputError
from heldtrue.web import server


def test_share_is_refused_until_there_are_users(tmp_path):
    with pytest.raises(InputError, match="not built yet"):
        command.app_(port=8499, records=str(tmp_path), share=True, show=False)
    assert list(tmp_path.iterdir()) == []


def test_a_port_somebody_has_is_said(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(InputError, match="answers on port"):
            command.app_(port=taken.getsockname()[1], records=str(tmp_path), show=False)


def test_it_listens_to_this_machine_only(desk, monkeypatch):
    asked = {}
    monkeypatch.setattr(server, "register", lambda desk: None)
    monkeypatch.setattr(server.ui, "run", lambda **more: asked.update(more))
    server.serve(desk, 8475)
    assert asked["host"] == "127.0.0.1"
    assert asked["reload"] is False
    assert not asked.get("on_air")


def test_help_says_what_there_is():
    import typer

    app = typer.Typer()
    app.command("app")(command.app_)
    shown = CliRunner().invoke(app, ["--help"], env={"COLUMNS": "140"}).stdout
    for option in ("--port", "--records", "--share", "--show"):
        assert option in shown
