"""Every read of the field that spans rows. Constant in queries whatever the number of rows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from crews.models import CALIBRATED, Crew, Equipment, Person, Visit
from crews.words import zone_of
from tickets.models import Job
from tickets.selectors import jobs_with_facts, verdicts_of
from tickets.verdict import Verdict

DUE_FIRST = (F("due_on").asc(nulls_last=True), "id")


@dataclass(frozen=True, slots=True)
class Stop:
    """One visit of the day with the job's facts and the verdict at the instant asked for."""

    visit: Visit
    job: Job
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class CrewDay:
    """A crew's local day; what it carries then is the register's to say."""

    crew: Crew
    on: date
    stops: tuple[Stop, ...]


def crews_visible_to(person: Person) -> QuerySet[Crew]:
    """The office sees every crew, a crew member the own one."""
    if person.runs_the_office:
        return Crew.objects.all()
    return Crew.objects.filter(pk=person.crew_id) if person.crew_id is not None else Crew.objects.none()


def visits_visible_to(person: Person) -> QuerySet[Visit]:
    """With job, site, crew and ticket loaded."""
    found = Visit.objects.select_related("job__site", "crew", "ticket")
    if person.runs_the_office:
        return found
    return found.filter(crew_id=person.crew_id) if person.crew_id is not None else found.none()


def equipment_visible_to(person: Person) -> QuerySet[Equipment]:
    """With its holder loaded."""
    found = Equipment.objects.select_related("crew", "person", "own_kind")
    if person.runs_the_office:
        return found
    own = Q(person=person.pk)
    return found.filter(own | Q(crew_id=person.crew_id) if person.crew_id is not None else own)


def people() -> QuerySet[Person]:
    """Everybody with a log-in, the crew loaded."""
    return Person.objects.select_related("crew").order_by("username")


def equipment_due(on: date, within_days: int = 30) -> QuerySet[Equipment]:
    """Overdue on that day or due within so many days, and items of a calibrated kind without a date;
    the longest overdue first, those without a date last."""
    last = on + timedelta(days=within_days)
    wanted = Q(due_on__lte=last) | Q(calibration_due_on=None, kind__in=CALIBRATED) | ~Q(care_unknown="")
    return Equipment.objects.select_related("crew").filter(wanted).order_by(*DUE_FIRST)


def visits_between(start: datetime, end: datetime, crew: Crew | None = None) -> QuerySet[Visit]:
    """Visits not cancelled that touch the span, by start."""
    found = Visit.objects.filter(cancelled_at=None, starts_at__lt=end, ends_at__gt=start)
    if crew is not None:
        found = found.filter(crew=crew)
    loaded = found.select_related("job__site", "job__customer", "crew", "ticket", "wanted")
    return loaded.order_by("starts_at", "id")


def local_day(crew: Crew, on: date) -> tuple[datetime, datetime]:
    """First instant of the crew's day and of the next, in UTC; 23 or 25 hours apart at clock changes."""
    zone = zone_of(crew.time_zone)
    start = datetime.combine(on, time.min, zone)
    end = datetime.combine(on + timedelta(days=1), time.min, zone)
    return start.astimezone(UTC), end.astimezone(UTC)


def today_of(crew: Crew, now: datetime) -> date:
    """The crew's local date."""
    return now.astimezone(zone_of(crew.time_zone)).date()


def day_of(crew: Crew, on: date, now: datetime) -> CrewDay:
    """The crew's stops of a local day in order, with verdicts as of `now`."""
    visits = list(visits_between(*local_day(crew, on), crew=crew))
    jobs = {job.pk: job for job in jobs_with_facts().filter(pk__in={visit.job_id for visit in visits})}
    verdicts = verdicts_of(list(jobs.values()), now)
    stops = tuple(Stop(visit, jobs[visit.job_id], verdicts[visit.job_id]) for visit in visits)
    return CrewDay(crew, on, stops)


def flag_of(item: Equipment, on: date) -> str:
    """What is wrong with the item on that day, in words."""
    if item.out_of_service_reason:
        return f"Out of service: {item.out_of_service_reason}"
    title = item.due_title or "Calibration"
    if item.due_on is not None and item.is_overdue(on):
        days = (on - item.due_on).days
        return f"{title} overdue by {days} day{'' if days == 1 else 's'}"
    if item.lacks_date():
        return "No calibration date on record"
    if item.care_unknown:
        return f"{item.care_unknown}: no date on record"
    return ""


def company_today(now: datetime) -> date:
    """The company's local date; the equipment register is read in the office."""
    return timezone.localdate(now)
