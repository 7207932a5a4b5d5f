"""What happens between `python3 manage.py …` and Django. Standard library only."""

from __future__ import annotations

import argparse
import os
import secrets
import subprocess
import sys
from pathlib import Path

from locates.bootstrap import environment as env
from locates.bootstrap.ports import port_problem

# These answer questions and serve nobody, so they run on a fresh checkout without a SECRET_KEY.
KEYLESS = {"window", "law", "bench", "evidence", "load_demo", "makemigrations", "help"}
DEFAULT_PORT = 8000


def prepare(root: Path, arguments: list[str]) -> int | None:
    """Get ready for the command; an exit code when there is nothing left for Django to do."""
    command = arguments[0] if arguments else "help"
    try:
        env.check_python()
        if command == "demo":
            problem = demo_problem(arguments[1:])
            if problem:
                env.say(problem)
                return 2
        code = settle(root, command, arguments)
    except env.BootstrapError as wrong:
        env.say(str(wrong))
        return 1
    except KeyboardInterrupt:
        env.say("Stopped.")
        return 130
    if code is not None:
        return code
    if command == "test":
        # The tests' own code; it may use the packages, this folder may not.
        runner = [sys.executable, "-m", "tests.runner", *arguments[1:]]
        if os.name == "nt":
            return subprocess.call(runner, cwd=root)
        os.chdir(root)
        os.execv(runner[0], runner)  # one process less to pass signals on
    if command == "demo":
        demo_settings(root)
    elif command in KEYLESS:
        os.environ.setdefault("SECRET_KEY", secrets.token_urlsafe(48))
    return None


def settle(root: Path, command: str, arguments: list[str]) -> int | None:
    """Make the environment when it is wanted and enter it; None when this process is the right one."""
    if os.environ.get(env.STAY_OUT):
        return None
    kind = "test" if command in {"test", "bench"} else "run"
    wanted = env.Environment(root, kind)
    if wanted.is_ready():
        return None if wanted.is_entered() else env.enter(wanted, arguments)
    if command not in {"demo", "test", "bench"} and env.importable(env.PROBES[kind]):
        return None
    env.build(wanted)
    return env.enter(wanted, arguments)


def demo_problem(arguments: list[str]) -> str | None:
    """Why the demo cannot serve on its port, found before anything is installed."""
    parser = argparse.ArgumentParser(add_help=False, exit_on_error=False, allow_abbrev=False)
    parser.add_argument("--port", type=int, default=DEFAULT_PORT)
    parser.add_argument("--no-server", action="store_true")
    try:
        given, _ = parser.parse_known_args(arguments)
    except argparse.ArgumentError:
        return None  # the command's own parser says what is wrong
    return None if given.no_server else port_problem(given.port)


def demo_settings(root: Path) -> None:
    """The demo's environment: this machine only, plain HTTP, a key of its own kept beside its database."""
    os.environ.setdefault("DATA_DIR", str(root / ".data"))
    os.environ.setdefault("SECRET_KEY", kept_key(Path(os.environ["DATA_DIR"])))
    os.environ.setdefault("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
    os.environ.setdefault("SECURE_COOKIES", "0")


def kept_key(folder: Path) -> str:
    """The machine's own secret key, made at the first start, readable by its owner only."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "secret_key"
    try:
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        kept = file.read_text(encoding="ascii").strip()
        if kept:
            return kept
        descriptor = os.open(file, os.O_WRONLY | os.O_TRUNC, 0o600)
    key = secrets.token_urlsafe(48)
    with os.fdopen(descriptor, "w", encoding="ascii") as stream:
        stream.write(key)
    return key
