"""The planner's benchmark command on small files of its own; figures of size and time stay out of tests."""

from __future__ import annotations

import json
import math
from pathlib import Path
from xml.etree import ElementTree

import pytest

from crews.planning.bench import main
from crews.planning.bench.instances import read_solomon, read_technician
from crews.planning.planner import Effort, make_plan

SOLOMON = """TINY

VEHICLE
NUMBER     CAPACITY
  3         10

CUSTOMER
CUST NO.  XCOORD.   YCOORD.    DEMAND   READY TIME  DUE DATE   SERVICE   TIME

    0      0          0          0          0        200          0
    1      0         10          4          0        150          5
    2      3         10          4          0        150          5
    3      0        -10          4          0        150          5
    4      3        -10          4          0        150          5
"""

TECHNICIAN = """TINY.4

INFO
CREW COUNT  SKILLS  TOOLS   SPARE PARTS
2      2       1       1

DEPOT TECHNICIANS AND REQUESTS
ID   X     Y     TWS    TWE    Serv   SKILLS   TOOLS    SPARE PARTS
0    0    0    0      200   0      [] \t[] \t[]
1    0    -10     0      200   0      [0] \t[] \t[1]
2    50   0     0      200   0      [1] \t[0] \t[0]
3    0    10    0      150   10      [0] \t[0] \t[0]
4    60   0     0      150   10      [1] \t[] \t[0]
"""


@pytest.fixture
def solomon(tmp_path: Path) -> Path:
    path = tmp_path / "tiny.txt"
    path.write_text(SOLOMON)
    return path


@pytest.fixture
def technician(tmp_path: Path) -> Path:
    path = tmp_path / "technician.txt"
    path.write_text(TECHNICIAN)
    return path


def test_solomon_text_becomes_our_problem_and_is_solved(solomon: Path) -> None:
    """Two tours of two customers each, 10 + 3 + sqrt(109) = 23.4 with legs cut to tenths; the reckoning by hand."""
    instance = read_solomon(solomon)
    plan = make_plan(instance.problem, instance.travel, Effort(seconds=20, most_rounds=50))
    assert plan.feasible
    assert plan.totals.drive_s == 2 * (100 + 30 + 104)


def test_the_table_compares_with_the_best_known_and_the_engine(
    solomon: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    best = tmp_path / "best.csv"
    best.write_text("instance,distance\nTiny,46.8\n")
    code = main(["--instances", str(solomon), "--seconds", "0.3", "--best", str(best), "--json"])
    row = json.loads(capsys.readouterr().out)["rows"][0]
    assert code == 0
    assert (row["value"], row["direct"], row["vehicles"]) == (46.8, 46.8, 2)
    assert row["gap_percent"] == 0
    assert row["loss_percent"] == 0


def test_a_technician_calls_at_the_depot_for_the_tool(technician: Path) -> None:
    """Home to depot 10, on to the request 10, work 10, home 20; the other drives 10 out and back and works 10."""
    instance = read_technician(technician)
    plan = make_plan(instance.problem, instance.travel, Effort(seconds=20, most_rounds=200))
    assert plan.feasible
    assert math.isclose(plan.totals.duration_s / instance.ticks, 50 + 30, abs_tol=0.001)
    assert [stop.kind.value for stop in plan.tours[0].stops] == ["yard_call", "visit"]


def test_the_technician_table(technician: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--technician", str(technician), "--seconds", "0.3"]) == 0
    assert "TINY.4" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no VEHICLE"),
        (SOLOMON.replace("  3         10", "  three 10"), "2 numbers"),
        (SOLOMON[: SOLOMON.index("    1 ")], "no customers"),
    ],
)
def test_a_bad_file_is_refused(tmp_path: Path, text: str, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bad.txt"
    path.write_text(text)
    assert main(["--instances", str(path)]) == 2
    assert words in capsys.readouterr().err


def test_missing_files_and_wrong_sizes_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--instances", str(tmp_path / "none.txt")]) == 2
    assert main(["--scale", "--sizes", "200/20"]) == 2
    assert "200/20/5" in capsys.readouterr().err


def test_the_growth_table_and_its_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    picture = tmp_path / "growth.svg"
    sizes = ["--sizes", "6/2/2", "12/3/2"]
    assert main(["--scale", *sizes, "--seconds", "0.3", "--markdown", "--plot", str(picture)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split("|")[1].strip() for line in lines] == ["visits", "---:", "6", "12"]
    assert all(line.endswith("| passed |") for line in lines[2:])
    drawn = ElementTree.parse(picture).getroot()
    assert len([node for node in drawn if node.tag.endswith("circle")]) == 4
    assert {"6", "12"} <= {node.text for node in drawn if node.tag.endswith("text")}
