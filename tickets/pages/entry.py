"""The entry pages: a job with its ticket on one page, a further ticket, a dig area. All or nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render

from locates import clock
from locates.errors import FirstspadeError
from tickets import services
from tickets.models import Job, Site
from tickets.pages.access import office_only, person_of
from tickets.pages.fields import PageForm
from tickets.pages.job_form import AREA_NAMES, JobForm
from tickets.pages.reckoning import Look, look_at
from tickets.pages.ticket_form import SAME, TicketForm

WRONG = 422


class Refused(Exception):
    """Ends the transaction of an entry; the words stand in the forms already."""


@contextmanager
def beside(form: PageForm, names: Mapping[str, str] | None = None) -> Iterator[None]:
    """Puts a service's refusal beside the form's fields and undoes the whole entry."""
    try:
        yield
    except FirstspadeError as refused:
        if isinstance(form, TicketForm):
            form.take_ticket(refused)
        else:
            form.take(refused, names)
        raise Refused from None


@office_only
def job_new(request: HttpRequest) -> HttpResponse:
    """Enter a job and its ticket. `look` asks for the window alone, `rows` for more rows."""
    now = clock.now()
    if request.method != "POST":
        return _page(request, JobForm(), TicketForm(initial=_first_ticket(request)), now, Look(missing=_START))
    job = JobForm(request.POST)
    job.full_clean()
    ticket = _ticket_form(request.POST, job)
    ticket.full_clean()
    look = _look(job, ticket, now)
    if "look" in request.POST or "rows" in request.POST:
        return _looked(request, job, ticket, look)
    has_notice = request.POST.get("notice") == "given"
    if job.is_valid() and (ticket.is_valid() or not has_notice):
        try:
            made = _save(job, ticket if has_notice else None, person_of(request), now)
        except Refused:
            pass
        else:
            messages.success(request, f"Job {made.number} is entered.")
            return redirect("job", pk=made.pk)
    return _page(request, job, ticket, now, look, status=WRONG)


_START = "Give the site's position and when the notice was received; the window is shown here before you save."


def _first_ticket(request: HttpRequest) -> dict[str, Any]:
    return {"given_by_name": str(person_of(request))}


def _ticket_form(data: QueryDict, job: JobForm) -> TicketForm:
    form = TicketForm(data, position=job.position, zone=job.zone)
    return form


@transaction.atomic
def _save(job: JobForm, ticket: TicketForm | None, actor: Any, now: datetime) -> Job:
    given = job.cleaned_data
    customer = given["customer"]
    if customer is None:
        with beside(job, {"name": "customer_name", "phone": "customer_phone"}):
            customer = services.create_customer(
                actor=actor, name=given["customer_name"], phone=given["customer_phone"], now=now
            )
    area = job.dig_area()
    with beside(job, {f"dig_areas.0.{name}": field for name, field in AREA_NAMES.items()}):
        made = services.create_job(
            actor=actor,
            now=now,
            customer=customer,
            title=given["title"],
            work=given["work"],
            number=given["number"],
            private_lines_likely=given["private_lines_likely"],
            dig_areas=[] if area is None else [area],
            **job.site(),
        )
    if ticket is not None:
        notice = ticket.notice()
        if ticket.cleaned_data["area_way"] == SAME:
            notice["area"] = job.polygon
        with beside(ticket):
            services.enter_ticket(job=made, actor=actor, now=now, **notice)
    return made


def _look(job: JobForm, ticket: TicketForm, now: datetime) -> Look:
    given, place = job.cleaned_data, job.place
    site = None
    asked = [*job.errors.get("state", []), *job.errors.get("time_zone", [])]
    if place is not None and not asked:
        site = Site(
            town=given.get("town", ""),
            county=place.county_name,
            state=place.state_code,
            time_zone=place.time_zone,
        )
    if asked:
        return Look(missing="Whose law and which clock hold must be chosen first.")
    return look_at(site=site, kind=ticket.cleaned_data.get("kind", ""), notice=ticket.cleaned_data, now=now)


_LOOKED_AT = ("latitude", "longitude", "state", "time_zone")
_FROM_PLACE = ("state", "time_zone")  # found fault with though empty: the position asks for them
_LOOKED_AT_TICKET = ("received_at", "printed_start_at", "printed_expiry_at", "stated_start_at")


def _looked(request: HttpRequest, job: JobForm, ticket: TicketForm, look: Look) -> HttpResponse:
    """The window alone, or the whole page with it; only what bears on the window is found fault with."""
    data = request.POST
    wrong = [w for n in _LOOKED_AT if data.get(n) or n in _FROM_PLACE for w in job.errors.get(n, [])]
    wrong += [w for n in _LOOKED_AT_TICKET if data.get(n) for w in ticket.errors.get(n, [])]
    if getattr(request, "htmx", False) and "look" in data:
        return render(request, "tickets/parts/look.html", {"look": look, "look_errors": wrong})
    keep(job, _LOOKED_AT)
    keep(ticket, _LOOKED_AT_TICKET)
    context = {"job": job, "ticket": ticket, "look": look, "look_errors": (), "has_notice": _has_notice(data)}
    return render(request, "tickets/job_new.html", context)


def keep(form: PageForm, names: tuple[str, ...]) -> None:
    """Drop the errors of fields that nobody has asked about yet."""
    for name in [n for n in form.errors if n not in names or not (form.data.get(n) or n in _FROM_PLACE)]:
        del form.errors[name]


def _has_notice(data: QueryDict) -> bool:
    return data.get("notice", "given") == "given"


def _page(
    request: HttpRequest, job: JobForm, ticket: TicketForm, now: datetime, look: Look, status: int = 200
) -> HttpResponse:
    has_notice = request.method != "POST" or _has_notice(request.POST)
    if not has_notice:
        ticket.errors.clear()
    context = {"job": job, "ticket": ticket, "look": look, "has_notice": has_notice, "now": now}
    return render(request, "tickets/job_new.html", context, status=status)
