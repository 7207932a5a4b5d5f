"""`manage.py test`: the suite on SQLite, then what touches the database again on a real PostgreSQL.

With arguments that name paths the second pass holds only what is marked `postgres`. Every other argument
goes to pytest as it is. What could not run is named at the end; with CI=true that is a failure.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

from tests.scratch import BYTECODE_FOLDER
from tests.servers import ServerMissing, die_with_parent, postgres_server

ROOT = Path(__file__).resolve().parent.parent
NOTHING_COLLECTED = 5
INTERRUPTED = 2
TERMINATED = 143
NO_BYTECODE = "PYTHONDONTWRITEBYTECODE"
FEWEST_WORKERS, MOST_WORKERS = 2, 4
ASK_ONLY = {"-h", "--help", "-V", "--version", "--co", "--collect-only", "--fixtures", "--markers"}
WORDS = ("failed", "error", "passed", "skipped", "xfailed", "xpassed")


def main(arguments: list[str]) -> int:
    """Run both passes and print one summary; pytest's own exit code for the worse of them."""
    signal.signal(signal.SIGTERM, lambda _number, _frame: sys.exit(TERMINATED))
    began = time.monotonic()
    partial = any(names_a_path(word) for word in arguments)
    in_parallel = [] if partial or has_workers(arguments) else ["-n", str(worker_count())]
    if ASK_ONLY & set(arguments):
        return run_pass([*arguments], {"FIRSTSPADE_PASS": "sqlite"})
    with tempfile.TemporaryDirectory(prefix="firstspade-run-") as folder:
        first = Path(folder) / "sqlite.json"
        shared = keep_bytecode(Path(folder))
        print("== SQLite", flush=True)
        told = {**shared, "FIRSTSPADE_PASS": "sqlite", "FIRSTSPADE_REPORT": str(first)}
        codes = [run_pass([*in_parallel, *arguments], told)]
        reports = {"SQLite": read_report(first)}
        missing: list[str] = []
        stop_early = codes[0] == INTERRUPTED or (codes[0] == 1 and {"-x", "--exitfirst"} & set(arguments))
        if not stop_early and (not partial or reports["SQLite"]["left_for_postgres"]):
            second = Path(folder) / "postgres.json"
            print("\n== PostgreSQL", flush=True)
            try:
                with postgres_server() as url:
                    extra = {
                        **shared,
                        "FIRSTSPADE_PASS": "postgres-marked" if partial else "postgres",
                        "FIRSTSPADE_REPORT": str(second),
                        "DATABASE_URL": url,
                    }
                    codes.append(run_pass([*in_parallel, *for_second_pass(arguments)], extra))
                reports["PostgreSQL"] = read_report(second)
            except ServerMissing as wrong:
                missing.append(str(wrong))
    return conclude(codes, reports, missing, time.monotonic() - began)


def keep_bytecode(folder: Path) -> dict[str, str]:
    """Where Python was told to write no bytecode, every process of the run would compile every module anew; this
    keeps it for the run's own time in the run's own folder, so that nothing is written beside the sources."""
    if not os.environ.get(NO_BYTECODE):
        return {}
    return {NO_BYTECODE: "", BYTECODE_FOLDER: str(folder / "bytecode")}


def names_a_path(word: str) -> bool:
    """Whether an argument chooses a file, a folder or a single test."""
    return not word.startswith("-") and (ROOT / word.partition("::")[0]).exists()


def has_workers(arguments: list[str]) -> bool:
    """Whether the user chose the number of processes, or a debugger that needs just one."""
    return any(word.startswith(("-n", "--numprocesses", "--dist", "--pdb", "--trace", "-s")) for word in arguments)


def worker_count() -> int:
    """A process for each core that this run may use: two at least, since tests also wait, and four at most, since
    each holds a database and a browser."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or FEWEST_WORKERS
    return max(FEWEST_WORKERS, min(MOST_WORKERS, cores))


def for_second_pass(arguments: list[str]) -> list[str]:
    """The same arguments; a report file gets a name of its own, so the first one stays."""
    given: list[str] = []
    for word in arguments:
        key, equals, value = word.partition("=")
        if key in {"--junitxml", "--junit-xml"} and equals:
            path = Path(value)
            word = f"{key}={path.with_name(path.stem + '-postgres' + path.suffix)}"
        given.append(word)
    return given


def run_pass(arguments: list[str], extra: dict[str, str]) -> int:
    """One pytest process on the settings of this pass."""
    inherited = {key: value for key, value in os.environ.items() if key not in {"DATABASE_URL", "REDIS_URL"}}
    command = [sys.executable, "-m", "pytest", *arguments]
    with subprocess.Popen(
        command, cwd=ROOT, env={**inherited, **extra}, preexec_fn=die_with_parent(signal.SIGTERM)
    ) as process:
        while True:
            try:
                return process.wait()
            except KeyboardInterrupt:
                continue  # pytest got it too, and prints its summary
            except SystemExit:
                process.terminate()
                process.wait()
                raise


def read_report(file: Path) -> dict[str, Any]:
    """What a pass wrote about itself; empty when it fell before the end."""
    try:
        found: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {"counts": {}, "could_not_run": [], "left_for_postgres": 0}
    return found


def conclude(codes: list[int], reports: dict[str, dict[str, Any]], missing: list[str], seconds: float) -> int:
    """Print the combined summary, last a line in pytest's own form; the exit code of the whole."""
    print()
    total: Counter[str] = Counter()
    for name, report in reports.items():
        total.update(report["counts"])
        print(f"{name}: {counted(report['counts']) or 'nothing to run'}")
        missing += [line for line in report["could_not_run"] if line not in missing]
    for line in missing:
        print(f"could not run: {line}")
    in_ci = os.environ.get("CI", "").lower() in {"1", "true"}
    print(f"{counted(total) or 'no tests ran'} in {seconds:.2f}s")
    if all(code == NOTHING_COLLECTED for code in codes):
        return NOTHING_COLLECTED
    worst = max((code for code in codes if code != NOTHING_COLLECTED), default=0)
    return 1 if worst == 0 and missing and in_ci else worst


def counted(counts: dict[str, int] | Counter[str]) -> str:
    """The counts in pytest's words and order."""
    return ", ".join(f"{counts[word]} {word}" for word in WORDS if counts.get(word))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
