# Triggers by which the database refuses to update or delete the evidence log.

from django.db import migrations

from tickets.models.guards import guard_sql, unguard_sql


def put_up(apps, schema_editor):
    for statement in guard_sql(schema_editor.connection.vendor):
        schema_editor.execute(statement)


def take_down(apps, schema_editor):
    for statement in unguard_sql(schema_editor.connection.vendor):
        schema_editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [("tickets", "0001_jobs_tickets_and_evidence")]
    operations = [migrations.RunPython(put_up, take_down)]
