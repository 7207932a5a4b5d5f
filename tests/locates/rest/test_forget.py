"""Answers of long ago go, and only those."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.conf import settings

from locates import clock
from locates.models import AnsweredRequest
from locates.rest import forget
from tests.crews.factories import PersonFactory
from tickets.tasks import forget_answered_writes

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)

pytestmark = pytest.mark.django_db


def answered(person, days_ago):
    at = NOW - timedelta(days=days_ago)
    return AnsweredRequest.objects.create(person=person, key=f"key {days_ago}", fingerprint="f", answered_at=at)


def test_only_what_is_older_than_its_time_goes():
    person = PersonFactory()
    young, old = answered(person, 89), answered(person, 91)
    assert forget.forget_answered(now=NOW) == 1
    assert list(AnsweredRequest.objects.values_list("pk", flat=True)) == [young.pk]
    assert not AnsweredRequest.objects.filter(pk=old.pk).exists()


def test_the_oldest_go_first_a_part_at_a_time(monkeypatch):
    monkeypatch.setattr(forget, "AT_ONCE", 2)
    person = PersonFactory()
    for days_ago in (100, 300, 200):
        answered(person, days_ago)
    assert forget.forget_answered(now=NOW) == 2
    assert AnsweredRequest.objects.get().key == "key 100"
    assert forget.forget_answered(now=NOW) == 1
    assert forget.forget_answered(now=NOW) == 0


def test_the_worker_is_told_to_forget_every_hour(monkeypatch):
    monkeypatch.setattr(clock, "now", lambda: NOW)
    answered(PersonFactory(), 91)
    assert forget_answered_writes() == 1
    assert forget_answered_writes.name in {entry["task"] for entry in settings.CELERY_BEAT_SCHEDULE.values()}
