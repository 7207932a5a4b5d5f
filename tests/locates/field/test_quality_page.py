"""Quality levels by stretches: decided by method and evidence, never by wish."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client

from locates.field.models import Backing, Run
from tests.locates.field.making import RECEIVER, add, follow, start
from tickets.models import EvidenceEntry, Job

pytestmark = pytest.mark.usefixtures("frozen_now")
WORDS = "Surveyed Tue 15 Sep by the survey crew, sheet 3."


def surveyed(job: Job, actor: Any, **given: Any) -> Run:
    """A clean line by RTK: peak and null together, both 45-degree walk-offs at the depth."""
    run = start(job, actor, position_by="rtk", **given)
    for x in range(0, 18, 3):
        add(run, actor, x, 9.0, null_off="0", left_45="30", right_45="30", accuracy_m=0.04)
    run.refresh_from_db()
    return run


@pytest.fixture
def run(job: Job, people: dict[str, Any]) -> Run:
    return surveyed(job, people["member"])


def record(client: Client, run: Run, kind: str, **given: Any) -> Any:
    given = {"client_id": str(uuid.uuid4()), "kind": kind, "words": WORDS, **given}
    return client.post(f"/locates/runs/{run.pk}/quality", given)


def levels(run: Run) -> list[tuple[str, str]]:
    run.refresh_from_db()
    return [(one["supports"], one["claim"]) for one in run.result["quality"]]


def test_geophysics_alone_is_d_and_says_what_is_missing(clients: dict[str, Client], run: Run) -> None:
    assert levels(run) == [("D", "D")]
    page = clients["member"].get(f"/locates/runs/{run.pk}/quality").content.decode()
    assert "no professional judged the readings" in page
    assert "A professional who judges and seals the level." in page


def test_judged_it_bears_b_and_only_a_seal_lets_b_be_stated(clients: dict[str, Client], run: Run) -> None:
    assert record(clients["member"], run, "judged").status_code == 302
    assert levels(run) == [("B", "D")]
    answer = record(clients["member"], run, "sealed")
    assert answer.status_code == 400
    assert "owner or a dispatcher" in str(answer.context["form"].errors)
    assert levels(run) == [("B", "D")]
    assert record(clients["owner"], run, "sealed").status_code == 302
    assert levels(run) == [("B", "B")]
    kinds = [e.payload["kind"] for e in EvidenceEntry.objects.filter(kind="locate_backing_added").order_by("pk")]
    assert kinds == ["judged", "sealed"]


def test_a_phones_positions_need_the_survey_too(clients: dict[str, Client], job: Job, people: dict[str, Any]) -> None:
    run = start(job, people["member"])
    for x in range(0, 18, 3):
        add(run, people["member"], x, 9.0, null_off="0", left_45="30", right_45="30")
    record(clients["member"], run, "judged")
    assert levels(run) == [("D", "D")]
    record(clients["member"], run, "surveyed")
    assert levels(run) == [("B", "D")]


def test_records_and_surveyed_features_are_c(clients: dict[str, Client], job: Job, people: dict[str, Any]) -> None:
    run = start(job, people["member"], method="records", frequency_hz=None, devices=())
    for x in range(0, 12, 3):
        add(run, people["member"], x, 9.0, depth="")
    assert levels(run) == [("D", "D")]
    record(clients["member"], run, "features")
    assert levels(run) == [("C", "D")]


def test_a_hole_is_a_at_its_own_place_only(clients: dict[str, Client], run: Run, people: dict[str, Any]) -> None:
    add(run, people["member"], 18, 9.0, depth="29", measured_within="1 in", target_verified=True, accuracy_m=0.04)
    assert levels(run)[-1] == ("A", "D")
    assert set(levels(run)[:-1]) == {("D", "D")}
    last = run.result["quality"][-1]
    assert last["to_m"] - last["from_m"] == pytest.approx(0.5, abs=0.01)
    page = clients["member"].get(f"/locates/runs/{run.pk}/quality").content.decode()
    assert "Exposed at point 7" in page


def test_a_hole_measured_roughly_or_not_verified_is_not_a(run: Run, people: dict[str, Any]) -> None:
    add(run, people["member"], 18, 9.0, depth="29", measured_within="3 in", target_verified=True, accuracy_m=0.04)
    add(run, people["member"], 21, 9.0, depth="29", measured_within="1 in", accuracy_m=0.04)
    assert {supports for supports, _ in levels(run)} == {"D"}


def other(job: Job, actor: Any, y_m: float, method: str = "induction", **given: Any) -> Run:
    run = start(job, actor, method=method, position_by="rtk", devices=(RECEIVER,), **given)
    for x in range(0, 18, 3):
        add(run, actor, x, y_m, accuracy_m=0.04)
    run.refresh_from_db()
    return run


def test_that_two_methods_agree_is_compared_not_believed(
    clients: dict[str, Client], job: Job, run: Run, people: dict[str, Any]
) -> None:
    member = people["member"]
    off, same, twice = other(job, member, 10.2), other(job, member, 9.01), other(job, member, 9.0, "direct")
    for wrong, words in (
        (None, "Choose the other run"),
        (off.pk, "do not agree"),
        (twice.pk, "not one twice"),
    ):
        answer = record(clients["member"], run, "agree", other_run=wrong or "")
        assert answer.status_code == 400
        assert words in answer.context["form"].errors["other_run"][0]
    assert not Backing.objects.exists()
    assert record(clients["member"], run, "agree", other_run=same.pk).status_code == 302
    assert "at the worst place" in Backing.objects.get().figure_words


def test_withdrawn_it_no_longer_counts_and_stays_on_file(clients: dict[str, Client], run: Run) -> None:
    record(clients["member"], run, "judged")
    made = Backing.objects.get()
    address = f"/locates/runs/{run.pk}/quality/{made.pk}/out"
    assert clients["other"].post(address, {"words": "x"}).status_code == 404
    clients["member"].post(address, {"words": ""})
    assert levels(run) == [("B", "D")]
    clients["member"].post(address, {"words": "Wrong sheet"})
    assert levels(run) == [("D", "D")]
    assert "Wrong sheet" in clients["member"].get(f"/locates/runs/{run.pk}/quality").content.decode()


def test_the_same_is_not_recorded_twice_and_needs_words(clients: dict[str, Client], run: Run) -> None:
    assert "by whom" in str(record(clients["member"], run, "judged", words="ok").context["form"].errors["words"])
    record(clients["member"], run, "judged")
    assert record(clients["member"], run, "judged").status_code == 400
    assert Backing.objects.count() == 1


def test_a_line_with_doubts_is_not_b(clients: dict[str, Client], job: Job, people: dict[str, Any]) -> None:
    run = follow(start(job, people["member"], position_by="rtk"), people["member"], count=4)
    add(run, people["member"], 12, 9.0, null_off="8", accuracy_m=0.04)
    record(clients["member"], run, "judged")
    assert "D" in {supports for supports, _ in levels(run)}
