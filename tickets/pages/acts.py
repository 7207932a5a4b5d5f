"""What may be done on a job's page: one form and one call of a service each. Posts only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from locates import clock
from locates.errors import FirstspadeError
from tickets import services
from tickets.models import Job
from tickets.pages import act_forms
from tickets.pages.access import job_or_404, person_of
from tickets.pages.fields import PageForm
from tickets.pages.job_page import Ask, operators_of, show_job
from tickets.selectors import local_rules_of
from tickets.services.answers import HOLDS
from tickets.states import WORDS, Outcome, SightingKind


class AskMore(Exception):
    """The act needs one more fact: show its form."""


Do = Callable[[Job, dict[str, Any], Any, datetime], str]


@dataclass(frozen=True)
class Act:
    """`do` calls the service and says what was done; `key` names the row the form belongs to."""

    form: type[PageForm]
    do: Do
    key: str = ""
    names: dict[str, str] = field(default_factory=dict)


def _of(rows: Any, pk: int | None) -> Any:
    """The row with this key; 404 when it is not the job's."""
    found = rows.filter(pk=pk).first()
    if found is None:
        raise Http404
    return found


def _operator(job: Job, pk: int | None) -> Any:
    return _of(operators_of(job), pk)


def answer(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    outcome = Outcome(given["outcome"])
    operator = _operator(job, given["operator"])
    if outcome in HOLDS and not given["holds_until"] and not given["until_unknown"]:
        raise AskMore
    services.record_answer(
        operator=operator,
        actor=actor,
        now=now,
        outcome=outcome,
        answered_at=given["answered_at"] or None,
        holds_until=given["holds_until"] or None,
        note=given["note"],
    )
    return f"Recorded: {operator.name}, {WORDS[outcome].lower()}."


def sighting(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    operator = None if given["operator"] is None else _operator(job, given["operator"])
    services.record_sighting(
        job=job,
        actor=actor,
        now=now,
        kind=given["kind"],
        seen_at=given["seen_at"] or None,
        operator=operator,
        note=given["note"],
    )
    return f"Recorded: {WORDS[SightingKind(given['kind'])].lower()}."


def located(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    services.record_private_locate(
        job=job, actor=actor, now=now, result_words=given["result_words"], made_at=given["made_at"] or None
    )
    return "Recorded: private lines located."


def waived(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    services.waive_private_locate(job=job, actor=actor, now=now, reason=given["reason"])
    return "Recorded: no private locate needed, with the reason."


def work(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    services.note_work_begun(job=job, actor=actor, at=given["at"] or now, now=now)
    return "Noted: work went on."


def rule_confirmed(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    rule = next((r for r in local_rules_of(job.site) if r.pk == given["rule"]), None)
    if rule is None:
        raise Http404
    services.confirm_local_rule(job=job, rule=rule, actor=actor, now=now, note=given["note"])
    return f"Confirmed: {rule.name}."


def operator_added(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    ticket = _of(job.tickets, given["ticket"])
    made = services.add_operator(ticket=ticket, actor=actor, now=now, name=given["name"], utility=given["utility"])
    return f"Added: {made.name}."


def ticket_cancelled(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    ticket = _of(job.tickets, given["ticket"])
    services.cancel_ticket(
        ticket=ticket, actor=actor, now=now, reason=given["reason"], cancelled_at=given["cancelled_at"] or None
    )
    return f"Cancelled: ticket {ticket.number}."


def area_removed(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    area = _of(job.dig_areas, given["area"])
    services.remove_dig_area(area=area, actor=actor, now=now, reason=given["reason"])
    return "Taken off: the dig area."


def closed(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    services.close_job(job=job, actor=actor, now=now)
    return "The job is closed."


def reopened(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    services.reopen_job(job=job, actor=actor, now=now, reason=given["reason"])
    return "The job is open again."


def seen(job: Job, given: dict[str, Any], actor: Any, now: datetime) -> str:
    services.acknowledge_verdict(job=job, actor=actor, now=now)
    return "Logged: you have seen this verdict."


ACTS = MappingProxyType(
    {
        "answer": Act(act_forms.AnswerForm, answer, key="operator"),
        "sighting": Act(act_forms.SightingForm, sighting),
        "located": Act(act_forms.LocatedForm, located),
        "waived": Act(act_forms.WaivedForm, waived),
        "work": Act(act_forms.WorkForm, work),
        "rule": Act(act_forms.RuleConfirmedForm, rule_confirmed, key="rule"),
        "operator": Act(act_forms.OperatorForm, operator_added, key="ticket"),
        "cancel": Act(act_forms.CancelForm, ticket_cancelled, key="ticket"),
        "area-removed": Act(act_forms.RemoveAreaForm, area_removed, key="area"),
        "close": Act(act_forms.NothingForm, closed),
        "reopen": Act(act_forms.ReopenForm, reopened),
        "seen": Act(act_forms.NothingForm, seen),
    }
)


@require_POST
def act(request: HttpRequest, pk: int, name: str) -> HttpResponse:
    """Do one act. With htmx the page's part comes back in place; without, the browser is sent to the page."""
    if name not in ACTS:
        raise Http404
    now, job = clock.now(), job_or_404(request, pk)
    done = ACTS[name]
    form = form_of(done, job, request)
    if not form.is_valid():
        return show_job(request, job, now, ask=Ask(name, _key(done, request), form), status=422)
    try:
        said = done.do(job, form.cleaned_data, person_of(request), now)
    except AskMore:
        return show_job(request, job, now, ask=Ask(name, _key(done, request), form, asks_more=True))
    except services.Forbidden as refused:
        raise PermissionDenied(refused.message) from None
    except FirstspadeError as refused:
        form.take(refused, done.names)
        status = 409 if getattr(refused, "conflict", False) else 422
        return show_job(
            request, job_or_404(request, pk), now, ask=Ask(name, _key(done, request), form), status=status
        )
    if getattr(request, "htmx", False):
        return show_job(request, job_or_404(request, pk), now, done=said)
    messages.success(request, said)
    return redirect("job", pk=pk)


def form_of(done: Act, job: Job, request: HttpRequest) -> PageForm:
    """The act's form as posted."""
    more: dict[str, Any] = {}
    if done.form is act_forms.SightingForm:
        more["operators"] = [(operator.pk, operator.name) for operator in operators_of(job)]
    return done.form(request.POST, zone=job.site.time_zone, auto_id=auto_id(done, request), **more)


def auto_id(done: Act, request: HttpRequest) -> str:
    """The same ids as on the page, so that a repeated form stays itself."""
    key = _key(done, request)
    name = next(n for n, one in ACTS.items() if one is done)
    return f"{name}_{key}_%s" if key is not None else f"{name}_%s"


def _key(done: Act, request: HttpRequest) -> int | None:
    text = request.POST.get(done.key, "") if done.key else ""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else None
