"""Writes of the company's own locates and of its local rules."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db import transaction

from locates.law.load import codes
from locates.law.rule import Begins, Ends, Unit
from tickets import evidence
from tickets.models import Job, LocalRule, LocalRuleConfirmation, PrivateLocate
from tickets.selectors import jobs_under_rule, local_rules_of
from tickets.services.refusals import Conflict, Faults, need_office, need_owner, need_person
from tickets.services.writing import conclude, open_job
from tickets.states import Act, LocateKind


@transaction.atomic
def record_private_locate(
    *, job: Job, actor: Any, now: datetime, result_words: str, made_at: datetime | None = None
) -> PrivateLocate:
    """The company located the lines that no operator marks; `result_words` say what was found."""
    return _record(job, actor, now, LocateKind.LOCATED, made_at, result_words=result_words)


@transaction.atomic
def waive_private_locate(
    *, job: Job, actor: Any, now: datetime, reason: str, made_at: datetime | None = None
) -> PrivateLocate:
    """The office's word, with its reason, that no private locate is needed; while the instrument of an
    earlier locate is in doubt, the owner's."""
    need_office(actor)
    if job.private_locates.exclude(doubted_at=None).exists():
        need_owner(actor)
    return _record(job, actor, now, LocateKind.WAIVED, made_at, reason=reason)


@transaction.atomic
def doubt_private_locates(*, locates: Iterable[PrivateLocate], reason: str, actor: Any, now: datetime) -> int:
    """The instrument of these locates is in doubt, `reason` says why; each job is judged anew. How many
    were not in doubt before."""
    need_person(actor)
    faults = Faults()
    faults.need(reason=reason)
    faults.refuse()
    marked = 0
    for pk, job_id in sorted((made.pk, made.job_id) for made in locates):
        job = evidence.lock_job(job_id)
        words = reason.strip()[:300]
        sound = PrivateLocate.objects.filter(pk=pk, kind=LocateKind.LOCATED, doubted_at=None)
        if sound.update(doubted_at=now, doubt_words=words) != 1:
            continue
        marked += 1
        payload = {"private_locate": pk, "reason": words}
        evidence.append(job=job, kind="instrument_in_doubt", actor=actor, at=now, payload=payload)
        conclude(job=job, actor=actor, now=now)
    return marked


def _record(
    job: Job, actor: Any, now: datetime, kind: LocateKind, made_at: datetime | None, **words: str
) -> PrivateLocate:
    need_person(actor)
    job = open_job(job, Act.RECORD)
    at = made_at or now
    faults = Faults()
    faults.need(**words)
    faults.instant("made_at", at, not_before=(job.created_at, "the job was entered"), not_after=(now, "now"))
    faults.refuse()
    made = PrivateLocate.objects.create(
        job=job, kind=kind, made_at=at, by=actor, **{name: text.strip() for name, text in words.items()}
    )
    payload = {"kind": kind, "made_at": at, "reason": made.reason, "result_words": made.result_words}
    evidence.append(job=job, kind="private_locate", actor=actor, at=now, payload=payload)
    conclude(job=job, actor=actor, now=now)
    return made


@transaction.atomic
def create_local_rule(
    *,
    actor: Any,
    now: datetime,
    name: str,
    state: str,
    source: str,
    county: str = "",
    town: str = "",
    requirement: str = "",
    wait_amount: int | None = None,
    wait_unit: str = "",
    wait_begins: str = "",
    wait_ends: str = "",
) -> LocalRule:
    """A stricter local rule on top of the state's law; open jobs there are judged by it from now on."""
    need_office(actor)
    faults = Faults()
    faults.need(name=name, source=source)
    if state.strip().upper() not in codes():
        faults.add("state", f"{state!r} is not a state on file; use two letters such as VA.")
    if wait_amount is None and not requirement.strip():
        faults.add("requirement", "say what is required, or give a longer wait.")
    if wait_amount is not None:
        if not 0 < wait_amount <= 400:
            faults.add("wait_amount", f"{wait_amount}; give a number above 0 and up to 400.")
        faults.word("wait_unit", wait_unit, Unit)
        faults.word("wait_begins", wait_begins, Begins)
        faults.word("wait_ends", wait_ends, Ends)
    faults.refuse()
    has_wait = wait_amount is not None
    rule = LocalRule.objects.create(
        name=name.strip(),
        state=state.strip().upper(),
        county=county.strip(),
        town=town.strip(),
        requirement=requirement.strip(),
        source=source.strip(),
        wait_amount=wait_amount,
        wait_unit=wait_unit if has_wait else "",
        wait_begins=wait_begins if has_wait else "",
        wait_ends=wait_ends if has_wait else "",
    )
    _conclude_jobs(rule, actor, now, "local_rule_added")
    return rule


@transaction.atomic
def end_local_rule(*, rule: LocalRule, actor: Any, now: datetime, reason: str) -> LocalRule:
    """The rule no longer holds; it stays on file."""
    need_office(actor)
    faults = Faults()
    faults.need(reason=reason)
    faults.refuse()
    rule = LocalRule.objects.select_for_update().get(pk=rule.pk)
    if not rule.active:
        raise Conflict(f"{rule.name} was ended before.")
    rule.active = False
    rule.save(update_fields=["active"])
    _conclude_jobs(rule, actor, now, "local_rule_ended", reason.strip())
    return rule


def _conclude_jobs(rule: LocalRule, actor: Any, now: datetime, kind: str, reason: str = "") -> None:
    payload = {"rule": rule.name, "requirement": rule.requirement, "source": rule.source, "reason": reason}
    for job in jobs_under_rule(rule):
        locked = evidence.lock_job(job.pk)
        evidence.append(job=locked, kind=kind, actor=actor, at=now, payload=payload)
        conclude(job=locked, actor=actor, now=now)


@transaction.atomic
def confirm_local_rule(
    *, job: Job, rule: LocalRule, actor: Any, now: datetime, note: str = ""
) -> LocalRuleConfirmation:
    """Someone's word that the local requirement is met for this job."""
    need_office(actor)
    job = open_job(job, Act.RECORD)
    if rule.pk not in {found.pk for found in local_rules_of(job.site)}:
        raise Conflict(f"{rule.name} does not hold at this site.", fields={"rule": "does not hold here"})
    if job.local_rule_confirmations.filter(rule=rule).exists():
        raise Conflict(f"{rule.name} was confirmed before.", fields={"rule": "confirmed before"})
    made = LocalRuleConfirmation.objects.create(
        job=job, rule=rule, confirmed_by=actor, confirmed_at=now, note=note.strip()
    )
    payload = {"rule": rule.name, "requirement": rule.requirement, "source": rule.source, "note": made.note}
    evidence.append(job=job, kind="local_rule_confirmed", actor=actor, at=now, payload=payload)
    conclude(job=job, actor=actor, now=now)
    return made
