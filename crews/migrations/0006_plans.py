import crews.models.feed
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('crews', '0005_equipment_place_checks'),
        ('tickets', '0003_instrument_in_doubt'),
    ]

    operations = [
        migrations.CreateModel(
            name='CrewFeed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('token', models.CharField(default=crews.models.feed.new_token, max_length=64, unique=True)),
                ('made_at', models.DateTimeField()),
                ('crew', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='feed', to='crews.crew')),
            ],
            options={
                'ordering': ['crew_id'],
            },
        ),
        migrations.CreateModel(
            name='Plan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('state', models.CharField(choices=[('waiting', 'Waiting for the worker'), ('computing', 'Being computed'), ('proposed', 'Proposed'), ('failed', 'Not computed'), ('called_off', 'Called off'), ('set_aside', 'Set aside'), ('accepted', 'Accepted')], default='waiting', max_length=12)),
                ('asked_at', models.DateTimeField()),
                ('working_days', models.PositiveSmallIntegerField()),
                ('seconds', models.PositiveSmallIntegerField()),
                ('claimed_at', models.DateTimeField(blank=True, null=True)),
                ('told_at', models.DateTimeField(blank=True, null=True)),
                ('phase', models.CharField(blank=True, max_length=80)),
                ('best_cost', models.BigIntegerField(blank=True, null=True)),
                ('left_s', models.FloatField(blank=True, null=True)),
                ('call_off', models.BooleanField(default=False)),
                ('computed_at', models.DateTimeField(blank=True, null=True)),
                ('failure', models.CharField(blank=True, max_length=400)),
                ('facts', models.JSONField(blank=True, default=dict)),
                ('weights', models.JSONField(blank=True, default=dict)),
                ('before', models.JSONField(blank=True, default=dict, help_text='Totals of the visits as they stood')),
                ('after', models.JSONField(blank=True, default=dict, help_text='Totals of the proposal')),
                ('unplanned', models.JSONField(blank=True, default=list)),
                ('notes', models.JSONField(blank=True, default=list)),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-asked_at', '-id'],
                'indexes': [
                    models.Index(fields=['state', 'asked_at'], name='plan_by_state'),
                ],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('state__in', ['waiting', 'computing', 'proposed', 'failed', 'called_off', 'set_aside', 'accepted'])), name='plan_state_known'),
                ],
            },
        ),
        migrations.CreateModel(
            name='PlanStop',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('stop', models.CharField(choices=[('visit', 'Visit'), ('yard_call', 'Call at the yard'), ('break', 'Break')], max_length=10)),
                ('key', models.CharField(blank=True, help_text='What the planner calls the visit', max_length=60)),
                ('shift', models.CharField(max_length=140)),
                ('starts_at', models.DateTimeField()),
                ('ends_at', models.DateTimeField()),
                ('drive_s', models.PositiveIntegerField(default=0, help_text='Driving that leads here')),
                ('latitude', models.FloatField()),
                ('longitude', models.FloatField()),
                ('kind', models.CharField(blank=True, choices=[('white_line', 'White lining'), ('private_locate', 'Private locate'), ('camera', 'Camera inspection'), ('dig', 'Dig'), ('restore', 'Restoration'), ('re_mark_check', 'Re-mark check')], max_length=16)),
                ('pinned', models.BooleanField(default=False)),
                ('needs_renewal', models.BooleanField(default=False)),
                ('promise_kept', models.BooleanField(default=True)),
                ('assumes', models.CharField(blank=True, help_text='What must still come for the dig', max_length=500)),
                ('moved', models.CharField(blank=True, help_text='From where it was moved, and why', max_length=300)),
                ('fetches', models.CharField(blank=True, help_text='Kit fetched on a call at the yard', max_length=300)),
                ('accepted_at', models.DateTimeField(blank=True, null=True)),
                ('accepted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('crew', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='crews.crew')),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='tickets.job')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='stops', to='crews.plan')),
                ('visit', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='crews.visit')),
            ],
            options={
                'ordering': ['starts_at', 'id'],
                'indexes': [
                    models.Index(fields=['plan', 'crew', 'starts_at'], name='plan_stop_by_day'),
                ],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('ends_at__gte', models.F('starts_at'))), name='plan_stop_in_order'),
                    models.CheckConstraint(condition=models.Q(('stop__in', ['visit', 'yard_call', 'break'])), name='plan_stop_known'),
                    models.CheckConstraint(condition=models.Q(models.Q(('stop', 'visit'), _negated=True), models.Q(('job__isnull', False), ('kind__in', ['white_line', 'private_locate', 'camera', 'dig', 'restore', 're_mark_check'])), _connector='OR'), name='plan_stop_of_a_visit_has_a_job'),
                ],
            },
        ),
        migrations.CreateModel(
            name='PlanWeights',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('values', models.JSONField(blank=True, default=dict)),
                ('set_at', models.DateTimeField()),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='WantedVisit',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('white_line', 'White lining'), ('private_locate', 'Private locate'), ('camera', 'Camera inspection'), ('dig', 'Dig'), ('restore', 'Restoration'), ('re_mark_check', 'Re-mark check')], max_length=16)),
                ('minutes', models.PositiveSmallIntegerField()),
                ('priority', models.CharField(choices=[('emergency', 'Emergency'), ('high', 'High'), ('normal', 'Normal'), ('low', 'Low')], default='normal', max_length=10)),
                ('skills', models.JSONField(blank=True, default=list)),
                ('kit', models.JSONField(blank=True, default=list, help_text='Kinds of equipment, as receiver')),
                ('frequency_hz', models.PositiveIntegerField(blank=True, help_text='That the receiver must have', null=True)),
                ('promised_from', models.DateTimeField(blank=True, null=True)),
                ('promised_until', models.DateTimeField(blank=True, null=True)),
                ('gap_least_hours', models.PositiveSmallIntegerField(default=0)),
                ('gap_most_hours', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('asked_at', models.DateTimeField()),
                ('dropped_at', models.DateTimeField(blank=True, null=True)),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='wanted_visits', to='tickets.job')),
                ('visit', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='wanted', to='crews.visit')),
            ],
            options={
                'ordering': ['job_id', 'id'],
                'indexes': [
                    models.Index(condition=models.Q(('dropped_at', None), ('visit', None)), fields=['job'], name='wanted_visit_open'),
                ],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('kind__in', ['white_line', 'private_locate', 'camera', 'dig', 'restore', 're_mark_check'])), name='wanted_visit_kind_known'),
                    models.CheckConstraint(condition=models.Q(('minutes__gte', 5)), name='wanted_visit_takes_time'),
                    models.CheckConstraint(condition=models.Q(models.Q(('promised_from', None), ('promised_until', None)), ('promised_until__gt', models.F('promised_from')), _connector='OR'), name='wanted_visit_promise_in_order'),
                    models.CheckConstraint(condition=models.Q(('gap_most_hours', None), ('gap_most_hours__gte', models.F('gap_least_hours')), _connector='OR'), name='wanted_visit_gaps_in_order'),
                ],
            },
        ),
        migrations.CreateModel(
            name='CrewShift',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('weekday', models.PositiveSmallIntegerField(choices=[(0, 'Monday'), (1, 'Tuesday'), (2, 'Wednesday'), (3, 'Thursday'), (4, 'Friday'), (5, 'Saturday'), (6, 'Sunday')])),
                ('starts', models.TimeField()),
                ('ends', models.TimeField()),
                ('break_minutes', models.PositiveSmallIntegerField(default=30)),
                ('overtime_minutes', models.PositiveSmallIntegerField(default=60, help_text='At most, beyond the end')),
                ('crew', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='shifts', to='crews.crew')),
            ],
            options={
                'ordering': ['crew_id', 'weekday', 'starts'],
                'constraints': [models.CheckConstraint(condition=models.Q(('ends__gt', models.F('starts'))), name='crew_shift_ends_after_start'), models.CheckConstraint(condition=models.Q(('weekday__lte', 6)), name='crew_shift_weekday_known'), models.UniqueConstraint(fields=('crew', 'weekday', 'starts'), name='crew_shift_once')],
            },
        ),
        migrations.CreateModel(
            name='DayOff',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('on', models.DateField()),
                ('reason', models.CharField(blank=True, max_length=120)),
                ('crew', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='days_off', to='crews.crew')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['on', 'crew_id'],
                'indexes': [models.Index(fields=['on', 'crew'], name='day_off_by_day')],
                'constraints': [models.UniqueConstraint(fields=('crew', 'on'), name='day_off_once')],
            },
        ),
    ]
