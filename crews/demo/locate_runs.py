"""The locate runs of a demo job, told to the services point by point."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from crews.demo.ground import spot
from crews.demo.scenario import Row
from crews.models import Equipment, Person
from locates.field import services
from locates.field.models import Run
from tickets.models import Job

STEP = timedelta(seconds=50)
NUMBERS = {"current_ma", "signal", "gain_db"}
PLACES = {"ahead", "aside"}


class RunTeller:
    """Tells of one job's runs. Places are metres ahead of and to the right of the dig area's middle, along its
    long side; along a baseline they are typed in feet, as a crew would."""

    def __init__(self, job: Job, turned_deg: float, actor: Person, loaded_at: datetime) -> None:
        self.job = job
        self.turned_deg = turned_deg
        self.actor = actor
        self.loaded_at = loaded_at
        self.made: dict[str, Run] = {}

    def tell(self, row: Row, at: datetime) -> Run:
        """One run with its points and photos, what was seen in the pipe, what its level rests on, and its end."""
        clock = self._instants(at, len(row["point"]) + len(row["photo"]) + 12)
        run = services.start_run(
            job=self.job, client_id=uuid.uuid4(), given=self._given(row), actor=self.actor, now=next(clock)
        )
        for point in row["point"]:
            services.add_point(
                run=run, client_id=uuid.uuid4(), given=self._point(row, point), actor=self.actor, now=next(clock)
            )
        for photo in row["photo"]:
            self._photo(run, photo, next(clock))
        if "pipe_size_m" in row:
            given = services.PipeGiven(pipe_size_m=row["pipe_size_m"], sonde_behind_lens_m=row["sonde_behind_lens_m"])
            services.describe_pipe(run=run, given=given, actor=self.actor, now=next(clock))
        for seen in row.get("seen", ()):
            services.add_observation(run=run, client_id=uuid.uuid4(), actor=self.actor, now=next(clock), **seen)
        for backing in row.get("backing", ()):
            self._backing(run, backing, next(clock))
        if "finding" in row:
            services.finish_run(
                run=run,
                found=True,
                words=row["finding"],
                locate_complete=row.get("locate_complete", False),
                actor=self.actor,
                now=next(clock),
            )
        self.made[row["label"]] = run
        return run

    def _instants(self, at: datetime, count: int) -> Iterator[datetime]:
        step = min(STEP, (self.loaded_at - at) / (count + 1))
        return (at + n * step for n in range(count))

    def _spot(self, place: Any) -> tuple[float, float]:
        site = self.job.site
        return spot(site.latitude, site.longitude, place[0], place[1], self.turned_deg)

    def _given(self, row: Row) -> services.RunGiven:
        plain = (
            *("label", "method", "utility", "owner_words", "frequency_hz", "outside_diameter_m"),
            *("transmitter_words", "transmitter_moment_a_m2", "ground_words", "weather_words"),
            *("position_by", "start_words", "end_words", "mark_accuracy_m"),
        )
        given: dict[str, Any] = {name: row[name] for name in plain if name in row}
        for name in ("transmitter_at", "start_at", "end_at"):
            if name in row:
                given[name] = self._spot(row[name])
        items = Equipment.objects.filter(serial__in=row.get("instruments", ())).order_by("id")
        devices = tuple(services.DeviceGiven(str(item.kind), equipment_id=item.pk) for item in items)
        return services.RunGiven(devices=devices, **given)

    def _point(self, row: Row, point: Row) -> services.PointGiven:
        given: dict[str, Any] = {name: value for name, value in point.items() if name not in PLACES}
        if "ahead" in point:
            given["latitude"], given["longitude"] = self._spot((point["ahead"], point["aside"]))
            given.setdefault("accuracy_m", row["accuracy_m"])
        return services.PointGiven(**given)

    def _photo(self, run: Run, row: Row, at: datetime) -> None:
        services.add_photo(
            run=run,
            client_id=uuid.uuid4(),
            content=row["content"],
            words=row["words"],
            point_number=row["point_number"],
            actor=self.actor,
            now=at,
        )

    def _backing(self, run: Run, row: Row, at: datetime) -> None:
        other = self.made[row["other"]].pk if "other" in row else None
        services.add_backing(
            run=run,
            client_id=uuid.uuid4(),
            kind=row["kind"],
            words=row["words"],
            other_run=other,
            actor=self.actor,
            now=at,
        )
