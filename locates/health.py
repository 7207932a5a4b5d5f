"""One address that says whether the web server and its database answer."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@require_safe
@never_cache
@login_not_required
def health(request: HttpRequest) -> JsonResponse:
    """200 when the database answers, 503 when not; tells nothing else to strangers."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            cursor.fetchone()
    except DatabaseError:
        return JsonResponse({"status": "database does not answer"}, status=503)
    return JsonResponse({"status": "ok"})
