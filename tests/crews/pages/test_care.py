"""The owner's pages of equipment: who may, what they say, refusals, files, the private calendar."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from icalendar import Calendar
from PIL import Image

from crews import services
from crews.models import Crew, Equipment, Kit, OwnKind, Paper, Person, RegisterMoney
from crews.services.register_money import keep_money
from locates import clock
from tests.crews.factories import EquipmentFactory
from tests.crews.office import make_job
from tests.crews.page_people import Clients
from tests.crews.pages.reading import text
from tickets.models import PrivateLocate

Queries = Callable[[int], AbstractContextManager[Any]]
pytestmark = pytest.mark.usefixtures("frozen_now")  # Wed 16 Sep 2026
TODAY = date(2026, 9, 16)
People = dict[str, Person | None]


@pytest.mark.parametrize(
    ("address", "reached"),
    [
        ("/equipment/care/", "200 200 403 403 403 302"),
        ("/equipment/due/", "200 200 403 403 403 302"),
        ("/equipment/away/", "200 200 403 403 403 302"),
        ("/equipment/kits/", "200 200 403 403 403 302"),
        ("/equipment/calendar/", "200 200 403 403 403 302"),
        ("/equipment/export.csv", "200 200 403 403 403 302"),
        ("/equipment/import/", "200 403 403 403 403 302"),
        ("/equipment/{pk}/result/", "200 200 200 404 404 302"),
        ("/equipment/{pk}/step/", "200 200 403 403 403 302"),
        ("/equipment/{pk}/rule/", "200 403 403 403 403 302"),
        ("/equipment/{pk}/word/", "200 403 403 403 403 302"),
        ("/equipment/{pk}/paper/", "200 200 200 404 404 302"),
    ],
)
def test_who_reaches_what(clients: Clients, item: Equipment, address: str, reached: str) -> None:
    asked = address.format(pk=item.pk)
    assert " ".join(str(clients[who].get(asked).status_code) for who in clients) == reached


def test_at_a_glance_counts_by_horizon_and_stays_constant(
    clients: Clients, crew: Crew, django_assert_num_queries: Queries
) -> None:
    for days in (-1, 0, 30, 31, 60, 90, 91):
        EquipmentFactory(calibration_due_on=TODAY + timedelta(days=days), crew=crew)
    EquipmentFactory(calibration_due_on=TODAY, place="retired")
    EquipmentFactory(out_of_service_reason="Dropped")
    page = text(clients["owner"], "/equipment/care/")
    counts = re.findall(r'<span class="large">(\d+)</span>', page)
    assert counts == ["2", "3", "5", "6", "1", "1"]
    reckoned_there, kept = 19, 12  # the money of a small register is reckoned on the spot until the sweep keeps it
    for _ in range(2):
        with django_assert_num_queries(reckoned_there):
            text(clients["owner"], "/equipment/care/")
        EquipmentFactory.create_batch(30, crew=crew, calibration_due_on=TODAY)
    keep_money(now=clock.now())
    for _ in range(2):
        with django_assert_num_queries(kept):
            text(clients["owner"], "/equipment/care/")
        EquipmentFactory.create_batch(30, crew=crew, calibration_due_on=TODAY)


def test_at_a_glance_an_empty_register_has_no_empty_tables(clients: Clients) -> None:
    page = text(clients["owner"], "/equipment/care/")
    assert "Nothing falls due within 90 days." in page
    assert "Who holds what" not in page
    EquipmentFactory()
    assert "Who holds what" in text(clients["owner"], "/equipment/care/")


def test_at_a_glance_tells_the_money(
    clients: Clients, owner: Person, crew: Crew, monkeypatch: pytest.MonkeyPatch
) -> None:
    services.add_equipment(
        kind="receiver",
        name="R",
        serial="M-1",
        price=Decimal(9_000),
        tax=Decimal(540),
        salvage=Decimal(1_540),
        life_years=4,
        bought_on=date(2024, 9, 16),
        calibration_due_on=date(2026, 12, 1),
        actor=owner,
        now=clock.now(),
    )
    page = " ".join(text(clients["owner"], "/equipment/care/").split())
    assert "$9,540.00 for 1 item" in page
    assert "$5,540.00, the book value" in page
    assert "$2,000.00 in the past year, $2,000.00 in the next" in page
    assert "As of" not in page.partition("<h2>Money</h2>")[2]
    monkeypatch.setattr("crews.register.year_money.AT_ONCE", 0)
    assert "being reckoned for the first time" in text(clients["owner"], "/equipment/care/")
    keep_money(now=clock.now())
    RegisterMoney.objects.update(stale=True)
    page = " ".join(text(clients["owner"], "/equipment/care/").split())
    assert "As of Wed 16 Sep 2026, 10:00 AM EDT. The register has changed since" in page
    assert "$5,540.00, the book value" in page


def test_the_items_page_is_constant_in_queries(clients: Clients, item: Equipment, owner: Person, crew: Crew) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    seen = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            text(clients["owner"], f"/equipment/{item.pk}/")
        seen.append(len(queries))
        for _ in range(4):
            services.move_item(item=item, step="returned", actor=owner, now=clock.now())
            services.move_item(item=item, step="issued", crew=crew, actor=owner, now=clock.now())
            services.record_result(
                item=item, key="calibration", done_on=TODAY, passed=True, actor=owner, now=clock.now()
            )
    assert seen[0] == seen[1]


def test_a_result_with_readings_and_certificate(clients: Clients, item: Equipment) -> None:
    pdf = SimpleUploadedFile("c.pdf", b"%PDF-1.7 certificate")
    given = {"key": "known_line", "done_on": "2026-09-16", "known_value": "3 ft", "readings": "3 ft 1 in, 3 ft"}
    answer = clients["owner"].post(f"/equipment/{item.pk}/result/", {**given, "file": pdf}, follow=True)
    page = answer.content.decode()
    assert "Check on a known line: passed." in page
    assert "+1.0 in at the most" in page
    paper = Paper.objects.get()
    stored = clients["owner"].get(f"/equipment/paper/{paper.pk}")
    assert b"".join(stored.streaming_content) == b"%PDF-1.7 certificate"
    assert stored["X-Content-Type-Options"] == "nosniff"
    assert clients["other"].get(f"/equipment/paper/{paper.pk}").status_code == 404
    assert clients["stranger"].get(f"/equipment/paper/{paper.pk}").status_code == 302


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"done_on": "2026-09-17"}, "done_on", "has not come yet"),
        ({"readings": "3 ft, many"}, "readings", "is not a length"),
        ({"known_value": "3"}, "known_value", "is not a length"),
        ({"file": SimpleUploadedFile("c.pdf", b"MZ no pdf")}, "file", "neither a PDF nor"),
    ],
)
def test_a_refused_result_keeps_nothing(
    clients: Clients, item: Equipment, wrong: dict[str, Any], field: str, words: str
) -> None:
    given = {"key": "known_line", "done_on": "2026-09-16", "known_value": "3 ft", "readings": "3 ft", **wrong}
    answer = clients["owner"].post(f"/equipment/{item.pk}/result/", given)
    page = answer.content.decode()
    assert answer.status_code == 400
    assert words in page.partition(f'id="id_{field}_error">')[2].partition("</p>")[0]
    assert not item.care_results.exists()
    assert not Paper.objects.exists()


def test_a_photograph_loses_its_position_and_its_size(clients: Clients, item: Equipment) -> None:
    picture, out = Image.new("RGB", (3000, 1500), "white"), io.BytesIO()
    tags = Image.Exif()
    tags[0x8825] = {1: "N", 2: (37.0, 30.0, 0.0)}
    picture.save(out, "JPEG", exif=tags)
    given = {"sort": "photo", "title": "Case", "file": SimpleUploadedFile("x.png", out.getvalue())}
    assert clients["member"].post(f"/equipment/{item.pk}/paper/", given).status_code == 302
    kept = Paper.objects.get()
    with Image.open(kept.file) as again:
        assert (again.format, max(again.size), len(again.getexif())) == ("JPEG", 2400, 0)
    kept.file.close()
    assert kept.media_type == "image/jpeg"


def test_scanning_on_the_crews_phone(clients: Clients, item: Equipment, crew: Crew) -> None:
    at = f"/equipment/i/{item.code.lower()}"
    page = text(clients["member"], at)
    assert "We have it" in page
    assert "Take it" not in page
    assert "We have it" not in text(clients["other"], at)
    clients["other"].post(f"/equipment/i/{item.code}/tap", {"act": "confirm"})
    item.refresh_from_db()
    assert item.unconfirmed
    said = clients["member"].post(f"/equipment/i/{item.code}/tap", {"act": "confirm"}, follow=True)
    assert "You have Receiver A." in said.content.decode()
    clients["member"].post(f"/equipment/i/{item.code}/tap", {"act": "return"})
    item.refresh_from_db()
    assert (item.place, item.unconfirmed) == ("yard", False)
    said = clients["other"].post(f"/equipment/i/{item.code}/tap", {"act": "take"}, follow=True)
    assert "Basalt crew" in said.content.decode()
    assert clients["owner"].get(at).headers["Location"] == f"/equipment/{item.pk}/"
    assert clients["stranger"].get(at).status_code == 302
    assert clients["member"].get("/equipment/i/NONE0000").status_code == 404


def test_custody_refusals_stand_beside_the_field(clients: Clients, item: Equipment) -> None:
    answer = clients["owner"].post(f"/equipment/{item.pk}/step/", {"step": "found"})
    assert answer.status_code == 409
    assert "it was not missing" in answer.content.decode()
    answer = clients["owner"].post(f"/equipment/{item.pk}/step/", {"step": "issued"})
    assert "Name the crew or the person" in answer.content.decode()
    answer = clients["owner"].post(
        f"/equipment/{item.pk}/step/", {"step": "sent_away", "spot": "Tarn Bench"}, follow=True
    )
    assert "Receiver A: Away for repair or calibration, Tarn Bench." in answer.content.decode()


def test_the_owners_word_is_given_and_taken_back(clients: Clients, item: Equipment) -> None:
    given = {"from_on": "2026-09-30", "to_on": "2026-10-02", "reason": "Lab is full"}
    assert clients["owner"].post(f"/equipment/{item.pk}/word/", {**given, "reason": ""}).status_code == 400
    assert clients["owner"].post(f"/equipment/{item.pk}/word/", given).status_code == 302
    word = item.overrides.get()
    assert clients["dispatcher"].post(f"/equipment/word/{word.pk}/end").status_code == 403
    assert clients["owner"].post(f"/equipment/word/{word.pk}/end").status_code == 302
    word.refresh_from_db()
    assert word.ended_at is not None


def test_a_rule_with_an_interval_of_zero_is_refused(clients: Clients, item: Equipment) -> None:
    given = {"key": "calibration", "care": "calibration", "title": "Bench", "every_months": "0", "source": "Ours"}
    answer = clients["owner"].post(f"/equipment/{item.pk}/rule/", given)
    assert answer.status_code == 400
    assert "0 cannot be an interval" in answer.content.decode().partition('id="id_every_months_error">')[2]


def test_kits_say_what_does_not_fit(clients: Clients, item: Equipment, owner: Person, crew: Crew) -> None:
    assert clients["owner"].post("/equipment/kits/", {"name": "Kit A"}).status_code == 302
    kit = Kit.objects.get()
    services.change_equipment(item=item, actor=owner, kit=kit)
    services.add_equipment(
        kind="sonde", name="Sonde B", serial="S-2", crew=crew, kit=kit, frequencies_hz=[640], actor=owner
    )
    page = text(clients["dispatcher"], "/equipment/kits/")
    assert "Sonde B and the receiver share no frequency." in page
    assert "share no frequency" in text(clients["member"], "/today/")
    assert clients["owner"].post("/equipment/kits/", {"name": "kit a"}).status_code == 400
    assert clients["owner"].post("/equipment/kits/", {"what": "kind", "name": "Rod set"}).status_code == 302
    assert clients["dispatcher"].post("/equipment/kits/", {"what": "kind", "name": "Rods"}).status_code == 400
    assert [kind.name for kind in OwnKind.objects.all()] == ["Rod set"]


def test_labels_are_a_pdf(clients: Clients, item: Equipment) -> None:
    answer = clients["owner"].get(f"/equipment/labels.pdf?item={item.pk}")
    assert (answer["Content-Type"], answer.content[:5]) == ("application/pdf", b"%PDF-")
    assert clients["owner"].get("/equipment/labels.pdf?item=999999").status_code == 302


def test_the_calendar_needs_its_secret_and_a_living_log_in(
    clients: Clients, item: Equipment, owner: Person, anonymous: Client
) -> None:
    page = clients["owner"].post("/equipment/calendar/").content.decode()
    address = re.search(r"http://testserver(/equipment/calendar/[\w-]+\.ics)", page)
    assert address is not None
    answer = anonymous.get(address[1])
    assert answer["Content-Type"].startswith("text/calendar")
    events = Calendar.from_ical(answer.content).walk("VEVENT")
    assert [(e["SUMMARY"], e["DTSTART"].dt) for e in events] == [
        ("Bench calibration due: Receiver A", date(2026, 9, 30))
    ]
    assert anonymous.post(address[1]).status_code == 405
    assert anonymous.get("/equipment/calendar/guess.ics").status_code == 403
    clients["owner"].post("/equipment/calendar/")  # a new one ends the old
    assert anonymous.get(address[1]).status_code == 403


def test_the_calendar_ends_with_the_log_in(clients: Clients, people: People, anonymous: Client) -> None:
    page = clients["dispatcher"].post("/equipment/calendar/").content.decode()
    address = re.search(r"(/equipment/calendar/[\w-]+\.ics)", page)
    assert address is not None
    assert anonymous.get(address[1]).status_code == 200
    Person.objects.filter(username="dispatcher").update(is_active=False)
    assert anonymous.get(address[1]).status_code == 403


def test_a_locate_is_written_down_with_its_instrument(
    clients: Clients, item: Equipment, people: People, crew: Crew
) -> None:
    member = people["member"]
    made = PrivateLocate.objects.create(
        job=make_job(), kind="located", made_at=clock.now(), by=member, result_words="Cable to the shed"
    )
    at = f"/equipment/{item.pk}/locate/"
    assert "Cable to the shed" in text(clients["owner"], at)
    assert clients["other"].get(at).status_code == 404  # another crew's item
    assert "Cable to the shed" in text(clients["member"], at)
    answer = clients["member"].post(at, {"locate": made.pk}, follow=True).content.decode()
    assert f"The locate of job {made.job.number} was made with Receiver A." in answer
    assert item.locate_uses.get().locate == made
    assert "No private locate is on record" in text(clients["member"], at)
    assert clients["member"].post(at, {"locate": made.pk}).status_code == 400


def test_a_locate_past_the_date_is_in_doubt_at_once(clients: Clients, owner: Person, crew: Crew) -> None:
    late = services.add_equipment(
        kind="receiver", name="R", serial="L-1", crew=crew, calibration_due_on=date(2026, 9, 1), actor=owner
    )
    made = PrivateLocate.objects.create(
        job=make_job(), kind="located", made_at=clock.now(), by=owner, result_words="Cable"
    )
    answer = clients["owner"].post(f"/equipment/{late.pk}/locate/", {"locate": made.pk}, follow=True).content.decode()
    assert "It is in doubt: the item was not to be trusted that day." in answer
    assert "Bench calibration was due Tue 1 Sep 2026." in answer  # and the item's page lists it
