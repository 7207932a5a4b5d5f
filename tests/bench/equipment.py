"""The register at scale: fifty thousand items with two million custody events, and the owner's pages on it.

Builds an own SQLite file with rows of fixed seed in bulk, then asks the pages through Django's test client and
prints the server's time (median of several), the number of queries, and the same for a hundredth of the rows:
the queries must not grow. Run:  python -m tests.bench.equipment [--items N] [--events N]
"""

from __future__ import annotations

import argparse
import json
import os
import random
import statistics
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

SEED = 20260916
WANTED_MS = 200.0
RUNS = 7
PAGES = ("/equipment/care/", "/equipment/", "/equipment/due/?days=90", "/equipment/{busiest}/", "/equipment/away/")
KINDS = ("receiver", "transmitter", "sonde", "camera_reel", "gas_monitor", "trench_box", "ladder", "sling", "truck")
START = datetime(2022, 1, 3, 12, tzinfo=UTC)


def set_up(folder: Path) -> None:
    """Django on an own file, as the tests have it."""
    os.environ["DATA_DIR"] = str(folder)
    os.environ.setdefault("SECRET_KEY", "only-for-the-benchmark-and-long-enough-for-the-check-of-its-length")
    os.environ.update(DEBUG="0", SECURE_COOKIES="0", LOG_LEVEL="ERROR", DJANGO_SETTINGS_MODULE="locates.settings")
    import django

    django.setup()
    from django.conf import settings
    from django.core.management import call_command

    settings.ALLOWED_HOSTS = ["*"]
    call_command("migrate", verbosity=0)


def build(items: int, events: int) -> dict[str, Any]:
    """Rows in bulk: crews, items with prices and due days, results' states, days of use, custody."""
    from crews.models import CareState, Crew, Equipment, Person, UseTally
    from crews.services.register_money import keep_money

    draw = random.Random(SEED)
    owner = Person.objects.create_superuser("owner", "owner@example.com", "not-used")
    crews = Crew.objects.bulk_create(
        Crew(
            name=f"Crew {n}", yard_name="Yard", yard_latitude=37.4, yard_longitude=-77.6, time_zone="America/New_York"
        )
        for n in range(40)
    )
    today = datetime.now(UTC).date()
    made = Equipment.objects.bulk_create(
        (_item(Equipment, n, crews, today, draw) for n in range(items)), batch_size=1000
    )
    CareState.objects.bulk_create(
        (
            CareState(
                item=item,
                key="calibration",
                care="calibration",
                title="Bench calibration",
                source="s",
                words="w",
                state="dated",
                due_on=item.due_on,
                every_months=12,
                last_cost=draw.choice([None, 180, 240, 310]),
            )
            for item in made
        ),
        batch_size=1000,
    )
    UseTally.objects.bulk_create(
        UseTally(kind=kind, on=today - timedelta(days=day), count=draw.randrange(items // 9 + 1))
        for kind in KINDS
        for day in range(365)
    )
    busiest = _custody(made, crews, events, draw)
    _visits(crews, owner, today, draw)
    keep_money(now=datetime.now(UTC))  # as the sweep does within a minute
    return {"owner": owner, "busiest": busiest}


def _item(model: Any, n: int, crews: list[Any], today: Any, draw: random.Random) -> Any:
    crew = draw.choice([*crews, None])
    due = today + timedelta(days=draw.randrange(-10, 360))
    return model(
        kind=KINDS[n % len(KINDS)], name=f"Item {n}", serial=f"B-{n:06}", code=f"{n:08}", crew=crew,
        place="crew" if crew else "yard", due_on=due, calibration_due_on=due, due_title="Bench calibration",
        price=draw.randrange(100, 9000), tax=draw.randrange(500), life_years=7, bought_on=START.date(),
        unconfirmed=draw.random() < 0.02, out_of_service_reason="Dropped" if draw.random() < 0.01 else "",
    )  # fmt: skip


def _visits(crews: list[Any], owner: Any, today: Any, draw: random.Random) -> None:
    """Two hundred private locates and camera inspections in the days ahead, of the first ten crews."""
    from crews.models import Visit
    from tickets.models import Customer, Job, Site

    customer = Customer.objects.create(name="Bench customer")
    site = Site.objects.create(
        street="1 Example Road", town="Larkmoor", state="VA", latitude=37.4, longitude=-77.6,
        time_zone="America/New_York",
    )  # fmt: skip
    job = Job.objects.create(number="B-1", title="Bench", customer=customer, site=site, created_at=START)
    starts = [datetime.combine(today, START.time(), UTC) + timedelta(days=draw.randrange(1, 58)) for _ in range(200)]
    Visit.objects.bulk_create(
        Visit(
            job=job, crew=draw.choice(crews[:10]), kind=draw.choice(["private_locate", "camera"]), starts_at=at,
            ends_at=at + timedelta(hours=2), created_by=owner, created_at=START,
        )
        for at in starts
    )  # fmt: skip


def _custody(items: list[Any], crews: list[Any], events: int, draw: random.Random) -> int:
    """Issued and returned in turn, every stay ending where the next begins; the first item gets ten times as
    many. Written as plain SQL, past the ORM but not past the guards."""
    from django.db import connection, transaction

    each = max(events // len(items), 2)
    words = (
        "INSERT INTO crews_custodyevent (item_id, sequence, step, at, until, place, crew_id, spot, note) "
        "VALUES (%s, %s, %s, %s, %s, %s, %s, '', '')"
    )
    days = [str((START + timedelta(hours=12 * number)).replace(tzinfo=None)) for number in range(each * 10 + 2)]
    for start in range(0, len(items), 1000):
        rows = []
        for item in items[start : start + 1000]:
            count = each * 10 if item is items[0] else each
            for number in range(1, count + 1):
                last = number == count
                held = (item.crew is not None) if last else number % 2 == 0
                step = "entered" if number == 1 else ("issued" if held else "returned")
                until = None if last else days[number + 1]
                crew = (item.crew or draw.choice(crews)).pk if held else None
                rows.append((item.pk, number, step, days[number], until, "crew" if held else "yard", crew))
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.executemany(words, rows)
    return items[0].pk


def measure(built: dict[str, Any]) -> dict[str, dict[str, float]]:
    """Median and slowest server time of each page in milliseconds, and its queries."""
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    client = Client()
    client.force_login(built["owner"])
    found = {}
    for page in PAGES:
        address = page.format(busiest=built["busiest"])
        taken, busy = [], []
        for _ in range(RUNS):
            began, worked = time.perf_counter(), time.process_time()
            answer = client.get(address)
            taken.append((time.perf_counter() - began) * 1000)
            busy.append((time.process_time() - worked) * 1000)
            assert answer.status_code == 200, (address, answer.status_code)
        with CaptureQueriesContext(
            connection,
        ) as seen:
            client.get(address)
        found[page] = {
            "median_ms": round(statistics.median(taken), 1),
            "processor_ms": round(statistics.median(busy), 1),  # what a busy neighbour does not change
            "slowest_ms": round(max(taken[1:]), 1),
            "queries": len(seen),
        }
    return found


def main() -> int:
    """Prints one JSON object; the exit code tells whether the owner's page keeps the promise."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--items", type=int, default=50_000)
    asked.add_argument("--events", type=int, default=2_000_000)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        set_up(Path(folder))
        small = _one_size(given.items // 100, given.events // 100, fresh=False)
        large = _one_size(given.items, given.events, fresh=True)
    same = {page: small["pages"][page]["queries"] == large["pages"][page]["queries"] for page in PAGES}
    owners = large["pages"][PAGES[0]]["median_ms"]
    print(json.dumps({"small": small, "large": large, "queries_constant": same, "owner_ms": owners}, indent=1))
    return 0 if owners < WANTED_MS and all(same.values()) else 1


def _one_size(items: int, events: int, *, fresh: bool) -> dict[str, Any]:
    from django.core.management import call_command

    from crews.models import CustodyEvent, Equipment

    if fresh:
        call_command("flush", interactive=False, verbosity=0)
    began = time.perf_counter()
    built = build(items, events)
    return {
        "items": Equipment.objects.count(),
        "events": CustodyEvent.objects.count(),
        "built_s": round(time.perf_counter() - began, 1),
        "pages": measure(built),
    }


if __name__ == "__main__":
    sys.exit(main())
