"""The competent person's finding of a dig area's soil."""

from __future__ import annotations

import math
import uuid
from datetime import datetime
from typing import Any

from django.db import transaction

from locates.field.models import SoilFinding
from locates.field.services.given import SoilGiven
from locates.ground.trench import Soil
from tickets import evidence
from tickets.models import DigArea
from tickets.services.refusals import Conflict, Faults, need_person
from tickets.services.writing import open_job
from tickets.states import Act

LONGEST_HOURS = 24.0 * 365
# Classes that let a side stand steeper than unclassified soil: they rest on tests.
TESTED = frozenset({Soil.ROCK, Soil.A, Soil.B})
APPENDIX_A = "29 CFR 1926 Subpart P, Appendix A, (c)(2)"


@transaction.atomic
def record_soil(*, area: DigArea, client_id: uuid.UUID, given: SoilGiven, actor: Any, now: datetime) -> SoilFinding:
    """A further finding; the latest counts. Sent again with the same id it changes nothing."""
    need_person(actor)
    job = open_job(area.job, Act.RECORD)
    found = SoilFinding.objects.filter(client_id=client_id).first()
    if found is not None:
        if found.dig_area_id != area.pk:
            raise Conflict("That id stands for another dig area. Give this finding an id of its own.")
        return found
    _check(given)
    tests = [("Seen", given.visual_words), ("By hand", given.manual_words)]
    made = SoilFinding.objects.create(
        client_id=client_id,
        dig_area=area,
        soil=given.soil,
        disturbed=given.disturbed,
        water_or_seepage=given.water_or_seepage,
        cave_in_sign=given.cave_in_sign,
        open_hours=given.open_hours,
        competent_person=given.competent_person.strip()[:80],
        how_words=" ".join(f"{head}: {words.strip()[:120]}." for head, words in tests if words.strip()),
        by=actor,
        found_at=now,
    )
    payload = {
        "dig_area": area.pk,
        "name": area.name,
        "soil": made.soil,
        "competent_person": made.competent_person,
        "how": made.how_words,
        "water_or_seepage": made.water_or_seepage,
        "cave_in_sign": made.cave_in_sign,
    }
    evidence.append(job=job, kind="soil_found", actor=actor, at=now, payload=payload)
    return made


def _check(given: SoilGiven) -> None:
    faults = Faults()
    soil = faults.word("soil", given.soil, Soil)
    faults.need(competent_person=given.competent_person)
    if soil in TESTED:
        for name, words in (("visual_words", given.visual_words), ("manual_words", given.manual_words)):
            if not words.strip():
                faults.add(
                    name,
                    f"Soil of {soil} rests on one visual and one manual test at least ({APPENDIX_A}). Say "
                    "what it showed, or leave the soil unclassified.",
                )
    if soil is Soil.C and not (given.visual_words.strip() or given.manual_words.strip()):
        faults.add("visual_words", "Say what it was seen by.")
    hours = given.open_hours
    if hours is not None and not (math.isfinite(hours) and 0 < hours <= LONGEST_HOURS):
        faults.add("open_hours", "Give the hours that it stays open, above zero and up to a year; or none.")
    faults.refuse()
