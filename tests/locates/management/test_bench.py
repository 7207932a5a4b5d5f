"""`manage.py bench` finds its benchmarks and hands their arguments on. No timing is judged here."""

from __future__ import annotations

import json
from importlib import import_module
from itertools import islice

import pytest
from django.core.management import CommandError, call_command

from locates.management.commands import bench
from tests.bench import clock


@pytest.mark.parametrize("name", sorted(bench.BENCHMARKS))
def test_every_benchmark_exists(name: str) -> None:
    assert callable(import_module(bench.BENCHMARKS[name][0]).main)


def test_the_arguments_reach_the_benchmark(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        bench.Command().run_from_argv(["manage.py", "bench", "clock", "--help"])
    assert ended.value.code == 0
    assert "--stream" in capsys.readouterr().out


def test_an_unknown_benchmark_is_refused_by_name() -> None:
    with pytest.raises(CommandError, match="clock"):
        call_command("bench", "sundial")


def test_the_clock_reports_every_figure(capsys: pytest.CaptureFixture[str]) -> None:
    code = clock.main(["--notices", "51", "--runs", "1", "--stream", "20", "--json"])
    found = json.loads(capsys.readouterr().out)
    assert code == (0 if all(found["meets"].values()) else 1)
    assert found["windows_per_s"] > 0
    assert found["windows_with_trace_per_s"] > 0
    assert {name.split()[0] for name in found["date_only"]} == {"holidays", "pandas"}
    assert found["streamed"] == 20


def test_the_notices_are_the_same_in_every_run() -> None:
    first = list(islice(clock.notices(clock.SEED), 60))
    assert first == list(islice(clock.notices(clock.SEED), 60))
    assert first != list(islice(clock.notices(clock.SEED + 1), 60))
    assert all(at.tzinfo is not None for _, at, _ in first)
