"""What the office's lists may be cut down by."""

from __future__ import annotations

import django_filters
from django.db.models import Q, QuerySet

from tickets.models import (
    Answer,
    Customer,
    EmergencyDig,
    EvidenceEntry,
    FollowUp,
    Job,
    LocalRule,
    PrivateLocate,
    Site,
    SiteSighting,
    Ticket,
)
from tickets.states import State, choices


class CustomerFilter(django_filters.FilterSet):
    name = django_filters.CharFilter(lookup_expr="icontains", label="Part of the name")

    class Meta:
        model = Customer
        fields = ["name"]


class SiteFilter(django_filters.FilterSet):
    town = django_filters.CharFilter(lookup_expr="icontains", label="Part of the town's name")

    class Meta:
        model = Site
        fields = ["customer", "state", "town"]


class JobFilter(django_filters.FilterSet):
    verdict_state = django_filters.MultipleChoiceFilter(
        choices=choices(State), label="Verdict as last stored; the row shows the one of this instant"
    )
    state = django_filters.CharFilter(field_name="site__state", lookup_expr="iexact", label="State of the site")
    place = django_filters.CharFilter(method="by_place", label="Part of town, county or street")
    words = django_filters.CharFilter(method="by_words", label="Part of number, title, customer or a ticket's number")
    crew = django_filters.NumberFilter(method="by_crew", label="A crew that has a visit to it")
    closed = django_filters.BooleanFilter(field_name="closed_at", lookup_expr="isnull", exclude=True)
    changes_before = django_filters.IsoDateTimeFilter(
        field_name="verdict_next_change_at", lookup_expr="lt", label="The verdict may change before this instant"
    )

    class Meta:
        model = Job
        fields = ["customer", "site", "number"]

    def by_place(self, found: QuerySet[Job], name: str, value: str) -> QuerySet[Job]:
        return found.filter(
            Q(site__town__icontains=value) | Q(site__county__icontains=value) | Q(site__street__icontains=value)
        )

    def by_words(self, found: QuerySet[Job], name: str, value: str) -> QuerySet[Job]:
        of_ticket = Ticket.objects.filter(number__icontains=value).values("job_id")
        return found.filter(
            Q(number__icontains=value)
            | Q(title__icontains=value)
            | Q(customer__name__icontains=value)
            | Q(pk__in=of_ticket)
        )

    def by_crew(self, found: QuerySet[Job], name: str, value: int) -> QuerySet[Job]:
        with_crew = Job.objects.filter(visits__crew_id=value, visits__cancelled_at=None)
        return found.filter(pk__in=with_crew.values("pk"))


class TicketFilter(django_filters.FilterSet):
    state = django_filters.CharFilter(field_name="job__site__state", lookup_expr="iexact", label="State of the site")
    operator = django_filters.CharFilter(method="by_operator", label="Part of an operator's name")
    received_after = django_filters.IsoDateTimeFilter(field_name="received_at", lookup_expr="gte")
    received_before = django_filters.IsoDateTimeFilter(field_name="received_at", lookup_expr="lt")
    closes_before = django_filters.IsoDateTimeFilter(field_name="closes_at", lookup_expr="lt")
    renew_before = django_filters.IsoDateTimeFilter(field_name="renew_by", lookup_expr="lt")
    cancelled = django_filters.BooleanFilter(field_name="cancelled_at", lookup_expr="isnull", exclude=True)
    unanswered = django_filters.BooleanFilter(method="by_unanswered", label="Some operator has no answer on file")

    class Meta:
        model = Ticket
        fields = ["job", "number", "kind"]

    def by_operator(self, found: QuerySet[Ticket], name: str, value: str) -> QuerySet[Ticket]:
        return found.filter(pk__in=Ticket.objects.filter(operators__name__icontains=value).values("pk"))

    def by_unanswered(self, found: QuerySet[Ticket], name: str, value: bool) -> QuerySet[Ticket]:
        silent = Ticket.objects.filter(operators__isnull=False, operators__answers__isnull=True).values("pk")
        return found.filter(pk__in=silent) if value else found.exclude(pk__in=silent)


class AnswerFilter(django_filters.FilterSet):
    job = django_filters.NumberFilter(field_name="operator__ticket__job", label="Job")
    ticket = django_filters.NumberFilter(field_name="operator__ticket", label="Ticket")

    class Meta:
        model = Answer
        fields = ["operator", "outcome"]


class SightingFilter(django_filters.FilterSet):
    class Meta:
        model = SiteSighting
        fields = ["job", "operator", "kind"]


class PrivateLocateFilter(django_filters.FilterSet):
    class Meta:
        model = PrivateLocate
        fields = ["job", "kind"]


class EmergencyFilter(django_filters.FilterSet):
    closed = django_filters.BooleanFilter(field_name="closed_at", lookup_expr="isnull", exclude=True)

    class Meta:
        model = EmergencyDig
        fields = ["job"]


class LocalRuleFilter(django_filters.FilterSet):
    class Meta:
        model = LocalRule
        fields = ["state", "active"]


class EvidenceFilter(django_filters.FilterSet):
    after = django_filters.IsoDateTimeFilter(field_name="at", lookup_expr="gte")
    before = django_filters.IsoDateTimeFilter(field_name="at", lookup_expr="lt")

    class Meta:
        model = EvidenceEntry
        fields = ["job", "kind"]


class FollowUpFilter(django_filters.FilterSet):
    due_before = django_filters.IsoDateTimeFilter(field_name="due_at", lookup_expr="lte")
    done = django_filters.BooleanFilter(field_name="done_at", lookup_expr="isnull", exclude=True)

    class Meta:
        model = FollowUp
        fields = ["job", "ticket", "kind"]
