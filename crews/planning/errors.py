"""Refusals of the planning engine: one class a kind, each saying what was given, what is wanted, what to do. Pure."""

from __future__ import annotations

from locates.errors import FirstspadeError


class PlanningError(FirstspadeError):
    """Base of every refusal of the planning engine."""

    code = "planning_refused"


class BadProblem(PlanningError):
    """The problem handed in contradicts itself; nothing was planned."""

    code = "bad_planning_problem"


class BadTravelAnswer(PlanningError):
    """A routing server's answer, or a matrix from outside, cannot be used."""

    code = "bad_travel_answer"


class BadBenchmarkFile(PlanningError):
    """A benchmark file is not in the format that its option asks for."""

    code = "bad_benchmark_file"


class PlanningCancelled(PlanningError):
    """The person who asked for the plan called it off before any plan existed."""

    code = "planning_cancelled"
