"""The environment beside manage.py is made once, and again when the lock changes."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from locates.bootstrap import environment as env

PYTHON = f"{sys.version_info.major}.{sys.version_info.minor}"


class Recorder:
    """Stands in for subprocess.call; makes what the real command would make."""

    def __init__(self, root: Path, failing: tuple[str, ...] = ()) -> None:
        self.root = root
        self.failing = failing
        self.calls: list[list[str]] = []

    def __call__(self, command: list[str], **_: object) -> int:
        words = [str(word) for word in command]
        self.calls.append(words)
        line = " ".join(words)
        if any(text in line for text in self.failing):
            return 1
        if "venv" in words:
            fake_environment(self.root)
        return 0

    def lines(self) -> list[str]:
        return [" ".join(words[1:4]) for words in self.calls]


def fake_environment(root: Path, version: str = PYTHON) -> None:
    (root / ".venv" / "bin").mkdir(parents=True, exist_ok=True)
    (root / ".venv" / "bin" / "python").write_text("")
    (root / ".venv" / "pyvenv.cfg").write_text(f"home = /usr\nversion = {version}.4\n")


@pytest.fixture
def root(tmp_path: Path) -> Path:
    (tmp_path / ".requirements.lock").write_text("django==5.2.19\n")
    (tmp_path / ".requirements-test.lock").write_text("django==5.2.19\npytest==9.0.0\n")
    return tmp_path


def with_uv(monkeypatch: pytest.MonkeyPatch, found: bool) -> None:
    monkeypatch.setattr(env.shutil, "which", lambda name: "uv" if found and name == "uv" else None)


def test_the_first_start_makes_and_fills_it_with_uv(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_uv(monkeypatch, True)
    run = Recorder(root)
    wanted = env.Environment(root)
    assert not wanted.is_ready()
    env.build(wanted, run)
    assert wanted.is_ready()
    assert run.lines()[0].startswith("venv")
    assert run.calls[-1][-1] == str(root / ".requirements.lock")
    assert len(run.calls) == 2


def test_pip_takes_over_when_uv_cannot(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_uv(monkeypatch, True)
    run = Recorder(root, failing=("pip install --python",))
    env.build(env.Environment(root), run)
    assert "-m pip install" in run.lines()[-1]
    assert env.Environment(root).is_ready()


def test_uv_is_fetched_where_there_is_none(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_uv(monkeypatch, False)
    run = Recorder(root)
    env.build(env.Environment(root), run)
    assert run.calls[-2][-1] == env.INSTALLER
    assert run.calls[-1][0] == str(root / ".venv" / "bin" / "uv")


def test_pip_alone_when_uv_cannot_be_fetched(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_uv(monkeypatch, False)
    run = Recorder(root, failing=(env.INSTALLER,))
    env.build(env.Environment(root), run)
    assert "-m pip install" in run.lines()[-1]
    assert run.calls[-1][-1] == str(root / ".requirements.lock")


def test_pip_is_counted_and_its_last_words_are_shown_on_failure(capfd: pytest.CaptureFixture[str]) -> None:
    talk = "for n in range(45): print(f'Collecting package{n}')\nprint('no such package'); raise SystemExit(7)"
    assert env.call([sys.executable, "-c", talk], counted=True) == 7
    said = capfd.readouterr().err
    assert "20 found" in said
    assert "40 found" in said
    assert said.rstrip().endswith("no such package")


def test_a_failed_install_is_said_and_tried_again_next_time(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_uv(monkeypatch, False)
    with pytest.raises(env.BootstrapError, match="check the network"):
        env.build(env.Environment(root), Recorder(root, failing=("pip install",)))
    assert not env.Environment(root).is_ready()


def test_no_venv_module_is_said_with_the_remedy(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_uv(monkeypatch, False)
    with pytest.raises(env.BootstrapError, match="python3-venv"):
        env.build(env.Environment(root), Recorder(root, failing=("venv",)))


def test_a_changed_lock_asks_for_a_new_install(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_uv(monkeypatch, True)
    env.build(env.Environment(root), Recorder(root))
    (root / ".requirements.lock").write_text("django==5.2.20\n")
    assert not env.Environment(root).is_ready()


def test_the_test_lock_serves_the_demo_too_but_not_the_other_way(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_uv(monkeypatch, True)
    env.build(env.Environment(root, "run"), Recorder(root))
    assert not env.Environment(root, "test").is_ready()
    env.build(env.Environment(root, "test"), Recorder(root))
    assert env.Environment(root, "test").is_ready()
    assert env.Environment(root, "run").is_ready()


def test_an_environment_of_another_python_is_made_anew(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_uv(monkeypatch, True)
    fake_environment(root, version="3.9")
    (root / ".venv" / "left_over").write_text("")
    env.build(env.Environment(root), Recorder(root))
    assert not (root / ".venv" / "left_over").exists()


def test_an_environment_of_this_python_is_kept(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_uv(monkeypatch, True)
    fake_environment(root)
    (root / ".venv" / "kept").write_text("")
    env.build(env.Environment(root), Recorder(root))
    assert (root / ".venv" / "kept").exists()


def test_a_missing_lock_is_said(tmp_path: Path) -> None:
    with pytest.raises(env.BootstrapError, match=r"\.requirements\.lock is missing"):
        env.build(env.Environment(tmp_path))


def test_an_old_python_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(env, "OLDEST_PYTHON", (99, 0))
    with pytest.raises(env.BootstrapError, match="too old"):
        env.check_python()


def test_the_bootstrap_needs_nothing_installed() -> None:
    # -S leaves site-packages out, -I the user's; what imports then needs the standard library only.
    root = Path(__file__).resolve().parents[3]
    modules = ["entry", "environment", "ports", "supervisor"]
    program = f"import sys; sys.path.insert(0, {str(root)!r})\n" + "".join(
        f"import locates.bootstrap.{name}\n" for name in modules
    )
    done = subprocess.run([sys.executable, "-S", "-I", "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
