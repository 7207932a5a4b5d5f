# Each item gets its own code, its place, its due day and the first event of its custody; then the guards.

from django.db import migrations
from django.utils import timezone

from crews.models.custody_guards import guard_sql, unguard_sql
from crews.models.equipment import new_code


def fill(apps, schema_editor):
    Equipment = apps.get_model("crews", "Equipment")
    Event = apps.get_model("crews", "CustodyEvent")
    now = timezone.now()
    for item in Equipment.objects.all().iterator(chunk_size=500):
        item.code = new_code()
        item.place = "yard" if item.crew_id is None else "crew"
        item.place_since = now
        item.due_on = item.stated_due_on = item.calibration_due_on
        item.due_title = "Calibration" if item.due_on else ""
        item.save(update_fields=["code", "place", "place_since", "stated_due_on", "due_on", "due_title"])
        entered = Event(item=item, sequence=1, step="entered", at=now, place="yard")
        if item.crew_id is not None:
            entered.until = now
        entered.save()
        if item.crew_id is not None:
            Event.objects.create(
                item=item, sequence=2, step="issued", at=now, place="crew", crew_id=item.crew_id, confirmed_at=now
            )


def put_up(apps, schema_editor):
    for statement in guard_sql(schema_editor.connection.vendor):
        schema_editor.execute(statement)


def take_down(apps, schema_editor):
    for statement in unguard_sql(schema_editor.connection.vendor):
        schema_editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [("crews", "0003_equipment_care")]
    operations = [migrations.RunPython(fill, migrations.RunPython.noop), migrations.RunPython(put_up, take_down)]
