"""Benchmarks of the planner: published instances, and growth with size. `main` is what the command line calls."""

from .command import main

__all__ = ["main"]
