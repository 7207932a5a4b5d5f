"""Do two runs by different methods tell of the same line? Pure.

Two methods agree where their traces lie no farther apart than their own bands allow, and in no case farther
than `WIDEST_M`: bands of a poor position would agree with anything. That limit and the least length are
proposals; common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from locates.ground.lengths import feet_inches
from locates.ground.refusal import GroundError
from locates.ground.trace import Trace

WIDEST_M = 0.5
LEAST_SHARED_M = 3.0
STEP_M = 0.25


@dataclass(frozen=True, slots=True)
class Agreement:
    """How two traces compare: over what length they run side by side, how far apart at the worst place (with
    what their bands allow there), and whether they agree."""

    shared_m: float
    widest_m: float
    allowed_m: float
    agrees: bool
    message: str


def agreement(first: Trace, second: Trace) -> Agreement:
    """Compare two traces on one grid. Refuses two that do not run side by side for 10 ft."""
    count = max(2, math.ceil(first.length_m / STEP_M) + 1)
    along = np.linspace(0.0, first.length_m, count)
    spots = shapely.line_interpolate_point(first.line, along)
    beside = shapely.line_locate_point(second.line, spots)
    inside = (beside > 1e-9) & (beside < second.length_m - 1e-9)
    apart = shapely.distance(second.line, spots)
    step = first.length_m / (count - 1)
    # a stretch counts only where both runs are near: two lines crossing a yard apart are not one line
    near = inside & (apart < 4.0 * WIDEST_M)
    shared = float(near.sum()) * step
    if shared < LEAST_SHARED_M:
        raise GroundError(
            f"The two runs lie side by side for {feet_inches(shared)} only; {feet_inches(LEAST_SHARED_M)} at least "
            "are needed to compare them. Follow the line farther by the second method.",
            code="runs_do_not_meet",
            fields={"other_run": "runs elsewhere"},
        )
    bands = np.hypot(
        np.interp(along, first.chainage_m, first.position_band_m),
        np.interp(beside, second.chainage_m, second.position_band_m),
    )
    allowed = np.minimum(bands, WIDEST_M)
    worst = int(np.argmax(np.where(near, apart - allowed, -np.inf)))
    widest, limit = float(apart[worst]), float(allowed[worst])
    agrees = widest <= limit
    words = (
        f"Side by side for {feet_inches(shared)}; at the worst place {feet_inches(widest)} apart, where "
        f"{feet_inches(limit)} is allowed."
    )
    return Agreement(shared, widest, limit, agrees, words)
