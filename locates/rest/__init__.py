"""Plumbing of the API: one shape for every refusal, paging, roles, writes that may be sent twice.

The settings name these two; DRF imports them while it is itself half loaded, so nothing here may import
its views or drf-spectacular.
"""

from __future__ import annotations

from locates.rest.page import Page
from locates.rest.problems import problem_details

__all__ = ["Page", "problem_details"]
