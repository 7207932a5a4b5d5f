"""The depth profile along a trench as numbers for an SVG: ground, trench bottom, crossings with their bands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from locates.field.models import Run
from locates.field.plan import SitePlan, Trench
from locates.field.words import COLOUR_WORDS, LETTERS
from locates.ground.caution import DEPTH_IS_NOT_PERMISSION
from locates.ground.crossing import Meeting
from locates.ground.lengths import FOOT_M, feet_inches

WIDTH, HEIGHT = 720, 300
LEFT, RIGHT, TOP, BOTTOM = 56, 16, 56, 36
LEAST_BAND_UNITS = 3.0
LABEL_WIDE = 24.0


@dataclass(frozen=True, slots=True)
class Tick:
    at: float
    words: str


@dataclass(frozen=True, slots=True)
class DrawnCrossing:
    """A crossing: the stretch dug by hand, the depth band (None: any depth), its number and letters."""

    number: int
    x: float
    label_x: float
    hand_x: float
    hand_width: float
    band_y: float | None
    band_height: float
    utility: str
    letters: str

    @property
    def band_x(self) -> float:
        return self.x - 6.0


@dataclass(frozen=True, slots=True)
class CrossingRow:
    """The same in words, for the table."""

    number: int
    label: str
    utility: str
    utility_words: str
    colour_words: str
    letters: str
    chainage_words: str
    hand_words: str
    depth_words: str
    relation: str
    angle_words: str
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Profile:
    """A trench from its western end."""

    trench: Trench
    crossings: tuple[DrawnCrossing, ...]
    rows: tuple[CrossingRow, ...]
    along: tuple[Tick, ...]
    down: tuple[Tick, ...]
    ground_y: float
    floor_y: float
    left: float
    right: float
    length_words: str
    depth_words: str
    width: int = WIDTH
    height: int = HEIGHT

    @property
    def hatch(self) -> str:
        """An id of the profile's own on the page."""
        return f"hand-hatch-{self.trench.area.pk}"

    @property
    def across(self) -> float:
        return self.right - self.left

    @property
    def trench_height(self) -> float:
        return self.floor_y - self.ground_y

    @property
    def bottom_y(self) -> float:
        return self.height - BOTTOM


def profiles(plan: SitePlan) -> tuple[Profile, ...]:
    """One for every trench; crossings are numbered through, as on the plan."""
    runs = {one.line.key: one.run for one in plan.lines}
    found, number = [], 0
    for trench in (d.trench for d in plan.digs if d.trench is not None):
        found.append(_profile(trench, runs, number))
        number += len(trench.crossings)
    return tuple(found)


def _profile(trench: Trench, runs: Mapping[str, Run], before: int) -> Profile:
    deepest = max([trench.depth_m, *(c.depth_band_m[1] for c in trench.crossings if c.depth_band_m)]) * 1.15
    length = trench.centre.length
    across, down = (WIDTH - LEFT - RIGHT) / length, (HEIGHT - TOP - BOTTOM) / deepest

    def x(chainage_m: float) -> float:
        return round(LEFT + chainage_m * across, 1)

    def y(depth_m: float) -> float:
        return round(TOP + depth_m * down, 1)

    drawn, rows = [], []
    label_x = -LABEL_WIDE
    for number, c in enumerate(trench.crossings, start=before + 1):
        run = runs[c.line.key]
        band = c.depth_band_m
        label_x = max(x(c.chainage_m), label_x + LABEL_WIDE)  # numbers stand side by side, never on each other
        drawn.append(
            DrawnCrossing(
                number=number,
                x=x(c.chainage_m),
                label_x=round(label_x, 1),
                hand_x=x(c.hand_from_m),
                hand_width=round(max(1.0, (c.hand_to_m - c.hand_from_m) * across), 1),
                band_y=None if band is None else y(band[0]),
                band_height=0.0 if band is None else round(max(LEAST_BAND_UNITS, (band[1] - band[0]) * down), 1),
                utility=run.utility,
                letters=LETTERS[run.utility],
            )
        )
        along = c.meeting is Meeting.ALONGSIDE
        depth = "Not known: expect it at any depth"
        if band is not None:
            depth = f"{feet_inches(band[0])} to {feet_inches(band[1])}"
        rows.append(
            CrossingRow(
                number=number,
                label=run.label,
                utility=run.utility,
                utility_words=run.get_utility_display(),
                colour_words=COLOUR_WORDS[run.utility],
                letters=LETTERS[run.utility],
                chainage_words=f"{feet_inches(c.chainage_m)}{', along the trench' if along else ''}",
                hand_words=f"{feet_inches(c.hand_from_m)} to {feet_inches(c.hand_to_m)}",
                depth_words=depth,
                relation=str(c.relation),
                angle_words="" if c.angle_deg is None else f"{c.angle_deg:.0f} degrees",
                cautions=tuple(words for words in c.cautions if words != DEPTH_IS_NOT_PERMISSION),
            )
        )
    feet = length / FOOT_M
    step = next((s for s in (1, 2, 5, 10, 20, 50, 100, 200) if feet / s <= 10), 500)
    deep = deepest / FOOT_M
    down_step = next((s for s in (1, 2, 5, 10) if deep / s <= 6), 20)
    return Profile(
        trench=trench,
        crossings=tuple(drawn),
        rows=tuple(rows),
        along=tuple(Tick(x(n * FOOT_M), f"{n}") for n in range(0, int(feet) + 1, step)),
        down=tuple(Tick(y(n * FOOT_M), f"{n}") for n in range(0, int(deep) + 1, down_step)),
        ground_y=y(0.0),
        floor_y=y(trench.depth_m),
        left=x(0.0),
        right=x(length),
        length_words=feet_inches(length),
        depth_words=feet_inches(trench.depth_m),
    )
