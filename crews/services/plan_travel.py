"""Travel times of a plan: asked of the company's routing server once, by the worker, and kept with the plan."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
from django.conf import settings

from crews.models import Plan
from crews.planning.problem import Place, Problem
from crews.planning.routing_server import RoutingServer
from crews.planning.travel import Travel, great_circle_travel, places_of

FELL_BACK = "Driving times are estimates: "
_FROM_SERVER = "routing server"


@lru_cache(maxsize=1)
def _routing_server(url: str, timeout_s: float) -> RoutingServer:
    """One a process: it remembers the tables that it has been given."""
    return RoutingServer(url, timeout_s=timeout_s)


def ask_travel(problem: Problem) -> Travel:
    """From the routing server that the company runs, when there is one; else, or when it fails, by the great
    circle. It may take as long as the server is waited for, so it is no call for a page."""
    places = places_of(problem)
    if not settings.ROUTING_SERVER_URL:
        return great_circle_travel(places)
    return _routing_server(settings.ROUTING_SERVER_URL, settings.ROUTING_SERVER_TIMEOUT_S).travel(places)


def notice_of(travel: Travel) -> str:
    """What the dispatcher must know of a server that failed, wholly or for some pairs; else empty."""
    if not settings.ROUTING_SERVER_URL or travel.note == _FROM_SERVER:
        return ""
    if not travel.note.startswith(_FROM_SERVER):
        _, _, why = travel.note.partition(", because ")
        return f"{FELL_BACK}{why or travel.note}. They come from straight distances and usual speeds instead."
    pairs = len(travel.missing)
    return (
        f"{FELL_BACK}the routing server knows no road for {pairs} of the trips; those come from straight distances."
    )


def travel_on(places: Sequence[Place], known: Travel) -> Travel:
    """`known` on these places, a place that it lacks by the great circle."""
    if list(known.index) == list(places):
        return known
    found = great_circle_travel(places)
    here = [number for number, place in enumerate(places) if place in known.index]
    there = [known.index[places[number]] for number in here]
    for own, theirs in ((found.time_s, known.time_s), (found.distance_m, known.distance_m)):
        own[np.ix_(here, here)] = theirs[np.ix_(there, there)]
    return replace(found, note=known.note, missing=known.missing)


def travel_of(plan: Plan, problem: Problem) -> Travel:
    """What the plan was computed with, from the plan itself: no server is asked."""
    places = places_of(problem)
    return travel_on(places, _unpacked(bytes(plan.travel))) if plan.travel else great_circle_travel(places)


def packed(travel: Travel) -> bytes:
    """A routing server's table as bytes; nothing for what can be reckoned again."""
    if not travel.note.startswith(_FROM_SERVER):
        return b""
    file = io.BytesIO()
    where = np.array([(place.x, place.y) for place in travel.index], dtype=np.float64)
    np.savez_compressed(
        file,
        where=where,
        note=np.array(travel.note),
        time_s=travel.time_s.astype(np.int32),
        distance_m=travel.distance_m.astype(np.int32),
    )
    return file.getvalue()


def _unpacked(content: bytes) -> Travel:
    with np.load(io.BytesIO(content), allow_pickle=False) as held:
        index = {Place(float(x), float(y)): number for number, (x, y) in enumerate(held["where"])}
        time_s, distance_m = held["time_s"].astype(np.int64), held["distance_m"].astype(np.int64)
        return Travel(index, time_s, distance_m, note=str(held["note"]))
