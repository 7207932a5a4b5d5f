"""The ground engine measured: speed of a long trace, and how often its bands and doubts tell the truth.

Speed: ten thousand marks fitted and cut with a dig area, zones and crossings drawn, beside a general-purpose
smoothing spline (scipy) on the same marks in the same run; the error beside the truth is printed too, for a
fit that is fast and wrong is no fit. Truth: seeded points on synthetic ground by an independent field model.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable
from statistics import median
from typing import Any

import numpy as np
from scipy.interpolate import splev, splprep
from shapely import LineString, box
from shapely import distance as shapely_distance
from shapely import points as shapely_points

from locates.ground.crossing import crossings
from locates.ground.depth import combined_depth
from locates.ground.doubt import point_doubts
from locates.ground.trace import Trace, TracePoint, fit_trace
from locates.ground.zones import GroundLine, ZoneRule, hand_dig_plan
from tests.locates.ground.synthetic_ground import RECEIVER, LineCase, clean_ground, crowded_ground, read_line

SEED = 20260916
SIGMA_M = 0.10
STEP_M = 0.8
WANTED_S = 1.0
Array = Any


def marks(count: int, seed: int, blunders: float) -> tuple[Array, list[TracePoint]]:
    """A winding run with sharp corners: the truth, and its marks with noise and blunders."""
    rng = np.random.default_rng(seed)
    heading = np.cumsum(rng.normal(0.0, 0.004, count))
    for corner in rng.integers(0, count, max(1, count // 500)):
        heading[corner:] += rng.choice([-1.0, 1.0]) * rng.uniform(0.4, 1.57)
    truth = np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]) * STEP_M, axis=0)
    spots = truth + rng.normal(0.0, SIGMA_M, truth.shape)
    bad = rng.random(count) < blunders
    spots[bad] += rng.normal(0.0, 2.0, (int(bad.sum()), 2))
    depths = 1.0 + rng.normal(0.0, 0.08, count)
    return truth, [TracePoint(float(x), float(y), float(d)) for (x, y), d in zip(spots, depths, strict=True)]


def seconds(work: Callable[[], object], runs: int) -> float:
    """Median processor time of one call (a busy neighbour does not count)."""
    taken = []
    for _ in range(runs):
        began = time.process_time()
        work()
        taken.append(time.process_time() - began)
    return median(taken)


def spline(points: list[TracePoint]) -> Array:
    """The general-purpose rival: a parametric smoothing spline with the same stated error."""
    x, y = np.array([p.x_m for p in points]), np.array([p.y_m for p in points])
    along = np.arange(len(x), dtype=float)
    found, _ = splprep([x, y], u=along, w=np.full(len(x), 1.0 / SIGMA_M), s=2.0 * len(x), k=3)
    return np.column_stack(splev(along, found))


def error_m(spots: Array, truth: Array) -> float:
    """Root mean square distance from the true run."""
    return float(np.sqrt(np.mean(shapely_distance(LineString(truth), shapely_points(spots)) ** 2)))


def speed(count: int, runs: int, seed: int) -> dict[str, Any]:
    """Times of the parts of the work, and of the rival, on the same marks."""
    truth, points = marks(count, seed, 0.02)
    trace: Trace = fit_trace(points)
    west, south, east, north = LineString(truth).bounds
    area = box(west, south, east, north)
    trench = LineString([(west, 0.5 * (south + north)), (east, 0.5 * (south + north))])
    line = GroundLine("t", "trace", trace=trace)
    rule = ZoneRule(18.0)
    fit_s = seconds(lambda: fit_trace(points), runs)
    cut_s = seconds(lambda: hand_dig_plan(area, [line], rule), runs)
    cross_s = seconds(lambda: crossings(trench, 1.0, 1.2, [line], rule), runs)
    rival_s = seconds(lambda: spline(points), 1)
    return {
        "points": count,
        "fit_s": round(fit_s, 3),
        "cut_s": round(cut_s, 3),
        "crossings_s": round(cross_s, 3),
        "fit_and_cut_s": round(fit_s + cut_s, 3),
        "spline_s": round(rival_s, 3),
        "spline_time_over_ours": round(rival_s / fit_s, 2),
        "error_m": round(error_m(np.column_stack([trace.x_m, trace.y_m]), truth), 4),
        "spline_error_m": round(error_m(spline(points), truth), 4),
        "meets": fit_s + cut_s < WANTED_S,
    }


def truthfulness(cases: int, seed: int) -> dict[str, Any]:
    """Shares over seeded points: truth inside the band, distorted flagged, clean flagged."""
    rng = np.random.default_rng(seed)
    clean = [c for _ in range(cases * 2 // 5) if (c := read_line(clean_ground(rng), rng))]
    crowded: list[LineCase] = []
    tries = 0
    while len(crowded) < cases - len(clean):
        tries += 1
        if case := read_line(crowded_ground(rng), rng):
            crowded.append(case)
    distorted = [c for c in crowded if c.distorted]

    def inside(group: list[LineCase]) -> float:
        return float(np.mean([_covers(c) for c in group]))

    def flagged(group: list[LineCase]) -> float:
        return float(np.mean([bool(point_doubts(c.reading, RECEIVER)) for c in group]))

    found = {
        "seed": seed,
        "cases": len(clean) + len(crowded),
        "inside_band": round(inside(clean + crowded), 3),
        "inside_band_clean": round(inside(clean), 3),
        "inside_band_distorted": round(inside(distorted), 3),
        "distorted": len(distorted),
        "distorted_flagged": round(flagged(distorted), 3),
        "clean_flagged": round(flagged(clean), 3),
        "crowded_unreadable": round(1.0 - len(crowded) / tries, 3),
    }
    found["meets"] = (
        found["inside_band"] >= 0.95 and found["distorted_flagged"] >= 0.90 and found["clean_flagged"] <= 0.05
    )
    return found


def _covers(case: LineCase) -> bool:
    found = combined_depth(case.reading, RECEIVER)
    return found.shallowest_m <= case.depth_m <= found.deepest_m


def main(argv: list[str]) -> int:
    """Print the figures; 0 when all that is wanted was reached, 1 when not."""
    parser = argparse.ArgumentParser(prog="manage.py bench ground", description=__doc__)
    parser.add_argument("--points", type=int, default=10_000)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--cases", type=int, default=1_000)
    parser.add_argument("--seeds", type=int, default=3, help="how many seeds of the cases")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args(argv)
    for name, least in (("points", 100), ("runs", 1), ("cases", 100), ("seeds", 1)):
        if getattr(given, name) < least:
            parser.error(f"--{name} must be at least {least}")
    fast = speed(given.points, given.runs, given.seed)
    true = [truthfulness(given.cases, given.seed + i) for i in range(given.seeds)]
    if given.json:
        print(json.dumps({"speed": fast, "truth": true}, indent=2))
    else:
        print_plain(fast, true)
    return 0 if fast["meets"] and all(t["meets"] for t in true) else 1


def print_plain(fast: dict[str, Any], true: list[dict[str, Any]]) -> None:
    print(f"{fast['points']:,} marks, processor time, one process")
    for name in ("fit_s", "cut_s", "crossings_s", "fit_and_cut_s", "spline_s"):
        print(f"  {name:<24}{fast[name]:>8.3f}")
    print(f"  a smoothing spline takes {fast['spline_time_over_ours']:g} times the fit's time")
    print(f"  error: {fast['error_m']:.3f} m, the spline's {fast['spline_error_m']:.3f} m")
    print(f"  wanted fit and cut under {WANTED_S:g} s: {'reached' if fast['meets'] else 'NOT reached'}")
    for t in true:
        print(
            f"seed {t['seed']}: {t['cases']} points, truth in band {t['inside_band']:.1%} (clean "
            f"{t['inside_band_clean']:.1%}, distorted {t['inside_band_distorted']:.1%}); flagged: distorted "
            f"{t['distorted_flagged']:.1%} of {t['distorted']}, clean {t['clean_flagged']:.1%}; not readable "
            f"{t['crowded_unreadable']:.1%} of crowded tries: {'reached' if t['meets'] else 'NOT reached'}"
        )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
