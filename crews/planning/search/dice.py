"""Random numbers of the compiled search: one word of state, the same on every machine. Pure.

xorshift64* of S. Vigna, "An experimental exploration of Marsaglia's xorshift generators, scrambled", ACM Transactions
on Mathematical Software 42(4), 2016.
"""

from __future__ import annotations

import numpy as np

from .compiled import compiled
from .facts import Words

_TWO_TO_53 = 9007199254740992.0


def dice(seed: int) -> Words:
    """State from a seed; any whole number will do."""
    mixed = (seed * 0x9E3779B97F4A7C15 + 0xD1B54A32D192ED03) & 0xFFFFFFFFFFFFFFFF
    return np.array([mixed or 1], dtype=np.uint64)


@compiled
def chance(state: Words) -> float:
    """A number from 0 (included) to 1 (excluded)."""
    x = state[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    state[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) / _TWO_TO_53


@compiled
def below(state: Words, end: int) -> int:
    """A whole number from 0 to `end` - 1."""
    return int(chance(state) * end)


@compiled
def shuffle(state: Words, items: np.ndarray, count: int) -> None:
    """Put the first `count` items in random order."""
    for k in range(count - 1, 0, -1):
        j = int(chance(state) * (k + 1))
        items[k], items[j] = items[j], items[k]
