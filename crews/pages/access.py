"""Which roles a page is for. Whoever has not logged in was sent to the log-in before."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from crews.models import Person, Role

Rest = ParamSpec("Rest")
View = Callable[Concatenate[HttpRequest, Rest], HttpResponse]
OFFICE = (Role.OWNER, Role.DISPATCHER)


def for_roles(*roles: str) -> Callable[[View[Rest]], View[Rest]]:
    """A view that answers 403 to every other role."""

    def wrap(view: View[Rest]) -> View[Rest]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponse:
            if person_of(request).role not in roles:
                raise PermissionDenied
            return view(request, *args, **kwargs)

        return guarded

    return wrap


def person_of(request: HttpRequest) -> Person:
    """Who asks."""
    return cast(Person, request.user)
