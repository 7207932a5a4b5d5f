"""What a worker does when it starts."""

from __future__ import annotations

import pytest
from celery.signals import worker_ready

from crews import tasks


def test_a_worker_of_its_own_has_the_planner_compiled_ahead(monkeypatch: pytest.MonkeyPatch) -> None:
    """Celery's own worker sends the signal; the one in a thread of `manage.py work` is told by its starter."""
    asked: list[bool] = []
    monkeypatch.setattr(tasks, "compile_ahead", lambda: asked.append(True))
    worker_ready.send(sender=None)
    assert asked == [True]
