"""Base of every view: a write is one transaction and may be sent twice.

A write may carry an id of its sender's, in the header `Idempotency-Key` or as `client_id` in its content:
sent again by the same person it changes nothing and gets the first answer again.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.http import HttpResponseBase
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter
from rest_framework.permissions import SAFE_METHODS
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from locates import clock
from locates.errors import FirstspadeError
from locates.models import AnsweredRequest
from locates.rest.problems import PROBLEM_JSON, Problem

KEY_LENGTH = 200


class KeyReused(FirstspadeError):
    code = "key_reused"


class AlreadyAnswered(Exception):
    """Ends a repeated write before its handler runs."""

    def __init__(self, answered: AnsweredRequest) -> None:
        super().__init__(answered.key)
        self.answered = answered


class Schema(AutoSchema):
    """Every operation also documents the refusal; every write the header that lets it be sent twice."""

    def get_override_parameters(self) -> list[Any]:
        found = list(super().get_override_parameters())
        if self.method in SAFE_METHODS:
            return found
        words = "An id of your own for this write; sent again with the same id it changes nothing."
        return [*found, OpenApiParameter("Idempotency-Key", str, OpenApiParameter.HEADER, description=words)]

    def _get_response_bodies(self, direction: Any = "response") -> dict[str, Any]:
        bodies = super()._get_response_bodies(direction)
        refusal = self._get_response_for_code(Problem, "default", [PROBLEM_JSON], direction)  # type: ignore[no-untyped-call]
        bodies["default"] = refusal
        bodies["default"]["description"] = "Refused, with the reason"
        return bodies


class Api(APIView):
    """Base of every view of the API (put it before the viewset class): a write is one transaction, and one
    that came with an id is answered from its first answer when it comes again."""

    schema = Schema()
    _claim: AnsweredRequest | None = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        self._claim = None
        if request.method in SAFE_METHODS or not (key := sent_key(request)):
            return
        fingerprint = fingerprint_of(request)
        # Another request with this key is waited for here: its row stands once it has been committed.
        found, is_new = AnsweredRequest.objects.get_or_create(
            person_id=request.user.pk,
            key=key,
            defaults={"fingerprint": fingerprint, "answered_at": clock.now()},
        )
        if is_new:
            self._claim = found
        elif found.fingerprint != fingerprint:
            raise KeyReused(
                f"The id {key!r} already stands for another write of yours. Send this one under a new id.",
                fields={"client_id": "used before with other content"},
            )
        else:
            raise AlreadyAnswered(found)

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.method in SAFE_METHODS:
            return super().dispatch(request, *args, **kwargs)
        with transaction.atomic():
            response = super().dispatch(request, *args, **kwargs)
            if response.status_code >= 400:
                transaction.set_rollback(True)
            elif self._claim is not None and isinstance(response, Response):
                self._claim.status = response.status_code
                rendered = JSONRenderer().render(response.data)
                self._claim.body = json.loads(rendered) if rendered else None
                self._claim.save(update_fields=["status", "body"])
        return response

    def handle_exception(self, exc: Exception) -> Response:
        if isinstance(exc, AlreadyAnswered):
            return Response(exc.answered.body, status=exc.answered.status, headers={"Idempotency-Replayed": "true"})
        return super().handle_exception(exc)


def sent_key(request: Request) -> str:
    """The sender's id of this write, or an empty text."""
    content = request.data if isinstance(request.data, Mapping) else {}
    key = str(request.headers.get("Idempotency-Key") or content.get("client_id") or "").strip()
    if len(key) > KEY_LENGTH:
        raise FirstspadeError(
            f"The id of the write has {len(key)} characters; use at most {KEY_LENGTH}.",
            code="invalid",
            fields={"client_id": "too long"},
        )
    return key


def fingerprint_of(request: Request) -> str:
    """Tells a repetition from another write under the same id. A file counts by its name and size."""

    def plain(value: Any) -> str:
        return f"{getattr(value, 'name', value)}:{getattr(value, 'size', '')}"

    content = json.dumps([request.method, request.get_full_path(), request.data], sort_keys=True, default=plain)
    return hashlib.sha256(content.encode()).hexdigest()
