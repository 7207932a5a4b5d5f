"""Writes of an import: a draft first, the whole of it or nothing on the second yes."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from crews.models import Crew, Equipment, ImportDraft, Person
from crews.register.sheet import Checked, check_rows, facts_of, read_table
from crews.services.care_states import company_day
from crews.services.equipment import add_equipment
from crews.services.guards import need_owner
from locates.errors import FirstspadeError
from tickets.services.refusals import BadInput, Conflict


def draft_import(
    *, file_name: str, content: bytes, actor: Person, now: datetime
) -> tuple[Checked, ImportDraft | None]:
    """Read and check a file. Without a bad cell a draft waits for the yes; with one nothing is kept."""
    need_owner(actor)
    rows = read_table(file_name, content)
    checked = check_rows(rows, company_day(now))
    if checked.bad or not checked.rows:
        return checked, None
    made = ImportDraft.objects.create(by=actor, at=now, file_name=file_name[:120], rows=list(checked.rows))
    return checked, made


@transaction.atomic
def import_draft(*, draft: ImportDraft, actor: Person, now: datetime) -> list[Equipment]:
    """Add every row of a draft; checked again, for the register may have grown in between."""
    need_owner(actor)
    draft = ImportDraft.objects.select_for_update().get(pk=draft.pk)
    if draft.done_at is not None:
        raise Conflict(f"{draft.file_name} is in the register already.")
    today = company_day(now)
    checked = check_rows(list(draft.rows), today)
    if checked.bad:
        first = checked.bad[0]
        raise Conflict(f"Row {first.row}, {first.column}: {first.given!r} {first.words}. Nothing was saved.")
    crews = {crew.name.casefold(): crew for crew in Crew.objects.filter(active=True)}
    made = []
    for number, row in enumerate(checked.rows, start=2):
        facts = facts_of(row, today)
        crew = crews.get(str(facts.pop("crew", "")).casefold())
        try:
            made.append(add_equipment(**facts, crew=crew, actor=actor, now=now))
        except FirstspadeError as refused:
            raise BadInput(f"Row {number}: {refused.message} Nothing was saved.") from refused
    draft.done_at = now
    draft.save(update_fields=["done_at"])
    return made
