"""The emergency path: reason, name, duties that remain, and no closing before the centre was told."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests.factories import NOW
from tickets.models import EmergencyDig, Job

pytestmark = pytest.mark.django_db


def post(client: Client, job: Job, **given: Any) -> Any:
    return client.post(f"/jobs/{job.pk}/emergency", given)


def test_the_whole_path(clients: dict[str, Client], job: Job) -> None:
    member = clients["member"]
    before = member.get(f"/jobs/{job.pk}/emergency").content.decode()
    assert "Gas or liquid escaping: leave the area" in before
    assert "What the law here says of emergencies" in before
    assert post(member, job, act="declare", reason="Water in the boiler house.").status_code == 302
    dig = EmergencyDig.objects.get()
    assert (dig.declared_by.get_username(), dig.declared_at) == ("member", NOW)
    page = member.get(f"/jobs/{job.pk}/emergency").content.decode()
    assert "Tell the notification centre of the emergency dig at once." in page
    assert "It can be closed once the notification centre has been told." in page
    assert post(member, job, act="over").status_code == 422
    assert post(member, job, act="told-centre").status_code == 302
    assert post(member, job, act="told", operators_told_at="2026-09-16T09:58").status_code == 302
    dig.refresh_from_db()
    assert dig.centre_told_at == NOW
    assert dig.operators_told_at is not None
    assert "Emergency dig" in member.get(f"/jobs/{job.pk}/").content.decode()
    assert post(member, job, act="over").status_code == 302
    dig.refresh_from_db()
    assert dig.closed_at == NOW
    after = member.get(f"/jobs/{job.pk}/emergency").content.decode()
    assert "Declare the emergency dig" in after
    assert "Water in the boiler house." in after


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"act": "declare", "reason": "  "}, "reason", "Fill this in"),
        ({"act": "declare", "reason": "Leak.", "declared_at": "2026-09-16T11:00"}, "declared_at", "lies after now"),
        ({"act": "told"}, "centre_told_at", ""),
        ({"act": "over"}, "__all__", "No emergency dig is open"),
    ],
)
def test_refusals(office: Client, job: Job, given: dict[str, str], field: str, words: str) -> None:
    answer = post(office, job, **given)
    assert answer.status_code == 422
    errors = answer.context["wrong"].errors
    assert words in " ".join([w for one in errors.values() for w in one] if field not in errors else errors[field])
    assert EmergencyDig.objects.count() == 0


def test_twice_is_refused_and_strangers_have_no_way_in(clients: dict[str, Client], job: Job) -> None:
    post(clients["dispatcher"], job, act="declare", reason="Leak.")
    again = post(clients["dispatcher"], job, act="declare", reason="Leak.")
    assert "open on this job already" in " ".join(again.context["wrong"].errors["__all__"])
    assert post(clients["other"], job, act="told-centre").status_code == 404
    assert post(clients["stranger"], job, act="told-centre").status_code == 302
    assert EmergencyDig.objects.get().centre_told_at is None
    assert post(clients["dispatcher"], job, act="nonsense").status_code == 302
