"""Who may open which page, and the job that a page is about."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse

from tickets.models import Job, Ticket
from tickets.selectors import job_detail, ticket_detail

View = TypeVar("View", bound=Callable[..., HttpResponse])


def person_of(request: HttpRequest) -> Any:
    """Who is logged in. The middleware lets nobody else through."""
    return request.user


def office_only(view: View) -> View:
    """Owner and dispatcher; a crew member is refused."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not person_of(request).runs_the_office:
            raise PermissionDenied("Only the owner or a dispatcher may do this. Ask one of them.")
        return view(request, *args, **kwargs)

    return guarded  # type: ignore[return-value]


def owner_only(view: View) -> View:
    """The owner alone."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not person_of(request).is_owner:
            raise PermissionDenied("Only the owner may do this. Ask the owner.")
        return view(request, *args, **kwargs)

    return guarded  # type: ignore[return-value]


def job_or_404(request: HttpRequest, pk: int) -> Job:
    """The job with its facts; 404 also when it is not this person's to see."""
    try:
        return job_detail(pk, person_of(request))
    except Job.DoesNotExist:
        raise Http404 from None


def ticket_or_404(request: HttpRequest, job_id: int, pk: int) -> Ticket:
    """A ticket of this job."""
    try:
        found = ticket_detail(pk, person_of(request))
    except Ticket.DoesNotExist:
        raise Http404 from None
    if found.job_id != job_id:
        raise Http404
    return found
