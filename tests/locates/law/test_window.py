"""From a state and an instant to a window; local times as a person writes them; the commands."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime, timedelta

import pytest
from django.core.management import CommandError, call_command

from locates.errors import FirstspadeError
from locates.law.explain import law_text, rule_lines
from locates.law.load import codes, jurisdiction
from locates.law.local_time import BadInstant, read_instant
from locates.law.window import NoticeTooFarAhead, NoVersionInForce, ZoneNeeded, window_for

NOON = datetime(2026, 9, 16, 16, 0, tzinfo=UTC)


def run(*arguments):
    out = io.StringIO()
    call_command(*arguments, stdout=out)
    return out.getvalue()


def test_a_local_time_is_read_in_the_sites_zone():
    assert read_instant("2026-11-25T10:00", "America/Chicago").isoformat() == "2026-11-25T10:00:00-06:00"
    assert read_instant("2026-11-25T10:00-05:00", "America/Chicago").isoformat() == "2026-11-25T10:00:00-05:00"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2026-13-45T10:00", "is not a date and time"),
        ("next Tuesday", "is not a date and time"),
        ("2027-03-14T02:30", "does not exist in America/New_York"),
        ("2026-11-01T01:30", "comes twice in America/New_York.*-04:00 or -05:00"),
    ],
)
def test_a_time_that_is_none_or_two_is_named(text, words):
    with pytest.raises(BadInstant, match=words):
        read_instant(text, "America/New_York")


def test_a_state_in_two_zones_asks_for_the_sites():
    with pytest.raises(ZoneNeeded, match="more than one time zone"):
        window_for("TX", NOON)
    assert window_for("TX", NOON, "America/Denver").opens_at.tzname() == "MDT"


def test_a_state_that_counts_in_one_zone_does_so_wherever_the_site_lies():
    # Ind. Code 8-1-26: all times as observed in Indianapolis; KRS 367.4903: Eastern time.
    assert window_for("IN", NOON, "America/Chicago").opens_at.tzname() == "EDT"
    assert window_for("KY", NOON, "America/Chicago").opens_at.tzname() == "EDT"


def test_a_notice_is_judged_by_the_version_in_force_on_its_day():
    law = jurisdiction("OK")
    assert len(law.versions) > 1
    change = law.versions[-1].holds_from
    before = datetime.combine(change - timedelta(days=1), NOON.timetz())
    after = datetime.combine(change, NOON.timetz())
    assert window_for("OK", before, law.time_zones[0]).rule_version == law.versions[-2].id
    assert window_for("OK", after, law.time_zones[0]).rule_version == law.versions[-1].id


def test_a_notice_before_the_first_version_is_refused():
    with pytest.raises(NoVersionInForce, match="no rule is on file"):
        window_for("IN", datetime(2010, 6, 1, 12, tzinfo=UTC))


def test_a_notice_far_in_the_future_is_refused_and_a_near_one_is_not():
    with pytest.raises(NoticeTooFarAhead, match="check the date"):
        window_for("VA", NOON + timedelta(days=400), now=NOON)
    assert window_for("AL", NOON + timedelta(days=2), "America/Chicago", now=NOON).opens_at
    with pytest.raises(NoticeTooFarAhead):
        window_for("AL", NOON + timedelta(days=30), "America/Chicago", now=NOON)


def test_the_command_prints_json_with_every_key():
    made = json.loads(run("window", "--state", "VA", "--received", "2026-09-14T10:00", "--json"))
    keys = "state rule_version received_at opens_at closes_at renew_from renew_by evidence steps warnings"
    assert set(keys.split()) <= set(made)
    assert made["opens_at"] == "2026-09-17T07:00:00-04:00"
    assert datetime.fromisoformat(made["closes_at"]).utcoffset() is not None


def test_the_command_tells_the_stricter_of_printed_and_computed():
    text = run("window", "--state", "VA", "--received", "2026-09-14T10:00", "--printed-start", "2026-09-18T07:00")
    assert "Fri 18 Sep 2026, 7:00 AM EDT" in text
    assert "differs from the computed one" in text
    assert "the law and the notification centre's word prevail".lower() in text.lower()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--state", "ZZ", "--received", "2026-09-14T10:00"], "not a jurisdiction"),
        (["--state", "VA", "--received", "2026-02-30T10:00"], "not a date and time"),
        (["--state", "VA", "--received", "2099-01-01T10:00"], "out of range|outside the years|too far|beyond"),
        (["--state", "TX", "--received", "2026-09-14T10:00"], "more than one time zone"),
        (["--state", "VA"], "Give --state and --received"),
        (["--batch", "nowhere.csv"], "no such file"),
    ],
)
def test_bad_input_gets_one_clear_line(arguments, words):
    with pytest.raises(CommandError, match=words) as refusal:
        run("window", *arguments)
    assert "\n" not in str(refusal.value)


def test_a_batch_judges_line_by_line_and_names_the_bad_ones(tmp_path):
    file = tmp_path / "notices.csv"
    file.write_text(
        "state,received,time_zone\nVA,2026-09-14T10:00,\nZZ,2026-09-14T10:00,\nTX,2026-09-14T10:00,America/Chicago\n"
    )
    out = io.StringIO()
    with pytest.raises(CommandError, match="1 of the lines could not be judged"):
        call_command("window", "--batch", str(file), "--json", stdout=out)
    lines = [json.loads(line) for line in out.getvalue().splitlines()]
    assert [line.get("state") for line in lines] == ["VA", None, "TX"]
    assert lines[1]["line"] == 3
    assert "not a jurisdiction" in lines[1]["error"]


def test_a_batch_without_its_columns_is_refused(tmp_path):
    file = tmp_path / "notices.csv"
    file.write_text("where,when\nVA,2026-09-14T10:00\n")
    with pytest.raises(CommandError, match="no column state, received"):
        run("window", "--batch", str(file))


@pytest.mark.parametrize("code", codes())
def test_every_rule_can_be_told_in_words(code):
    law = jurisdiction(code)
    text = law_text(law)
    assert law.name in text
    assert ("Unverified" in text) == (not law.verified)
    for version in law.versions:
        lines = rule_lines(version)
        assert {"Wait", "Ticket's life", "Renewal", "Answers", "Tolerance zone", "Holidays"} <= {
            x.about for x in lines
        }
        assert all(line.words and line.tier for line in lines)


def test_the_law_command_prints_one_state_or_the_table():
    assert "Va. Code" in run("law", "--state", "va")
    table = run("law")
    assert len([line for line in table.splitlines() if "|" in line]) == 51
    with pytest.raises(CommandError, match="not a jurisdiction"):
        run("law", "--state", "ZZ")


def test_errors_carry_a_code_and_fields():
    with pytest.raises(FirstspadeError) as refusal:
        read_instant("?", "America/New_York")
    assert refusal.value.code == "bad_instant"
    assert "received" in refusal.value.fields
