"""The compiled search is got ready in a process apart: ahead of the first plan, and called off at once."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Iterator

import pytest

from crews.planning.budget import Progress
from crews.planning.errors import PlanningCancelled
from crews.planning.planner import Effort, make_plan
from crews.planning.search import warm
from tests.crews.planning.small import problem, visit

CASE = problem([visit()])
EFFORT = Effort(seconds=5, most_rounds=20)


@pytest.fixture
def not_compiled(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """As after an installation; instead of the compiler runs what a test puts there."""
    warm.load()
    monkeypatch.setattr(warm, "_ready", threading.Event())
    monkeypatch.setattr(warm, "is_on_disk", lambda entry: False)
    monkeypatch.setattr(warm, "may_be_on_disk", lambda entry: True)
    yield
    warm.stop_compiling()


def compiler(monkeypatch: pytest.MonkeyPatch, code: str) -> None:
    monkeypatch.setattr(warm, "_COMMAND", (sys.executable, "-c", code))


def test_what_was_compiled_is_found_on_disk() -> None:
    warm.load()
    if not all(warm.may_be_on_disk(entry) for entry in (warm.begin, warm.rounds)):
        pytest.skip("no place on this machine to keep machine code")
    assert warm.is_kept()
    assert not warm.compile_ahead()


def test_the_command_gets_the_search_ready_in_a_process_of_its_own() -> None:
    """Whatever is kept already: it must start, find the package from anywhere, and end well."""
    warm.load()
    process = warm._Apart().start(gently=True)
    assert process.wait(300) == 0


def test_compiling_ahead_returns_at_once_and_is_ended_with_the_worker(
    not_compiled: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    compiler(monkeypatch, "import time; time.sleep(300)")
    before = time.perf_counter()
    assert warm.compile_ahead()
    assert time.perf_counter() - before < 2
    process = warm._apart.start(gently=True)  # the same
    assert process.poll() is None
    assert warm.compile_ahead()
    assert warm._apart.start(gently=True).pid == process.pid
    warm.stop_compiling()
    assert process.poll() is not None


def test_a_plan_is_called_off_while_the_search_is_compiled(
    not_compiled: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    compiler(monkeypatch, "import time; time.sleep(300)")
    told: list[Progress] = []
    before = time.perf_counter()
    with pytest.raises(PlanningCancelled):
        make_plan(CASE, effort=EFFORT, listener=told.append, cancelled=lambda: len(told) > 1)
    assert time.perf_counter() - before < 30
    assert {progress.phase for progress in told} == {"compiling the search, once after an installation"}
    assert told[0].left_s == EFFORT.seconds  # none of it is used up by waiting
    assert warm._apart.start(gently=False).poll() is None  # goes on for the next plan


def test_a_plan_waits_for_what_was_begun_ahead(not_compiled: None, monkeypatch: pytest.MonkeyPatch) -> None:
    compiler(monkeypatch, "import time; time.sleep(1)")
    warm.compile_ahead()
    process = warm._apart.start(gently=True)
    assert make_plan(CASE, effort=EFFORT).totals.planned == 1
    assert process.poll() == 0
    assert warm.is_ready()


def test_a_compiler_that_fails_is_done_without(not_compiled: None, monkeypatch: pytest.MonkeyPatch) -> None:
    compiler(monkeypatch, "raise SystemExit(3)")
    assert make_plan(CASE, effort=EFFORT).totals.planned == 1


def test_with_no_place_to_keep_it_nothing_is_started(not_compiled: None, monkeypatch: pytest.MonkeyPatch) -> None:
    compiler(monkeypatch, "import time; time.sleep(300)")
    monkeypatch.setattr(warm, "may_be_on_disk", lambda entry: False)
    assert not warm.compile_ahead()
    told: list[Progress] = []
    with pytest.raises(PlanningCancelled):  # noticed as soon as this process has compiled it
        make_plan(CASE, effort=EFFORT, listener=told.append, cancelled=lambda: True)
    assert warm.is_ready()


def test_what_is_kept_is_said_to_be_loaded(not_compiled: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(warm, "is_on_disk", lambda entry: True)
    told: list[Progress] = []
    make_plan(CASE, effort=EFFORT, listener=told.append)
    assert told[0].phase == "loading the search"


@pytest.mark.skipif(not hasattr(os, "nice"), reason="no priorities on this system")
def test_ahead_it_runs_at_low_priority(not_compiled: None, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[list[str]] = []
    compiler(monkeypatch, "import sys; sys.exit(0)")
    real = warm.subprocess.Popen

    def popen(command: list[str], **more: object) -> object:
        started.append(command)
        return real(command, **more)  # type: ignore[call-overload]

    monkeypatch.setattr(warm.subprocess, "Popen", popen)
    warm.compile_ahead()
    warm.stop_compiling()
    warm._apart.start(gently=False)
    assert [warm.GENTLY in command for command in started] == [True, False]
