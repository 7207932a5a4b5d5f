"""Lets go of writes answered so long ago that no phone will send them again."""

from __future__ import annotations

from datetime import datetime, timedelta

from locates.models import AnsweredRequest

KEPT_FOR = timedelta(days=90)
AT_ONCE = 5_000  # a long pause of the worker must not end in one long transaction


def forget_answered(*, now: datetime) -> int:
    """Delete the oldest answers beyond `KEPT_FOR`, at most `AT_ONCE`; how many."""
    old = AnsweredRequest.objects.filter(answered_at__lt=now - KEPT_FOR).order_by("answered_at")
    numbers = list(old.values_list("pk", flat=True)[:AT_ONCE])
    return AnsweredRequest.objects.filter(pk__in=numbers).delete()[0]
