"""The emergency path: why it cannot wait, who says so, and the duties that remain."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from locates import cautions, clock
from locates.errors import FirstspadeError
from locates.law.load import jurisdiction
from locates.law.rule import Duty
from locates.law.window import version_on
from tickets import services
from tickets.models import EmergencyDig, Job
from tickets.pages.access import job_or_404, person_of
from tickets.pages.act_forms import EmergencyForm, NothingForm, ToldForm
from tickets.pages.fields import PageForm
from tickets.selectors import facts_of
from tickets.verdict import verdict

BEFORE_DIGGING = (cautions.EMERGENCY, cautions.POWER_STRIKE, cautions.HAND_DIG, cautions.UNKNOWN_IS_NO)


def emergency(request: HttpRequest, pk: int) -> HttpResponse:
    """Declare an emergency dig, note who was told, close it. Whoever is on the job may do each."""
    now, job = clock.now(), job_or_404(request, pk)
    dig = next((e for e in job.emergencies.all() if e.closed_at is None), None)
    if request.method != "POST":
        return _page(request, job, dig, now, {}, 200)
    act = request.POST.get("act", "")
    made = ACTS.get(act)
    if made is None:
        return redirect("job-emergency", pk=pk)
    form_class, do = made
    form = form_class(request.POST, zone=job.site.time_zone)
    if form.is_valid():
        try:
            said = do(job, dig, form.cleaned_data, person_of(request), now)
        except services.Forbidden as refused:
            raise PermissionDenied(refused.message) from None
        except FirstspadeError as refused:
            form.take(refused)
        else:
            messages.success(request, said)
            return redirect("job-emergency", pk=pk)
    return _page(request, job, dig, now, {act: form}, 422)


Do = Callable[[Job, EmergencyDig | None, dict[str, Any], Any, datetime], str]


def declare(job: Job, dig: EmergencyDig | None, given: dict[str, Any], actor: Any, now: datetime) -> str:
    services.declare_emergency(
        job=job, actor=actor, now=now, reason=given["reason"], declared_at=given["declared_at"] or None
    )
    return "The emergency dig is declared. The duties that remain stand here."


def told(job: Job, dig: EmergencyDig | None, given: dict[str, Any], actor: Any, now: datetime) -> str:
    centre, operators = given["centre_told_at"] or None, given["operators_told_at"] or None
    services.note_emergency_told(
        emergency=_open(dig), actor=actor, now=now, centre_told_at=centre, operators_told_at=operators
    )
    return "Noted who was told."


def told_centre(job: Job, dig: EmergencyDig | None, given: dict[str, Any], actor: Any, now: datetime) -> str:
    services.note_emergency_told(emergency=_open(dig), actor=actor, now=now, centre_told_at=now)
    return "Noted: the notification centre has been told."


def told_operators(job: Job, dig: EmergencyDig | None, given: dict[str, Any], actor: Any, now: datetime) -> str:
    services.note_emergency_told(emergency=_open(dig), actor=actor, now=now, operators_told_at=now)
    return "Noted: the operators have been told."


def over(job: Job, dig: EmergencyDig | None, given: dict[str, Any], actor: Any, now: datetime) -> str:
    services.close_emergency(emergency=_open(dig), actor=actor, now=now)
    return "The emergency is over. What follows needs a ticket and its wait."


def _open(dig: EmergencyDig | None) -> EmergencyDig:
    if dig is None:
        raise FirstspadeError("No emergency dig is open on this job; declare it first.")
    return dig


ACTS: dict[str, tuple[type[PageForm], Do]] = {
    "declare": (EmergencyForm, declare),
    "told": (ToldForm, told),
    "told-centre": (NothingForm, told_centre),
    "told-operators": (NothingForm, told_operators),
    "over": (NothingForm, over),
}


def _page(
    request: HttpRequest, job: Job, dig: EmergencyDig | None, now: datetime, forms: dict[str, PageForm], status: int
) -> HttpResponse:
    zone = job.site.time_zone
    wrong = next(iter(forms.values()), None)
    context = {
        "job": job,
        "zone": zone,
        "dig": dig,
        "past": [e for e in job.emergencies.all() if e.closed_at is not None],
        "verdict": verdict(facts_of([job])[job.pk].facts, now),
        "law": _law(job, now),
        "declare_form": forms.get("declare") or EmergencyForm(zone=zone),
        "told_form": forms.get("told") or ToldForm(zone=zone),
        "wrong": wrong,
        "cautions": BEFORE_DIGGING,
    }
    return render(request, "tickets/emergency.html", context, status=status)


def _law(job: Job, now: datetime) -> Duty | None:
    """What the state's law says of emergencies, where it is on file."""
    try:
        return version_on(jurisdiction(job.site.state), now, job.site.time_zone).duties.get("emergency")
    except FirstspadeError:
        return None
