"""The demo command's decisions; tests/house/test_processes.py runs the whole of it."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from crews.models import Person
from locates.bootstrap.ports import free_port
from locates.management.commands import demo


@pytest.mark.django_db
def test_the_age_of_the_data_is_told(frozen_now: datetime, travel: Callable[[datetime], None]) -> None:
    assert demo.days_since_loading() == 0
    Person.objects.create(username="first", date_joined=frozen_now)
    travel(frozen_now + timedelta(days=9, hours=3))
    Person.objects.create(username="later", date_joined=frozen_now + timedelta(days=9))
    assert demo.days_since_loading() == 9


def test_a_claim_is_taken_and_released(tmp_path: Path) -> None:
    claim = demo.RunningDemo(tmp_path / "data" / "demo.pid")
    claim.take()
    assert claim.file.read_text() == str(os.getpid())
    claim.release()
    assert not claim.file.exists()


@pytest.mark.parametrize("left", ["", "not a number", "999999999"])
def test_what_a_crash_left_is_no_obstacle(left: str, tmp_path: Path) -> None:
    file = tmp_path / "demo.pid"
    file.write_text(left)
    demo.RunningDemo(file).take()
    assert file.read_text() == str(os.getpid())


def test_a_number_that_now_belongs_to_something_else_is_no_obstacle(tmp_path: Path) -> None:
    file = tmp_path / "demo.pid"
    file.write_text(str(os.getppid()))
    if not Path(f"/proc/{os.getppid()}/cmdline").exists():
        pytest.skip("this system does not tell what a process runs")
    if b"manage.py" in Path(f"/proc/{os.getppid()}/cmdline").read_bytes():
        pytest.skip("the parent is manage.py itself")
    demo.RunningDemo(file).take()
    assert file.read_text() == str(os.getpid())


def test_fresh_refuses_to_empty_a_database_that_is_not_its_own(
    settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Elsewhere:
        vendor = "postgresql"

    monkeypatch.setattr(demo, "connection", Elsewhere())
    settings.DATA_DIR = tmp_path
    with pytest.raises(CommandError, match="empty the database of DATABASE_URL yourself"):
        call_command("demo", fresh=True, no_server=True)
    assert not (tmp_path / "demo.pid").exists()


def test_without_redis_there_are_two_children_and_with_it_three(settings: Any, tmp_path: Path) -> None:
    port = free_port()
    settings.REDIS_URL = ""
    assert [child.name for child in demo.children(port, tmp_path)] == ["web server", "worker"]
    settings.REDIS_URL = "redis://127.0.0.1:6379/0"
    three = demo.children(port, tmp_path)
    assert [child.name for child in three] == ["web server", "worker", "clock"]
    assert f"127.0.0.1:{port}" in three[0].command
