# The office: customers, sites, jobs, tickets, answers, evidence, follow-ups.

import django.db.models.deletion
import tickets.states
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Customer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120)),
                ('phone', models.CharField(blank=True, max_length=32)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('note', models.TextField(blank=True)),
            ],
            options={
                'ordering': ['name', 'id'],
                'indexes': [models.Index(fields=['name'], name='customer_by_name')],
                'constraints': [models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='customer_has_a_name')],
            },
        ),
        migrations.CreateModel(
            name='LocalRule',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120)),
                ('state', models.CharField(max_length=2)),
                ('county', models.CharField(blank=True, help_text='Empty: the whole state', max_length=80)),
                ('town', models.CharField(blank=True, help_text='Empty: the whole county', max_length=80)),
                ('wait_amount', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('wait_unit', models.CharField(blank=True, choices=[('hours', 'hours'), ('working_days', 'working days'), ('calendar_days', 'calendar days')], max_length=16)),
                ('wait_begins', models.CharField(blank=True, choices=[('notice_instant', 'notice instant'), ('next_day', 'next day'), ('next_working_day', 'next working day')], max_length=24)),
                ('wait_ends', models.CharField(blank=True, choices=[('same_clock', 'same clock'), ('last_day', 'last day'), ('day_after', 'day after'), ('next_working_day', 'next working day')], max_length=24)),
                ('requirement', models.TextField(blank=True, help_text='What a person must confirm, as a permit in hand')),
                ('source', models.TextField(help_text='Where the rule is written')),
                ('active', models.BooleanField(default=True)),
            ],
            options={
                'ordering': ['state', 'county', 'town', 'name', 'id'],
                'indexes': [models.Index(fields=['state', 'active'], name='local_rule_by_state')],
                'constraints': [models.CheckConstraint(condition=models.Q(('source', ''), _negated=True), name='local_rule_has_a_source'), models.CheckConstraint(condition=models.Q(('wait_amount__isnull', True), ('wait_amount__gt', 0), _connector='OR'), name='local_rule_wait_above_zero'), models.CheckConstraint(condition=models.Q(models.Q(('requirement', ''), _negated=True), ('wait_amount__isnull', False), _connector='OR'), name='local_rule_asks_something'), models.CheckConstraint(condition=models.Q(('wait_amount__isnull', True), models.Q(models.Q(('wait_unit', ''), _negated=True), models.Q(('wait_begins', ''), _negated=True), models.Q(('wait_ends', ''), _negated=True)), _connector='OR'), name='local_rule_wait_is_whole')],
            },
        ),
        migrations.CreateModel(
            name='Site',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(blank=True, max_length=120)),
                ('street', models.CharField(max_length=160)),
                ('town', models.CharField(max_length=80)),
                ('county', models.CharField(blank=True, max_length=80)),
                ('state', models.CharField(help_text='Two letters, as VA', max_length=2)),
                ('latitude', models.FloatField()),
                ('longitude', models.FloatField()),
                ('time_zone', models.CharField(help_text='IANA name, as America/New_York', max_length=64)),
                ('place_source', models.CharField(choices=[('resolved', 'From the position'), ('chosen', 'Chosen')], default=tickets.states.PlaceSource['CHOSEN'], max_length=16)),
                ('customer', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sites', to='tickets.customer')),
            ],
            options={
                'ordering': ['state', 'town', 'street', 'id'],
                'indexes': [
                    models.Index(fields=['state', 'county', 'town'], name='site_by_place'),
                ],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('place_source__in', ['resolved', 'chosen'])), name='site_place_source_known'),
                    models.CheckConstraint(condition=models.Q(('latitude__gte', -90), ('latitude__lte', 90)), name='site_latitude_in_range'),
                    models.CheckConstraint(condition=models.Q(('longitude__gte', -180), ('longitude__lte', 180)), name='site_longitude_in_range'),
                    models.CheckConstraint(condition=models.Q(('time_zone', ''), _negated=True), name='site_has_a_time_zone'),
                    models.CheckConstraint(condition=models.Q(('state', ''), _negated=True), name='site_has_a_state'),
                ],
            },
        ),
        migrations.CreateModel(
            name='Job',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.CharField(max_length=32, unique=True)),
                ('title', models.CharField(max_length=160)),
                ('work', models.TextField(blank=True, help_text='What will be done')),
                ('private_lines_likely', models.BooleanField(default=True, help_text='Lines that no operator marks may be there; unless known otherwise, they may')),
                ('created_at', models.DateTimeField()),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
                ('work_begun_at', models.DateTimeField(blank=True, null=True)),
                ('last_worked_on', models.DateField(blank=True, help_text='Local day at the site', null=True)),
                ('next_dig_at', models.DateTimeField(blank=True, help_text='Start of the next planned dig', null=True)),
                ('verdict_state', models.CharField(choices=[('clear', 'Clear to dig'), ('closing', 'Clear, closing soon'), ('waiting', 'Waiting'), ('stop', 'Stop'), ('expired', 'Expired'), ('unknown', 'Not known: do not dig'), ('emergency', 'Emergency dig')], default=tickets.states.State['UNKNOWN'], max_length=16)),
                ('verdict_sentence', models.CharField(blank=True, max_length=400)),
                ('verdict_at', models.DateTimeField(blank=True, null=True)),
                ('verdict_next_change_at', models.DateTimeField(blank=True, null=True)),
                ('verdict_digest', models.CharField(blank=True, help_text='SHA-256 of what was last logged', max_length=64)),
                ('evidence_length', models.PositiveIntegerField(default=0, help_text='Entries in the evidence log')),
                ('evidence_head', models.CharField(blank=True, help_text='Hash of the last entry', max_length=64)),
                ('customer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='jobs', to='tickets.customer')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='jobs', to='tickets.site')),
            ],
            options={
                'ordering': ['-created_at', '-id'],
                'indexes': [
                    models.Index(fields=['-created_at', '-id'], name='job_newest_first'),
                    models.Index(fields=['verdict_state', '-created_at'], name='job_by_verdict'),
                    models.Index(fields=['verdict_next_change_at'], name='job_by_next_change'),
                ],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('number', ''), _negated=True), name='job_has_a_number'),
                    models.CheckConstraint(condition=models.Q(('verdict_state__in', ['clear', 'closing', 'waiting', 'stop', 'expired', 'unknown', 'emergency'])), name='job_verdict_known'),
                    models.CheckConstraint(condition=models.Q(('closed_at__isnull', True), ('closed_at__gte', models.F('created_at')), _connector='OR'), name='job_closed_after_created'),
                ],
            },
        ),
        migrations.CreateModel(
            name='Ticket',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.CharField(max_length=48)),
                ('kind', models.CharField(choices=[('normal', 'Normal'), ('emergency', 'Emergency'), ('renewal', 'Renewal'), ('re_mark', 'Re-mark'), ('second_notice', 'Second notice')], default=tickets.states.TicketKind['NORMAL'], max_length=16)),
                ('received_at', models.DateTimeField(help_text='When the centre took the notice')),
                ('stated_start_at', models.DateTimeField(blank=True, help_text='Start named in the notice', null=True)),
                ('printed_start_at', models.DateTimeField(blank=True, help_text='Start the centre printed', null=True)),
                ('printed_expiry_at', models.DateTimeField(blank=True, help_text='Expiry the centre printed', null=True)),
                ('area', models.JSONField(blank=True, help_text='GeoJSON, WGS 84; empty when only in words', null=True)),
                ('area_words', models.TextField(blank=True)),
                ('given_by_name', models.CharField(blank=True, max_length=120)),
                ('cancelled_at', models.DateTimeField(blank=True, null=True)),
                ('work_begun_at', models.DateTimeField(blank=True, help_text='First work under this ticket', null=True)),
                ('rule_version', models.CharField(blank=True, max_length=32)),
                ('rule_digest', models.CharField(blank=True, max_length=64)),
                ('evidence_tier', models.CharField(blank=True, max_length=16)),
                ('opens_at', models.DateTimeField(blank=True, null=True)),
                ('early_from', models.DateTimeField(blank=True, help_text='With early answers, digging may begin no sooner; empty: not at all', null=True)),
                ('closes_at', models.DateTimeField(blank=True, null=True)),
                ('start_by', models.DateTimeField(blank=True, null=True)),
                ('lapses_at', models.DateTimeField(blank=True, help_text='Lapses if work stands still until then', null=True)),
                ('renew_from', models.DateTimeField(blank=True, null=True)),
                ('renew_by', models.DateTimeField(blank=True, null=True)),
                ('window_warnings', models.JSONField(blank=True, default=list)),
                ('window_steps', models.JSONField(blank=True, default=list)),
                ('follows', models.ForeignKey(blank=True, help_text='The ticket a second notice or a re-mark belongs to', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='followers', to='tickets.ticket')),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='tickets', to='tickets.job')),
                ('renews', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='renewals', to='tickets.ticket')),
            ],
            options={
                'ordering': ['-received_at', '-id'],
                'indexes': [
                    models.Index(fields=['-received_at', '-id'], name='ticket_newest_first'),
                    models.Index(fields=['number'], name='ticket_by_number'),
                    models.Index(fields=['closes_at'], name='ticket_by_expiry'),
                    models.Index(fields=['renew_by'], name='ticket_by_renewal'),
                ],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('number', ''), _negated=True), name='ticket_has_a_number'),
                    models.CheckConstraint(condition=models.Q(('kind__in', ['normal', 'emergency', 'renewal', 're_mark', 'second_notice'])), name='ticket_kind_known'),
                    models.UniqueConstraint(fields=('job', 'number'), name='ticket_once_a_job'),
                    models.CheckConstraint(condition=models.Q(models.Q(('kind', 'renewal'), ('renews__isnull', False)), models.Q(models.Q(('kind', 'renewal'), _negated=True), ('renews__isnull', True)), _connector='OR'), name='ticket_renews_when_a_renewal'),
                    models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['re_mark', 'second_notice']), ('follows__isnull', False)), models.Q(models.Q(('kind__in', ['re_mark', 'second_notice']), _negated=True), ('follows__isnull', True)), _connector='OR'), name='ticket_follows_when_it_must'),
                ],
            },
        ),
        migrations.AddField(
            model_name='job',
            name='governing_ticket',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='tickets.ticket'),
        ),
        migrations.CreateModel(
            name='FollowUp',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('window_opens', 'The wait is over'), ('answers_missing', 'Answers are missing'), ('renew_from', 'Renewal is possible'), ('renew_by', 'Last call to renew'), ('expires', 'The ticket ends'), ('recheck_before_dig', 'Check again before the dig'), ('verdict_changes', 'The verdict may change')], max_length=24)),
                ('due_at', models.DateTimeField()),
                ('message', models.CharField(blank=True, max_length=400)),
                ('claimed_at', models.DateTimeField(blank=True, null=True)),
                ('claim_token', models.CharField(blank=True, max_length=32)),
                ('done_at', models.DateTimeField(blank=True, null=True)),
                ('superseded_at', models.DateTimeField(blank=True, null=True)),
                ('attempts', models.PositiveIntegerField(default=0)),
                ('next_attempt_at', models.DateTimeField(blank=True, null=True)),
                ('last_error', models.TextField(blank=True)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='follow_ups', to='tickets.job')),
                ('ticket', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='follow_ups', to='tickets.ticket')),
            ],
            options={
                'ordering': ['due_at', 'id'],
                'indexes': [
                    models.Index(condition=models.Q(('done_at__isnull', True), ('superseded_at__isnull', True)), fields=['due_at', 'id'], name='follow_up_open_by_due'),
                    models.Index(fields=['job', 'due_at'], name='follow_up_by_job'),
                ],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('kind__in', ['window_opens', 'answers_missing', 'renew_from', 'renew_by', 'expires', 'recheck_before_dig', 'verdict_changes'])), name='follow_up_kind_known'),
                    models.UniqueConstraint(condition=models.Q(('done_at__isnull', True), ('superseded_at__isnull', True)), fields=('job', 'ticket', 'kind'), name='follow_up_one_open'),
                    models.UniqueConstraint(condition=models.Q(('done_at__isnull', True), ('superseded_at__isnull', True), ('ticket__isnull', True)), fields=('job', 'kind'), name='follow_up_one_open_without_ticket'),
                    models.CheckConstraint(condition=models.Q(('done_at__isnull', True), ('superseded_at__isnull', True), _connector='OR'), name='follow_up_done_or_superseded'),
                    models.CheckConstraint(condition=models.Q(('done_at__isnull', True), ('claimed_at__isnull', False), _connector='OR'), name='follow_up_done_once_claimed'),
                ],
            },
        ),
        migrations.CreateModel(
            name='TicketOperator',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120)),
                ('utility', models.CharField(choices=[('power', 'Electric power'), ('gas', 'Gas or oil'), ('communications', 'Communications'), ('water', 'Potable water'), ('reclaimed', 'Reclaimed water'), ('sewer', 'Sewer and drain'), ('other', 'Other'), ('unknown', 'Not known')], default=tickets.states.Utility['UNKNOWN'], max_length=16)),
                ('ticket', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='operators', to='tickets.ticket')),
            ],
            options={
                'ordering': ['ticket_id', 'name', 'id'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='operator_has_a_name'),
                    models.CheckConstraint(condition=models.Q(('utility__in', ['power', 'gas', 'communications', 'water', 'reclaimed', 'sewer', 'other', 'unknown'])), name='operator_utility_known'),
                    models.UniqueConstraint(fields=('ticket', 'name'), name='operator_once_a_ticket'),
                ],
            },
        ),
        migrations.CreateModel(
            name='SiteSighting',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('marks_seen', 'Marks seen'), ('no_marks_seen', 'No marks seen'), ('marks_faded', 'Marks faded'), ('unmarked_line_seen', 'Unmarked line seen')], max_length=20)),
                ('seen_at', models.DateTimeField()),
                ('note', models.TextField(blank=True)),
                ('recorded_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sightings', to='tickets.job')),
                ('operator', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sightings', to='tickets.ticketoperator')),
            ],
            options={
                'ordering': ['-seen_at', '-id'],
                'indexes': [
                    models.Index(fields=['job', '-seen_at', '-id'], name='sighting_latest_first'),
                ],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('kind__in', ['marks_seen', 'no_marks_seen', 'marks_faded', 'unmarked_line_seen'])), name='sighting_kind_known'),
                ],
            },
        ),
        migrations.CreateModel(
            name='Answer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('outcome', models.CharField(choices=[('marked', 'Marked'), ('no_facilities', 'No facilities'), ('asked_more_time', 'Asked for more time'), ('agreed_schedule', 'Agreed a schedule'), ('needs_information', 'Needs information'), ('not_answered', 'Not answered')], max_length=20)),
                ('answered_at', models.DateTimeField()),
                ('holds_until', models.DateTimeField(blank=True, help_text='When more time was asked for or a schedule agreed: until when', null=True)),
                ('note', models.TextField(blank=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('operator', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='tickets.ticketoperator')),
            ],
            options={
                'ordering': ['-answered_at', '-id'],
                'indexes': [
                    models.Index(fields=['operator', '-answered_at', '-id'], name='answer_latest_first'),
                    models.Index(fields=['-answered_at', '-id'], name='answer_newest_first'),
                ],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('outcome__in', ['marked', 'no_facilities', 'asked_more_time', 'agreed_schedule', 'needs_information', 'not_answered'])), name='answer_outcome_known'),
                ],
            },
        ),
        migrations.CreateModel(
            name='EvidenceEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('sequence', models.PositiveIntegerField(help_text="1 for a job's first entry")),
                ('kind', models.CharField(max_length=40)),
                ('at', models.DateTimeField()),
                ('payload', models.JSONField()),
                ('canonical', models.TextField(help_text='The entry as canonical JSON (RFC 8785): what the hash covers')),
                ('previous_hash', models.CharField(max_length=64)),
                ('hash', models.CharField(max_length=64)),
                ('actor', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='evidence', to='tickets.job')),
            ],
            options={
                'verbose_name_plural': 'evidence entries',
                'ordering': ['job_id', 'sequence'],
                'constraints': [models.CheckConstraint(condition=models.Q(('kind', ''), _negated=True), name='evidence_has_a_kind'), models.UniqueConstraint(fields=('job', 'sequence'), name='evidence_sequence_once_a_job')],
            },
        ),
        migrations.CreateModel(
            name='EmergencyDig',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('reason', models.TextField()),
                ('declared_at', models.DateTimeField()),
                ('centre_told_at', models.DateTimeField(blank=True, null=True)),
                ('operators_told_at', models.DateTimeField(blank=True, null=True)),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
                ('declared_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='emergencies', to='tickets.job')),
            ],
            options={
                'ordering': ['-declared_at', '-id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='emergency_has_a_reason'), models.CheckConstraint(condition=models.Q(('closed_at__isnull', True), ('closed_at__gte', models.F('declared_at')), _connector='OR'), name='emergency_closed_after_declared'), models.UniqueConstraint(condition=models.Q(('closed_at__isnull', True)), fields=('job',), name='emergency_one_open_a_job'), models.CheckConstraint(condition=models.Q(('closed_at__isnull', True), ('centre_told_at__isnull', False), _connector='OR'), name='emergency_closed_once_centre_told')],
            },
        ),
        migrations.CreateModel(
            name='DigArea',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(blank=True, max_length=80)),
                ('polygon', models.JSONField()),
                ('planned_depth_m', models.FloatField(blank=True, null=True)),
                ('planned_width_m', models.FloatField(blank=True, null=True)),
                ('method', models.CharField(choices=[('hand', 'By hand'), ('vacuum', 'Vacuum'), ('machine', 'Machine'), ('trenchless', 'Trenchless')], max_length=16)),
                ('removed_at', models.DateTimeField(blank=True, help_text='No longer part of the job', null=True)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='dig_areas', to='tickets.job')),
            ],
            options={
                'ordering': ['job_id', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('method__in', ['hand', 'vacuum', 'machine', 'trenchless'])), name='dig_area_method_known'), models.CheckConstraint(condition=models.Q(('planned_depth_m__isnull', True), ('planned_depth_m__gt', 0), _connector='OR'), name='dig_area_depth_above_zero'), models.CheckConstraint(condition=models.Q(('planned_width_m__isnull', True), ('planned_width_m__gt', 0), _connector='OR'), name='dig_area_width_above_zero')],
            },
        ),
        migrations.CreateModel(
            name='LocalRuleConfirmation',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('confirmed_at', models.DateTimeField()),
                ('note', models.TextField(blank=True)),
                ('confirmed_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='local_rule_confirmations', to='tickets.job')),
                ('rule', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='confirmations', to='tickets.localrule')),
            ],
            options={
                'ordering': ['-confirmed_at', '-id'],
                'constraints': [models.UniqueConstraint(fields=('job', 'rule'), name='local_rule_confirmed_once')],
            },
        ),
        migrations.CreateModel(
            name='PrivateLocate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('located', 'Located'), ('waived', 'Waived')], max_length=16)),
                ('made_at', models.DateTimeField()),
                ('reason', models.TextField(blank=True)),
                ('result_words', models.TextField(blank=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='private_locates', to='tickets.job')),
            ],
            options={
                'ordering': ['-made_at', '-id'],
                'indexes': [models.Index(fields=['job', '-made_at', '-id'], name='private_locate_latest_first')],
                'constraints': [models.CheckConstraint(condition=models.Q(('kind__in', ['located', 'waived'])), name='private_locate_kind_known'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'waived'), models.Q(('reason', ''), _negated=True)), models.Q(('kind', 'located'), models.Q(('result_words', ''), _negated=True)), _connector='OR'), name='private_locate_says_what')],
            },
        ),
    ]
