"""Keeps the figures of the whole register: reckoned anew when a day begins or the register has changed."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import F

from crews.models import RegisterMoney
from crews.register.year_money import reckon
from crews.selectors import company_today

KEPT_DAYS = 30


def mark_money_stale(on: date) -> None:
    """Something has changed that the figures rest on: said once the change is saved, so that no write waits for
    another's. Were it lost, the next day's reckoning makes it good."""
    transaction.on_commit(lambda: _mark(on), robust=True)


def _mark(on: date) -> None:
    RegisterMoney.objects.filter(on=on).update(stale=True, changes=F("changes") + 1)


def keep_money(*, now: datetime) -> bool:
    """Reckon today's figures unless they stand; whether it was done. Safe to repeat; what changes meanwhile leaves
    them stale, and the next sweep sees it."""
    today = company_today(now)
    row, _ = RegisterMoney.objects.get_or_create(on=today, defaults={"reckoned_at": now})
    if not row.stale:
        return False
    found = asdict(reckon(today))
    mine = RegisterMoney.objects.filter(pk=row.pk)
    mine.update(**found, reckoned_at=now)
    mine.filter(changes=row.changes).update(stale=False)
    RegisterMoney.objects.filter(on__lt=today - timedelta(days=KEPT_DAYS)).delete()
    return True
