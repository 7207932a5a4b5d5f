"""Beginning a run over the API: what the page's form takes, read by the same form."""

from __future__ import annotations

from datetime import datetime
from typing import Any, cast

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS
from rest_framework import serializers

from locates.field import services
from locates.field.models import Run
from locates.field.pages.access import local_day
from locates.field.pages.instruments import KINDS, typed_fields
from locates.field.pages.run_form import NAMES, RunForm
from locates.field.words import DEVICE_WORDS
from locates.rest.fields import Instant
from tickets.models import Job
from tickets.pages.words import sentence
from tickets.selectors import jobs_visible_to
from tickets.services.refusals import BadInput

NOT_TYPED = ("client_id",)
NO_FIELD: dict[str, str] = {NON_FIELD_ERRORS: "non_field_errors"}


class RunStart(serializers.Serializer):
    """A run as typed: lengths are texts with their unit, frequencies as 512 Hz or 33 kHz, positions as latitude
    and longitude parted by a comma. An instrument is `e:` with its number in the register, or typed."""

    job = serializers.PrimaryKeyRelatedField(
        queryset=Job.objects.select_related("site"),
        error_messages={"does_not_exist": "There is no job {pk_value} that you may see. Choose another."},
    )
    client_id = serializers.UUIDField(help_text="Id from the device; sent again it changes nothing")
    begun_at = Instant(
        required=False,
        allow_null=True,
        help_text="By the device, where it had no connection; else the moment it comes",
    )

    def get_fields(self) -> dict[str, Any]:
        """The fields above, and every one of the page's form; of the jobs those that this person may see."""
        found: dict[str, Any] = super().get_fields()
        if "person" in self.context:
            found["job"].queryset = jobs_visible_to(self.context["person"]).select_related("site")
        for name, field in RunForm.base_fields.items():
            if name not in NOT_TYPED:
                found[name] = _text_of(field)
        for kind in KINDS:
            words = f"The {DEVICE_WORDS[kind].lower()}: e:12 is item 12 of the register"
            found[str(kind)] = serializers.CharField(required=False, allow_blank=True, help_text=words)
            found.update({name: _text_of(field) for name, field in typed_fields(kind).items()})
        return found


def _text_of(field: forms.Field) -> serializers.Field:
    """A form's field as the text that it reads; its own checks follow when the form does."""
    initial = field.initial
    words = " ".join(str(part).rstrip(".") + "." for part in (field.label, field.help_text) if part)
    if isinstance(field, forms.ChoiceField):
        values = [str(value) for value, _ in cast("list[tuple[str, str]]", field.choices) if value]
        words += f" One of {', '.join(values)}."
    needed = field.required and initial is None
    return serializers.CharField(required=needed, allow_blank=True, allow_null=not needed, help_text=words)


def begin_run(given: dict[str, Any], *, person: Any, now: datetime) -> Run:
    """Begins what a validated `RunStart` holds. Raises BadInput by the names of the form's fields."""
    job: Job = given["job"]
    begun: datetime | None = given.get("begun_at")
    form = RunForm(_typed(given), zone=job.site.time_zone, person=person, on=local_day(job, begun or now))
    if not form.is_valid():
        raise _refusal({NO_FIELD.get(str(name), str(name)): str(errors[0]) for name, errors in form.errors.items()})
    try:
        return services.start_run(
            job=job, client_id=given["client_id"], given=form.given(), actor=person, now=now, begun_at=begun
        )
    except BadInput as refused:
        raise _refusal({NAMES.get(name, name): sentence(words) for name, words in refused.fields.items()}) from None


def _typed(given: dict[str, Any]) -> dict[str, str]:
    """What the form reads: texts by its own names, what was left out as the form begins."""
    first = {
        name: field.initial
        for name, field in RunForm.base_fields.items()
        if field.initial is not None and name not in NOT_TYPED
    }
    typed = {name: value for name, value in given.items() if isinstance(value, str) and value}
    return {**first, **typed, "client_id": str(given["client_id"])}


def _refusal(faults: dict[str, str]) -> BadInput:
    return BadInput(next(iter(faults.values())), fields=faults)
