"""What of a ticket may be corrected: only what differs is sent on, with the reason."""

from __future__ import annotations

from typing import Any

from django import forms

from tickets.models import Ticket
from tickets.pages.act_forms import ActForm
from tickets.pages.fields import LocalInstantField
from tickets.pages.ground_form import OUTLINE, RECTANGLE, ground_fields, ground_of
from tickets.pages.ticket_form import AREA_WAYS, INSTANTS, OF_AREA, SAME, WORDS_ONLY, local_input

AS_IT_IS = "as_it_is"


class CorrectForm(ActForm):
    """Starts from the ticket as it stands; an untouched field is no change, to the second."""

    instants = INSTANTS
    number = forms.CharField(label="Ticket number", max_length=48)
    received_at = LocalInstantField(label="Notice received by the centre", help_text="Site's clock.")
    printed_start_at = LocalInstantField(label="Start printed on the ticket", required=False)
    printed_expiry_at = LocalInstantField(label="Expiry printed on the ticket", required=False)
    stated_start_at = LocalInstantField(label="Start named in the notice", required=False)
    given_by_name = forms.CharField(label="Who gave notice", required=False, max_length=120)
    area_words = forms.CharField(
        label="Area in the ticket's words", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )
    reason = forms.CharField(
        label="Why it is corrected",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="The log keeps what was entered before, what it is now, and this reason.",
    )

    def __init__(self, *args: Any, ticket: Ticket, zone: str, **kwargs: Any) -> None:
        starts: dict[str, Any] = {
            name: local_input(at, zone) for name in INSTANTS if (at := getattr(ticket, name)) is not None
        }
        starts |= {name: getattr(ticket, name) for name in ("number", "given_by_name", "area_words")}
        super().__init__(*args, zone=zone, initial=starts, **kwargs)
        ways = [(AS_IT_IS, "As it is"), *((w, AREA_WAYS[w]) for w in (SAME, RECTANGLE, OUTLINE, WORDS_ONLY))]
        self.fields.update(ground_fields("area", ways, AS_IT_IS, OF_AREA))
        self.fields["area_way"].label = "Area that the ticket covers"
        reason = self.fields.pop("reason")
        self.fields["reason"] = reason
        self.ticket = ticket
        self.area: dict[str, Any] | None = None

    def clean(self) -> dict[str, Any]:
        self.typed = {name: self.cleaned_data.get(name) or "" for name in INSTANTS}
        given = super().clean()
        site = self.ticket.job.site
        self.area = ground_of(self, "area", (site.latitude, site.longitude))
        return given

    def changes(self, dug: dict[str, Any] | None) -> dict[str, Any]:
        """What differs from the ticket. `dug` is the job's dig area."""
        given, found = self.cleaned_data, {}
        for name in ("number", "given_by_name", "area_words"):
            if given[name] != getattr(self.ticket, name):
                found[name] = given[name]
        for name in INSTANTS:
            if self.typed[name] != self.initial.get(name, ""):
                found[name] = given.get(name) or None
        way = given["area_way"]
        if way != AS_IT_IS:
            found["area"] = dug if way == SAME else self.area
        return found
