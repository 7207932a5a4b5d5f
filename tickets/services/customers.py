"""Writes of customers and sites."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction

from locates.errors import FirstspadeError
from locates.place import resolve
from tickets.models import Customer, Site
from tickets.services.refusals import BadInput, Faults, need_office
from tickets.states import PlaceSource

CHANGEABLE = frozenset({"name", "phone", "email", "note"})
_RENAMED = {"lat": "latitude", "lon": "longitude", "state_code": "state"}


@transaction.atomic
def create_customer(
    *, actor: Any, name: str, now: datetime, phone: str = "", email: str = "", note: str = ""
) -> Customer:
    """A new customer. Two of the same name are allowed: people share names."""
    need_office(actor)
    customer = Customer(name=name.strip(), phone=phone.strip(), email=email.strip(), note=note.strip())
    _check(customer)
    customer.save()
    return customer


@transaction.atomic
def change_customer(*, customer: Customer, actor: Any, now: datetime, **changes: str) -> Customer:
    """Correct any of CHANGEABLE."""
    need_office(actor)
    unknown = set(changes) - CHANGEABLE
    if unknown:
        raise TypeError(f"not a field that can be changed: {', '.join(sorted(unknown))}")
    found = Customer.objects.select_for_update().get(pk=customer.pk)
    for field, value in changes.items():
        setattr(found, field, value.strip())
    _check(found)
    found.save()
    return found


def _check(customer: Customer) -> None:
    faults = Faults()
    faults.need(name=customer.name)
    for field, longest in (("name", 120), ("phone", 32)):
        if len(getattr(customer, field)) > longest:
            faults.add(field, f"is longer than {longest} characters.")
    if customer.email:
        try:
            validate_email(customer.email)
        except ValidationError:
            faults.add("email", f"{customer.email!r} is not an e-mail address.")
    faults.refuse()


def make_site(
    *,
    customer: Customer | None,
    name: str,
    street: str,
    town: str,
    county: str,
    state: str,
    latitude: float,
    longitude: float,
    time_zone: str,
    faults: Faults,
) -> Site:
    """A site, not yet saved: state and zone are found from the position unless a person chose them; what
    is wrong goes to `faults`. Near a state line the state must be chosen."""
    faults.need(street=street, town=town)
    chosen_state, chosen_zone = state.strip().upper() or None, time_zone.strip() or None
    site = Site(
        customer=customer,
        name=name.strip(),
        street=street.strip(),
        town=town.strip(),
        county=county.strip(),
        state=chosen_state or "",
        latitude=latitude,
        longitude=longitude,
        time_zone=chosen_zone or "",
        place_source=PlaceSource.CHOSEN if chosen_state or chosen_zone else PlaceSource.RESOLVED,
    )
    try:
        place = resolve(latitude, longitude, state_code=chosen_state, time_zone=chosen_zone)
    except FirstspadeError as refused:
        named = {_RENAMED.get(field, field): words for field, words in refused.fields.items()}
        faults.take(BadInput(refused.message, fields=named), field="latitude")
        return site
    if place.near_state_line:
        near = ", ".join((place.state_code, *place.nearby_states))
        faults.add("state", f"the site lies at a state line ({near}); choose the state whose law holds.")
    if place.zone_doubt is not None and chosen_zone is None:
        faults.add("time_zone", f"{place.zone_doubt} Choose the time zone.")
    site.state, site.time_zone = place.state_code, place.time_zone
    site.county = site.county or place.county_name
    return site
