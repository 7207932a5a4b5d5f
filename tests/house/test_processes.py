"""The demo's process tree, for real: it starts, answers, stops on a signal, and leaves no orphan."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil
import pytest

from locates.bootstrap.ports import HOST, free_port
from tests.scratch import bytecode_folder

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 60
ONE_PERSON = "from crews.models import Person; Person.objects.create(username='somebody')"


def environment(data: Path, **more: str) -> dict[str, str]:
    kept = {"PATH": os.environ["PATH"], "HOME": os.environ.get("HOME", str(data)), **bytecode_folder()}
    return {**kept, "FIRSTSPADE_NO_VENV": "1", "DATA_DIR": str(data), "PYTHONUNBUFFERED": "1", **more}


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated database with one person, so that the demo has nothing to load."""
    folder = tmp_path_factory.mktemp("demo")
    with_key = environment(folder, SECRET_KEY="k" * 50)
    for arguments in (["migrate", "--verbosity", "0"], ["shell", "--verbosity", "0", "--command", ONE_PERSON]):
        subprocess.run([sys.executable, "manage.py", *arguments], cwd=ROOT, env=with_key, check=True)
    return folder


@contextmanager
def demo(data: Path, **more: str) -> Iterator[tuple[psutil.Popen, int]]:
    port = free_port()
    process = psutil.Popen(
        [sys.executable, "manage.py", "demo", "--port", str(port)],
        cwd=ROOT,
        env=environment(data, **more),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        said = []
        for line in process.stdout:
            said.append(line)
            if "Stop with Ctrl-C" in line:
                break
        else:
            pytest.fail("the demo ended early:\n" + "".join(said))
        yield process, port
    finally:
        family = [process, *process.children(recursive=True)] if process.is_running() else []
        for member in family:
            member.kill()
        psutil.wait_procs(family, timeout=PATIENCE_S)
        process.stdout.close()
        process.wait()


def health(port: int) -> int:
    with urllib.request.urlopen(f"http://{HOST}:{port}/health", timeout=10) as answer:
        return answer.status


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_and_a_signal_stops_all_of_it(data: Path, number: signal.Signals) -> None:
    with demo(data) as (process, port):
        family = process.children(recursive=True)
        names = [" ".join(member.cmdline()) for member in family]
        assert any("gunicorn" in name for name in names)
        assert any(name.endswith("manage.py work") for name in names)
        assert health(port) == 200
        process.send_signal(number)
        assert process.wait(PATIENCE_S) == 0
        _, alive = psutil.wait_procs(family, timeout=PATIENCE_S)
        assert alive == []
        assert not (data / "demo.pid").exists()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux tells children of a killed parent")
def test_a_killed_demo_leaves_no_orphans(data: Path) -> None:
    with demo(data) as (process, _port):
        family = process.children(recursive=True)
        assert len(family) >= 3
        process.kill()
        _, alive = psutil.wait_procs(family, timeout=PATIENCE_S)
        assert alive == []


def test_a_fallen_worker_is_started_again(data: Path) -> None:
    with demo(data) as (process, port):
        [worker] = [member for member in process.children() if member.cmdline()[-1] == "work"]
        worker.kill()
        for line in process.stdout:
            if "starting it again" in line:
                break
        else:
            pytest.fail("the demo never noticed")
        assert health(port) == 200


def test_a_second_demo_of_the_same_data_is_refused(data: Path) -> None:
    with demo(data):
        second = subprocess.run(
            [sys.executable, "manage.py", "demo", "--fresh", "--port", str(free_port())],
            cwd=ROOT,
            env=environment(data),
            capture_output=True,
            text=True,
            check=False,
        )
    assert second.returncode == 2
    assert "already runs" in second.stderr
    assert "Traceback" not in second.stderr


def test_a_port_in_use_is_one_line_and_code_2(tmp_path: Path) -> None:
    with socket.socket() as listener:
        listener.bind((HOST, 0))
        listener.listen()
        port = listener.getsockname()[1]
        done = subprocess.run(
            [sys.executable, "manage.py", "demo", "--port", str(port)],
            cwd=ROOT,
            env=environment(tmp_path),
            capture_output=True,
            text=True,
            check=False,
        )
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.splitlines() == [
        f"Port {port} is already in use. Stop what listens there or choose another with --port."
    ]


@pytest.mark.redis
def test_with_redis_a_real_worker_and_clock_run(data: Path, redis_url: str) -> None:
    with demo(data, REDIS_URL=redis_url) as (process, port):
        family = process.children(recursive=True)
        names = [" ".join(member.cmdline()) for member in process.children()]
        assert sum("locates.celery worker" in name for name in names) == 1
        assert sum("locates.celery beat" in name for name in names) == 1
        assert health(port) == 200
        process.send_signal(signal.SIGINT)
        assert process.wait(PATIENCE_S) == 0
        _, alive = psutil.wait_procs(family, timeout=PATIENCE_S)
        assert alive == []


def test_a_child_that_does_not_stay_up_stops_the_tree(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from locates.bootstrap.supervisor import Child, Tree\n"
        "bad = [sys.executable, '-c', 'print(\"no luck\"); raise SystemExit(3)']\n"
        "good = [sys.executable, '-c', 'import time; time.sleep(600)']\n"
        f"logs = Path({str(tmp_path)!r})\n"
        "tree = Tree([Child('good', good, logs / 'good.log'), Child('bad', bad, logs / 'bad.log')], print)\n"
        "sys.exit(tree.run())"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, timeout=PATIENCE_S, check=False
    )
    assert done.returncode == 1, done.stderr
    assert "The bad does not stay up" in done.stdout
    assert "no luck" in done.stdout
