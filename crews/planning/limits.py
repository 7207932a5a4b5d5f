"""What sharing out has ruled out so far: yard kit that another crew has, pieces that another shift uses. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Limits:
    """`denied` are items (by id) that a shift (by number) must not fetch at the yard; `pieces` the most of a kind of
    part (by number) that a shift may take of its truck's stock of the day. Limits only ever grow tighter."""

    denied: frozenset[tuple[int, str]] = frozenset()
    pieces: Mapping[tuple[int, int], int] = field(default_factory=lambda: MappingProxyType({}))


NO_LIMITS = Limits()
