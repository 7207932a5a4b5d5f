"""One job's page: the verdict first, then what it rests on. The same parts serve the whole page and htmx."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from locates import cautions, clock
from locates.errors import FirstspadeError
from locates.law.load import jurisdiction
from locates.law.window import version_on
from tickets.gathering import zone_words
from tickets.models import Answer, DigArea, Job, LocalRule, LocalRuleConfirmation, Ticket, TicketOperator
from tickets.pages import act_forms
from tickets.pages.access import job_or_404, person_of
from tickets.pages.drawing import Drawing, drawing_of
from tickets.pages.fields import PageForm
from tickets.pages.reading import answers_by_operator, confirmations_of, sightings_of, visits_of
from tickets.selectors import facts_of, local_rules_of
from tickets.states import Outcome, SightingKind, TicketKind, choices
from tickets.verdict import Verdict, verdict

ONE_CLICK = tuple(Outcome)


@dataclass(frozen=True)
class Ask:
    """A form to show again: refused, or in want of one more fact."""

    act: str
    key: int | None
    form: PageForm
    asks_more: bool = False


@dataclass
class OperatorView:
    """An operator with its answers, the latest first, and the form that records the next."""

    operator: TicketOperator
    answers: list[Answer]
    form: PageForm
    asking: bool

    @property
    def latest(self) -> Answer | None:
        return self.answers[0] if self.answers else None


@dataclass
class TicketView:
    ticket: Ticket
    operators: list[OperatorView]
    governs: bool
    standing: str
    forms: dict[str, PageForm]
    open_forms: set[str] = field(default_factory=set)
    can_follow: bool = False
    can_answer: bool = False


@dataclass
class AreaView:
    area: DigArea
    size_words: str
    form: PageForm
    asking: bool


@dataclass
class RuleView:
    rule: LocalRule
    made: LocalRuleConfirmation | None
    form: PageForm
    asking: bool


def operators_of(job: Job) -> Any:
    """The operators of all the job's tickets."""
    return TicketOperator.objects.filter(ticket__job=job).order_by("ticket_id", "name", "pk")


def job(request: HttpRequest, pk: int) -> HttpResponse:
    """May the crew dig here now, and what that rests on."""
    return show_job(request, job_or_404(request, pk), clock.now())


def show_job(
    request: HttpRequest, job: Job, now: datetime, *, ask: Ask | None = None, done: str = "", status: int = 200
) -> HttpResponse:
    """The page, or its part for htmx; `ask` shows a form again, `done` says what was done."""
    part = bool(getattr(request, "htmx", False))
    context = {**job_context(job, person_of(request), now, ask), "done": done, "part": part}
    name = "tickets/parts/job.html" if part else "tickets/job.html"
    return render(request, name, context, status=status)


def job_context(job: Job, person: Any, now: datetime, ask: Ask | None = None) -> dict[str, Any]:
    """Everything on the page, for a job loaded by `job_detail`."""
    forms = _Forms(job.site.time_zone, ask)
    found = verdict(facts_of([job])[job.pk].facts, now)
    answers = answers_by_operator(job)
    tickets = [_ticket(t, found, now, answers, forms) for t in job.tickets.all()]
    named = [(view.operator.pk, view.operator.name) for t in tickets for view in t.operators]
    drawing = drawing_of(
        [area.polygon for area in job.dig_areas.all()],
        [t.area for t in job.tickets.all() if t.area is not None and t.cancelled_at is None],
        (job.site.latitude, job.site.longitude),
    )
    confirmed = confirmations_of(job)
    open_emergency = next((e for e in job.emergencies.all() if e.closed_at is None), None)
    is_open = job.closed_at is None
    return {
        "job": job,
        "zone": job.site.time_zone,
        "now": now,
        "verdict": found,
        "verdict_at": now,
        "office": person.runs_the_office and is_open,
        "is_open": is_open,
        "may_reopen": person.runs_the_office and not is_open,
        "tickets": tickets,
        "outcomes": choices(Outcome),
        "sightings": sightings_of(job),
        "sighting_kinds": choices(SightingKind),
        "sighting_form": forms.make("sighting", act_forms.SightingForm, operators=named),
        "locates": job.private_locates.all(),
        "located_form": forms.make("located", act_forms.LocatedForm),
        "waived_form": forms.make("waived", act_forms.WaivedForm),
        "work_form": forms.make("work", act_forms.WorkForm),
        "reopen_form": forms.make("reopen", act_forms.ReopenForm),
        "rules": [_rule(r, confirmed.get(r.pk), forms) for r in local_rules_of(job.site) if r.requirement],
        "visits": visits_of(job),
        "emergency": open_emergency,
        "drawing": drawing,
        "areas": _areas(job, drawing, forms),
        "cautions": cautions.for_site(_zone_words(job, now))[len(cautions.EVERY_PAGE) :],
        "refused": None if ask is None or ask.asks_more else ask.form,
        "asked": ask,
    }


class _Forms:
    """Fresh forms for a page, but for the one that is shown again."""

    def __init__(self, zone: str, ask: Ask | None) -> None:
        self.zone, self.ask = zone, ask

    def is_asked(self, act: str, key: int | None = None) -> bool:
        return self.ask is not None and (self.ask.act, self.ask.key) == (act, key)

    def make(self, act: str, form: type[PageForm], key: int | None = None, **more: Any) -> PageForm:
        if self.ask is not None and self.is_asked(act, key):
            return self.ask.form
        auto_id = f"{act}_{key}_%s" if key is not None else f"{act}_%s"
        return form(zone=self.zone, auto_id=auto_id, **more)


def _ticket(
    ticket: Ticket, found: Verdict, now: datetime, answers: dict[int, list[Answer]], forms: _Forms
) -> TicketView:
    operators = [
        OperatorView(
            operator,
            answers.get(operator.pk, []),
            forms.make("answer", act_forms.AnswerForm, operator.pk),
            forms.is_asked("answer", operator.pk),
        )
        for operator in ticket.operators.all()
    ]
    acts: dict[str, type[PageForm]] = {"cancel": act_forms.CancelForm, "operator": act_forms.OperatorForm}
    is_alive = ticket.cancelled_at is None
    return TicketView(
        ticket=ticket,
        operators=operators,
        governs=ticket.number in found.tickets,
        standing=_standing(ticket, now),
        forms={name: forms.make(name, form, ticket.pk) for name, form in acts.items()},
        open_forms={name for name in acts if forms.is_asked(name, ticket.pk)},
        can_follow=is_alive and ticket.kind in {TicketKind.NORMAL, TicketKind.RENEWAL},
        can_answer=is_alive,
    )


def _standing(ticket: Ticket, now: datetime) -> str:
    """Where the ticket stands by the clock alone. Whether the crew may dig is the verdict's to say."""
    if ticket.cancelled_at is not None:
        return "cancelled"
    if ticket.closes_at is not None and ticket.closes_at <= now:
        return "ended"
    if ticket.opens_at is None:
        return "no window"
    return "wait runs" if ticket.opens_at > now else "wait is over"


def _rule(rule: LocalRule, made: LocalRuleConfirmation | None, forms: _Forms) -> RuleView:
    form = forms.make("rule", act_forms.RuleConfirmedForm, rule.pk)
    return RuleView(rule, made, form, forms.is_asked("rule", rule.pk))


def _areas(job: Job, drawing: Drawing | None, forms: _Forms) -> list[AreaView]:
    areas: Iterable[DigArea] = job.dig_areas.all()
    sizes = drawing.digs if drawing is not None else ()
    return [
        AreaView(
            area,
            outline.size_words,
            forms.make("area-removed", act_forms.RemoveAreaForm, area.pk),
            forms.is_asked("area-removed", area.pk),
        )
        for area, outline in zip(areas, sizes, strict=True)
    ]


def _zone_words(job: Job, now: datetime) -> str:
    """The tolerance zone in words; empty when no rule is on file, and then the whole ground is the zone."""
    try:
        law = jurisdiction(job.site.state)
        return zone_words(version_on(law, now, job.site.time_zone).zone)
    except FirstspadeError:
        return ""
