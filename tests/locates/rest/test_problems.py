"""Refusals against RFC 9457 (Problem Details for HTTP APIs), section 3.1 for the members, 4.2.1 for
about:blank."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.core.exceptions import ValidationError as ModelValidationError
from django.http import Http404
from rest_framework import exceptions, serializers
from rest_framework.request import Request
from rest_framework.test import APIRequestFactory
from rest_framework.views import APIView

from locates.errors import FirstspadeError
from locates.rest.problems import first_words, flat_errors, problem_details


class Wrong(FirstspadeError):
    code = "window_closed"


class TooLate(FirstspadeError):
    code = "too_late"
    conflict = True

    @property
    def members(self) -> dict[str, str]:
        return {"first_lawful_at": "2026-09-17T11:00:00Z", "status": "never overrides"}


def answer_to(exc: Exception) -> Any:
    request = Request(APIRequestFactory().get("/api/v1/visits?page=1"))
    return problem_details(exc, {"request": request, "view": APIView(), "args": (), "kwargs": {}})


def test_bad_input_names_code_fields_and_address() -> None:
    answer = answer_to(Wrong("The window is closed. Renew the ticket.", fields={"starts_at": "after the expiry"}))
    assert answer.status_code == 400
    assert answer.content_type == "application/problem+json"
    assert answer.data == {
        "type": "/api/docs#window_closed",
        "title": "Window closed",
        "status": 400,
        "detail": "The window is closed. Renew the ticket.",
        "instance": "/api/v1/visits",
        "code": "window_closed",
        "errors": {"starts_at": ["after the expiry"]},
    }


def test_conflict_with_members_of_its_own_that_override_nothing() -> None:
    answer = answer_to(TooLate("The window closed yesterday."))
    assert answer.status_code == 409
    assert answer.data["first_lawful_at"] == "2026-09-17T11:00:00Z"
    assert answer.data["status"] == 409


@pytest.mark.parametrize(
    ("exc", "status", "title", "code"),
    [
        (Http404(), 404, "Not Found", "not_found"),
        (PermissionDenied(), 403, "Forbidden", "permission_denied"),
        (exceptions.NotAuthenticated(), 401, "Unauthorized", "not_authenticated"),
        (exceptions.MethodNotAllowed("PUT"), 405, "Method Not Allowed", "method_not_allowed"),
        (exceptions.UnsupportedMediaType("text/csv"), 415, "Unsupported Media Type", "unsupported_media_type"),
    ],
)
def test_plain_http_refusals_are_about_blank_with_the_phrase_of_the_status(
    exc: Exception, status: int, title: str, code: str
) -> None:
    answer = answer_to(exc)
    # RFC 9457, 4.2.1: with about:blank the title should be the status phrase.
    assert (answer.data["type"], answer.data["title"]) == ("about:blank", title)
    assert (answer.status_code, answer.data["status"], answer.data["code"]) == (status, status, code)
    assert answer.data["detail"]


def test_wrong_json_is_a_400_with_a_code() -> None:
    answer = answer_to(exceptions.ParseError("JSON parse error"))
    assert (answer.status_code, answer.data["code"]) == (400, "parse_error")


def test_a_true_fault_is_not_dressed_up() -> None:
    assert answer_to(ZeroDivisionError()) is None


def test_model_validation_reads_like_any_other() -> None:
    answer = answer_to(ModelValidationError({"serial": ["Taken."]}))
    assert answer.status_code == 400
    assert answer.data["errors"] == {"serial": ["Taken."]}
    assert answer.data["detail"] == "serial: Taken."


def test_nested_errors_are_flattened_by_path() -> None:
    class Operator(serializers.Serializer):
        name = serializers.CharField()

    class Ticket(serializers.Serializer):
        number = serializers.CharField()
        operators = Operator(many=True)

    form = Ticket(data={"operators": [{"name": "Gas"}, {}]})
    assert not form.is_valid()
    errors = dict(flat_errors(form.errors))
    assert set(errors) == {"number", "operators.1.name"}
    assert first_words(errors) == "number: This field is required. (1 more under errors)"


def test_errors_of_the_whole_need_no_field_name() -> None:
    errors = dict(flat_errors(["Nothing was given."]))
    assert errors == {"non_field_errors": ["Nothing was given."]}
    assert first_words(errors) == "Nothing was given."
