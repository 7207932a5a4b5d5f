"""What the field's lists may be cut down by."""

from __future__ import annotations

import django_filters
from django.db.models import QuerySet

from crews.models import Equipment, Person, Visit
from crews.selectors import company_today
from locates import clock


class PersonFilter(django_filters.FilterSet):
    class Meta:
        model = Person
        fields = ["role", "crew", "is_active"]


class EquipmentFilter(django_filters.FilterSet):
    due_by = django_filters.DateFilter(
        field_name="calibration_due_on", lookup_expr="lte", label="Calibration due on this day or before"
    )
    overdue = django_filters.BooleanFilter(method="by_overdue", label="Calibration overdue today")
    at_yard = django_filters.BooleanFilter(field_name="crew", lookup_expr="isnull", label="Held by no crew")
    out_of_service = django_filters.BooleanFilter(method="by_service", label="Out of service")

    class Meta:
        model = Equipment
        fields = ["kind", "crew"]

    def by_overdue(self, found: QuerySet[Equipment], name: str, value: bool) -> QuerySet[Equipment]:
        today = company_today(clock.now())
        if value:
            return found.filter(due_on__lt=today)
        return found.exclude(due_on__lt=today)

    def by_service(self, found: QuerySet[Equipment], name: str, value: bool) -> QuerySet[Equipment]:
        return found.exclude(out_of_service_reason="") if value else found.filter(out_of_service_reason="")


class VisitFilter(django_filters.FilterSet):
    ends_after = django_filters.IsoDateTimeFilter(
        field_name="ends_at", lookup_expr="gt", label="Not over at this instant"
    )
    starts_before = django_filters.IsoDateTimeFilter(
        field_name="starts_at", lookup_expr="lt", label="Begun before this instant"
    )
    cancelled = django_filters.BooleanFilter(
        field_name="cancelled_at", lookup_expr="isnull", exclude=True, label="Cancelled"
    )
    state = django_filters.CharFilter(field_name="job__site__state", lookup_expr="iexact", label="State of the site")

    class Meta:
        model = Visit
        fields = ["crew", "job", "kind", "pinned", "ticket"]
