"""`manage.py test` reads its arguments rightly and sums both passes up honestly."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests import runner


@pytest.mark.parametrize("word", ["tests/house", "tests/house/test_runner.py", "tests/house/test_runner.py::test_x"])
def test_a_path_is_seen(word: str) -> None:
    assert runner.names_a_path(word)


@pytest.mark.parametrize("word", ["-k", "-x", "--maxfail=2", "window and not slow", "tests/nowhere"])
def test_what_is_no_path(word: str) -> None:
    assert not runner.names_a_path(word)


@pytest.mark.parametrize("word", ["-n4", "-n", "--numprocesses=1", "--pdb", "-s"])
def test_the_number_of_processes_is_left_to_whoever_gives_one(word: str) -> None:
    assert runner.has_workers([word])
    assert not runner.has_workers(["-x", "--no-header"])


@pytest.mark.parametrize(("cores", "workers"), [(1, 2), (2, 2), (3, 3), (64, 4)])
def test_a_worker_for_each_core_within_bounds(cores: int, workers: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _process: set(range(cores)), raising=False)
    assert runner.worker_count() == workers


def test_a_report_file_is_not_overwritten_by_the_second_pass() -> None:
    given = ["-x", "--junitxml=out/report.xml"]
    assert runner.for_second_pass(given) == ["-x", "--junitxml=out/report-postgres.xml"]


def test_bytecode_is_kept_for_the_run_where_it_would_be_thrown_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
    assert runner.keep_bytecode(tmp_path) == {}
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    told = runner.keep_bytecode(tmp_path)
    (tmp_path / "some_module.py").write_text("", encoding="utf-8")
    subprocess.run(
        [sys.executable, "-c", "import some_module"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path), **told},
        check=True,
    )
    assert [file.name.partition(".")[0] for file in (tmp_path / "bytecode").rglob("some_module*")] == ["some_module"]
    assert not (tmp_path / "__pycache__").exists()


def report(**counts: int) -> dict[str, object]:
    return {"counts": counts, "could_not_run": [], "left_for_postgres": 0}


@pytest.fixture(autouse=True)
def _not_in_ci(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CI", raising=False)


def test_the_last_line_adds_both_passes(capsys: pytest.CaptureFixture[str]) -> None:
    reports = {"SQLite": report(passed=10, skipped=1), "PostgreSQL": report(passed=5)}
    assert runner.conclude([0, 0], reports, [], 3.0) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "15 passed, 1 skipped in 3.00s"


def test_a_failure_in_either_pass_fails_the_whole(capsys: pytest.CaptureFixture[str]) -> None:
    reports = {"SQLite": report(passed=10), "PostgreSQL": report(passed=4, failed=1)}
    assert runner.conclude([0, 1], reports, [], 3.0) == 1
    assert capsys.readouterr().out.splitlines()[-1].startswith("1 failed, 14 passed")


def test_an_empty_second_pass_is_no_failure() -> None:
    assert runner.conclude([0, runner.NOTHING_COLLECTED], {"SQLite": report(passed=1)}, [], 1.0) == 0
    assert runner.conclude([runner.NOTHING_COLLECTED], {"SQLite": report()}, [], 1.0) == runner.NOTHING_COLLECTED


def test_a_missing_server_is_named_and_fails_in_ci(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    reports = {"SQLite": report(passed=1)}
    assert runner.conclude([0], reports, ["PostgreSQL is missing"], 1.0) == 0
    assert "could not run: PostgreSQL is missing" in capsys.readouterr().out
    monkeypatch.setenv("CI", "true")
    assert runner.conclude([0], reports, ["PostgreSQL is missing"], 1.0) == 1


def test_a_pass_that_fell_before_its_end_is_a_failure() -> None:
    assert runner.conclude([3], {"SQLite": report()}, [], 1.0) == 3
