"""What is handed to a write, as a person typed it: lengths are texts, read and checked by the engine's entry."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from locates.ground.lengths import LengthUnit


@dataclass(frozen=True, slots=True)
class DeviceGiven:
    """An instrument. `frequencies_hz` empty: not known, so none can be checked against it."""

    kind: str
    name: str
    serial: str
    frequencies_hz: tuple[float, ...] = ()
    calibration_due_on: date | None = None
    equipment_id: int | None = None


@dataclass(frozen=True, slots=True)
class RunGiven:
    """What a run is: target, method, instruments, and how its points get their places."""

    label: str
    method: str
    utility: str = "unknown"
    owner_words: str = ""
    frequency_hz: float | None = None
    outside_diameter_m: float | None = None
    transmitter_words: str = ""
    transmitter_at: tuple[float, float] | None = None
    ground_words: str = ""
    weather_words: str = ""
    position_by: str = "phone"
    start_words: str = ""
    start_at: tuple[float, float] | None = None
    end_words: str = ""
    end_at: tuple[float, float] | None = None
    mark_accuracy_m: float | None = None
    devices: tuple[DeviceGiven, ...] = ()


@dataclass(frozen=True, slots=True)
class PointGiven:
    """One point. Depths and lengths are texts in `unit` unless they name their own ("3 ft 6 in")."""

    latitude: float | None = None
    longitude: float | None = None
    accuracy_m: float | None = None
    along: str = ""
    left: str = ""
    right: str = ""
    unit: LengthUnit = LengthUnit.INCH
    depth: str = ""
    null_off: str = ""
    left_45: str = ""
    right_45: str = ""
    current_ma: float | None = None
    signal: float | None = None
    gain_db: float | None = None
    null_behind: str = ""
    null_ahead: str = ""
    counter: str = ""
    ground_level_m: float | None = None
    measured_within: str = ""
    target_verified: bool = False
    placed: str = "nothing"
    note: str = ""
    taken_at: datetime | None = None
