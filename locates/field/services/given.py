"""What is handed to a write, as a person typed it: lengths are texts, read and checked by the engine's entry."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from locates.ground.lengths import LengthUnit


@dataclass(frozen=True, slots=True)
class DeviceGiven:
    """An instrument: of the register by its `equipment_id` (the register then says the rest), or typed.

    `frequencies_hz` empty: not known, so none can be checked against it. `full_scale` is the top of a
    receiver's signal scale, from which on it is over range.
    """

    kind: str
    name: str = ""
    serial: str = ""
    frequencies_hz: tuple[float, ...] = ()
    calibration_due_on: date | None = None
    equipment_id: int | None = None
    full_scale: float | None = None


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
    transmitter_moment_a_m2: float | None = None
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
    """One point. Depths and lengths are texts in `unit` unless they name their own ("3 ft 6 in"). How good the
    position is comes from a device in metres, or from a person as `accuracy`, in feet unless it says more."""

    latitude: float | None = None
    longitude: float | None = None
    accuracy_m: float | None = None
    accuracy: str = ""
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
    ground_level: str = ""
    ground_level_m: float | None = None
    measured_within: str = ""
    target_verified: bool = False
    placed: str = "nothing"
    note: str = ""
    taken_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class PipeGiven:
    """A sewer or drain, as far as its fall and its camera ask. `flows_away`: it falls in the order of the
    points. `sonde_behind_lens_m` is how far the sonde lies behind the camera's lens."""

    pipe_size_m: float | None = None
    plumbing_code: str = "IPC"
    flows_away: bool = True
    sonde_behind_lens_m: float | None = None


@dataclass(frozen=True, slots=True)
class SoilGiven:
    """What a competent person found. `cave_in_sign` None: not examined. The classes above type C rest on a
    visual and a manual test (29 CFR 1926 Subpart P, Appendix A, paragraph (c)(2))."""

    soil: str
    competent_person: str
    disturbed: bool = True
    water_or_seepage: bool = False
    cave_in_sign: bool | None = None
    open_hours: float | None = None
    visual_words: str = ""
    manual_words: str = ""
