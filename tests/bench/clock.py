"""How many legal windows a second, beside two business-day libraries on the same notices in the same run.

The libraries count working days and give a date; they know no hours, cut-offs, lives or renewals, so the
ratio says what the law costs over plain day arithmetic, not that the results are alike.
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from itertools import islice
from statistics import median
from typing import Any
from zoneinfo import ZoneInfo

from locates.law.load import jurisdiction
from locates.law.window import window_for, zone_for
from locates.place.resolve import STATE_LIST

SEED = 20261125
FIRST = datetime(2026, 7, 1)  # after the youngest version's start, so that every state has a rule
MINUTES = 365 * 24 * 60
WANTED = {"window": 50_000, "window_with_trace": 20_000}
WORKING_DAYS = 2
WARM_UP = 5_000
Notice = tuple[str, datetime, str]


def notices(seed: int) -> Iterator[Notice]:
    """Endless notices: a state, an instant in its zone, at random over a year."""
    chance = random.Random(seed)
    states = sorted(STATE_LIST)
    zones = {code: _zone(code) for code in states}
    tz = {name: ZoneInfo(name) for name in set(zones.values())}
    while True:
        code = chance.choice(states)
        naive = FIRST + timedelta(minutes=chance.randrange(MINUTES))
        yield code, naive.replace(tzinfo=tz[zones[code]]), zones[code]


def _zone(code: str) -> str:
    law = jurisdiction(code)
    return zone_for(law, law.time_zones[0])


def rate(work: Callable[[Any], object], given: list[Any], runs: int) -> float:
    """Calls a second of processor time (a busy neighbour does not count), the median of several runs."""
    seconds = []
    for _ in range(runs):
        began = time.process_time()
        for one in given:
            work(one)
        seconds.append(time.process_time() - began)
    return len(given) / median(seconds)


def plain(notice: Notice) -> object:
    code, at, zone = notice
    return window_for(code, at, zone, trace=False)


def traced(notice: Notice) -> object:
    code, at, zone = notice
    return window_for(code, at, zone, trace=True)


def holidays_library() -> tuple[str, Callable[[Notice], object]] | None:
    """The package holidays, each state's own calendar, second working day after the notice."""
    try:
        import holidays
    except ImportError:
        return None
    calendar = cache(lambda code: holidays.country_holidays("US", subdiv=code))
    return f"holidays {version('holidays')}", lambda n: calendar(n[0]).get_nth_working_day(n[1].date(), WORKING_DAYS)


def pandas_library() -> tuple[str, Callable[[Notice], object]] | None:
    """pandas, one CustomBusinessDay over the federal calendar, second business day after the notice."""
    try:
        from pandas import Timestamp
        from pandas.tseries.holiday import USFederalHolidayCalendar
        from pandas.tseries.offsets import CustomBusinessDay
    except ImportError:
        return None
    step = CustomBusinessDay(WORKING_DAYS, calendar=USFederalHolidayCalendar())
    return f"pandas {version('pandas')}", lambda n: Timestamp(n[1].date()) + step


def measure(count: int, runs: int, seed: int) -> dict[str, Any]:
    """Rates on one list of notices, all in this process."""
    given = list(islice(notices(seed), count))
    for notice in given[:WARM_UP]:
        traced(notice)
    first_time = rate(plain, given, 1)
    found: dict[str, Any] = {
        "notices": count,
        "runs": runs,
        "seed": seed,
        "python": sys.version.split()[0],
        "windows_per_s_the_first_time": round(first_time),
        "windows_per_s": round(rate(plain, given, runs)),
        "windows_with_trace_per_s": round(rate(traced, given, runs)),
        "date_only": {},
    }
    for library in (holidays_library(), pandas_library()):
        if library:
            name, work = library
            work(given[0])
            some = given[: max(1, count // 10)]  # slower or unbounded caches; a tenth says enough
            found["date_only"][name] = round(rate(work, some, runs))
    found["ratio_to"] = {name: round(found["windows_per_s"] / per_s, 2) for name, per_s in found["date_only"].items()}
    found["meets"] = {
        "without_trace": found["windows_per_s"] >= WANTED["window"],
        "with_trace": found["windows_with_trace_per_s"] >= WANTED["window_with_trace"],
    }
    return found


def stream(count: int, seed: int) -> dict[str, Any]:
    """A batch of any length, one notice at a time: peak memory after a tenth and at the end."""
    peaks = []
    began = time.perf_counter()
    for number, notice in enumerate(islice(notices(seed), count), 1):
        plain(notice)
        if number in {max(1, count // 10), count}:
            peaks.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)
    return {
        "streamed": count,
        "seconds": round(time.perf_counter() - began, 1),
        "peak_mb_at_a_tenth": peaks[0],
        "peak_mb_at_the_end": peaks[-1],
    }


def missing() -> list[str]:
    """Libraries that this environment lacks, so that their rows are absent."""
    absent = []
    for name in ("holidays", "pandas"):
        try:
            version(name)
        except PackageNotFoundError:
            absent.append(name)
    return absent


def main(argv: list[str]) -> int:
    """Print the figures; 0 when both wanted rates were reached, 1 when not."""
    parser = argparse.ArgumentParser(prog="manage.py bench clock", description=__doc__)
    parser.add_argument("--notices", type=int, default=100_000)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--stream", type=int, default=0, metavar="N", help="also stream N notices, watching memory")
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args(argv)
    for name in ("notices", "runs"):
        if getattr(given, name) < 1:
            parser.error(f"--{name} must be at least 1")
    found = measure(given.notices, given.runs, given.seed)
    found |= stream(given.stream, given.seed) if given.stream else {}
    if given.json:
        print(json.dumps(found, indent=2))
    else:
        print_plain(found)
    return 0 if all(found["meets"].values()) else 1


def print_plain(found: dict[str, Any]) -> None:
    print(
        f"{found['notices']:,} notices of a year over all states, median of {found['runs']} runs, "
        "one process, processor time"
    )
    first = found["windows_per_s_the_first_time"]
    print(f"{'legal windows':<34}{found['windows_per_s']:>12,} a second   {first:,} the first time through")
    print(f"{'legal windows with their trace':<34}{found['windows_with_trace_per_s']:>12,} a second")
    for name, per_s in found["date_only"].items():
        print(
            f"{name + ' (a date only)':<34}{per_s:>12,} a second   windows are {found['ratio_to'][name]:g} times that"
        )
    for name in missing():
        print(f"{name}: not installed, not compared")
    if "streamed" in found:
        print(
            f"{found['streamed']:,} notices streamed in {found['seconds']} s; peak memory "
            f"{found['peak_mb_at_a_tenth']} MB after a tenth, {found['peak_mb_at_the_end']} MB at the end"
        )
    for name, met in found["meets"].items():
        wanted = WANTED["window"] if name == "without_trace" else WANTED["window_with_trace"]
        print(f"wanted {wanted:,} a second {name.replace('_', ' ')}: {'reached' if met else 'NOT reached'}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
