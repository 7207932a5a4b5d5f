"""What there is to plan: crews, shifts, kit, visits and their order, as frozen checked values. Pure.

All instants are integer seconds from the start of the horizon, all lengths of time integer seconds. A
benchmark may let one unit stand for another tick; the engine only needs integers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType


class VisitKind(StrEnum):
    """What a crew comes for; the trade's own kinds of visit."""

    WHITE_LINE = "white_line"
    LOCATE = "locate"
    CAMERA = "camera"
    DIG = "dig"
    RESTORATION = "restoration"
    REMARK_CHECK = "remark_check"


class Priority(StrEnum):
    """How much it matters that a visit is planned at all, most pressing first."""

    EMERGENCY = "emergency"
    HIGH = "high"
    NORMAL = "normal"
    LOW = "low"


@dataclass(frozen=True, slots=True)
class Place:
    """A position: latitude and longitude in degrees (WGS 84), or planar coordinates of a benchmark."""

    x: float
    y: float
    planar: bool = False

    @classmethod
    def geographic(cls, latitude_deg: float, longitude_deg: float) -> Place:
        """Position on the earth; `y` holds the latitude, `x` the longitude, both in degrees."""
        return cls(x=longitude_deg, y=latitude_deg)

    @classmethod
    def plane(cls, x: float, y: float) -> Place:
        """Position in a plane, any unit; travel between such places needs the planar rule or a matrix."""
        return cls(x=x, y=y, planar=True)


@dataclass(frozen=True, slots=True)
class Window:
    """Allowed starts of a visit: from `earliest_s` to `latest_s`, both included (seconds of the horizon)."""

    earliest_s: int
    latest_s: int

    @classmethod
    def finishing_by(cls, opens_s: int, closes_s: int, duration_s: int) -> Window:
        """Starts such that work of `duration_s` lies whole between `opens_s` and `closes_s`."""
        return cls(opens_s, closes_s - duration_s)


@dataclass(frozen=True, slots=True)
class Break:
    """Time off the crew must get within a shift: length, earliest and latest start, all in seconds."""

    duration_s: int
    earliest_s: int
    latest_s: int


@dataclass(frozen=True, slots=True)
class Shift:
    """One crew's working day. The tour lies in `start_s` .. `end_s` + `overtime_max_s`.

    With `free_start` the crew may set out late and is paid from then; otherwise its time counts from
    `start_s`. Time beyond the length `end_s` - `start_s` is overtime. `fixed_cost` is charged once when
    the shift is used at all.
    """

    id: str
    crew_id: str
    day: int
    start_s: int
    end_s: int
    start_place: Place
    end_place: Place
    breaks: tuple[Break, ...] = ()
    overtime_max_s: int = 0
    free_start: bool = False
    fixed_cost: int = 0

    @property
    def last_s(self) -> int:
        """Latest end of the tour, overtime included."""
        return self.end_s + self.overtime_max_s


@dataclass(frozen=True, slots=True)
class Yard:
    """A place with kit: `part_kinds` are kept in stock, `call_s` is the time a call for kit takes."""

    id: str
    place: Place
    part_kinds: frozenset[str] = frozenset()
    call_s: int = 0


@dataclass(frozen=True, slots=True)
class Kit:
    """One item of equipment, on a crew's truck (`crew_id`) or at a yard (`yard_id`), exactly one of them.

    `fit_until_s` is the instant its calibration falls due (None: no date to keep); an item that falls due
    before a shift ends is not there for that shift, nor is one `out_of_service`, nor any on one of its
    `unfit_days` (`Shift.day`). A `movable` item of a crew that has no shift on a day lies at that crew's yard
    on that day.
    """

    id: str
    kind: str
    crew_id: str | None = None
    yard_id: str | None = None
    frequencies_hz: frozenset[int] = frozenset()
    fit_until_s: int | None = None
    out_of_service: bool = False
    movable: bool = False
    unfit_days: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class KitNeed:
    """An item of `kind` that a visit needs, one that has `frequency_hz` where given, and that shares a
    frequency with the item chosen for kind `common_frequency_with` where given (a receiver and a transmitter
    are of use only on a frequency that both have)."""

    kind: str
    frequency_hz: int | None = None
    common_frequency_with: str | None = None


@dataclass(frozen=True, slots=True)
class Crew:
    """A crew with its skills, its yard, and the parts on its truck (kind -> pieces, restocked each night)."""

    id: str
    skills: frozenset[str] = frozenset()
    yard_id: str | None = None
    parts: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Pin:
    """Keeps a visit on a shift, and at a start instant where given."""

    shift_id: str
    start_s: int | None = None


@dataclass(frozen=True, slots=True)
class Visit:
    """One piece of work at one place.

    `lawful` windows bind always (empty: any time); `renewed` windows bind likewise, but using one means that
    the ticket must be renewed first. `promised` windows are what the customer was told: kept when possible,
    never at the price of the law. Each instant of `sooner_s` (rising) that the start lies beyond counts as one more
    promise missed: for work that is wanted as soon as can be. The work ends by `expires_s`, the end of the ticket,
    unless it stands in a renewed window. `assumes_answers` marks a window that holds only if the operators answer in
    time. `required` (benchmarks) means that a plan without the visit is no plan.
    """

    id: str
    kind: VisitKind
    duration_s: int
    place: Place
    lawful: tuple[Window, ...] = ()
    promised: tuple[Window, ...] = ()
    sooner_s: tuple[int, ...] = ()
    renewed: tuple[Window, ...] = ()
    expires_s: int | None = None
    assumes_answers: bool = False
    priority: Priority = Priority.NORMAL
    skills: frozenset[str] = frozenset()
    kit: tuple[KitNeed, ...] = ()
    parts: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    pin: Pin | None = None
    required: bool = False


@dataclass(frozen=True, slots=True)
class OrderLink:
    """Visit `before_id` ends at least `gap_min_s`, at most `gap_max_s` before visit `after_id` starts.

    The later visit is planned only if the earlier one is.
    """

    before_id: str
    after_id: str
    gap_min_s: int = 0
    gap_max_s: int | None = None


@dataclass(frozen=True, slots=True)
class Weights:
    """What the owner can see and change; costs in one unit, a second of driving being `drive` of it.

    The first group ranks what a plan must not miss: each stands far above the sum of what is below it.
    """

    unplanned_emergency: int = 100_000_000
    unplanned_expiring: int = 10_000_000
    unplanned_high: int = 2_000_000
    unplanned_normal: int = 1_000_000
    unplanned_low: int = 300_000
    missed_promise: int = 100_000
    renewal: int = 30_000
    drive: int = 1
    duration: int = 0
    overtime: int = 2
    unevenness: int = 0
    moved: int = 10_800


@dataclass(frozen=True, slots=True)
class Planned:
    """Where a visit stood in the plan in force: what a re-plan moves as little as it can."""

    shift_id: str
    start_s: int


@dataclass(frozen=True, slots=True)
class Box:
    """Latitudes and longitudes (degrees) between which a country, or a part of one, lies."""

    south: float
    north: float
    west: float
    east: float

    def holds(self, place: Place) -> bool:
        """Whether the place lies in the box, its edge included."""
        return self.south <= place.y <= self.north and self.west <= place.x <= self.east


# Rough outer limits, from memory, wide enough to refuse no town: contiguous states, Alaska (two sides of the
# date line), Hawaii, Puerto Rico with the Virgin Islands, Guam with the Northern Marianas, American Samoa.
UNITED_STATES: tuple[Box, ...] = (
    Box(24.3, 49.5, -125.0, -66.8),
    Box(51.0, 71.6, -180.0, -129.9),
    Box(51.0, 55.0, 172.0, 180.0),
    Box(18.8, 22.4, -160.6, -154.7),
    Box(17.6, 18.6, -68.0, -64.5),
    Box(13.1, 20.7, 144.5, 146.2),
    Box(-14.7, -10.9, -171.2, -168.0),
)


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything the planner is told. Build it with `checked` to have contradictions refused first.

    All shifts of a crew on one day draw on one truck: its parts are used once. `parts_gone` are the pieces, by crew
    and day (`Shift.day`), that visits outside the plan use of them.
    """

    visits: tuple[Visit, ...]
    crews: tuple[Crew, ...]
    shifts: tuple[Shift, ...]
    yards: tuple[Yard, ...] = ()
    kit: tuple[Kit, ...] = ()
    links: tuple[OrderLink, ...] = ()
    weights: Weights = field(default_factory=Weights)
    previous: Mapping[str, Planned] = field(default_factory=lambda: MappingProxyType({}))
    parts_gone: Mapping[tuple[str, int], Mapping[str, int]] = field(default_factory=lambda: MappingProxyType({}))
    country: tuple[Box, ...] = UNITED_STATES
