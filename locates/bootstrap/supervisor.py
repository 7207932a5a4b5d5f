"""One process tree: starts children, restarts what falls, stops all together. Standard library only."""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

GRACE_S = 10.0  # a child that has not stopped by then is killed
LOOK_EVERY_S = 0.2
RESTARTS_ALLOWED = 5
RESTARTS_WITHIN_S = 60.0
LOG_LINES_SHOWN = 15
PR_SET_PDEATHSIG = 1  # Linux prctl(2)


@dataclass(frozen=True)
class Child:
    """What to run, and the file its output goes to."""

    name: str
    command: Sequence[str]
    log: Path
    environment: Mapping[str, str] = field(default_factory=dict)


class Tree:
    """Children of this process. Each leads a group of its own, so a signal reaches its whole branch."""

    def __init__(self, children: Sequence[Child], say: Callable[[str], None]) -> None:
        self.children = list(children)
        self.say = say
        self.running: dict[str, subprocess.Popen[bytes]] = {}
        self.failed = ""
        self._stopping = threading.Event()
        self._falls: dict[str, deque[float]] = {child.name: deque() for child in self.children}

    def run(self, when_started: Callable[[], None] = lambda: None) -> int:
        """Start all, watch until told to stop; 0 after a wanted stop, 1 when a child would not stay up."""
        caught = [signal.SIGINT, signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]
        before = {number: signal.signal(number, self._asked_to_stop) for number in caught}
        try:
            for child in self.children:
                self._start(child)
            if not self._stopping.is_set():
                when_started()
            while not self._stopping.wait(LOOK_EVERY_S):
                self._look_after()
        finally:
            self.stop()
            for number, handler in before.items():
                signal.signal(number, handler)
        return 1 if self.failed else 0

    def alive(self) -> bool:
        """Whether every child runs and nobody asked to stop."""
        if self._stopping.is_set() or len(self.running) < len(self.children):
            return False
        return all(process.poll() is None for process in self.running.values())

    def stopping(self) -> bool:
        """Whether the tree was asked to stop."""
        return self._stopping.is_set()

    def stop(self) -> None:
        """End every branch: ask, wait, then kill what is left. Safe to call twice."""
        self._stopping.set()
        for process in self.running.values():
            _signal_branch(process, signal.SIGTERM)
        deadline = time.monotonic() + GRACE_S
        for process in self.running.values():
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(max(0.0, deadline - time.monotonic()))
            # Also after a clean end: a grandchild that outlived its parent is still in the group.
            _signal_branch(process, getattr(signal, "SIGKILL", signal.SIGTERM))
            process.wait()
        self.running.clear()

    def _asked_to_stop(self, _number: int, _frame: FrameType | None) -> None:
        self._stopping.set()

    def _start(self, child: Child) -> None:
        child.log.parent.mkdir(parents=True, exist_ok=True)
        with child.log.open("ab") as log:
            self.running[child.name] = subprocess.Popen(
                child.command,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                env={**os.environ, **child.environment},
                **_branch_options(),
            )

    def _look_after(self) -> None:
        for child in self.children:
            code = self.running[child.name].poll()
            if code is None:
                continue
            _signal_branch(self.running[child.name], getattr(signal, "SIGKILL", signal.SIGTERM))
            falls, now = self._falls[child.name], time.monotonic()
            falls.append(now)
            while falls and now - falls[0] > RESTARTS_WITHIN_S:
                falls.popleft()
            if len(falls) > RESTARTS_ALLOWED:
                self.failed = child.name
                self.say(f"The {child.name} does not stay up; stopping. The end of {child.log.name}:")
                self.say(last_lines(child.log))
                self._stopping.set()
                return
            self.say(f"The {child.name} ended with code {code}; starting it again.")
            self._start(child)


def _branch_options() -> dict[str, Any]:
    if os.name == "nt":
        return {"creationflags": getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)}
    options: dict[str, Any] = {"start_new_session": True}
    if sys.platform.startswith("linux"):
        prctl = ctypes.CDLL(None, use_errno=True).prctl
        parent = os.getpid()

        def die_with_parent() -> None:
            # Even a parent killed outright leaves no orphans behind.
            prctl(PR_SET_PDEATHSIG, signal.SIGTERM)
            if os.getppid() != parent:
                os._exit(1)

        options["preexec_fn"] = die_with_parent
    return options


def _signal_branch(process: subprocess.Popen[bytes], number: int) -> None:
    try:
        if os.name == "nt":
            process.terminate()
        else:
            os.killpg(process.pid, number)
    except (ProcessLookupError, PermissionError):
        pass  # the whole branch is gone already


def last_lines(file: Path, count: int = LOG_LINES_SHOWN) -> str:
    """The end of a log, for the person who has to mend it."""
    try:
        return "\n".join(file.read_text(encoding="utf-8", errors="replace").splitlines()[-count:])
    except OSError:
        return f"({file.name} cannot be read)"
