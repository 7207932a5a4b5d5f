"""The frozen outcomes: one file a jurisdiction over a fixed grid of notices.

`python -m tests.locates.law.snapshots` writes them anew; the diff then shows every change of result.
"""

from __future__ import annotations

import csv
import io
from datetime import date, datetime, time, timedelta
from pathlib import Path

from locates.law.load import codes, jurisdiction
from locates.law.window import window_for
from locates.law.workdays import zone_days

FOLDER = Path(__file__).parents[3] / "fixtures" / "law" / "snapshots"
COLUMNS = ("received", "opens_at", "closes_at", "renew_from", "renew_by")
HOURS = (time(0, 0), time(5, 30), time(7, 0), time(10, 0), time(16, 45), time(17, 30), time(23, 59))
WEEK = date(2026, 8, 10)  # a Monday; no state's legal holiday within a fortnight but Hawaii's and Vermont's
# Days around holidays, at 10:00: the eve, the day, the day after.
AROUND = (
    date(2026, 9, 7), date(2026, 10, 12), date(2026, 11, 3), date(2026, 11, 11), date(2026, 11, 26),
    date(2026, 12, 25), date(2027, 1, 1), date(2027, 1, 18), date(2027, 3, 26), date(2027, 5, 31),
    date(2027, 6, 18), date(2027, 7, 5),
)  # fmt: skip
CLOCK_CHANGES = (date(2026, 11, 1), date(2027, 3, 14))  # 15 U.S.C. 260a


def grid() -> list[datetime]:
    """Local notices, in order: every weekday and hour class, holidays, both clock changes."""
    notices = [datetime.combine(WEEK + timedelta(days=d), hour) for d in range(7) for hour in HOURS]
    notices += [datetime.combine(day + timedelta(days=d), time(10)) for day in AROUND for d in (-1, 0, 1)]
    notices += [datetime.combine(day + timedelta(days=d), time(10)) for day in CLOCK_CHANGES for d in range(-4, 2)]
    return sorted(set(notices))


def rows(code: str) -> list[dict[str, str]]:
    law = jurisdiction(code)
    zone = law.law_time_zone or law.time_zones[0]
    tz = zone_days(zone).tz
    found = []
    for notice in grid():
        made = window_for(code, notice.replace(tzinfo=tz), zone, trace=False)
        values = (notice, made.opens_at, made.closes_at, made.renew_from, made.renew_by)
        found.append({name: said(value) for name, value in zip(COLUMNS, values, strict=True)})
    return found


def said(at: datetime | None) -> str:
    return "" if at is None else at.strftime("%Y-%m-%d %a %H:%M:%S").removesuffix(":00") + at.strftime("%z")


def text(code: str) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows(code))
    return out.getvalue()


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for each in codes():
        (FOLDER / f"{each.lower()}.csv").write_text(text(each), encoding="utf-8")
    print(f"{len(codes())} files, {len(grid())} notices each")
