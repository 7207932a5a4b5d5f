"""Celery's worker and beat as two threads of one process, for a machine without Redis.

The memory broker lives inside this process; that is enough, because the due rows in the database are
the truth and the sweep finds again whatever a stop made the broker forget.
"""

from __future__ import annotations

import logging
import threading

from celery import Celery
from celery.beat import Scheduler, Service
from celery.worker import WorkController, state

from crews.planning.search.warm import compile_ahead, stop_compiling

log = logging.getLogger(__name__)
THREADS = 2
JOIN_S = 8.0
BEAT_WAKES_EVERY_S = 0.5  # it hears a stop only between two naps


class Background:
    """Start and stop both threads; `wait` returns when asked to stop or when a thread has ended."""

    def __init__(self, app: Celery) -> None:
        self._stop = threading.Event()
        self.worker = WorkController(
            app=app,
            pool_cls="threads",
            concurrency=THREADS,
            without_mingle=True,
            without_gossip=True,
            without_heartbeat=True,
            quiet=True,
        )
        self.beat = Service(app, max_interval=BEAT_WAKES_EVERY_S, scheduler_cls=Scheduler)
        self.threads = [
            threading.Thread(target=self._guard, args=(self.worker.start,), name="worker", daemon=True),
            threading.Thread(target=self._guard, args=(self.beat.start,), name="beat", daemon=True),
        ]

    def start(self) -> None:
        """Both threads run from here on."""
        state.should_stop = state.should_terminate = None
        compile_ahead()  # so that the first plan need not wait for it
        for thread in self.threads:
            thread.start()

    def wait(self) -> None:
        """Blocks until `ask` or until one of the threads ends by itself."""
        while not self._stop.wait(1.0):
            pass

    def ask(self) -> None:
        """Ask for the stop; safe inside a signal handler."""
        self._stop.set()

    def stop(self) -> bool:
        """Stop both; whether they stopped in time."""
        self._stop.set()
        stop_compiling()
        self.beat.stop(wait=False)
        state.should_stop = 0  # the exit code that the worker's loop then ends with
        for thread in self.threads:
            thread.join(JOIN_S)
        return not any(thread.is_alive() for thread in self.threads)

    def _guard(self, work: object) -> None:
        try:
            work()  # type: ignore[operator]
        except SystemExit:
            pass
        except Exception:
            log.exception("the %s ended", threading.current_thread().name)
        finally:
            self._stop.set()
