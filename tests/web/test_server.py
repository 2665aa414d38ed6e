"""How the app is opened: on this machine only, or to those who log in."""

import socket

import pytest
from typer.testing import CliRunner

from heldtrue.commands import app as command
from heldtrue.errors import InputError
from heldtrue.web import server


def test_a_port_somebody_has_is_said(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(InputError, match="answers on port"):
            command.app_(port=taken.getsockname()[1], records=str(tmp_path), show=False)


def test_it_listens_to_this_machine_only(desk, monkeypatch):
    asked = {}
    monkeypatch.setattr(server, "register", lambda desk, hosts: asked.update(hosts=hosts))
    monkeypatch.setattr(server.ui, "run", lambda **more: asked.update(more))
    server.serve(desk, 8475)
    assert asked["host"] == "127.0.0.1"
    assert asked["reload"] is False
    assert not asked.get("on_air")
    assert set(asked["hosts"]) == {"127.0.0.1", "localhost", "[::1]"}


def test_shared_it_listens_to_the_network_under_its_own_names(desk, monkeypatch, tmp_path):
    asked = {}
    monkeypatch.setattr(server, "register", lambda desk, hosts: asked.update(hosts=hosts))
    monkeypatch.setattr(server.ui, "run", lambda **more: asked.update(more))
    files = server.Network("10.0.0.2", ("lathe-pc",), tmp_path / "c.pem", tmp_path / "k.pem")
    server.serve(desk, 8475, network=files)
    assert asked["host"] == "10.0.0.2"
    assert (asked["ssl_certfile"], asked["ssl_keyfile"]) == (str(tmp_path / "c.pem"), str(tmp_path / "k.pem"))
    assert {"127.0.0.1", "lathe-pc", socket.gethostname()} <= set(asked["hosts"])
    assert "evil.example" not in asked["hosts"]
    assert asked["proxy_headers"] is False


def test_help_says_what_there_is():
    import typer

    app = typer.Typer()
    app.command("app")(command.app_)
    shown = CliRunner().invoke(app, ["--help"], env={"COLUMNS": "140"}).stdout
    for option in ("--port", "--records", "--share", "--show"):
        assert option in shown
