"""Tests with real transactions empty all tables afterwards; the evidence log's guards must stand aside for
that, and be up again at once."""

from __future__ import annotations

from collections.abc import Sequence
from functools import wraps
from typing import Any

from django.db.backends.base.operations import BaseDatabaseOperations

from tickets.models.guards import TABLE, guard_sql, unguard_sql


def let_flush_pass_the_guards() -> None:
    """Wrap the execution of a flush, once a process."""
    original = BaseDatabaseOperations.execute_sql_flush
    if hasattr(original, "__wrapped__"):
        return

    @wraps(original)
    def execute(self: Any, statements: Sequence[str]) -> None:
        vendor = self.connection.vendor
        if TABLE in self.connection.introspection.table_names():
            statements = [*unguard_sql(vendor), *statements, *guard_sql(vendor)]
        original(self, statements)

    BaseDatabaseOperations.execute_sql_flush = execute
