"""The chart of dig windows and its table."""

from __future__ import annotations

from datetime import timedelta
from typing import cast

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from crews.board.forms import SPANS, BoardForm
from crews.board.legend import LEGEND
from crews.board.rows import found_jobs, lay_board, tallies
from crews.models import Person
from crews.selectors import company_today
from locates import clock

ROWS_A_PAGE = 20


@require_safe
def windows(request: HttpRequest) -> HttpResponseBase:
    """Every job's dig window on one time axis; the whole page, or the part below the filters."""
    person = cast(Person, request.user)
    if not person.runs_the_office:
        return redirect("/today/")
    now = clock.now()
    today = company_today(now)
    form = BoardForm(request.GET)
    filters, days, first = form.filters(), form.chosen_days(), form.chosen_first(today)
    page = Paginator(found_jobs(person, filters), ROWS_A_PAGE).get_page(request.GET.get("page"))
    board = lay_board(list(page.object_list), first, days, now, today)
    step = timedelta(days=days // 7 * 7)  # whole weeks, so that weekdays stay in their places
    counted = tallies(person, filters)
    content = {
        "form": form,
        "board": board,
        "page": page,
        "tallies": counted,
        "total": sum(tally.count for tally in counted),
        "filtered": any((filters.states, filters.crew_id, filters.place, filters.text)),
        "days": days,
        "spans": SPANS,
        "first": first,
        "last": board.scale.columns[-1].day,
        "earlier": first - step,
        "later": first + step,
        "today": today,
        "as_table": form.wants_table(),
        "legend": LEGEND,
        "now": now,
        "company_zone": timezone.get_default_timezone_name(),
        "back_query": urlencode({"back": request.get_full_path()}),
    }
    part = request.htmx and not request.htmx.history_restore_request  # type: ignore[attr-defined]
    name = "crews/board/part.html" if part else "crews/board/windows.html"
    answer: HttpResponse = render(request, name, content)
    patch_vary_headers(answer, ["HX-Request"])
    return answer
