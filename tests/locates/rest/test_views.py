"""A write is one transaction and may be sent twice.

The refusals of a reused key follow the IETF draft "The Idempotency-Key HTTP Header Field"
(draft-ietf-httpapi-idempotency-key-header, from memory: 422 when the content differs).
"""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework import serializers
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.test import APIRequestFactory, force_authenticate

from crews.models import Crew, Person
from locates.errors import FirstspadeError
from locates.models import AnsweredRequest
from locates.rest.fields import Instant
from locates.rest.page import Page
from locates.rest.views import Api
from tests.crews.factories import CrewFactory, PersonFactory

pytestmark = pytest.mark.django_db


class AddCrew(Api):
    permission_classes = [IsAuthenticated]

    def post(self, request: Request) -> Response:
        crew = CrewFactory(name=request.data["name"])
        if request.data.get("then") == "refuse":
            raise FirstspadeError("No.", code="no")
        if request.data.get("then") == "answer 409":
            return Response({}, status=409)
        return Response({"id": crew.pk, "name": crew.name}, status=201)

    def delete(self, request: Request) -> Response:
        Crew.objects.all().delete()
        return Response(status=204)


def send(person: Person | None, content: Any, key: str = "", method: str = "post", path: str = "/x") -> Response:
    headers = {"Idempotency-Key": key} if key else {}
    request = getattr(APIRequestFactory(), method)(path, content, format="json", headers=headers)
    if person is not None:
        force_authenticate(request, person)
    response = AddCrew.as_view()(request)
    response.render()
    return response


@pytest.fixture
def person() -> Person:
    return PersonFactory()


def test_sent_twice_under_one_key_is_done_once(person: Person) -> None:
    first = send(person, {"name": "A"}, "k1")
    again = send(person, {"name": "A"}, "k1")
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.data == again.data
    assert again["Idempotency-Replayed"] == "true"
    assert not first.has_header("Idempotency-Replayed")
    assert Crew.objects.count() == 1


def test_an_id_in_the_content_serves_as_well(person: Person) -> None:
    first = send(person, {"name": "A", "client_id": "k1"})
    assert send(person, {"name": "A", "client_id": "k1"}).data == first.data
    assert Crew.objects.count() == 1


def test_an_answer_without_content_is_repeated_too(person: Person) -> None:
    assert send(person, {}, "k1", "delete").status_code == 204
    CrewFactory()
    again = send(person, {}, "k1", "delete")
    assert (again.status_code, again.data) == (204, None)
    assert Crew.objects.count() == 1


def test_without_a_key_each_write_counts(person: Person) -> None:
    send(person, {"name": "A"})
    send(person, {"name": "B"})
    assert Crew.objects.count() == 2
    assert not AnsweredRequest.objects.exists()


def test_the_same_key_for_another_write_is_refused(person: Person) -> None:
    send(person, {"name": "A"}, "k1")
    for other in (send(person, {"name": "B"}, "k1"), send(person, {"name": "A"}, "k1", path="/y")):
        assert other.status_code == 422
        assert other.data["code"] == "key_reused"
    assert [crew.name for crew in Crew.objects.all()] == ["A"]


def test_keys_are_each_persons_own(person: Person) -> None:
    send(person, {"name": "A"}, "k1")
    assert send(PersonFactory(), {"name": "B"}, "k1").status_code == 201
    assert Crew.objects.count() == 2


@pytest.mark.parametrize("then", ["refuse", "answer 409"])
def test_a_refused_write_leaves_nothing_and_may_be_tried_again(person: Person, then: str) -> None:
    refused = send(person, {"name": "A", "then": then}, "k1")
    assert refused.status_code >= 400
    assert not Crew.objects.exists()
    assert not AnsweredRequest.objects.exists()
    assert send(person, {"name": "A"}, "k1").status_code == 201


def test_a_fault_leaves_nothing(person: Person) -> None:
    with pytest.raises(KeyError):
        send(person, {"no name": 1}, "k1")
    assert not AnsweredRequest.objects.exists()


def test_a_stranger_leaves_no_trace() -> None:
    assert send(None, {"name": "A"}, "k1").status_code == 403
    assert not AnsweredRequest.objects.exists()


def test_an_endless_key_is_refused(person: Person) -> None:
    refused = send(person, {"name": "A"}, "k" * 201)
    assert refused.status_code == 400
    assert "201 characters" in refused.data["detail"]


def test_wrong_json_is_refused_with_words(person: Person) -> None:
    request = APIRequestFactory().generic("POST", "/x", b"{not json", content_type="application/json")
    force_authenticate(request, person)
    response = AddCrew.as_view()(request)
    assert (response.status_code, response.data["code"]) == (400, "parse_error")


def test_an_instant_without_offset_is_refused_and_given_back_in_utc() -> None:
    class Form(serializers.Serializer):
        at = Instant()

    naive = Form(data={"at": "2026-09-17T07:00"})
    assert not naive.is_valid()
    assert "offset" in str(naive.errors["at"][0])
    form = Form(data={"at": "2026-09-17T07:00-04:00"})
    assert form.is_valid()
    assert Form({"at": form.validated_data["at"]}).data == {"at": "2026-09-17T11:00:00Z"}


def test_a_page_holds_fifty_and_at_most_two_hundred() -> None:
    def size(query: str) -> int | None:
        return Page().get_page_size(Request(APIRequestFactory().get(f"/x{query}")))

    assert (size(""), size("?page_size=20"), size("?page_size=9999")) == (50, 20, 200)
