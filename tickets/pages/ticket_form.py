"""The half of the entry page that is the ticket, and the page of a further ticket on a job."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.http import QueryDict

from tickets.models import Ticket
from tickets.pages.fields import LATER, LocalInstantField, PageForm
from tickets.pages.ground_form import OUTLINE, RECTANGLE, Position, ground_fields, ground_of
from tickets.pages.words import local_words, sentence
from tickets.states import TicketKind, Utility, choices

SAME, WORDS_ONLY, OF_TICKET = "same", "words", "of_ticket"
OF_AREA = " of the ticket's area"
SPARE_ROWS = 3
MOST_ROWS = 60
FIRST_KINDS = (TicketKind.NORMAL, TicketKind.EMERGENCY)
INSTANTS = ("received_at", "stated_start_at", "printed_start_at", "printed_expiry_at")
AREA_WAYS = {
    SAME: "The same ground as the dig area",
    OF_TICKET: "The same area as the ticket it belongs to",
    RECTANGLE: "Length by width around the position",
    OUTLINE: "An outline (GeoJSON)",
    WORDS_ONLY: "Only words are known (nobody may dig until the area is drawn)",
}


@dataclass
class OperatorRow:
    """One row of the operators' table as typed, and what is wrong with it."""

    name: str = ""
    utility: str = Utility.UNKNOWN
    error: str = ""


class TicketForm(PageForm):
    """One notice. `position` is the site's; `rows` are the operators as typed."""

    ticket_number = forms.CharField(label="Ticket number", max_length=48)
    kind = forms.ChoiceField(label="Kind", initial=TicketKind.NORMAL)
    received_at = LocalInstantField(label="Notice received by the centre", help_text=LATER.capitalize() + ".")
    printed_start_at = LocalInstantField(
        label="Start printed on the ticket", required=False, help_text="Where the centre printed one."
    )
    printed_expiry_at = LocalInstantField(
        label="Expiry printed on the ticket", required=False, help_text="Where the centre printed one."
    )
    stated_start_at = LocalInstantField(
        label="Start named in the notice", required=False, help_text="Where you named one."
    )
    given_by_name = forms.CharField(label="Who gave notice", required=False, max_length=120)
    area_words = forms.CharField(
        label="Area in the ticket's words", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(
        self,
        *args: Any,
        position: Position | None = None,
        kinds: Iterable[TicketKind] = FIRST_KINDS,
        ways: Iterable[str] = (SAME, RECTANGLE, OUTLINE, WORDS_ONLY),
        operators: Iterable[OperatorRow] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.position = position
        kind = self.fields["kind"]
        assert isinstance(kind, forms.ChoiceField)
        allowed = set(kinds)
        kind.choices = [pair for pair in choices(TicketKind) if pair[0] in allowed]
        offered = [(way, AREA_WAYS[way]) for way in ways]
        self.fields.update(ground_fields("area", offered, offered[0][0], OF_AREA))
        self.fields["area_way"].label = "Area that the ticket covers"
        self.rows = self._typed_rows() if self.is_bound else [*operators]
        self.area: dict[str, Any] | None = None

    def _typed_rows(self) -> list[OperatorRow]:
        if not isinstance(self.data, QueryDict):
            return []
        read = self.data.getlist
        names, utilities = read("operator_name")[:MOST_ROWS], read("operator_utility")
        padded = [*utilities, *[Utility.UNKNOWN] * len(names)]
        rows = [OperatorRow(name.strip(), utility) for name, utility in zip(names, padded, strict=False)]
        return [row for row in rows if row.name or row.utility != Utility.UNKNOWN]

    @property
    def shown_rows(self) -> list[OperatorRow]:
        """The rows as typed and some empty ones."""
        return [*self.rows, *(OperatorRow() for _ in range(SPARE_ROWS))][: max(MOST_ROWS, len(self.rows))]

    @property
    def utilities(self) -> list[tuple[str, str]]:
        return choices(Utility)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for name in INSTANTS:
            self.instant(name)
        self.area = ground_of(self, "area", self.position)
        for row in self.rows:
            if not row.name:
                row.error = "Name the operator, or set its utility back to not known."
                self.add_error(None, "An operator's name is missing.")
        return given

    def notice(self) -> dict[str, Any]:
        """The notice as `enter_ticket` takes it, apart from the tickets it belongs to."""
        given = self.cleaned_data
        return {
            "number": given["ticket_number"],
            "kind": given["kind"],
            **{name: given.get(name) or None for name in INSTANTS},
            "area": self.area,
            "area_words": given["area_words"],
            "given_by_name": given["given_by_name"],
            "operators": [{"name": row.name, "utility": row.utility} for row in self.rows],
        }

    def take_ticket(self, refused: Any) -> None:
        """A refusal of `enter_ticket`: operators' words go beside their row, the rest beside its field."""
        left = dict(refused.fields)
        for at, row in enumerate(self.rows):
            for part in ("name", "utility"):
                words = left.pop(f"operators.{at}.{part}", "")
                if words:
                    row.error = sentence(local_words(words, self.zone))
        if refused.fields and not left:
            self.add_error(None, "Look at the operators: one row cannot be used.")
            return
        refused.fields = left
        self.take(refused, {"number": "ticket_number", "area": "area_outline", "renews": "kind", "follows": "kind"})


def prefilled(ticket: Ticket, kind: TicketKind, now: datetime, zone: str, giver: str) -> dict[str, Any]:
    """What a renewal, second notice or re-mark of a ticket starts from."""
    return {
        "kind": kind,
        "received_at": local_input(now, zone),
        "given_by_name": giver,
        "area_words": ticket.area_words,
        "area_way": OF_TICKET if ticket.area is not None else WORDS_ONLY,
    }


def local_input(at: datetime, zone: str) -> str:
    """An instant as a datetime-local control holds it, on the site's clock, to the minute."""
    return at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%dT%H:%M")


def rows_of(ticket: Ticket) -> list[OperatorRow]:
    """The operators of a ticket as rows to start from."""
    return [OperatorRow(operator.name, operator.utility) for operator in ticket.operators.all()]
