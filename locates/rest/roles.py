"""Who may read and who may write."""

from __future__ import annotations

from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request
from rest_framework.views import APIView

OWNER, DISPATCHER, CREW_MEMBER = "owner", "dispatcher", "crew_member"


class ByRole(BasePermission):
    """Lets in people whose role is named; `role` is a word on the user, so no app is imported here."""

    message = "Your log-in does not reach this. Ask the owner or the dispatcher."
    readers: frozenset[str] = frozenset()
    writers: frozenset[str] = frozenset()

    def has_permission(self, request: Request, view: APIView) -> bool:
        user = request.user
        if not (user and user.is_authenticated and user.is_active):
            return False
        roles = self.readers if request.method in SAFE_METHODS else self.writers
        return getattr(user, "role", None) in roles


class OwnerOnly(ByRole):
    readers = writers = frozenset({OWNER})


class OfficeOnly(ByRole):
    """Owner and dispatcher."""

    readers = writers = frozenset({OWNER, DISPATCHER})


class OfficeWrites(ByRole):
    """Everybody reads (what they see is the view's queryset), owner and dispatcher write."""

    readers = frozenset({OWNER, DISPATCHER, CREW_MEMBER})
    writers = frozenset({OWNER, DISPATCHER})


class OwnerWrites(ByRole):
    """Everybody reads, the owner writes."""

    readers = frozenset({OWNER, DISPATCHER, CREW_MEMBER})
    writers = frozenset({OWNER})


class EveryRole(ByRole):
    """Everybody with a role; what they reach is the view's queryset."""

    readers = writers = frozenset({OWNER, DISPATCHER, CREW_MEMBER})
