"""The law's pages say what the engine and the command say."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import call_command
from django.test import Client

from locates.law.explain import rule_lines
from locates.law.load import codes, jurisdiction

pytestmark = pytest.mark.django_db


def test_all_jurisdictions_in_one_table_with_flag_and_date(clients: dict[str, Client]) -> None:
    answer = clients["member"].get("/law/")
    rows = answer.context["rows"]
    assert {row.law.code for row in rows} == set(codes())
    assert len(rows) == 51
    page = answer.content.decode()
    unverified = [row for row in rows if not row.law.verified]
    assert page.count("<strong>Unverified</strong>") == len(unverified)
    for row in rows:
        assert row.read_on == max(source.read_on for source in row.law.sources)
    assert clients["stranger"].get("/law/").status_code == 302


@pytest.mark.parametrize("code", codes())
def test_every_rule_in_plain_words_with_its_citations(office: Client, code: str) -> None:
    answer = office.get(f"/law/{code}")
    assert answer.status_code == 200
    law = jurisdiction(code)
    newest = law.versions[-1]
    [(shown, lines), *_] = answer.context["versions"]
    assert shown == newest
    assert lines == rule_lines(newest)
    page = answer.content.decode()
    assert ("Unverified: confirm with the notification centre" in page) is not law.verified
    assert page.count("<li>") >= len(law.sources)


def test_no_such_state(office: Client) -> None:
    assert office.get("/law/ZZ").status_code == 404
    assert office.get("/law/va").headers["Location"] == "/law/VA"


@pytest.mark.parametrize(
    ("code", "zone"), [("VA", "America/New_York"), ("KS", "America/Denver"), ("OR", "America/Los_Angeles")]
)
def test_the_window_is_the_one_of_the_command(office: Client, code: str, zone: str) -> None:
    out = StringIO()
    given = {"state": code, "received": "2026-09-14T10:00", "time_zone": zone, "printed_expiry": "2026-09-25T07:00"}
    call_command("window", **given, json=True, stdout=out)
    wanted = json.loads(out.getvalue())
    asked = {"received": given["received"], "time_zone": zone, "printed_expiry": given["printed_expiry"]}
    decision = office.get(f"/law/{code}", asked).context["decision"]
    assert decision.as_json() == wanted


def test_the_part_alone_for_htmx(office: Client) -> None:
    answer = office.get(
        "/law/VA", {"received": "2026-09-14T10:00"}, headers={"HX-Request": "true", "HX-Target": "reckon"}
    )
    page = answer.content.decode()
    assert "<html" not in page
    assert "Thu 17 Sep 2026, 7:00 AM EDT" in page


@pytest.mark.parametrize(
    ("asked", "field", "words"),
    [
        ({"received": ""}, "received", "Fill this in"),
        ({"received": "soon"}, "received", "is not a date and time"),
        ({"received": "2026-03-08T02:30"}, "received", "does not exist"),
        ({"received": "2031-01-06T10:00"}, "received", "beyond"),
        ({"received": "1990-01-02T10:00"}, "received", "no rule is on file"),
        ({"received": "2026-09-14T10:00", "time_zone": "America/Denver"}, "time_zone", "available choices"),
    ],
)
def test_bad_input_is_told_beside_its_field(office: Client, asked: dict[str, str], field: str, words: str) -> None:
    answer = office.get("/law/VA", asked)
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert answer.context["decision"] is None
