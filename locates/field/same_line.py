"""One line located by several runs is met once. Pure.

Only what is certain is taken together: runs of one utility under one name, whose stretches of hand digging meet.
Nothing gets narrower: the stretch and the depth band take in every run's.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace

from locates.ground.crossing import Crossing, Meeting, cautions_of, relation_of


def met_once(found: Sequence[Crossing], names: Mapping[str, Hashable], trench_depth_m: float) -> tuple[Crossing, ...]:
    """The crossings of a trench in their order, those of one line taken together. `names` says by the engine's key
    of a line which line it is."""
    rest = sorted(found, key=lambda one: (one.hand_from_m, one.hand_to_m))
    made: list[Crossing] = []
    while rest:
        alike, rest = _meeting(rest[0], rest, names)
        keys = [one.line.key for one in alike]
        if len(set(keys)) == len(keys):
            made.append(_as_one(alike, trench_depth_m))
        else:
            # a run that meets it several times there: which of them belong together is not certain
            made += alike
    return tuple(sorted(made, key=lambda one: (one.chainage_m, one.line.key)))


def _meeting(
    first: Crossing, rest: Sequence[Crossing], names: Mapping[str, Hashable]
) -> tuple[list[Crossing], list[Crossing]]:
    """Those of the first one's line whose stretches meet, one after the other, and the others."""
    alike, others, reach = [], [], first.hand_to_m
    for one in rest:
        if names[one.line.key] == names[first.line.key] and one.hand_from_m <= reach:
            alike.append(one)
            reach = max(reach, one.hand_to_m)
        else:
            others.append(one)
    return alike, others


def _as_one(alike: Sequence[Crossing], trench_depth_m: float) -> Crossing:
    """The surest of them, as wide as all of them."""
    if len(alike) == 1:
        return alike[0]
    surest = min(alike, key=lambda one: (one.meeting is not Meeting.CROSSES, one.hand_to_m - one.hand_from_m))
    start, end = min(one.hand_from_m for one in alike), max(one.hand_to_m for one in alike)
    bands = [one.depth_band_m for one in alike if one.depth_band_m is not None]
    band = (min(low for low, _ in bands), max(high for _, high in bands)) if bands else None
    angle = min((one.angle_deg for one in alike if one.angle_deg is not None), default=None)
    label = surest.line.label
    words = [f"It was located {len(alike)} times: the stretch and the depth take in every run."]
    if bands and len(bands) < len(alike):
        words.append(f"Not every run read a depth of {label} here: it may also lie outside the band.")
    return replace(
        surest,
        angle_deg=angle,
        hand_from_m=start,
        hand_to_m=end,
        depth_band_m=band,
        relation=relation_of(band, trench_depth_m),
        cautions=(*cautions_of(label, (start, end), band, angle), *words),
    )
