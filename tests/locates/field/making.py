"""Runs as a crew would make them, through the services. The site is the open land of tests.factories."""

from __future__ import annotations

import uuid
from typing import Any

from locates.field import services
from locates.field.models import Run
from locates.ground.coordinates import LocalGrid
from tests.factories import LATITUDE, LONGITUDE, NOW
from tickets.models import Job

GRID = LocalGrid(LATITUDE, LONGITUDE)
RECEIVER = services.DeviceGiven("receiver", "Receiver A", "QX-1", (512.0, 8192.0, 32768.0))
SONDE = services.DeviceGiven("sonde", "Camera head", "QX-9", (512.0,))


def start(job: Job, actor: Any, **given: Any) -> Run:
    """A run by direct connection at 8 kHz, unless `given` says otherwise."""
    fields: dict[str, Any] = {
        "label": "Power to the shed",
        "method": "direct",
        "utility": "power",
        "frequency_hz": 8192.0,
        "devices": (RECEIVER,),
        **given,
    }
    return services.start_run(
        job=job, client_id=uuid.uuid4(), given=services.RunGiven(**fields), actor=actor, now=NOW
    )


def at(x_m: float, y_m: float) -> dict[str, float]:
    """Latitude and longitude of a place so many metres east and north of the site."""
    latitude, longitude = GRID.to_position(x_m, y_m)
    return {"latitude": latitude, "longitude": longitude}


def add(run: Run, actor: Any, x_m: float, y_m: float, depth: str = "30", **given: Any) -> Any:
    """A point at a place, its depth in inches."""
    point = services.PointGiven(**at(x_m, y_m), depth=depth, **{"accuracy_m": 0.2, **given})
    return services.add_point(run=run, client_id=uuid.uuid4(), given=point, actor=actor, now=NOW)


def follow(run: Run, actor: Any, count: int = 6, step_m: float = 3.0, y_m: float = 9.0) -> Run:
    """Points along a line running east."""
    for index in range(count):
        add(run, actor, index * step_m, y_m)
    run.refresh_from_db()
    return run


def finish(run: Run, actor: Any, *, locate_complete: bool = False, found: bool = True) -> Run:
    """Close the run."""
    return services.finish_run(
        run=run, found=found, words="Seen at both ends.", locate_complete=locate_complete, actor=actor, now=NOW
    )
