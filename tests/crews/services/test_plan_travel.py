"""A plan on road times from a server on this machine: good answers, none in time, and rubbish."""

from __future__ import annotations

import json
import socket
import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest

from crews import services
from crews.models import Crew, Person, Plan, PlanState, Visit
from crews.planning.problem import Place
from crews.planning.routing_server import RoutingServer
from crews.planning.travel import great_circle_travel
from crews.services.plan_travel import FELL_BACK, travel_on
from tests.crews.office import NOW, at
from tests.crews.page_people import client_of
from tests.crews.plans.conftest import clear, computed, crew, dispatcher, owner, small_effort, stop_for, waiting
from tickets.models import Job

__all__ = ["clear", "computed", "crew", "dispatcher", "owner", "small_effort", "waiting"]
Computed = Callable[..., Plan]
ROAD_S, ROAD_M = 1_234, 20_000
Answer = Callable[[int, int], tuple[int, bytes]]


def table(rows: int, size: int, trip_s: float | None = ROAD_S, **more: Any) -> tuple[int, bytes]:
    """Every trip of one length, whoever asks."""
    times = [[trip_s for _ in range(size)] for _ in range(rows)]
    content = {"code": "Ok", "durations": times, "distances": [[ROAD_M] * size for _ in range(rows)]}
    return 200, json.dumps({**content, **more}).encode()


class Server:
    """Answers what it is told to and counts the questions."""

    def __init__(self) -> None:
        self.asked: list[str] = []
        self.answer: Answer = table
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                outer.asked.append(self.path)
                places = self.path.partition("?")[0].rpartition("/")[2].count(";") + 1
                _, _, which = self.path.partition("sources=")
                status, body = outer.answer(which.count(";") + 1 if which else places, places)
                self.send_response(status)
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *args: object) -> None:
                pass

        self._http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self._http.server_port}"
        self._thread = threading.Thread(target=self._http.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._http.shutdown()
        self._http.server_close()
        self._thread.join()


@pytest.fixture
def server(settings: Any) -> Iterator[Server]:
    made = Server()
    settings.ROUTING_SERVER_URL, settings.ROUTING_SERVER_TIMEOUT_S = made.url, 5.0
    yield made
    made.stop()


def test_the_plan_drives_by_the_servers_table_and_keeps_it(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person, server: Server
) -> None:
    plan = computed()
    assert stop_for(plan, clear).drive_s == ROAD_S
    assert plan.notes[0] == "Travel: routing server."
    asked = len(server.asked)
    assert asked == 1
    page = client_of(dispatcher).get(f"/plans/{plan.pk}/").content.decode()
    assert FELL_BACK not in page
    # From here on no server is needed: looking, moving and accepting read the table kept with the plan.
    server.answer = lambda rows, size: (500, b"")
    stop = services.move_stop(stop=stop_for(plan, clear), crew=crew, starts_at=at(18, 9), actor=dispatcher, now=NOW)
    assert stop.drive_s == ROAD_S
    assert client_of(dispatcher).get(f"/plans/stops/{stop.pk}/").status_code == 200
    services.accept_plan(plan=plan, actor=dispatcher, now=NOW)
    assert Visit.objects.get().starts_at == at(18, 9)
    assert len(server.asked) == asked


def test_the_same_places_are_asked_for_once(computed: Computed, crew: Crew, clear: Job, server: Server) -> None:
    computed()
    computed()
    assert len(server.asked) == 1


RUBBISH: list[tuple[Answer, str]] = [
    (lambda rows, size: (200, b"<html>Welcome</html>"), "its answer is not JSON"),
    (lambda rows, size: (200, b"[1, 2]"), "answer is not an object"),
    (lambda rows, size: (200, b"\xff\xfe"), "its answer is not JSON"),
    (lambda rows, size: (503, b"busy"), "it answered with status 503"),
    (lambda rows, size: (200, b'{"code": "TooBig"}'), "answered 'TooBig' instead of Ok"),
    (lambda rows, size: table(rows, size, trip_s=-5.0), "hold -5.0; wanted is a number from 0"),
    (lambda rows, size: table(rows, size, durations=[[1]]), "are not a table of"),
    (lambda rows, size: table(rows, size, durations="soon"), "are not a table of"),
]


@pytest.mark.parametrize(("answer", "words"), RUBBISH)
def test_rubbish_gives_one_notice_and_a_plan_all_the_same(
    computed: Computed, crew: Crew, clear: Job, dispatcher: Person, server: Server, answer: Answer, words: str
) -> None:
    server.answer = answer
    plan = computed()
    assert plan.state == PlanState.PROPOSED
    assert bytes(plan.travel) == b""
    (notice,) = (note for note in plan.notes if note.startswith(FELL_BACK))
    assert words in notice
    page = client_of(dispatcher).get(f"/plans/{plan.pk}/").content.decode()
    assert page.count("Driving times are estimates") == 1
    assert stop_for(plan, clear).drive_s not in {0, ROAD_S}
    assert services.accept_plan(plan=plan, actor=dispatcher, now=NOW).done == 1


def test_a_server_that_never_answers_is_waited_for_once(
    computed: Computed, crew: Crew, clear: Job, settings: Any
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as deaf:  # takes the call and says nothing
        settings.ROUTING_SERVER_URL = f"http://127.0.0.1:{deaf.getsockname()[1]}"
        settings.ROUTING_SERVER_TIMEOUT_S = 0.2
        plan = computed()
    assert plan.notes[0].startswith(f"{FELL_BACK}the routing server failed: it did not answer in time.")


def test_no_server_there(computed: Computed, crew: Crew, clear: Job, settings: Any) -> None:
    with socket.create_server(("127.0.0.1", 0)) as gone:
        settings.ROUTING_SERVER_URL = f"http://127.0.0.1:{gone.getsockname()[1]}"
    assert computed().notes[0].startswith(f"{FELL_BACK}the routing server failed: it cannot be reached.")


def test_a_pair_without_a_road_falls_back_and_is_counted(
    computed: Computed, crew: Crew, clear: Job, server: Server
) -> None:
    server.answer = lambda rows, size: table(rows, size, trip_s=None)
    plan = computed()
    assert plan.notes[0].startswith(f"{FELL_BACK}the routing server knows no road for 2 of the trips")
    assert bytes(plan.travel)


def test_a_large_table_is_asked_for_in_parts(server: Server) -> None:
    places = [Place.geographic(37 + n / 1000, -77.5) for n in range(150)]
    found = RoutingServer(server.url).travel(places)
    assert found.note == "routing server"
    assert len(server.asked) == 3  # 66 rows of 150 at once
    for whole, one in ((found.time_s, ROAD_S), (found.distance_m, ROAD_M)):
        assert (whole.sum(), whole.trace()) == (one * 150 * 149, 0)


def test_a_table_on_other_places_keeps_what_it_knows() -> None:
    one, two, three = (Place.geographic(37.0 + n / 10, -77.5) for n in range(3))
    known = great_circle_travel([one, two])
    known.time_s[0, 1] = 7
    found = travel_on([three, two, one], known)
    assert found.seconds(one, two) == 7
    assert found.seconds(three, one) == great_circle_travel([one, three]).seconds(three, one)
