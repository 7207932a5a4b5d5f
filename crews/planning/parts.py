"""Large problems in parts. Pure."""

from __future__ import annotations

from .budget import Budget
from .improve import State
from .model import Model


def is_large(model: Model) -> bool:
    return False


def improve_in_parts(model: Model, budget: Budget, seed: int, most: int | None) -> tuple[State, int]:
    raise NotImplementedError
