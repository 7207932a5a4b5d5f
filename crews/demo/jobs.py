"""One job of the demo: its events laid on the time line, then told to the services in order."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from crews.demo.ground import rectangle
from crews.demo.locate_runs import RunTeller
from crews.demo.notices import Notice, choose_notice, day_start
from crews.demo.scenario import Row, ScenarioWrong
from crews.models import Crew, Person, VisitKind
from crews.services import schedule_visit
from locates.field.services import SoilGiven, record_soil
from locates.place import resolve
from tickets import services as office
from tickets.models import Customer, Job, Ticket, TicketOperator

ENTERED_BEFORE = timedelta(hours=3)  # a job is entered this long before its first event
PLANNED_BEFORE = timedelta(hours=10)  # visits are planned in the afternoon before the day
MINUTE = timedelta(minutes=1)
WORKDAY = (time(7, 30), time(16, 0))


class JobTeller:
    """Tells the services of one job. Events carry their instants, so the log reads as if it had happened."""

    def __init__(
        self, row: Row, customer: Customer, crews: dict[str, Crew], people: dict[str, Person], loaded_at: datetime
    ) -> None:
        self.row = row
        self.customer = customer
        self.crews = crews
        self.people = people
        self.office = next(person for person in people.values() if person.role == "dispatcher")
        self.loaded_at = loaded_at
        self.zone = resolve(row["latitude"], row["longitude"], state_code=row["state"]).time_zone
        self.today = day_start(loaded_at, self.zone)
        self.notices = [self._notice(ticket) for ticket in row.get("ticket", ())]
        self.tickets: list[Ticket] = []
        self.events: list[tuple[datetime, Callable[[datetime], None]]] = []
        self.job: Job
        self.runs: RunTeller | None = None

    def tell(self) -> Job:
        """Make the job and let everything happen to it; gives it back as it stands when loaded."""
        for index in range(len(self.notices)):
            self._ticket(index)
        for sighting in self.row.get("sighting", ()):
            self._at(self._since_open(sighting["share"]), self._sighting, sighting)
        for run in self.row.get("run", ()):
            self._at(self._since_open(run["share"]), self._run, run)
        for soil in self.row.get("soil", ()):
            self._at(self._since_open(soil["share"]), self._soil, soil)
        for locate in self.row.get("locate", ()):
            self._at(self._since_open(locate["share"]), self._locate, locate)
        if "emergency" in self.row:
            declared_at = self.loaded_at - timedelta(minutes=self.row["emergency"]["minutes_before"])
            self._at(declared_at, self._emergency, self.row["emergency"])
        for visit in self.row.get("visit", ()):
            self._at(self._planned_at(visit), self._visit, visit)
        self.events.sort(key=lambda event: event[0])
        first = min([self.events[0][0], self.today] if self.events else [self.today])
        self._job(first - ENTERED_BEFORE)
        for at, happen in self.events:
            happen(at)
        office.refresh_job(job=self.job, now=self.loaded_at)
        self.job.refresh_from_db()
        return self.job

    # When

    def _notice(self, ticket: Row) -> Notice:
        given = time.fromisoformat(ticket["given"])
        return choose_notice(self.row["state"], self.zone, ticket["stands"], given, self.loaded_at)

    def _since_notice(self, notice: Notice, share: float) -> datetime:
        end = min(notice.window.opens_at, self.loaded_at)
        return _between(notice.received_at, end, share, self.zone)

    def _since_open(self, share: float) -> datetime:
        if not self.notices:
            return _between(self.today - PLANNED_BEFORE, self.loaded_at, share, self.zone)
        start = min(self.notices[0].window.opens_at, self.loaded_at)
        return _between(start, self.loaded_at, share, self.zone)

    def _planned_at(self, visit: Row) -> datetime:
        if visit["day"] != "today":
            return self.loaded_at
        received = [notice.received_at for notice in self.notices]
        return max([self.today - PLANNED_BEFORE, *received]) + 6 * MINUTE  # once the notice is entered

    def _day(self, visit: Row) -> datetime:
        """First instant of the visit's day at the site."""
        named = visit["day"]
        if named == "opening":
            opens = self.notices[0].window.opens_at.astimezone(ZoneInfo(self.zone))
            day = opens.date() + timedelta(days=opens.time() > time.fromisoformat(visit["from"]))
        else:
            ahead = {"today": 0, "tomorrow": 1}.get(named)
            day = self.today.date() + timedelta(days=int(named) if ahead is None else ahead)
        return datetime.combine(day, time.min, ZoneInfo(self.zone))

    def _at(self, at: datetime, happen: Callable[[datetime, Row], None], row: Row) -> None:
        self.events.append((at, lambda instant: happen(instant, row)))

    # What

    def _job(self, now: datetime) -> None:
        row, dig = self.row, self.row["dig"]
        area = {
            "name": dig["name"],
            "method": dig["method"],
            "planned_depth_m": dig["depth_m"],
            "planned_width_m": dig["width_m"],
            "polygon": self._polygon(0.0),
        }
        self.job = office.create_job(
            actor=self.office,
            now=now,
            customer=self.customer,
            title=row["title"],
            street=row["street"],
            town=row["town"],
            latitude=row["latitude"],
            longitude=row["longitude"],
            state=row["state"],
            time_zone=self.zone,
            work=row["work"],
            number=row["number"],
            private_lines_likely=row["private_lines_likely"],
            dig_areas=[area],
        )

    def _polygon(self, margin_m: float) -> dict[str, Any]:
        """The dig area, wider by the margin on every side."""
        dig = self.row["dig"]
        length_m, width_m = dig["length_m"] + 2 * margin_m, max(dig["width_m"] + 2 * margin_m, 1.0)
        return rectangle(self.row["latitude"], self.row["longitude"], length_m, width_m, dig["turned_deg"])

    def _ticket(self, index: int) -> None:
        row, notice = self.row["ticket"][index], self.notices[index]
        self._at(notice.received_at, self._enter, row)
        for operator in row["operator"]:
            for answer in operator.get("answers", ()):
                given = {**answer, "operator": operator["name"], "ticket": index, "notice": notice}
                self._at(self._since_notice(notice, answer["share"]), self._answer, given)
        if "work_begun_share" in row:
            self._at(self._since_open(row["work_begun_share"]), self._work, row)

    def _enter(self, at: datetime, row: Row) -> None:
        self.tickets.append(
            office.enter_ticket(
                job=self.job,
                actor=self.office,
                now=at + 5 * MINUTE,
                number=row["number"],
                received_at=at,
                operators=[{"name": o["name"], "utility": o["utility"]} for o in row["operator"]],
                area=self._polygon(row["margin_m"]),
                area_words=row["area_words"],
                given_by_name=row["given_by"],
            )
        )

    def _answer(self, at: datetime, row: Row) -> None:
        holds_until = None
        if "holds_share" in row:
            holds_until = self._since_notice(row["notice"], row["holds_share"])
        elif "holds_in_days" in row:
            holds_until = self.today + timedelta(days=row["holds_in_days"], hours=17)
        office.record_answer(
            operator=self._operator(row["operator"]),
            actor=self.office,
            now=at,
            outcome=row["outcome"],
            holds_until=holds_until,
            note=row.get("note", ""),
        )

    def _operator(self, name: str) -> TicketOperator:
        return TicketOperator.objects.get(ticket__job=self.job, name=name)

    def _sighting(self, at: datetime, row: Row) -> None:
        operator = self._operator(row["operator"]) if "operator" in row else None
        office.record_sighting(
            job=self.job,
            actor=self._member(),
            now=at,
            kind=row["kind"],
            operator=operator,
            note=row.get("note", ""),
        )

    def _locate(self, at: datetime, row: Row) -> None:
        if row["kind"] != "located":
            raise ScenarioWrong(f"{self.row['number']}: a locate of kind {row['kind']!r} is not told here.")
        office.record_private_locate(job=self.job, actor=self._member(), now=at, result_words=row["result"])

    def _run(self, at: datetime, row: Row) -> None:
        if self.runs is None:
            self.runs = RunTeller(self.job, self.row["dig"]["turned_deg"], self._member(), self.loaded_at)
        self.runs.tell(row, at)

    def _soil(self, at: datetime, row: Row) -> None:
        given = SoilGiven(**{name: value for name, value in row.items() if name not in ("job", "share")})
        area = self.job.dig_areas.get()
        record_soil(area=area, client_id=uuid.uuid4(), given=given, actor=self._member(), now=at)

    def _work(self, at: datetime, row: Row) -> None:
        office.note_work_begun(job=self.job, actor=self.office, at=at, now=at)

    def _emergency(self, at: datetime, row: Row) -> None:
        dig = office.declare_emergency(job=self.job, actor=self.office, now=at, reason=row["reason"])
        if row["centre_told"]:
            told = at + 10 * MINUTE
            office.note_emergency_told(emergency=dig, actor=self.office, now=told, centre_told_at=told)

    def _visit(self, at: datetime, row: Row) -> None:
        day = self._day(row).date()
        zone = ZoneInfo(self.zone)
        schedule_visit(
            job=self.job,
            crew=self.crews[row["crew"]],
            kind=VisitKind(row["kind"]),
            starts_at=datetime.combine(day, time.fromisoformat(row["from"]), zone),
            ends_at=datetime.combine(day, time.fromisoformat(row["to"]), zone),
            actor=self.office,
            now=at,
            note=row.get("note", ""),
        )

    def _member(self) -> Person:
        """Who was on site: a member of the crew that visits, else the dispatcher by telephone."""
        for visit in self.row.get("visit", ()):
            for person in self.people.values():
                if person.crew is not None and person.crew.name == visit["crew"]:
                    return person
        return self.office


def _between(start: datetime, end: datetime, share: float, zone: str) -> datetime:
    """The instant at that share of the way, moved back into a working day where one lies between: people
    seldom answer at night. Shares keep their order, because what is moved lands after four o'clock."""
    at = (start + (end - start) * share).astimezone(ZoneInfo(zone)).replace(second=0, microsecond=0)
    day = at.date()
    if day.weekday() < 5 and WORKDAY[0] <= at.time() <= WORKDAY[1]:
        return at
    if at.time() <= WORKDAY[1]:
        day -= timedelta(days=1)
    while day.weekday() > 4:
        day -= timedelta(days=1)
    moved = datetime.combine(day, WORKDAY[1], ZoneInfo(zone)) + share * 60 * MINUTE
    moved = moved.replace(second=0, microsecond=0)
    return moved if start + 10 * MINUTE <= moved <= end else at
