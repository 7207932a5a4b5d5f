"""Pages of a ticket on a job that is there already: a further one, a correction; and of more ground."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from locates import clock
from tickets import services
from tickets.gathering import work_begun
from tickets.models import Job, Ticket
from tickets.pages.access import job_or_404, office_only, person_of, ticket_or_404
from tickets.pages.correct_form import CorrectForm
from tickets.pages.entry import WRONG, Refused, beside, keep
from tickets.pages.ground_form import OUTLINE, RECTANGLE
from tickets.pages.job_form import AREA_NAMES, DigAreaForm
from tickets.pages.reckoning import Look, look_at
from tickets.pages.ticket_form import (
    FIRST_KINDS,
    INSTANTS,
    OF_TICKET,
    SAME,
    WORDS_ONLY,
    TicketForm,
    prefilled,
    rows_of,
)
from tickets.states import TicketKind
from tickets.verdict.areas import parse_area

FOLLOWING = {
    TicketKind.RENEWAL: "Renew ticket {}",
    TicketKind.SECOND_NOTICE: "Second notice on ticket {}",
    TicketKind.RE_MARK: "Re-mark on ticket {}",
}


@office_only
def ticket_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A further ticket: a new one, or `?kind=renewal&of=<ticket>` and its like, prefilled."""
    now, job = clock.now(), job_or_404(request, pk)
    kind, of = _following(request, job)
    shape = _shape(job, kind, of)
    if request.method != "POST":
        form = TicketForm(**shape, **_start(request, job, kind, of, now))
        return _page(request, job, form, of, kind, _look(job, form, of, {"received_at": now} if of else {}, now))
    form = TicketForm(request.POST, **shape)
    form.full_clean()
    look = _look(job, form, of, form.cleaned_data, now)
    if "look" in request.POST or "rows" in request.POST:
        wrong = [w for n in INSTANTS if request.POST.get(n) for w in form.errors.get(n, [])]
        if getattr(request, "htmx", False) and "look" in request.POST:
            return render(request, "tickets/parts/look.html", {"look": look, "look_errors": wrong})
        keep(form, INSTANTS)
        return _page(request, job, form, of, kind, look)
    if form.is_valid():
        try:
            made = _enter(job, form, of, person_of(request), now)
        except Refused:
            pass
        else:
            messages.success(request, f"Ticket {made.number} is entered.")
            return redirect("job", pk=job.pk)
    return _page(request, job, form, of, kind, look, WRONG)


def _following(request: HttpRequest, job: Job) -> tuple[TicketKind | None, Ticket | None]:
    """The kind asked for and the ticket it belongs to."""
    asked, of = request.GET.get("kind", ""), request.GET.get("of", "")
    if not asked and not of:
        return None, None
    if asked not in FOLLOWING or not (of.isascii() and of.isdigit() and len(of) < 19):
        raise Http404
    return TicketKind(asked), ticket_or_404(request, job.pk, int(of))


def _shape(job: Job, kind: TicketKind | None, of: Ticket | None) -> dict[str, Any]:
    ways: tuple[str, ...] = (SAME, RECTANGLE, OUTLINE, WORDS_ONLY)
    if of is not None and of.area is not None:
        ways = (OF_TICKET, *ways)
    return {
        "zone": job.site.time_zone,
        "position": (job.site.latitude, job.site.longitude),
        "kinds": FIRST_KINDS if kind is None else (kind,),
        "ways": ways,
    }


def _start(
    request: HttpRequest, job: Job, kind: TicketKind | None, of: Ticket | None, now: datetime
) -> dict[str, Any]:
    giver = str(person_of(request))
    if kind is None or of is None:
        return {"initial": {"given_by_name": giver}}
    return {"initial": prefilled(of, kind, now, job.site.time_zone, giver), "operators": rows_of(of)}


def _look(job: Job, form: TicketForm, of: Ticket | None, notice: Mapping[str, Any], now: datetime) -> Look:
    kind = notice.get("kind") or form["kind"].initial or TicketKind.NORMAL
    begun = None
    if of is not None and kind == TicketKind.RENEWAL:
        begun = work_begun(of, {ticket.pk: ticket for ticket in job.tickets.all()})
    return look_at(site=job.site, kind=str(kind), notice=notice, now=now, begun_at=begun)


@transaction.atomic
def _enter(job: Job, form: TicketForm, of: Ticket | None, actor: Any, now: datetime) -> Ticket:
    notice = form.notice()
    way = form.cleaned_data["area_way"]
    if way == SAME:
        notice["area"] = dug_ground(job)
    elif way == OF_TICKET and of is not None:
        notice["area"] = of.area
    relative = "renews" if notice["kind"] == TicketKind.RENEWAL else "follows"
    if of is not None:
        notice[relative] = of
    with beside(form):
        return services.enter_ticket(job=job, actor=actor, now=now, **notice)


def dug_ground(job: Job) -> dict[str, Any] | None:
    """All the job's dig areas as one GeoJSON area; None when there is none."""
    areas = [area.polygon for area in job.dig_areas.all()]
    if len(areas) < 2:
        return areas[0] if areas else None
    joined = parse_area(areas[0])
    for area in areas[1:]:
        joined = joined.union(parse_area(area))
    return _geojson(joined)


def _geojson(area: Any) -> dict[str, Any]:
    plain: dict[str, Any] = area.__geo_interface__
    return {"type": plain["type"], "coordinates": _lists(plain["coordinates"])}


def _lists(value: Any) -> Any:
    return [_lists(inner) for inner in value] if isinstance(value, (list, tuple)) else value


def _page(
    request: HttpRequest,
    job: Job,
    form: TicketForm,
    of: Ticket | None,
    kind: TicketKind | None,
    look: Look,
    status: int = 200,
) -> HttpResponse:
    title = "Enter a ticket" if kind is None or of is None else FOLLOWING[kind].format(of.number)
    context = {"job": job, "ticket": form, "of": of, "title": title, "look": look, "zone": job.site.time_zone}
    return render(request, "tickets/ticket_new.html", context, status=status)


@office_only
def ticket_correct(request: HttpRequest, pk: int, ticket_pk: int) -> HttpResponse:
    """Correct what was entered; the log keeps both readings and the reason."""
    now, job = clock.now(), job_or_404(request, pk)
    ticket = ticket_or_404(request, pk, ticket_pk)
    form = CorrectForm(request.POST if request.method == "POST" else None, ticket=ticket, zone=job.site.time_zone)
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic(), beside(form, {"non_field_errors": "reason"}):
                services.correct_ticket(
                    ticket=ticket,
                    actor=person_of(request),
                    now=now,
                    reason=form.cleaned_data["reason"],
                    **form.changes(dug_ground(job)),
                )
        except Refused:
            pass
        else:
            messages.success(request, f"Ticket {ticket.number} is corrected.")
            return redirect("job", pk=job.pk)
    status = WRONG if form.errors else 200
    return render(request, "tickets/ticket_correct.html", {"job": job, "of": ticket, "form": form}, status=status)


@office_only
def dig_area_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Draw ground that the job opens."""
    now, job = clock.now(), job_or_404(request, pk)
    position = (job.site.latitude, job.site.longitude)
    data = request.POST if request.method == "POST" else None
    form = DigAreaForm(data, position=position, zone=job.site.time_zone)
    if request.method == "POST" and form.is_valid():
        area = form.dig_area() or {}
        try:
            with transaction.atomic(), beside(form, AREA_NAMES):
                services.add_dig_area(job=job, actor=person_of(request), now=now, **area)
        except Refused:
            pass
        else:
            messages.success(request, "The dig area is drawn.")
            return redirect("job", pk=job.pk)
    status = WRONG if form.errors else 200
    return render(request, "tickets/dig_area_new.html", {"job": job, "form": form}, status=status)
