"""Doors to tickets and operators' answers."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch, QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from locates import clock
from tickets import selectors, services
from tickets.api.base import Register
from tickets.api.filters import AnswerFilter, TicketFilter
from tickets.api.forms import AnswerForm, CancelForm, OperatorForm, TicketCorrection, TicketForm
from tickets.api.shapes import AnswerShape, OperatorShape, TicketDetailShape, TicketShape
from tickets.models import Answer, Ticket


class TicketViewSet(Register):
    """Tickets, the latest received first, with window, operators and answers."""

    serializer_class = TicketShape
    queryset = Ticket.objects.all()
    filterset_class = TicketFilter
    ordering_fields = ["received_at", "opens_at", "closes_at", "renew_by", "number", "id"]
    ordering = ["-received_at", "-id"]

    def get_queryset(self) -> QuerySet[Ticket]:
        answers = Answer.objects.select_related("operator", "recorded_by")
        found = selectors.tickets_visible_to(self.person).select_related("job__site")
        return found.prefetch_related("operators", Prefetch("operators__answers", answers))

    def _anew(self, ticket: Ticket, *, created: bool = False) -> Response:
        shown = TicketDetailShape(self.get_queryset().get(pk=ticket.pk))
        return Response(shown.data, status=201 if created else 200)

    @extend_schema(responses=TicketDetailShape)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One ticket, with the trace of how its window was counted."""
        return self._anew(self.get_object())

    @extend_schema(request=TicketForm, responses={201: TicketDetailShape})
    def create(self, request: Request) -> Response:
        """Enter a notice that was given; the window is computed from the law in force."""
        given = self.given(TicketForm)
        return self._anew(services.enter_ticket(actor=self.person, now=clock.now(), **given), created=True)

    @extend_schema(request=TicketCorrection, responses=TicketDetailShape)
    def partial_update(self, request: Request, pk: str) -> Response:
        """Correct what was entered wrongly. The log keeps both readings and the reason."""
        given = self.given(TicketCorrection)
        ticket = services.correct_ticket(ticket=self.get_object(), actor=self.person, now=clock.now(), **given)
        return self._anew(ticket)

    @extend_schema(request=CancelForm, responses=TicketDetailShape)
    @action(detail=True, methods=["post"])
    def cancel(self, request: Request, pk: str) -> Response:
        """The ticket was cancelled; it stays on file."""
        given = self.given(CancelForm)
        ticket = services.cancel_ticket(ticket=self.get_object(), actor=self.person, now=clock.now(), **given)
        return self._anew(ticket)

    @extend_schema(request=OperatorForm, responses={201: OperatorShape})
    @action(detail=True, methods=["post"])
    def operators(self, request: Request, pk: str) -> Response:
        """Add an operator that the centre named later."""
        given = self.given(OperatorForm)
        operator = services.add_operator(ticket=self.get_object(), actor=self.person, now=clock.now(), **given)
        return Response(OperatorShape(operator).data, status=201)


class AnswerViewSet(Register):
    """Operators' answers, the latest first. They are added, never changed: the latest governs."""

    http_method_names = ["get", "post", "head", "options"]
    serializer_class = AnswerShape
    queryset = Answer.objects.all()
    filterset_class = AnswerFilter
    ordering_fields = ["answered_at", "recorded_at", "id"]
    ordering = ["-answered_at", "-id"]

    def get_queryset(self) -> QuerySet[Answer]:
        return selectors.answers_visible_to(self.person).select_related("operator", "recorded_by")

    @extend_schema(request=AnswerForm, responses={201: AnswerShape})
    def create(self, request: Request) -> Response:
        made = services.record_answer(actor=self.person, now=clock.now(), **self.given(AnswerForm))
        return self.answer(made, created=True)
