"""The tests' own servers are real, and die with whoever started them."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from pathlib import Path

import psutil
import pytest
from django.db import connection

from tests import scratch, servers

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 30
HOLD = """
import os, time, psutil
from tests.servers import {server}
with {server}() as url:
    print(*[child.pid for child in psutil.Process().children(recursive=True)], flush=True)
    time.sleep(600)
"""
BOTH = [
    pytest.param("postgres_server", marks=pytest.mark.postgres),
    pytest.param("redis_server", marks=pytest.mark.redis),
]


@pytest.fixture(autouse=True)
def _of_our_own(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("TEST_POSTGRES_URL", "TEST_REDIS_URL"):
        monkeypatch.delenv(name, raising=False)


def still_running(numbers: list[str]) -> list[psutil.Process]:
    """The server itself and its helpers; what only helped it to start may have ended since it was listed."""
    found = []
    for number in numbers:
        with contextlib.suppress(psutil.NoSuchProcess):
            found.append(psutil.Process(int(number)))
    return found


@pytest.mark.parametrize("server", BOTH)
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux tells children of a killed parent")
def test_a_server_dies_with_a_killed_run(server: str) -> None:
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLD.format(server=server)], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    try:
        assert holder.stdout is not None
        family = still_running(holder.stdout.readline().split())
    finally:
        holder.kill()
        holder.communicate()
    assert family
    _, alive = psutil.wait_procs(family, timeout=PATIENCE_S)
    assert alive == []


@pytest.mark.postgres
@pytest.mark.django_db
def test_this_pass_is_really_on_postgresql() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT version()")
        assert cursor.fetchone()[0].startswith("PostgreSQL")


@pytest.mark.redis
def test_redis_keeps_what_it_is_given(redis_url: str) -> None:
    import redis

    with redis.Redis.from_url(redis_url) as client:
        client.set("spade", "first")
        assert client.get("spade") == b"first"


def test_folders_of_killed_runs_are_swept_up() -> None:
    ours = scratch.scratch_folder("test")
    left = subprocess.run(
        [sys.executable, "-c", "from tests.scratch import *; print(scratch_folder('test'))"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.strip()
    assert Path(left).exists()
    scratch.reap()
    assert not Path(left).exists()
    assert ours.exists()
    ours.rmdir()


def test_a_missing_browser_is_named_with_its_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CHROMIUM", raising=False)
    monkeypatch.setenv("PATH", "")
    with pytest.raises(servers.ServerMissing, match="install the package chromium"):
        servers.chromium_program()


def test_missing_servers_are_named_with_their_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    monkeypatch.setattr(servers.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(servers.ServerMissing, match="TEST_REDIS_URL"):
        servers._redis_program()
