"""The links at the top of every page, by role."""

from __future__ import annotations

from typing import Any, NamedTuple

from django.http import HttpRequest


class PageLink(NamedTuple):
    words: str
    address: str
    current: bool = False


OFFICE = ("owner", "dispatcher")
# (words, address, roles)
LINKS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("Dig windows", "/", OFFICE),
    ("Plans", "/plans/", OFFICE),
    ("Jobs", "/jobs/", OFFICE),
    ("Crews today", "/today/", OFFICE),
    ("Today", "/today/", ("crew_member",)),
    ("Locates", "/locates/", (*OFFICE, "crew_member")),
    ("Equipment", "/equipment/", (*OFFICE, "crew_member")),
    ("People", "/people/", ("owner",)),
    ("The law", "/law/", (*OFFICE, "crew_member")),
    ("Local rules", "/rules/", OFFICE),
)


def page_links(request: HttpRequest) -> dict[str, Any]:
    """Context processor: the links this person may follow, the one they are on marked."""
    role = getattr(request.user, "role", None)
    shown = [(words, address) for words, address, roles in LINKS if role in roles]
    here = max((a for _, a in shown if request.path == a or (a != "/" and request.path.startswith(a))), default="")
    return {"page_links": [PageLink(words, address, address == here) for words, address in shown]}
