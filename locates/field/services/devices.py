"""The instruments of a run: taken from the register or typed, checked against method and frequency, kept as
they stood that day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from locates.field import reckoning, register
from locates.field.models import Device, Run
from locates.field.services.given import DeviceGiven
from locates.field.words import DeviceKind, method_of
from locates.ground import entry
from locates.ground.quality import Method
from locates.ground.refusal import GroundError
from tickets import evidence
from tickets.services.refusals import Conflict, Faults, need_person
from tickets.services.writing import open_job
from tickets.states import Act

NEEDS_RECEIVER = frozenset(
    {Method.DIRECT, Method.CLAMP, Method.INDUCTION, Method.PASSIVE_POWER, Method.PASSIVE_RADIO, Method.SONDE}
)
NEEDS_FREQUENCY = frozenset({Method.DIRECT, Method.CLAMP, Method.INDUCTION, Method.SONDE})
# Which instruments must have the frequency sent: a sonde sends only on its own runs.
TUNED = {DeviceKind.RECEIVER, DeviceKind.TRANSMITTER}


@dataclass(frozen=True, slots=True)
class Instrumented:
    """An instrument as it will be kept: what was given, filled from the register, and how it stands."""

    given: DeviceGiven
    standing: str


@transaction.atomic
def write_instruments(*, run: Run, devices: Sequence[DeviceGiven], actor: Any, now: datetime) -> Run:
    """The instruments of an open run anew, as they stood on the day it was begun; logged."""
    need_person(actor)
    job = open_job(run.job, Act.RECORD)
    run = Run.objects.select_for_update(of=("self",)).select_related("job__site").get(pk=run.pk)
    if not run.is_open:
        raise Conflict(f"{run.label} was finished before. What it was read with stands.")
    on = run.begun_at.astimezone(ZoneInfo(job.site.time_zone)).date()
    faults = Faults()
    method = method_of(run.method)
    found = check_devices(method, devices, on, faults)
    frequency = check_frequency(method, run.frequency_hz, found, faults)
    faults.refuse()
    run.devices.all().delete()
    rows = Device.objects.bulk_create([device_row(run, one, on) for one in found])
    run.frequency_hz = frequency
    points = list(run.points.filter(taken_out_at=None).order_by("number"))
    run.result, run.result_version, run.reckoned_at = reckoning.reckon(run, points), reckoning.VERSION, now
    run.save(update_fields=["frequency_hz", "result", "result_version", "reckoned_at"])
    said = [f"{row.kind}: {row.name}, {row.serial}. {row.calibration_words}" for row in rows]
    payload = {"run": run.pk, "label": run.label, "instruments": said}
    evidence.append(job=job, kind="locate_instruments_written", actor=actor, at=now, payload=payload)
    return run


def check_devices(method: Method, devices: Sequence[DeviceGiven], on: date, faults: Faults) -> list[Instrumented]:
    """The instruments with what the register says of them; every fault is added."""
    asked = [d.equipment_id for d in devices if d.equipment_id is not None]
    known = {one.equipment_id: one for one in register.in_use().named(asked, on)} if asked else {}
    found = [_filled(device, known, on, faults) for device in devices]
    kinds = [d.kind for d in devices]
    for device in (one.given for one in found):
        kind = faults.word("devices", device.kind, DeviceKind)
        if kind is not None and not device.name.strip():
            faults.add(f"{kind}_name", f"Give the {_said(kind)}'s name.")
        if kind is not None and not device.serial.strip():
            faults.add(f"{kind}_serial", f"Give the {_said(kind)}'s serial number: what was read rests on it.")
        if device.full_scale is not None and not 0 < device.full_scale < 1e9:
            faults.add(f"{device.kind}_full_scale", "Give the top of the signal scale as a number above zero.")
    if len(set(kinds)) != len(kinds):
        faults.add("devices", "Give one instrument of each kind at most.")
    if method in NEEDS_RECEIVER and DeviceKind.RECEIVER not in kinds:
        faults.add("receiver", "Give the receiver: what was read rests on it.")
    if method is Method.SONDE and DeviceKind.SONDE not in kinds:
        faults.add("sonde", "Give the sonde that was followed.")
    return found


def check_frequency(
    method: Method, frequency_hz: float | None, devices: Sequence[Instrumented], faults: Faults
) -> float | None:
    """The frequency as the receiver has it; refused when an instrument in use does not have it."""
    if frequency_hz is None:
        if method in NEEDS_FREQUENCY:
            faults.add("frequency", "Give the frequency, as 512 Hz or 33 kHz.")
        return None
    tuned = TUNED | ({DeviceKind.SONDE} if method is Method.SONDE else set())
    if method is Method.SONDE:
        tuned.discard(DeviceKind.TRANSMITTER)
    found = frequency_hz
    for device in (one.given for one in devices):
        if device.kind not in tuned or not device.frequencies_hz:
            continue
        try:
            found = entry.check_frequency_hz(frequency_hz, device.frequencies_hz, device.kind)
        except GroundError as refused:
            faults.add("frequency", refused.message)
    return found


def device_row(run: Run, one: Instrumented, on: date) -> Device:
    """The row to keep: a copy of how the instrument stood that day."""
    given, due = one.given, one.given.calibration_due_on
    return Device(
        run=run,
        kind=given.kind,
        name=given.name.strip()[:80],
        serial=given.serial.strip()[:60],
        frequencies_hz=list(given.frequencies_hz),
        full_scale=given.full_scale,
        calibration_due_on=due,
        calibration_words=one.standing[:320],
        overdue=None if due is None else due < on,
        equipment_id=given.equipment_id,
    )


def _filled(given: DeviceGiven, known: dict[int, register.Instrument], on: date, faults: Faults) -> Instrumented:
    if given.equipment_id is None:
        return Instrumented(given, register.standing_words(given.calibration_due_on, on))
    item = known.get(given.equipment_id)
    if item is None or item.kind != given.kind:
        faults.add(given.kind, f"The register has no such {_said(given.kind)}. Choose again, or type it.")
        return Instrumented(given, register.standing_words(None, on))
    filled = DeviceGiven(
        kind=item.kind,
        name=item.name,
        serial=item.serial,
        frequencies_hz=item.frequencies_hz or given.frequencies_hz,
        calibration_due_on=item.good_through,
        equipment_id=item.equipment_id,
        full_scale=given.full_scale,
    )
    return Instrumented(filled, item.standing(on))


def _said(kind: str) -> str:
    return kind.replace("_", " ")
