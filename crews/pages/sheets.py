"""Files of the register: import with a preview, export, the labels' sheet, the calendar of due dates."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseForbidden, HttpResponseNotAllowed
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from icalendar import Calendar, Event

from crews import selectors, services
from crews.equipment.custody import Where
from crews.models import CalendarAddress, Equipment, ImportDraft, Role
from crews.pages.access import OFFICE, for_roles, person_of
from crews.pages.care_forms import SheetForm
from crews.pages.labels import MOST_LABELS, label_sheet
from crews.pages.refusal import tell
from crews.register.sheet import COLUMNS, as_csv, as_xlsx
from crews.register.year_money import GONE
from crews.services.papers import digest
from locates import clock
from locates.errors import FirstspadeError

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
SHOWN = 20


@require_http_methods(["GET", "POST"])
@for_roles(Role.OWNER)
def read_in(request: HttpRequest) -> HttpResponse:
    """Choose a file and see what it would add; every bad cell is named and nothing is saved."""
    form = SheetForm(request.POST, request.FILES) if request.method == "POST" else SheetForm()
    context: dict[str, Any] = {"form": form, "columns": COLUMNS}
    status = 200
    if request.method == "POST":
        status = 400
        if form.is_valid():
            given = form.cleaned_data["file"]
            try:
                checked, draft = services.draft_import(
                    file_name=given.name, content=given.read(), actor=person_of(request), now=clock.now()
                )
            except FirstspadeError as refused:
                status = tell(form, refused)
            else:
                status = 200 if draft is not None else 400
                context |= {"checked": checked, "draft": draft, "rows": checked.rows[:SHOWN], "file": given.name}
    return render(request, "crews/equipment/import.html", context, status=status)


@require_POST
@for_roles(Role.OWNER)
def take_in(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Add the rows of a checked draft of one's own."""
    draft = get_object_or_404(ImportDraft, pk=draft_id, by=person_of(request))
    try:
        made = services.import_draft(draft=draft, actor=person_of(request), now=clock.now())
    except FirstspadeError as refused:
        messages.error(request, refused.message)
        return redirect("equipment-import")
    messages.success(request, f"{len(made)} items are in the register.")
    return redirect("equipment")


@require_GET
@for_roles(*OFFICE)
def export(request: HttpRequest, ending: str) -> HttpResponse:
    """The whole register as CSV or XLSX."""
    if ending not in {"csv", "xlsx"}:
        raise Http404
    items = Equipment.objects.select_related("crew").order_by("name", "id").iterator(chunk_size=2000)
    content = as_csv(items) if ending == "csv" else as_xlsx(items)
    answer = HttpResponse(content, content_type="text/csv; charset=utf-8" if ending == "csv" else XLSX)
    answer["Content-Disposition"] = (
        f'attachment; filename="equipment-{selectors.company_today(clock.now())}.{ending}"'
    )
    return answer


@require_GET
@for_roles(*OFFICE)
def labels(request: HttpRequest) -> HttpResponse:
    """A PDF sheet of labels for the items asked for by `item`, or for those of a crew or kit."""
    chosen = Equipment.objects.exclude(place__in=GONE).order_by("name", "id")
    wanted = [int(pk) for pk in request.GET.getlist("item") if pk.isdigit()]
    if wanted:
        chosen = chosen.filter(pk__in=wanted)
    elif request.GET.get("crew", "").isdigit():
        chosen = chosen.filter(crew_id=int(request.GET["crew"]))
    elif request.GET.get("kit", "").isdigit():
        chosen = chosen.filter(kit_id=int(request.GET["kit"]))
    items = list(chosen[:MOST_LABELS])
    if not items:
        messages.error(request, "No item to print a label for.")
        return redirect("equipment")
    address = request.build_absolute_uri(reverse("equipment-scan", args=["CODE"])).removesuffix("CODE")
    answer = HttpResponse(label_sheet(items, address), content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return answer


@require_http_methods(["GET", "POST"])
@for_roles(*OFFICE)
def calendar_address(request: HttpRequest) -> HttpResponse:
    """Make a private address for a calendar program; it is shown once."""
    context: dict[str, Any] = {}
    if request.method == "POST":
        secret = services.make_calendar_address(actor=person_of(request), now=clock.now())
        context["address"] = request.build_absolute_uri(reverse("equipment-calendar", args=[secret]))
    standing = CalendarAddress.objects.filter(person=person_of(request), ended_at=None).first()
    return render(request, "crews/equipment/calendar.html", {**context, "standing": standing})


@csrf_exempt
@login_not_required
def due_calendar(request: HttpRequest, secret: str) -> HttpResponse:
    """Due dates as iCalendar (RFC 5545) for whoever has the secret address and still runs the office."""
    found = CalendarAddress.objects.select_related("person").filter(secret_sha256=digest(secret), ended_at=None)
    address = found.first()
    if address is None or not address.person.is_active or not address.person.runs_the_office:
        return HttpResponseForbidden("This address is not in use. Make a new one on the equipment's calendar page.")
    if request.method not in {"GET", "HEAD"}:
        return HttpResponseNotAllowed(["GET", "HEAD"])
    answer = HttpResponse(calendar_of(request, clock.now()), content_type="text/calendar; charset=utf-8")
    answer["Cache-Control"] = "private, no-store"
    return answer


def calendar_of(request: HttpRequest, now: datetime) -> bytes:
    """One whole-day event an item, on its due day."""
    book = Calendar()
    book.add("prodid", "-//Firstspade//Equipment due//EN")
    book.add("version", "2.0")
    book.add("x-wr-calname", "Equipment due")
    horizon = selectors.company_today(now) + timedelta(days=400)
    gone = [*GONE, str(Where.REPAIR)]
    items = Equipment.objects.filter(due_on__lte=horizon).exclude(place__in=gone).select_related("crew", "person")
    for item in items.order_by("due_on", "id"):
        assert item.due_on is not None
        event = Event()
        event.add("uid", f"equipment-{item.pk}-due@{request.get_host()}")
        event.add("dtstamp", now)
        event.add("dtstart", item.due_on)
        event.add("dtend", item.due_on + timedelta(days=1))
        event.add("summary", f"{item.due_title or 'Calibration'} due: {item.name}")
        event.add(
            "description", f"Serial {item.serial}. {item.place_words}. Not to be planned for this day or later."
        )
        event.add("transp", "TRANSPARENT")
        book.add_component(event)
    return bytes(book.to_ical())
