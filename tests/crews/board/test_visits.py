"""Placing, moving and cancelling by hand: the refusal on the spot, with the first lawful instant."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.test import Client

from crews.models import Crew, Person, Role, Visit
from tests.crews.factories import CrewFactory, EquipmentFactory, PersonFactory
from tests.crews.office import at, make_job
from tickets.models import Job

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def fields(crew: Crew, **given: str) -> dict[str, str]:
    filled = {"crew": str(crew.pk), "kind": "dig", "day": "2026-09-17", "start": "08:00", "length": "240"}
    return {**filled, **given}


def place(client: Client, job: Job, data: dict[str, str], **headers: Any) -> Any:
    return client.post(f"/jobs/{job.pk}/visit", data, **headers)


def test_a_dig_inside_its_window_is_placed(office: Client, clear: Job, crew: Crew, dispatcher: Person) -> None:
    answer = place(office, clear, fields(crew, back="/?days=7&state=clear"))
    assert (answer.status_code, answer.url) == (302, f"/?days=7&state=clear#job-{clear.pk}")
    visit = Visit.objects.get()
    assert (visit.job, visit.crew, visit.kind, visit.created_by) == (clear, crew, "dig", dispatcher)
    assert (visit.starts_at, visit.ends_at) == (at(17, 8), at(17, 12))
    assert "Placed: Alder crew, dig on job" in office.get("/").content.decode()


def test_a_dig_in_the_wait_is_refused_with_the_first_lawful_instant(office: Client, waiting: Job, crew: Crew) -> None:
    answer = place(office, waiting, fields(crew))
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Under ticket D-2 digging may begin Fri 18 Sep, 7:00 AM EDT, not before." in page
    assert page.count('name="start_instead"') == 1
    assert "Place it Fri 18 Sep, 7:00 AM EDT" in page
    assert not Visit.objects.exists()
    offered = answer.context["refusal"]["instead"]
    assert datetime.fromisoformat(offered) == at(18, 7)
    taken = place(office, waiting, fields(crew, start_instead=offered))
    assert taken.status_code == 302
    visit = Visit.objects.get()
    assert (visit.starts_at, visit.ends_at) == (at(18, 7), at(18, 11))


def test_a_locate_without_a_good_receiver_is_refused_and_names_it(office: Client, clear: Job, crew: Crew) -> None:
    EquipmentFactory(name="Receiver 3", serial="QX-3", crew=crew, calibration_due_on=date(2026, 9, 17))
    answer = place(office, clear, fields(crew, kind="private_locate"))
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Receiver 3 (QX-3): Calibration is due on the day itself, Thu 17 Sep 2026." in page
    assert "hand the crew one that is good" in page
    assert "lacks what the visit needs that day" in page  # beside the crew
    assert not Visit.objects.exists()
    today = fields(crew, kind="private_locate", day="2026-09-16", start="13:00")
    assert place(office, clear, today).status_code == 302


@pytest.mark.parametrize("offered", ["2026-09-17T08:00:00+00:00", "2026-09-17T08:00:00", "soon"])
def test_the_offer_cannot_be_forged(office: Client, waiting: Job, crew: Crew, offered: str) -> None:
    assert place(office, waiting, fields(crew, start_instead=offered)).status_code == 422
    assert not Visit.objects.exists()


def test_without_a_ticket_no_start_is_offered(office: Client, crew: Crew) -> None:
    answer = place(office, make_job(), fields(crew))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "No ticket is on file for this job." in page
    assert "No lawful start is known" in page
    assert "start_instead" not in page


def test_other_visits_need_no_window(office: Client, waiting: Job, crew: Crew) -> None:
    assert place(office, waiting, fields(crew, kind="white_line")).status_code == 302


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"crew": ""}, "crew", "Choose a crew."),
        ({"crew": "999999"}, "crew", "not active"),
        ({"kind": "party"}, "kind", "Choose one of the list."),
        ({"day": ""}, "day", "Give the day."),
        ({"day": "17 Sept"}, "day", "write it as 2026-09-17"),
        ({"start": "25:00"}, "start", "write it as 07:30"),
        ({"length": "0"}, "length", "Choose one of the list."),
        ({"day": "2026-09-15"}, "start", "is past; choose a later time."),
        ({"day": "2028-09-15"}, "start", "More than a year ahead"),
        ({"day": "2026-11-01", "start": "01:30"}, "start", "comes twice"),
        ({"day": "2027-03-14", "start": "02:30"}, "start", "left out by the clock change"),
    ],
)
def test_errors_stand_beside_their_field(
    office: Client, clear: Job, crew: Crew, given: dict[str, str], field: str, words: str
) -> None:
    answer = place(office, clear, {**fields(crew, kind="camera"), **given})
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert f'id="p{clear.pk}-{field}_error"' in answer.content.decode()
    assert not Visit.objects.exists()


def test_a_busy_crew_is_named(office: Client, clear: Job, crew: Crew, put: Callable[..., Visit]) -> None:
    put(clear)
    page = place(office, clear, fields(crew, start="10:00")).content.decode()
    assert "Alder crew is already on job" in page
    assert Visit.objects.count() == 1


def test_the_form_begins_at_the_first_lawful_working_hour(office: Client, waiting: Job, clear: Job) -> None:
    initial = office.get(f"/jobs/{waiting.pk}/visit").context["form"].initial
    assert (initial["day"].isoformat(), initial["start"].isoformat()) == ("2026-09-18", "07:00:00")
    initial = office.get(f"/jobs/{clear.pk}/visit").context["form"].initial
    assert (initial["day"].isoformat(), initial["start"].isoformat()) == ("2026-09-16", "10:00:00")


def test_in_the_row_only_the_form_is_sent(office: Client, waiting: Job, crew: Crew) -> None:
    asked = office.get(f"/jobs/{waiting.pk}/visit", headers=HTMX)
    assert b"<html" not in asked.content
    assert place(office, waiting, fields(crew), headers=HTMX).status_code == 422
    done = place(office, waiting, fields(crew, day="2026-09-18", back="/?text=gas"), headers=HTMX)
    assert done.status_code == 200
    assert '"path": "/?text=gas"' in done["HX-Location"]


@pytest.mark.parametrize("back", ["https://example.com/", "//example.com/", "/logout", "javascript:alert(1)", ""])
def test_the_way_back_leads_to_the_chart_alone(office: Client, clear: Job, crew: Crew, back: str) -> None:
    assert place(office, clear, fields(crew, back=back)).url == f"/#job-{clear.pk}"


def test_a_visit_is_moved(office: Client, clear: Job, put: Callable[..., Visit]) -> None:
    visit, other = put(clear), CrewFactory(name="Birch crew")
    page = office.get(f"/visits/{visit.pk}").content.decode()
    assert "Thu 17 Sep, 8:00 AM to 12:00 PM EDT" in page
    sent = {"crew": str(other.pk), "day": "2026-09-18", "start": "09:30", "length": "120"}
    assert office.post(f"/visits/{visit.pk}/move", sent).status_code == 302
    visit.refresh_from_db()
    assert (visit.crew, visit.starts_at, visit.ends_at) == (other, at(18, 9, 30), at(18, 11, 30))


def test_a_card_that_was_dragged_keeps_crew_and_length(office: Client, clear: Job, put: Callable[..., Visit]) -> None:
    visit = put(clear)
    assert office.post(f"/visits/{visit.pk}/move", {"day": "2026-09-21", "start": "13:00"}).status_code == 302
    visit.refresh_from_db()
    assert (visit.starts_at, visit.ends_at) == (at(21, 13), at(21, 17))


def test_a_move_out_of_the_window_is_refused_and_nothing_changes(
    office: Client, clear: Job, put: Callable[..., Visit]
) -> None:
    visit = put(clear)
    answer = office.post(f"/visits/{visit.pk}/move", {"day": "2026-10-02", "start": "06:00"}, headers=HTMX)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Ticket D-1 ends Fri 2 Oct, 7:00 AM EDT." in page
    assert "Move it to Wed 16 Sep, 10:00 AM EDT" in page
    visit.refresh_from_db()
    assert visit.starts_at == at(17, 8)


def test_a_visit_is_cancelled_with_the_reason(office: Client, clear: Job, put: Callable[..., Visit]) -> None:
    visit = put(clear)
    wrong = office.post(f"/visits/{visit.pk}/cancel", {"reason": " "})
    assert wrong.status_code == 422
    assert "Say why" in wrong.content.decode()
    assert office.post(f"/visits/{visit.pk}/cancel", {"reason": "Customer away."}).status_code == 302
    visit.refresh_from_db()
    assert visit.cancel_reason == "Customer away."
    page = office.get(f"/visits/{visit.pk}").content.decode()
    assert "Customer away." in page
    assert "Move the visit" not in page
    assert (
        "was cancelled"
        in office.post(f"/visits/{visit.pk}/move", {"day": "2026-09-18", "start": "08:00"}).content.decode()
    )


def test_a_visit_that_is_over_stays_as_it_was(
    office: Client, clear: Job, put: Callable[..., Visit], travel: Callable[[datetime], None]
) -> None:
    visit = put(clear)
    travel(datetime(2026, 9, 20, 12, tzinfo=UTC))
    assert "stays in the records as it was" in office.get(f"/visits/{visit.pk}").content.decode()


def test_crew_members_and_strangers_place_nothing(
    clear: Job, crew: Crew, put: Callable[..., Visit], anonymous: Client, frozen_now: object
) -> None:
    visit = put(clear)
    member = Client()
    member.force_login(PersonFactory(role=Role.CREW_MEMBER, crew=crew))
    addresses = (f"/jobs/{clear.pk}/visit", f"/visits/{visit.pk}/move", f"/visits/{visit.pk}/cancel")
    for address in addresses:
        assert member.post(address, fields(crew, reason="x")).status_code == 403
        assert anonymous.post(address).url == f"/login?next={address}"
    assert member.get(f"/visits/{visit.pk}").status_code == 403
    assert Visit.objects.filter(cancelled_at=None).count() == 1


def test_what_is_not_there_is_not_found(office: Client) -> None:
    assert office.get("/jobs/999/visit").status_code == 404
    assert office.get("/visits/999").status_code == 404
    assert office.get("/visits/1/move").status_code == 405
