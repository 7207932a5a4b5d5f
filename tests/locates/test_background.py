"""Worker and clock of one process do their work and stop."""

from __future__ import annotations

import threading

import pytest
from celery import Celery

from locates.background import Background
from locates.celery import app

PATIENCE_S = 20


def own_app(name: str) -> Celery:
    """An app of the test's own: the real one would sweep the database under other tests."""
    made = Celery(name, broker="memory://", set_as_current=False)
    made.conf.update(
        broker_transport_options={"polling_interval": 0.01},
        task_ignore_result=True,
        worker_hijack_root_logger=False,
        broker_connection_retry_on_startup=True,
    )
    return made


# Celery opens its connections in threads that this test does not own.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_the_clock_wakes_the_worker_and_both_stop() -> None:
    mine = own_app("woken")
    woken = threading.Event()

    @mine.task(name="wake")
    def wake() -> None:
        woken.set()

    mine.conf.beat_schedule = {"often": {"task": "wake", "schedule": 0.05}}
    background = Background(mine)
    background.start()
    try:
        assert woken.wait(PATIENCE_S)
        background.ask()
        background.wait()
    finally:
        stopped = background.stop()
    assert stopped


def test_everything_on_the_schedule_is_a_task_that_exists() -> None:
    app.loader.import_default_modules()
    names = [entry["task"] for entry in app.conf.beat_schedule.values()]
    assert "tickets.tasks.sweep_due" in names
    assert set(names) <= set(app.tasks)


def test_a_lost_worker_loses_no_task() -> None:
    assert app.conf.task_acks_late
    assert app.conf.task_reject_on_worker_lost
    assert app.conf.worker_prefetch_multiplier == 1
