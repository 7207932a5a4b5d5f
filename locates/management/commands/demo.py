"""`manage.py demo`: a fresh database with the demo scenario, served by one process tree."""

from __future__ import annotations

import os
import sys
import time
import urllib.error
import urllib.request
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.models import Min

from locates import clock
from locates.bootstrap.entry import DEFAULT_PORT
from locates.bootstrap.environment import say
from locates.bootstrap.ports import HOST, port_problem
from locates.bootstrap.supervisor import Child, Tree, last_lines

WEB_PROCESSES = 2
READY_WITHIN_S = 180.0  # a busy machine takes long; who sees it fail stops it by hand


class Command(BaseCommand):
    help = "Load the demo scenario and serve it on this machine until Ctrl-C."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=DEFAULT_PORT, help="default: %(default)s")
        parser.add_argument("--fresh", action="store_true", help="throw away the demo's data, load it anew")
        parser.add_argument("--no-server", action="store_true", help="prepare the data and stop")

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["no_server"] and (problem := port_problem(options["port"])):
            raise CommandError(problem, returncode=2)
        claim = RunningDemo(settings.DATA_DIR / "demo.pid")
        claim.take()
        code = 0
        try:
            self._prepare(options["fresh"])
            if options["no_server"]:
                self.stdout.write("The demo's data is ready; start without --no-server to look at it.")
                return
            code = self._serve(options["port"])
        except KeyboardInterrupt:
            say("Stopped.")
            sys.exit(130)
        finally:
            claim.release()
        if code:
            raise CommandError("The demo could not be kept running.", returncode=code)

    def _prepare(self, fresh: bool) -> None:
        if fresh:
            self._empty_database()
        say("Bringing the database up to date ...")
        call_command("migrate", interactive=False, verbosity=0)
        if not get_user_model().objects.exists():
            say("Loading the demo scenario ...")
            began = time.monotonic()
            call_command("load_demo", verbosity=2, stdout=sys.stderr)
            say(f"Loaded in {time.monotonic() - began:.1f} s.")
        elif (age := days_since_loading()) > 0:
            say(f"This data was laid around the day of loading, {age} days ago; --fresh lays it around today.")
        connection.close()

    def _empty_database(self) -> None:
        if connection.vendor != "sqlite":
            raise CommandError("--fresh empties SQLite only; empty the database of DATABASE_URL yourself.")
        connection.close()
        file = Path(settings.DATABASES["default"]["NAME"])
        for leftover in (file, *(file.with_name(file.name + end) for end in ("-wal", "-shm", "-journal"))):
            leftover.unlink(missing_ok=True)

    def _serve(self, port: int) -> int:
        logs = settings.DATA_DIR / "logs"
        tree = Tree(children(port, logs), say)

        def announce() -> None:
            say("Starting the web server and the worker ...")
            if self._wait_until_ready(port, tree):
                self._greet(port)
            elif not tree.stopping():
                tree.failed = "web server"
                say(f"No answer on port {port}. The end of web.log:")
                say(last_lines(logs / "web.log"))
                tree.stop()

        code = tree.run(announce)
        say("Stopped.")
        return code

    def _wait_until_ready(self, port: int, tree: Tree) -> bool:
        deadline = time.monotonic() + READY_WITHIN_S
        while time.monotonic() < deadline and tree.alive():
            try:
                with urllib.request.urlopen(f"http://{HOST}:{port}/health", timeout=2) as answer:
                    return bool(answer.status == 200)
            except (urllib.error.URLError, OSError):
                time.sleep(0.1)
        return False

    def _greet(self, port: int) -> None:
        self.stdout.write(f"\nFirstspade is running: http://localhost:{port}/\n")
        self.stdout.write(f"  API documentation:   http://localhost:{port}/api/docs\n")
        self.stdout.write("\nLog in as one of these:")
        call_command("load_demo", logins=True, stdout=self.stdout)
        connection.close()
        self.stdout.write("\nStop with Ctrl-C.")
        self.stdout.flush()


def days_since_loading() -> int:
    """Whole days since the first person was made."""
    first = get_user_model().objects.aggregate(first=Min("date_joined"))["first"]
    return (clock.now() - first).days if first else 0


class RunningDemo:
    """A note of the process that serves from this data folder, so that two never share or empty it."""

    def __init__(self, file: Path) -> None:
        self.file = file

    def take(self) -> None:
        """Refuse when another demo of this folder still runs."""
        other = self._other()
        if other:
            raise CommandError(f"A demo of this folder already runs: process {other}. Stop it.", returncode=2)
        self.file.parent.mkdir(parents=True, exist_ok=True)
        self.file.write_text(str(os.getpid()), encoding="ascii")

    def release(self) -> None:
        """The folder is free again."""
        self.file.unlink(missing_ok=True)

    def _other(self) -> int | None:
        try:
            number = int(self.file.read_text(encoding="ascii"))
            os.kill(number, 0)
            command = Path(f"/proc/{number}/cmdline")
        except (OSError, ValueError):
            return None
        # A number is used again after a crash or a restart of the machine; look whose it is now.
        if command.exists() and b"manage.py" not in command.read_bytes():
            return None
        return number if number != os.getpid() else None


def children(port: int, logs: Path) -> list[Child]:
    """The processes of the demo: the web server, and the worker with its clock."""
    manage = str(settings.ROOT / "manage.py")
    if os.name == "nt":
        web = [sys.executable, manage, "runserver", "--noreload", f"{HOST}:{port}"]
    else:
        web = [sys.executable, "-m", "gunicorn", "locates.wsgi", "--bind", f"{HOST}:{port}"]
        web += ["--workers", str(WEB_PROCESSES), "--preload", "--graceful-timeout", "5"]
        web += ["--chdir", str(settings.ROOT), "--access-logfile", "-"]
    if not settings.REDIS_URL:
        return [
            Child("web server", web, logs / "web.log"),
            Child("worker", [sys.executable, manage, "work"], logs / "worker.log"),
        ]
    celery = [sys.executable, "-m", "celery", "--workdir", str(settings.ROOT), "-A", "locates.celery"]
    beat = [*celery, "beat", "--scheduler", "celery.beat:Scheduler", "--pidfile="]
    return [
        Child("web server", web, logs / "web.log"),
        Child("worker", [*celery, "worker", "--concurrency", "2"], logs / "worker.log"),
        Child("clock", beat, logs / "clock.log"),
    ]
