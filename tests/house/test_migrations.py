"""Every change of a model has its migration."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command


@pytest.mark.django_db
def test_no_migration_is_missing() -> None:
    said = StringIO()
    try:
        call_command("makemigrations", check_changes=True, dry_run=True, stdout=said)
    except SystemExit:
        pytest.fail(said.getvalue())


def test_migrations_have_names_that_say_something() -> None:
    from django.db.migrations.loader import MigrationLoader

    loader = MigrationLoader(None, ignore_no_migrations=True)
    ours = [name for app, name in loader.disk_migrations if app in {"locates", "tickets", "crews"}]
    assert ours
    assert [name for name in ours if "_auto_" in name] == []
