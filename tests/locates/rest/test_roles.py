from __future__ import annotations

import pytest
from django.contrib.auth.models import AnonymousUser
from rest_framework.request import Request
from rest_framework.test import APIRequestFactory, force_authenticate
from rest_framework.views import APIView

from crews.models import Person, Role
from locates.rest import roles

READ, WRITE = "get", "post"
OWNER, DISPATCHER, MEMBER = Role.OWNER, Role.DISPATCHER, Role.CREW_MEMBER


def lets_in(rule: type[roles.ByRole], person: object, method: str) -> bool:
    raw = getattr(APIRequestFactory(), method)("/x")
    force_authenticate(raw, person)  # type: ignore[arg-type]
    return rule().has_permission(Request(raw), APIView())


@pytest.mark.parametrize(
    ("rule", "readers", "writers"),
    [
        (roles.OwnerOnly, {OWNER}, {OWNER}),
        (roles.OfficeOnly, {OWNER, DISPATCHER}, {OWNER, DISPATCHER}),
        (roles.OfficeWrites, {OWNER, DISPATCHER, MEMBER}, {OWNER, DISPATCHER}),
        (roles.OwnerWrites, {OWNER, DISPATCHER, MEMBER}, {OWNER}),
        (roles.EveryRole, {OWNER, DISPATCHER, MEMBER}, {OWNER, DISPATCHER, MEMBER}),
    ],
)
def test_who_is_let_in(rule: type[roles.ByRole], readers: set[str], writers: set[str]) -> None:
    people = [Person(username=role, role=role) for role in Role.values]
    assert {p.role for p in people if lets_in(rule, p, READ)} == readers
    assert {p.role for p in people if lets_in(rule, p, WRITE)} == writers
    assert not lets_in(rule, AnonymousUser(), READ)
    assert not lets_in(rule, Person(username="gone", role=OWNER, is_active=False), READ)
    assert not lets_in(rule, Person(username="odd", role="visitor"), READ)


def test_the_words_for_roles_are_those_of_the_people() -> None:
    assert {roles.OWNER, roles.DISPATCHER, roles.CREW_MEMBER} == set(Role.values)
