"""What every test may ask for: a frozen clock, the servers, a browser; and which pass runs what."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.db import connection
from django.test import Client, TransactionTestCase

from tests.servers import ServerMissing, chromium_program, redis_server
from tests.tickets.emptying import let_flush_pass_the_guards

# A Wednesday away from holidays and clock changes, 10:00 in New York.
FROZEN = datetime(2026, 9, 16, 14, 0, tzinfo=UTC)
COULD_NOT_RUN = "could not run: "
DATABASE_FIXTURES = {"db", "transactional_db", "django_db_reset_sequences", "live_server"}
CHROMIUM_FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
KINDS = ("passed", "failed", "error", "skipped", "xfailed", "xpassed")
BROWSER_PATIENCE_MS = 45_000  # a busy machine; a passing test never waits for it


def pytest_configure(config: pytest.Config) -> None:
    let_flush_pass_the_guards()
    wanted = "postgresql" if os.environ.get("FIRSTSPADE_PASS", "").startswith("postgres") else None
    if wanted and connection.vendor != wanted:
        raise pytest.UsageError(f"This pass is for {wanted}, but the settings lead to {connection.vendor}.")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Which pass of `manage.py test` runs what; on SQLite alone, tests marked postgres are skipped."""
    this_pass = os.environ.get("FIRSTSPADE_PASS", "")
    keep: Callable[[pytest.Item], bool]
    if this_pass == "postgres":
        keep = _touches_database
    elif this_pass == "postgres-marked":
        keep = _needs_postgres
    elif this_pass == "sqlite":

        def keep(item: pytest.Item) -> bool:
            return not _needs_postgres(item)
    else:
        if connection.vendor != "postgresql":
            for item in filter(_needs_postgres, items):
                item.add_marker(pytest.mark.skip(reason="needs PostgreSQL: run python3 manage.py test"))
        return
    left = [item for item in items if not keep(item)]
    if left:
        config.hook.pytest_deselected(items=left)
        items[:] = [item for item in items if keep(item)]


def _needs_postgres(item: pytest.Item) -> bool:
    return item.get_closest_marker("postgres") is not None


def _is_database_case(item: pytest.Item) -> bool:
    owner = getattr(item, "cls", None)
    return isinstance(owner, type) and issubclass(owner, TransactionTestCase)


def _touches_database(item: pytest.Item) -> bool:
    if item.get_closest_marker("browser"):
        return False  # the browser shows pages, not databases; once is enough
    asked = item.get_closest_marker("django_db") is not None or _is_database_case(item)
    return asked or _needs_postgres(item) or bool(DATABASE_FIXTURES & set(getattr(item, "fixturenames", ())))


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """For the runner: the counts of this pass, and what could not run."""
    file = os.environ.get("FIRSTSPADE_REPORT")
    if not file:
        return
    stats = terminalreporter.stats
    obstacles = {line for kind in KINDS for line in map(_obstacle, stats.get(kind, [])) if line}
    report = {
        "counts": {kind: len(stats.get(kind, [])) for kind in KINDS},
        "could_not_run": sorted(obstacles),
        "left_for_postgres": sum(map(_needs_postgres, stats.get("deselected", []))),
    }
    Path(file).write_text(json.dumps(report), encoding="utf-8")


def _obstacle(report: Any) -> str:
    text = str(getattr(report, "longrepr", "") or "")
    return text.partition(COULD_NOT_RUN)[2].split("\n")[0].rstrip("')")


def pytest_unconfigure() -> None:
    shutil.rmtree(settings.DATA_DIR, ignore_errors=True)


def cannot_run(what: str) -> None:
    """A skip that is named at the end of the run; a failure with CI=true."""
    if os.environ.get("CI", "").lower() in {"1", "true"}:
        pytest.fail(COULD_NOT_RUN + what, pytrace=False)
    pytest.skip(COULD_NOT_RUN + what)


@pytest.fixture
def frozen_now() -> Iterator[datetime]:
    """Stops the clock at FROZEN; move on with the `travel` fixture."""
    with time_machine.travel(FROZEN, tick=False):
        yield FROZEN


@pytest.fixture
def travel() -> Iterator[Callable[[datetime], None]]:
    """A function that stops the clock at any aware instant, for the rest of the test."""
    travellers: list[time_machine.travel] = []

    def go(to: datetime) -> None:
        if to.tzinfo is None:
            raise ValueError("travel to an aware instant")
        traveller = time_machine.travel(to, tick=False)
        traveller.start()
        travellers.append(traveller)

    yield go
    for traveller in reversed(travellers):
        traveller.stop()


@pytest.fixture
def anonymous() -> Client:
    """A browser that has not logged in."""
    return Client()


@pytest.fixture(scope="session")
def redis_url() -> Iterator[str]:
    """A real Redis of this run's own; mark the test `redis`."""
    try:
        with redis_server() as url:
            yield url
    except ServerMissing as wrong:
        cannot_run(str(wrong))


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """One Chromium a process; mark the test `browser`."""
    from playwright.sync_api import sync_playwright

    try:
        program = chromium_program()
    except ServerMissing as wrong:
        cannot_run(str(wrong))
    # Playwright keeps an event loop in this thread, which makes Django refuse its ordinary calls.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(program), args=CHROMIUM_FLAGS)
        yield browser
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def page(chromium: Any, live_server: Any) -> Iterator[Any]:
    """A fresh window of Chromium on the live server; addresses may begin with a slash."""
    context = chromium.new_context(base_url=live_server.url, viewport={"width": 1280, "height": 800})
    context.set_default_timeout(BROWSER_PATIENCE_MS)
    window = context.new_page()
    yield window
    context.close()


@pytest.fixture
def log_in(page: Any, live_server: Any) -> Callable[[Any], Any]:
    """Logs a person into `page` without the log-in form: log_in(person)."""

    def go(person: Any) -> Any:
        client = Client()
        client.force_login(person)
        cookie = client.cookies[settings.SESSION_COOKIE_NAME]
        page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
        return page

    return go
