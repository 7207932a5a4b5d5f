"""Checks that the database itself makes, so that no other door lets a wrong word in."""

from __future__ import annotations

from enum import StrEnum

from django.db.models import CheckConstraint, F, Q


def known(field: str, words: type[StrEnum], name: str) -> CheckConstraint:
    """Only the words of the enum."""
    return CheckConstraint(condition=Q(**{f"{field}__in": [str(word) for word in words]}), name=name)


def not_blank(field: str, name: str) -> CheckConstraint:
    return CheckConstraint(condition=~Q(**{field: ""}), name=name)


def above_zero(field: str, name: str) -> CheckConstraint:
    """Missing, or above zero."""
    return CheckConstraint(condition=Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gt": 0}), name=name)


def in_order(earlier: str, later: str, name: str) -> CheckConstraint:
    """`later` is missing or not before `earlier`."""
    return CheckConstraint(condition=Q(**{f"{later}__isnull": True}) | Q(**{f"{later}__gte": F(earlier)}), name=name)
