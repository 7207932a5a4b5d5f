"""The API's documentation page. A page for people: a stranger is sent to the log-in, not told 403."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth.mixins import LoginRequiredMixin
from drf_spectacular.views import SpectacularSwaggerSplitView
from rest_framework.request import Request
from rest_framework.response import Response

from locates.headers import NAME, policy_text


class ApiDocs(LoginRequiredMixin, SpectacularSwaggerSplitView):
    url_name = "api-schema"

    def finalize_response(self, request: Request, response: Response, *args: Any, **kwargs: Any) -> Response:
        """The page draws itself with inline styles, which no page of ours does: allowed here alone."""
        done: Response = super().finalize_response(request, response, *args, **kwargs)
        policy = {**settings.CONTENT_SECURITY_POLICY, "style-src": ["'self'", "'unsafe-inline'"]}
        done.headers[NAME] = policy_text(policy)
        return done
