"""The virtual environment beside manage.py: made, filled from the lock, entered. Standard library only."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

OLDEST_PYTHON = (3, 11)
LOCKS = {"run": ".requirements.lock", "test": ".requirements-test.lock"}
PROBES = {"run": ("django", "celery", "rest_framework", "shapely"), "test": ("django", "pytest", "xdist")}
STAMP = "firstspade-locks.json"
STAY_OUT = "FIRSTSPADE_NO_VENV"
INSTALLER = "uv==0.13.9"
COUNT_EVERY = 20
LINES_KEPT = 12


class BootstrapError(Exception):
    """One plain line: what could not be prepared and what to do."""


def say(text: str) -> None:
    """Progress goes to standard error, so that a command's --json stays clean."""
    print(text, file=sys.stderr, flush=True)


@dataclass(frozen=True)
class Environment:
    """The environment of one checkout; `kind` is "run" or "test" (the test lock holds the run lock)."""

    root: Path
    kind: str = "run"

    @property
    def folder(self) -> Path:
        return self.root / ".venv"

    @property
    def python(self) -> Path:
        inside = ("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")
        return self.folder.joinpath(*inside)

    @property
    def lock(self) -> Path:
        return self.root / LOCKS[self.kind]

    @property
    def stamp(self) -> Path:
        return self.folder / STAMP

    def digest(self) -> str:
        """What the environment must hold: this lock, for this Python."""
        text = self.lock.read_bytes() + b"\n" + ".".join(map(str, sys.version_info[:2])).encode()
        return hashlib.sha256(text).hexdigest()

    def is_entered(self) -> bool:
        """Whether this very process runs inside the environment."""
        return Path(sys.prefix).resolve() == self.folder.resolve()

    def is_ready(self) -> bool:
        """Whether the packages of the present lock were installed to the end."""
        return self.python.exists() and self._stamps().get(self.kind) == self.digest()

    def _stamps(self) -> dict[str, str]:
        try:
            found = json.loads(self.stamp.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return found if isinstance(found, dict) else {}

    def write_stamp(self) -> None:
        """Remember what was installed; written last, so a broken install is done again."""
        stamps = self._stamps() | {self.kind: self.digest()}
        if self.kind == "test":
            stamps["run"] = Environment(self.root, "run").digest()
        scratch = self.stamp.with_suffix(".new")
        scratch.write_text(json.dumps(stamps, indent=1), encoding="utf-8")
        scratch.replace(self.stamp)


def check_python() -> None:
    """Refuse an old Python before anything trips over it."""
    if sys.version_info < OLDEST_PYTHON:
        given = f"{sys.version_info.major}.{sys.version_info.minor}"
        raise BootstrapError(f"Python {given} is too old; use Python 3.11 or newer.")


def importable(names: Sequence[str]) -> bool:
    """Whether this Python finds all these packages."""
    return all(importlib.util.find_spec(name) is not None for name in names)


def _python_matches(environment: Environment) -> bool:
    """An environment left by another Python version is of no use."""
    settings = environment.folder / "pyvenv.cfg"
    if not environment.python.exists() or not settings.exists():
        return False
    wanted = f"{sys.version_info.major}.{sys.version_info.minor}."
    for line in settings.read_text(encoding="utf-8").splitlines():
        key, _, value = line.partition("=")
        if key.strip() in {"version", "version_info"}:
            return f"{value.strip()}.".startswith(wanted)
    return False


def _make(environment: Environment, uv: str | None, run: Callable[..., int]) -> None:
    if environment.folder.exists():
        shutil.rmtree(environment.folder)
    if uv and run([uv, "venv", "--quiet", "--python", sys.executable, str(environment.folder)]) == 0:
        return
    code = run([sys.executable, "-m", "venv", *(["--without-pip"] if uv else []), str(environment.folder)])
    if code != 0 and uv:
        code = run([sys.executable, "-m", "venv", "--clear", str(environment.folder)])
    if code != 0:
        raise BootstrapError(
            "Python could not make a virtual environment; on Debian install python3-venv and start again."
        )


def _install(environment: Environment, uv: str | None, run: Callable[..., int]) -> bool:
    python, lock = str(environment.python), str(environment.lock)
    if not uv and _has_pip(python, run):
        # Fetching uv first costs two seconds and saves many; without it pip does the same work alone.
        inside = environment.python.with_name("uv.exe" if os.name == "nt" else "uv")
        if run([*_pip(python), "--quiet", INSTALLER]) == 0:
            uv = str(inside)
    if uv and run([uv, "pip", "install", "--python", python, "-r", lock]) == 0:
        return True
    if uv:
        say("uv could not install them; trying pip ...")
    return _has_pip(python, run) and run([*_pip(python), "--progress-bar", "off", "-r", lock], counted=True) == 0


def _pip(python: str) -> list[str]:
    return [python, "-m", "pip", "install", "--disable-pip-version-check", "--no-input"]


def _has_pip(python: str, run: Callable[..., int]) -> bool:
    return run([python, "-m", "ensurepip", "--upgrade", "--default-pip"], silent=True) == 0


def call(command: Sequence[str], *, counted: bool = False, silent: bool = False) -> int:
    """Run a command; `silent` hides what it says, `counted` turns pip's talk into a count of packages."""
    if silent:
        return subprocess.call(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    if not counted:
        return subprocess.call(command, stdout=sys.stderr)
    seen, last = 0, [""]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as process:
        for line in process.stdout or ():
            last = [*last[-LINES_KEPT:], line.rstrip()]
            if line.startswith(("Collecting ", "Requirement already satisfied")):
                seen += 1
                if seen % COUNT_EVERY == 0:
                    say(f"  {seen} found ...")
            elif line.startswith("Installing collected packages"):
                say("  unpacking ...")
    if process.returncode != 0:
        say("\n".join(last))
    return process.returncode


def build(environment: Environment, run: Callable[..., int] | None = None) -> None:
    """Make the environment where it is missing and install its lock: uv first, pip when uv cannot."""
    run = run or call
    if not environment.lock.exists():
        raise BootstrapError(f"{environment.lock.name} is missing beside manage.py; restore it.")
    began = time.monotonic()
    uv = shutil.which("uv")
    if not _python_matches(environment):
        say("Making the environment .venv (once) ...")
        _make(environment, uv, run)
    count = sum(1 for line in environment.lock.read_text(encoding="utf-8").splitlines() if "==" in line)
    say(f"Installing {count} pinned packages from {environment.lock.name} ...")
    if not _install(environment, uv, run):
        raise BootstrapError("The packages could not be installed; check the network and start again.")
    environment.write_stamp()
    say(f"Environment ready after {time.monotonic() - began:.0f} s.")


def enter(environment: Environment, arguments: Sequence[str]) -> int:
    """Go on inside the environment; on Windows as a child, since replacing a process loses the console."""
    command = [str(environment.python), str(environment.root / "manage.py"), *arguments]
    sys.stdout.flush()
    sys.stderr.flush()
    if os.name == "nt":
        return subprocess.call(command)
    os.execv(command[0], command)
