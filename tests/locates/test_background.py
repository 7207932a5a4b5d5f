"""Worker and clock of one process do their work and stop."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from locates.celery import app

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 60


# In a process of its own, as it runs in service: Celery keeps state by the process, and another test's worker
# leaves some behind.
WOKEN_AND_STOPPED = """
import threading
from celery import Celery
from locates.background import Background

mine = Celery("woken", broker="memory://")
mine.conf.update(broker_transport_options={"polling_interval": 0.01}, task_ignore_result=True)
woken = threading.Event()

@mine.task(name="wake")
def wake():
    woken.set()

mine.conf.beat_schedule = {"often": {"task": "wake", "schedule": 0.05}}
background = Background(mine)
background.start()
print("woken" if woken.wait(20) else "never woken")
background.ask()
background.wait()
print("stopped" if background.stop() else "still running")
"""


def test_the_clock_wakes_the_worker_and_both_stop() -> None:
    done = subprocess.run(
        [sys.executable, "-c", WOKEN_AND_STOPPED], cwd=ROOT, capture_output=True, text=True, timeout=PATIENCE_S
    )
    assert done.stdout.split("\n")[:2] == ["woken", "stopped"], done.stderr


COMPILING_WHEN_STOPPED = """
import time
from celery import Celery
from crews.planning.search import warm
from locates.background import Background

background = Background(Celery("fresh", broker="memory://"))
background.start()
process = warm._apart._process
print("compiling" if process is not None and process.poll() is None else "nothing under way")
background.ask()
background.wait()
print("stopped" if background.stop() else "still running")
print("ended" if process.poll() is not None else "left behind")
"""


def test_after_an_installation_the_planner_is_compiled_apart_and_keeps_no_worker_from_ending(tmp_path: Path) -> None:
    """With an empty folder for machine code, as on a new machine."""
    done = subprocess.run(
        [sys.executable, "-c", COMPILING_WHEN_STOPPED],
        cwd=ROOT,
        env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
    )
    assert done.stdout.split("\n")[:3] == ["compiling", "stopped", "ended"], done.stderr


def test_everything_on_the_schedule_is_a_task_that_exists() -> None:
    app.loader.import_default_modules()
    names = [entry["task"] for entry in app.conf.beat_schedule.values()]
    assert "tickets.tasks.sweep_due" in names
    assert set(names) <= set(app.tasks)


def test_a_lost_worker_loses_no_task() -> None:
    assert app.conf.task_acks_late
    assert app.conf.task_reject_on_worker_lost
    assert app.conf.worker_prefetch_multiplier == 1
