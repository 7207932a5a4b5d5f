"""The house's floors and rooms hold, and pure engines stay pure."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PURE = [
    "locates.errors",
    "locates.cautions",
    "locates.lengths",
    "locates.bootstrap.entry",
    "locates.bootstrap.supervisor",
    "locates.law",
    "locates.ground",
    "locates.place",
    "locates.push",
    "tickets.states",
    "tickets.verdict",
    "crews.planning",
    "crews.equipment",
]
UNWANTED = ["django", "rest_framework", "celery", "kombu", "redis"]
# `locates.clock` and what reads the time behind its back.
CLOCK_READS = {"now", "utcnow", "today", "time", "time_ns", "localtime", "gmtime"}
CLOCK_OWNERS = {"datetime", "date", "time", "timezone", "clock"}
LONGEST_FILE = 400


def python_files(*folders: str) -> list[Path]:
    return sorted(file for folder in folders for file in (ROOT / folder).rglob("*.py"))


def pure_files() -> list[Path]:
    found = python_files(
        "locates/law", "locates/ground", "locates/place", "locates/push", "crews/planning", "crews/equipment"
    )
    found += [ROOT / "tickets" / name for name in ("states.py", "verdict.py")]
    return [file for file in found if file.exists()]


def test_imports_point_only_downwards() -> None:
    checked = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert checked.returncode == 0, checked.stdout + checked.stderr


@pytest.mark.parametrize("module", PURE)
def test_a_pure_part_loads_no_framework(module: str) -> None:
    # In a fresh process: this one has loaded everything, and import contracts do not see parent packages.
    program = (
        f"import importlib, pkgutil, sys; top = importlib.import_module({module!r})\n"
        "for found in pkgutil.walk_packages(getattr(top, '__path__', []), top.__name__ + '.'):\n"
        "    importlib.import_module(found.name)\n"
        f"print(*[name for name in {UNWANTED!r} if name in sys.modules])"
    )
    seen = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False)
    assert seen.returncode == 0, seen.stderr
    assert seen.stdout.strip() == ""


def test_pure_engines_never_read_the_clock() -> None:
    readings = []
    for file in pure_files():
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
                continue
            owner = node.func.value
            name = owner.id if isinstance(owner, ast.Name) else getattr(owner, "attr", "")
            if node.func.attr in CLOCK_READS and name in CLOCK_OWNERS:
                readings.append(f"{file.relative_to(ROOT)}:{node.lineno}")
    assert readings == []


def test_the_project_package_is_empty() -> None:
    assert (ROOT / "locates" / "__init__.py").read_text(encoding="utf-8") == ""


def test_no_file_is_too_long() -> None:
    everything = python_files("locates", "tickets", "crews", "tests")
    files = [file for file in everything if file.parent.name != "migrations"]
    assert len(files) > 20
    lengths = {str(file.relative_to(ROOT)): len(file.read_text(encoding="utf-8").splitlines()) for file in files}
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST_FILE} == {}


def test_the_top_of_the_tree_holds_only_what_the_house_allows() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in listed.stdout.splitlines() if not line.startswith(".")}
    rooms = {"locates", "tickets", "crews", "tests", "fixtures"}
    assert top <= rooms | {"README.md", "DEVELOPERS.md", "manage.py", "pyproject.toml"}
