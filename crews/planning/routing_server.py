"""Asks a routing server that the user runs for its table; falls back to the default speeds and says so.

The only part of the planner that opens a connection. The address is the operator's setting, never a value
that a client of ours sends. The request follows the table service of the OSRM HTTP API, version 1.
"""

from __future__ import annotations

import json
import urllib.error
import urllib.request
from collections.abc import Callable, Sequence
from dataclasses import replace

from .errors import BadTravelAnswer
from .problem import Place
from .travel import Travel, great_circle_travel, matrix_travel

Fetch = Callable[[str, float], bytes]
_MAX_ANSWER_BYTES = 64_000_000
_CACHE_SIZE = 32
_MOST_PAIRS = 100 * 100  # of one question, where a server's operator has not raised the limit; from memory


def fetch_over_http(url: str, timeout_s: float) -> bytes:
    """The body that `url` (http or https only) gives within `timeout_s`; at most 64 MB are read."""
    if not url.startswith(("http://", "https://")):
        raise BadTravelAnswer(
            "The routing server's address must start with http:// or https://.",
            code="routing_address",
            fields={"url": "not http"},
        )
    with urllib.request.urlopen(url, timeout=timeout_s) as reply:
        body: bytes = reply.read(_MAX_ANSWER_BYTES + 1)
    if len(body) > _MAX_ANSWER_BYTES:
        raise BadTravelAnswer(
            "The routing server's answer is larger than 64 MB; ask for fewer places.", code="routing_rubbish"
        )
    return body


class RoutingServer:
    """A routing server's table, asked once for each set of places and remembered."""

    def __init__(
        self, base_url: str, profile: str = "driving", timeout_s: float = 5.0, fetch: Fetch = fetch_over_http
    ) -> None:
        self._base_url = base_url.rstrip("/")
        self._profile = profile
        self._timeout_s = timeout_s
        self._fetch = fetch
        self._cache: dict[tuple[Place, ...], Travel] = {}

    def travel(self, places: Sequence[Place]) -> Travel:
        """Travel between `places`; on any failure the default speeds, with a note that says what failed."""
        key = tuple(places)
        if key in self._cache:
            return self._cache[key]
        fallback = great_circle_travel(places)
        try:
            answer = self._ask(places)
            found = matrix_travel(places, answer, fallback)
        except (OSError, ValueError, BadTravelAnswer) as failure:
            return replace(
                fallback, note=f"great circle with circuity, because the routing server failed: {_words(failure)}"
            )
        if len(self._cache) >= _CACHE_SIZE:
            self._cache.pop(next(iter(self._cache)))
        self._cache[key] = found
        return found

    def _ask(self, places: Sequence[Place]) -> dict[str, object]:
        """The whole table, in as many questions as a server with its usual limit answers; rows joined."""
        rows_at_once = max(1, _MOST_PAIRS // max(1, len(places)))
        if rows_at_once >= len(places):
            return self._one(places, "")
        joined: dict[str, object] = {"code": "Ok", "durations": [], "distances": []}
        for first in range(0, len(places), rows_at_once):
            rows = range(first, min(first + rows_at_once, len(places)))
            answer = self._one(places, f"&sources={';'.join(map(str, rows))}")
            if answer.get("code") != "Ok":
                return answer
            for name in ("durations", "distances"):
                part, whole = answer.get(name), joined[name]
                if isinstance(part, list) and len(part) == len(rows) and isinstance(whole, list):
                    whole += part
                else:  # no distances at all is allowed, half a table is not
                    joined[name] = None
        return joined

    def _one(self, places: Sequence[Place], which: str) -> dict[str, object]:
        position = ";".join(f"{place.x:.6f},{place.y:.6f}" for place in places)
        url = f"{self._base_url}/table/v1/{self._profile}/{position}?annotations=duration,distance{which}"
        answer = json.loads(self._fetch(url, self._timeout_s))
        if not isinstance(answer, dict):
            raise BadTravelAnswer("The routing server's answer is not an object.", code="routing_rubbish")
        return answer


def _words(failure: Exception) -> str:
    if isinstance(failure, BadTravelAnswer):
        return failure.message
    if isinstance(failure, TimeoutError) or isinstance(getattr(failure, "reason", None), TimeoutError):
        return "it did not answer in time"
    if isinstance(failure, urllib.error.HTTPError):
        return f"it answered with status {failure.code}"
    if isinstance(failure, json.JSONDecodeError | UnicodeDecodeError):
        return "its answer is not JSON"
    return "it cannot be reached"
