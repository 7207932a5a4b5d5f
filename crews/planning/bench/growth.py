"""The growth table as Markdown, and its plot as SVG written by hand: no drawing library needed. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 720, 360, 70, 70, 34, 52
_STYLE = (
    "text{font:13px sans-serif;fill:#1d2b33}"
    ".axis{stroke:#1d2b33;stroke-width:1}.grid{stroke:#c9d1d6;stroke-width:1}"
    ".time{stroke:#0a5c8a;fill:none;stroke-width:2}.time-dot{fill:#0a5c8a}"
    ".cost{stroke:#9a3b12;fill:none;stroke-width:2;stroke-dasharray:6 4}.cost-dot{fill:#9a3b12}"
)


def markdown(rows: Sequence[dict[str, Any]]) -> str:
    """One line a run: size, seconds, first plan, planned and left out, driving, cost a visit, memory, checker."""
    head = (
        "| visits | crews | days | seed | seconds | first plan, s | planned | left out | driving, h | overtime, h "
        "| cost a visit | rounds | memory, MiB | checker |"
    )
    lines = [head, "|" + "---:|" * 13 + "---|"]
    for row in rows:
        lines.append(
            f"| {row['visits']} | {row['crews']} | {row['days']} | {row['seed']} | {row['seconds']:.1f} "
            f"| {row['first_plan_s']:.2f} | {row['planned']} | {row['left']} | {row['drive_h']:.1f} "
            f"| {row['overtime_h']:.1f} | {row['cost'] / row['visits']:.0f} | {row['rounds']} "
            f"| {row['memory_mib']:.0f} | {'passed' if row['feasible'] else 'FAILED'} |"
        )
    return "\n".join(lines)


def plot(rows: Sequence[dict[str, Any]]) -> str:
    """An SVG: by number of visits (logarithmic), seconds to the first whole plan and driving a planned visit."""
    points = sorted(
        (row["visits"], row["first_plan_s"], 60 * row["drive_h"] / max(1, row["planned"])) for row in rows
    )
    low, high = math.log(points[0][0]), math.log(max(points[-1][0], points[0][0] + 1))
    top_time, top_cost = _round_up(max(p[1] for p in points)), _round_up(max(p[2] for p in points))

    def x(visits: int) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * (math.log(visits) - low) / (high - low)

    def y(value: float, top: float) -> float:
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * value / top

    parts = [_head(), *_grid(top_time, top_cost)]
    for visits in sorted({p[0] for p in points}):
        parts.append(f'<text x="{x(visits):.1f}" y="{HEIGHT - BOTTOM + 18}" text-anchor="middle">{visits}</text>')
    for name, which, top in (("time", 1, top_time), ("cost", 2, top_cost)):
        at = [(x(p[0]), y(p[which], top)) for p in points]
        parts.append(f'<polyline class="{name}" points="{" ".join(f"{a:.1f},{b:.1f}" for a, b in at)}"/>')
        parts += [f'<circle class="{name}-dot" cx="{a:.1f}" cy="{b:.1f}" r="4"/>' for a, b in at]
    return "\n".join([*parts, "</svg>", ""])


def _round_up(value: float) -> float:
    """The next of 1, 2, 5 times a power of ten."""
    unit = 10.0 ** math.floor(math.log10(max(value, 1e-9)))
    return next(unit * k for k in (1, 2, 5, 10) if unit * k >= value)


def _head() -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        'aria-label="Growth of the time to a first whole plan, and of driving a visit, with the number of visits">'
        f'<style>{_STYLE}</style><rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>'
    )


def _grid(top_time: float, top_cost: float) -> list[str]:
    """Axes with five steps each, and what the lines mean."""
    out = []
    for step in range(6):
        at = HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * step / 5
        line = "axis" if step == 0 else "grid"
        out.append(f'<line class="{line}" x1="{LEFT}" y1="{at:.1f}" x2="{WIDTH - RIGHT}" y2="{at:.1f}"/>')
        out.append(f'<text x="{LEFT - 8}" y="{at + 4:.1f}" text-anchor="end">{top_time * step / 5:g}</text>')
        out.append(f'<text x="{WIDTH - RIGHT + 8}" y="{at + 4:.1f}">{top_cost * step / 5:g}</text>')
    out.append(f'<text x="{LEFT}" y="20">Solid: seconds to the first whole plan</text>')
    out.append(f'<text x="{WIDTH - RIGHT}" y="20" text-anchor="end">Dashed: minutes of driving a visit</text>')
    out.append(f'<text x="{WIDTH / 2}" y="{HEIGHT - 12}" text-anchor="middle">visits to plan</text>')
    return out
