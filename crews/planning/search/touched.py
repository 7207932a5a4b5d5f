"""Compiled: which shifts a round has changed, so that only those are copied or put back. Pure."""

from __future__ import annotations

from .compiled import compiled
from .facts import DIRTY, TOUCHED, Desk


@compiled
def touch(desk: Desk, s: int) -> None:
    """Note that shift `s` changes; the first entry of `desk.touched` counts them."""
    if desk.pad[DIRTY, s]:
        return
    desk.pad[DIRTY, s] = 1
    desk.pad[TOUCHED, 0] += 1
    desk.pad[TOUCHED, desk.pad[TOUCHED, 0]] = s


@compiled
def forget(desk: Desk) -> None:
    """Begin a round: nothing has changed."""
    for k in range(1, desk.pad[TOUCHED, 0] + 1):
        desk.pad[DIRTY, desk.pad[TOUCHED, k]] = 0
    desk.pad[TOUCHED, 0] = 0
