"""A crew's calendar: private address, and content read back with the icalendar library (RFC 5545)."""

from __future__ import annotations

from django.test import Client
from icalendar import Calendar

from crews import services
from crews.models import Crew, CrewFeed, Person
from crews.services.crew_feeds import renew_crew_feed
from tests.crews.factories import CrewFactory, PersonFactory
from tests.crews.office import NOW, at
from tests.crews.page_people import client_of
from tickets.models import Job


def test_the_feed_holds_the_crews_visits_and_no_others(crew: Crew, clear: Job, dispatcher: Person) -> None:
    other = CrewFactory(name="Basalt crew")
    placed = [
        services.schedule_visit(
            job=clear,
            crew=who,
            kind="camera",
            starts_at=at(17, hour),
            ends_at=at(17, hour + 1),
            actor=dispatcher,
            now=NOW,
        )
        for who, hour in ((crew, 9), (crew, 11), (other, 9))
    ]
    services.cancel_visit(visit=placed[1], reason="Rain", actor=dispatcher, now=NOW)
    feed = renew_crew_feed(crew=crew, actor=dispatcher, now=NOW)
    answer = Client().get(f"/calendar/crew/{feed.token}.ics")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"].startswith("text/calendar")
    assert "private" in answer.headers["Cache-Control"]
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    assert event.decoded("dtstart") == at(17, 9)
    assert event.decoded("dtend") == at(17, 10)
    assert clear.number in str(event["summary"])
    assert "no permission to dig" in str(event["description"])


def test_a_new_address_ends_the_old(crew: Crew, dispatcher: Person, frozen_now: object) -> None:
    old = renew_crew_feed(crew=crew, actor=dispatcher, now=NOW).token
    office = client_of(dispatcher)
    assert old in office.get("/plans/calendars/").content.decode()
    office.post(f"/plans/calendars/{crew.pk}/renew")
    new = CrewFeed.objects.get().token
    assert new != old
    assert len(new) >= 43  # 256 bits
    assert Client().get(f"/calendar/crew/{old}.ics").status_code == 404
    assert Client().get(f"/calendar/crew/{new}.ics").status_code == 200


def test_only_the_office_gives_addresses_out(crew: Crew, frozen_now: object) -> None:
    member = client_of(PersonFactory(crew=crew))
    assert member.get("/plans/calendars/").status_code == 403
    assert member.post(f"/plans/calendars/{crew.pk}/renew").status_code == 403
    assert not CrewFeed.objects.exists()
