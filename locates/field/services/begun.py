"""When a run was begun, by the clock of the phone that kept it until there was a connection; and that in the log."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from locates.field.models import Run
from tickets import evidence
from tickets.models import Job
from tickets.services.refusals import Faults
from tickets.verdict.words import instant_words

# A phone's clock may be this far off before what it says is doubted; a setting, no source.
CLOCK_MAY_DIFFER = timedelta(minutes=10)
# Ids of answered writes are kept as long (see locates.rest.forget); what waited longer is typed anew.
OLDEST = timedelta(days=90)


def check_begun(job: Job, begun_at: datetime | None, now: datetime, faults: Faults) -> datetime:
    """The instant to keep, `now` when none was given or the phone runs a little ahead. One that cannot be is added
    to the faults: evidence and calibration hang on the day."""
    if begun_at is None:
        return now
    if begun_at.tzinfo is None:
        faults.add("begun_at", "Give the offset too, as in 2026-09-17T07:00-04:00.")
        return now
    said = instant_words(begun_at, job.site.time_zone)
    if begun_at > now + CLOCK_MAY_DIFFER:
        here = instant_words(now, job.site.time_zone)
        faults.add("begun_at", f"{said} is still to come; it is {here}. Set the phone's clock, and say when it was.")
    elif begun_at < now - OLDEST:
        faults.add("begun_at", f"{said} lies more than {OLDEST.days} days back. Say when the run was begun.")
    elif begun_at < job.created_at - CLOCK_MAY_DIFFER:
        made = instant_words(job.created_at, job.site.time_zone)
        faults.add("begun_at", f"{said} lies before the job was entered, {made}. Say when the run was begun.")
    return min(begun_at, now)


def log_begun(run: Run, actor: Any, now: datetime) -> None:
    """A run that waited on a phone: its beginning is the phone's word, when it came is the server's."""
    if run.begun_at == now:
        return
    payload = {"run": run.pk, "label": run.label, "method": run.method, "begun_at_by_phone": run.begun_at}
    evidence.append(job=run.job, kind="locate_run_begun", actor=actor, at=now, payload=payload)
