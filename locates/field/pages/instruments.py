"""The instruments of a run on a form: chosen from the register, with how each stands that day, or typed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from locates import clock
from locates.errors import FirstspadeError
from locates.field import register, services
from locates.field.models import Device, Run
from locates.field.pages.access import local_day, run_or_404
from locates.field.pages.fields import FrequenciesField, hertz_words
from locates.field.register import Instrument
from locates.field.selectors import known_devices
from locates.field.services import DeviceGiven
from locates.field.words import DEVICE_WORDS, DeviceKind
from tickets.pages.access import person_of
from tickets.pages.fields import PageForm, depends

KINDS = (DeviceKind.RECEIVER, DeviceKind.TRANSMITTER, DeviceKind.CLAMP, DeviceKind.SONDE, DeviceKind.CAMERA_REEL)
TYPED = ("name", "serial", "frequencies", "due")
MOST_SAID = 6


@dataclass(frozen=True)
class Group:
    """One kind of instrument on the form: the choice, what is said of those to choose from, the typed fields."""

    title: str
    kind: str
    choice: forms.BoundField
    said: list[str]
    typed: list[forms.BoundField]

    @property
    def wrong(self) -> bool:
        return any(field.errors for field in (self.choice, *self.typed))


def typed_fields(kind: DeviceKind) -> dict[str, forms.Field]:
    """The fields of an instrument that is not in the register, by their names on the form."""
    title = DEVICE_WORDS[kind]
    found: dict[str, forms.Field] = {
        f"{kind}_name": forms.CharField(label=f"{title}: name", max_length=80, required=False),
        f"{kind}_serial": depends(forms.CharField(label=f"{title}: serial number", max_length=60, required=False)),
    }
    if kind not in (DeviceKind.CLAMP, DeviceKind.CAMERA_REEL):
        found[f"{kind}_frequencies"] = FrequenciesField(
            label=f"{title}: frequencies it has",
            max_length=200,
            required=False,
            help_text="As 512 Hz, 8 kHz, 33 kHz.",
        )
    found[f"{kind}_due"] = forms.DateField(
        label=f"{title}: calibration good through",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    if kind is DeviceKind.RECEIVER:
        found["receiver_full_scale"] = forms.FloatField(
            label="Receiver: top of its signal scale",
            required=False,
            help_text="As 999. From there on it is over range and its depth is not believed.",
        )
    return found


class InstrumentForm(PageForm):
    """Base of the forms that name instruments. `on` is the day by which their state is said."""

    def __init__(self, *args: Any, person: Any, on: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.on = on
        self.items = list(register.in_use().instruments([str(k) for k in KINDS], person, on))
        self.before = [d for d in known_devices(KINDS) if d.equipment_id is None]
        for kind in KINDS:
            self._fields_of(kind)

    def _fields_of(self, kind: DeviceKind) -> None:
        title = DEVICE_WORDS[kind]
        self.fields[str(kind)] = depends(forms.ChoiceField(label=title, required=False, choices=self._choices(kind)))
        self.fields.update(typed_fields(kind))

    def _choices(self, kind: DeviceKind) -> list[Any]:
        mine = [one for one in self.items if one.kind == kind and one.at_hand]
        others = [one for one in self.items if one.kind == kind and not one.at_hand]
        typed = [(f"d:{d.pk}", f"{d.name}, {d.serial}") for d in self.before if d.kind == kind]
        groups = [
            ("With you or your crew", [self._choice(one) for one in mine]),
            ("Elsewhere in the register" if mine else "In the register", [self._choice(one) for one in others]),
            ("Used before, not in the register", typed),
        ]
        return [("", "None, or typed below"), *((head, rows) for head, rows in groups if rows)]

    def _choice(self, one: Instrument) -> tuple[str, str]:
        if one.flaw:
            state = one.flaw
        elif one.good_through is None:
            state = "no calibration date"
        else:
            ran_out = one.good_through < self.on
            state = f"{'ran out' if ran_out else 'good through'} {one.good_through:%a} {_day(one.good_through)}"
        return f"e:{one.equipment_id}", f"{one.name}, {one.serial}: {state}"

    def groups(self) -> list[Group]:
        """The fields by kind, for the template."""
        found = []
        for kind in KINDS:
            names = [n for n in self.fields if n.startswith(f"{kind}_") and n != "transmitter_position"]
            typed = [self[n] for n in names if n.removeprefix(f"{kind}_") in (*TYPED, "full_scale")]
            shown = [one for one in self.items if one.kind == kind]
            mine = [one for one in shown if one.at_hand] or shown
            said = [_said(one, self.on) for one in mine[:MOST_SAID]]
            found.append(Group(DEVICE_WORDS[kind], str(kind), self[kind], said, typed))
        return found

    def devices(self) -> tuple[DeviceGiven, ...]:
        """What the service takes; call it when the form is valid."""
        return tuple(d for d in map(self._device, KINDS) if d is not None)

    def _device(self, kind: DeviceKind) -> DeviceGiven | None:
        data = self.cleaned_data
        name, serial = data[f"{kind}_name"], data[f"{kind}_serial"]
        frequencies, due = data.get(f"{kind}_frequencies") or (), data[f"{kind}_due"]
        scale = data.get(f"{kind}_full_scale")
        chosen = data[kind]
        if name or serial:
            return DeviceGiven(kind, name, serial, frequencies, due, full_scale=scale)
        if chosen.startswith("e:"):
            return DeviceGiven(kind, frequencies_hz=frequencies, equipment_id=int(chosen[2:]), full_scale=scale)
        used = next((d for d in self.before if f"d:{d.pk}" == chosen), None)
        if used is None:
            return None
        return DeviceGiven(
            kind,
            used.name,
            used.serial,
            frequencies or tuple(used.frequencies_hz),
            due or used.calibration_due_on,
            full_scale=scale or used.full_scale,
        )


def initial_devices(devices: Iterable[Device]) -> dict[str, Any]:
    """The same instruments again: those of the register chosen, the others as they were typed."""
    initial: dict[str, Any] = {}
    for device in devices:
        if device.kind == DeviceKind.RECEIVER and device.full_scale is not None:
            initial["receiver_full_scale"] = f"{device.full_scale:g}"
        if device.equipment_id is not None:
            initial[device.kind] = f"e:{device.equipment_id}"
            continue
        initial[f"{device.kind}_name"] = device.name
        initial[f"{device.kind}_serial"] = device.serial
        initial[f"{device.kind}_frequencies"] = ", ".join(hertz_words(f) for f in device.frequencies_hz)
        initial[f"{device.kind}_due"] = device.calibration_due_on
    return initial


@require_http_methods(["GET", "POST"])
def instruments(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down what an open run is read with, as it stood on the run's day."""
    run = run_or_404(request, pk)
    given = {"zone": run.job.site.time_zone, "person": person_of(request), "on": local_day(run.job, run.begun_at)}
    if request.method == "GET":
        form = InstrumentForm(initial=initial_devices(run.devices.all()), **given)
        return _show(request, run, form)
    form = InstrumentForm(request.POST, **given)
    if form.is_valid():
        try:
            services.write_instruments(run=run, devices=form.devices(), actor=person_of(request), now=clock.now())
        except FirstspadeError as refused:
            # the frequency was chosen before: its fault belongs to the receiver here
            form.take(refused, {"frequency": "receiver", "devices": "receiver"})
        else:
            messages.success(request, "The instruments are written down as they stood that day.")
            return redirect("locate-run", pk=pk)
    return _show(request, run, form, status=400)


def _show(request: HttpRequest, run: Run, form: InstrumentForm, status: int = 200) -> HttpResponse:
    context = {"run": run, "job": run.job, "form": form, "frequency_words": hertz_words(run.frequency_hz)}
    return render(request, "field/instruments.html", context, status=status)


def _said(one: Instrument, on: date) -> str:
    tuned = ", ".join(hertz_words(f) for f in one.frequencies_hz)
    has = f"has {tuned}" if tuned else "no frequencies on record, so none can be checked"
    if one.kind in (DeviceKind.CLAMP, DeviceKind.CAMERA_REEL):
        has = one.place_words
    return f"{one.name}: {has}. {one.standing(on)}."


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
