"""What manage.py decides before Django is there."""

from __future__ import annotations

import os
import socket
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from locates.bootstrap import entry
from locates.bootstrap import environment as env
from locates.bootstrap.ports import HOST, free_port, port_problem


@pytest.fixture
def taken_port() -> Iterator[int]:
    with socket.socket() as listener:
        listener.bind((HOST, 0))
        listener.listen()
        yield listener.getsockname()[1]


@pytest.fixture(autouse=True)
def _own_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(env.STAY_OUT, "1")
    for name in ("SECRET_KEY", "DATA_DIR", "ALLOWED_HOSTS", "SECURE_COOKIES"):
        monkeypatch.setenv(name, "")  # remembered by monkeypatch, so that it comes back
        monkeypatch.delenv(name)


def test_a_port_in_use_is_one_plain_line_and_code_2(
    taken_port: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert entry.prepare(tmp_path, ["demo", "--port", str(taken_port)]) == 2
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1
    assert f"Port {taken_port} is already in use" in said
    assert "--port" in said


def test_without_a_server_the_port_does_not_matter(taken_port: int) -> None:
    assert entry.demo_problem(["--no-server", "--port", str(taken_port)]) is None


@pytest.mark.parametrize("port", [0, -1, 65_536, 100_000])
def test_a_port_that_does_not_exist(port: int) -> None:
    assert "does not exist" in (port_problem(port) or "")


def test_a_free_port_is_free() -> None:
    assert port_problem(free_port()) is None


def test_a_port_that_is_no_number_is_left_to_the_command() -> None:
    assert entry.demo_problem(["--port", "eighty"]) is None


def test_the_key_is_made_once_and_kept_private(tmp_path: Path) -> None:
    key = entry.kept_key(tmp_path / "data")
    assert len(key) >= 32
    assert entry.kept_key(tmp_path / "data") == key
    file = tmp_path / "data" / "secret_key"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert entry.kept_key(tmp_path / "elsewhere") != key


def test_an_empty_key_file_is_filled(tmp_path: Path) -> None:
    (tmp_path / "secret_key").write_text("")
    assert len(entry.kept_key(tmp_path)) >= 32


def test_the_demo_serves_this_machine_only(tmp_path: Path) -> None:
    assert entry.prepare(tmp_path, ["demo", "--no-server"]) is None
    assert os.environ["ALLOWED_HOSTS"] == "localhost,127.0.0.1,[::1]"
    assert os.environ["DATA_DIR"] == str(tmp_path / ".data")
    assert os.environ["SECRET_KEY"] == entry.kept_key(tmp_path / ".data")


def test_commands_that_serve_nobody_need_no_key(tmp_path: Path) -> None:
    assert entry.prepare(tmp_path, ["window", "--state", "VA"]) is None
    assert len(os.environ["SECRET_KEY"]) >= 32


@pytest.mark.parametrize("command", ["runserver", "migrate", "check", "work"])
def test_commands_that_touch_the_service_get_no_key_from_here(command: str, tmp_path: Path) -> None:
    assert entry.prepare(tmp_path, [command]) is None
    assert "SECRET_KEY" not in os.environ


def test_the_environment_is_made_for_the_right_lock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(env.STAY_OUT)
    built: list[env.Environment] = []
    monkeypatch.setattr(env, "build", built.append)
    monkeypatch.setattr(env, "enter", lambda wanted, arguments: 77)
    (tmp_path / ".requirements.lock").write_text("")
    (tmp_path / ".requirements-test.lock").write_text("")
    assert entry.settle(tmp_path, "test", ["test"]) == 77
    assert entry.settle(tmp_path, "demo", ["demo"]) == 77
    assert [wanted.kind for wanted in built] == ["test", "run"]


def test_other_commands_run_where_the_packages_are(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(env.STAY_OUT)
    monkeypatch.setattr(env, "build", lambda wanted: pytest.fail("nothing was to be built"))
    (tmp_path / ".requirements.lock").write_text("")
    assert entry.settle(tmp_path, "window", ["window"]) is None


def test_a_failed_preparation_is_one_line_and_code_1(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv(env.STAY_OUT)
    assert entry.prepare(tmp_path / "nowhere", ["test"]) == 1
    assert len(capsys.readouterr().err.splitlines()) == 1
