"""Every refusal in one shape: problem details (RFC 9457)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from http import HTTPStatus
from typing import Any

from django.core.exceptions import ValidationError as ModelValidationError
from rest_framework import exceptions, serializers
from rest_framework.response import Response
from rest_framework.views import exception_handler

from locates.errors import FirstspadeError

PROBLEM_JSON = "application/problem+json"
STATUS_OF_CODE = {"not_found": 404, "forbidden": 403, "key_reused": 422}


class Problem(serializers.Serializer):
    """Why the request was refused (RFC 9457), what to do, and which fields are at fault."""

    type = serializers.CharField(help_text="about:blank, or an address naming the kind of refusal")
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField(help_text="One sentence for a person: what was given, what is wanted, what to do")
    instance = serializers.CharField(help_text="The address that was asked")
    code = serializers.CharField(help_text="Stable word for programs")
    errors = serializers.DictField(  # type: ignore[assignment]
        child=serializers.ListField(child=serializers.CharField()),
        help_text="Messages by field; the path of a nested field is joined by dots",
    )


def problem_details(exc: Exception, context: Mapping[str, Any]) -> Response | None:
    """DRF's exception handler: any refusal as problem details; None lets a true fault be a 500.

    A FirstspadeError is 400, or 409 when its class says `conflict = True` (right input, wrong moment);
    a mapping in its attribute `members` is added to the answer.
    """
    instance = context["request"].path if context.get("request") else ""
    if isinstance(exc, FirstspadeError):
        status = STATUS_OF_CODE.get(exc.code, 409 if getattr(exc, "conflict", False) else 400)
        errors = {field: [words] for field, words in exc.fields.items()}
        return problem(status, exc.code, exc.message, instance, errors, getattr(exc, "members", None))
    if isinstance(exc, ModelValidationError):
        exc = exceptions.ValidationError(serializers.as_serializer_error(exc))
    plain = exception_handler(exc, dict(context))
    if plain is None:
        return None
    if isinstance(exc, exceptions.ValidationError):
        errors = dict(flat_errors(exc.detail))
        return problem(plain.status_code, "invalid", first_words(errors), instance, errors)
    detail = plain.data.get("detail", "") if isinstance(plain.data, dict) else ""
    code = str(getattr(detail, "code", "")) or "refused"
    answer = problem(plain.status_code, code, str(detail), instance)
    for name in ("WWW-Authenticate", "Retry-After", "Allow"):
        if plain.has_header(name):
            answer[name] = plain[name]
    return answer


def problem(
    status: int,
    code: str,
    detail: str,
    instance: str,
    errors: Mapping[str, list[str]] | None = None,
    members: Mapping[str, Any] | None = None,
) -> Response:
    """The answer itself; pages and middleware may use it as well."""
    phrase = HTTPStatus(status).phrase
    ours = status in {400, 409, 422}
    content = {
        **(members or {}),
        "type": f"/api/docs#{code}" if ours else "about:blank",
        "title": code.replace("_", " ").capitalize() if ours else phrase,
        "status": status,
        "detail": detail or phrase,
        "instance": instance,
        "code": code,
        "errors": dict(errors or {}),
    }
    return Response(content, status=status, content_type=PROBLEM_JSON)


def flat_errors(detail: Any, path: str = "") -> Iterator[tuple[str, list[str]]]:
    """DRF's nested errors as (dotted path, messages); errors of the whole go under `non_field_errors`."""
    if isinstance(detail, Mapping):
        for name, inner in detail.items():
            yield from flat_errors(inner, f"{path}.{name}" if path else str(name))
    elif isinstance(detail, list) and any(isinstance(item, Mapping | list) for item in detail):
        for index, inner in enumerate(detail):
            if inner:
                yield from flat_errors(inner, f"{path}.{index}" if path else str(index))
    else:
        words = detail if isinstance(detail, list) else [detail]
        yield path or "non_field_errors", [str(item) for item in words]


def first_words(errors: Mapping[str, list[str]]) -> str:
    """The first message with its field, and how many more there are."""
    if not errors:
        return "The content cannot be used."
    field, words = next(iter(errors.items()))
    name = "" if field == "non_field_errors" else f"{field}: "
    more = len(errors) - 1
    return f"{name}{words[0]}" + (f" ({more} more under errors)" if more else "")
