"""The facts in the database as the planner's problem: crews and shifts, kit, visits with their windows."""

from __future__ import annotations

from crews.gather_plan.problem import Gathered, gather
from crews.gather_plan.sift import Held, Left
from crews.gather_plan.snapshot import changes_since
from crews.gather_plan.work import Work

__all__ = ["Gathered", "Held", "Left", "Work", "changes_since", "gather"]
