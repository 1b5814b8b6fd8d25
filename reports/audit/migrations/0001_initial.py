import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('access', '0001_initial'),
        ('access', '__first__'),
        ('jobs', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='Choice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('measures', models.JSONField()),
                ('chosen_at', models.DateTimeField()),
                ('chosen_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='chosen_measures', to='access.clinic')),
            ],
        ),
        migrations.CreateModel(
            name='Count',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('year_first', models.DateField()),
                ('software', models.CharField(max_length=40)),
                ('threshold', models.PositiveSmallIntegerField()),
                ('base', models.PositiveSmallIntegerField()),
                ('asked_at', models.DateTimeField()),
                ('counted_at', models.DateTimeField(blank=True, null=True)),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='access.clinic')),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.job')),
            ],
            options={
                'indexes': [models.Index(fields=['year_first', '-counted_at'], name='count_newest')],
            },
        ),
        migrations.CreateModel(
            name='CriteriaDraft',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('base_name', models.CharField(max_length=60)),
                ('base_version', models.CharField(max_length=20)),
                ('words', models.CharField(max_length=200)),
                ('moved_to', models.CharField(max_length=40)),
                ('last', models.PositiveSmallIntegerField()),
                ('text', models.TextField()),
                ('content_sha256', models.CharField(max_length=64)),
                ('made_at', models.DateTimeField()),
                ('outcome', models.JSONField(blank=True, null=True)),
                ('asked_at', models.DateTimeField(blank=True, null=True)),
                ('asked_because', models.CharField(blank=True, max_length=300)),
                ('decided_at', models.DateTimeField(blank=True, null=True)),
                ('approved', models.BooleanField(blank=True, null=True)),
                ('decided_because', models.CharField(blank=True, max_length=300)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='criteria_drafts', to='access.clinic')),
                ('decided_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.job')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('-made_at', '-pk'),
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('asked_at', None), ('asked_because', '')), models.Q(('asked_at__isnull', False), ('outcome__isnull', False), models.Q(('asked_because', ''), _negated=True)), _connector='OR'), name='draft_is_tried_before_it_is_sent'), models.CheckConstraint(condition=models.Q(models.Q(('approved', None), ('decided_at', None), ('decided_because', ''), ('decided_by', None)), models.Q(('asked_at__isnull', False), ('decided_at__isnull', False), ('decided_by__isnull', False), ('approved__isnull', False), models.Q(('decided_because', ''), _negated=True), models.Q(('decided_by', models.F('made_by')), _negated=True)), _connector='OR'), name='draft_is_decided_by_a_second_person')],
            },
        ),
        migrations.CreateModel(
            name='Export',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('holds', models.CharField(choices=[('sums', 'rounded sums'), ('rows', 'pseudonymised rows'), ('named', 'rows with names')], max_length=5)),
                ('form', models.CharField(choices=[('csv', 'CSV'), ('xlsx', 'spreadsheet (XLSX)'), ('parquet', 'Parquet')], max_length=8)),
                ('year_first', models.DateField()),
                ('purpose', models.CharField(blank=True, max_length=400)),
                ('legal_basis', models.CharField(blank=True, max_length=200)),
                ('asked_at', models.DateTimeField()),
                ('expires_at', models.DateTimeField()),
                ('decided_at', models.DateTimeField(blank=True, null=True)),
                ('approved', models.BooleanField(blank=True, null=True)),
                ('decided_because', models.CharField(blank=True, max_length=300)),
                ('salt', models.CharField(blank=True, max_length=64)),
                ('cancelled_at', models.DateTimeField(blank=True, null=True)),
                ('file', models.FileField(blank=True, upload_to='')),
                ('sha256', models.CharField(blank=True, max_length=64)),
                ('rows', models.PositiveIntegerField(blank=True, null=True)),
                ('log', models.JSONField(blank=True, default=dict)),
                ('link_hash', models.CharField(blank=True, max_length=64)),
                ('link_until', models.DateTimeField(blank=True, null=True)),
                ('downloaded_at', models.DateTimeField(blank=True, null=True)),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='exports', to='access.clinic')),
                ('decided_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.job')),
                ('tally', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='exports', to='audit.count')),
            ],
            options={
                'ordering': ('-asked_at', '-pk'),
                'constraints': [models.CheckConstraint(condition=models.Q(('holds', 'sums'), models.Q(models.Q(('purpose', ''), _negated=True), models.Q(('legal_basis', ''), _negated=True), models.Q(('salt', ''), _negated=True)), _connector='OR'), name='export_of_rows_says_what_for'), models.CheckConstraint(condition=models.Q(models.Q(('approved', None), ('decided_at', None), ('decided_by', None)), models.Q(('approved__isnull', False), ('decided_at__isnull', False), ('decided_by__isnull', False), models.Q(('decided_by', models.F('asked_by')), _negated=True)), _connector='OR'), name='export_is_decided_by_a_second_person'), models.CheckConstraint(condition=models.Q(('holds', 'sums'), ('file', ''), ('approved', True), _connector='OR'), name='export_of_rows_has_a_file_only_if_approved'), models.CheckConstraint(condition=models.Q(models.Q(('file', ''), ('sha256', '')), models.Q(models.Q(('file', ''), _negated=True), models.Q(('sha256', ''), _negated=True)), _connector='OR'), name='export_file_is_whole_or_absent'), models.CheckConstraint(condition=models.Q(models.Q(('link_hash', ''), ('link_until', None)), models.Q(models.Q(('link_hash', ''), _negated=True), ('link_until__isnull', False)), _connector='OR'), name='export_link_has_an_end'), models.CheckConstraint(condition=models.Q(('expires_at__gt', models.F('asked_at'))), name='export_ends_after_it_was_asked')],
            },
        ),
        migrations.CreateModel(
            name='Figure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('measure', models.CharField(max_length=8)),
                ('version', models.PositiveSmallIntegerField()),
                ('span', models.CharField(choices=[('month', 'month'), ('quarter', 'quarter'), ('year', 'year')], max_length=8)),
                ('first', models.DateField()),
                ('code', models.CharField(blank=True, max_length=40)),
                ('met', models.PositiveIntegerField()),
                ('of', models.PositiveIntegerField()),
                ('unknown', models.PositiveIntegerField()),
                ('people', models.PositiveIntegerField()),
                ('deff', models.FloatField(default=1.0)),
                ('low_value', models.FloatField(blank=True, null=True)),
                ('middle_value', models.FloatField(blank=True, null=True)),
                ('high_value', models.FloatField(blank=True, null=True)),
                ('within', models.JSONField(blank=True, default=dict)),
                ('met_hidden', models.BooleanField(default=False)),
                ('of_hidden', models.BooleanField(default=False)),
                ('unknown_hidden', models.BooleanField(default=False)),
                ('value_hidden', models.BooleanField(default=False)),
                ('clinic', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='access.clinic')),
                ('tally', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='figures', to='audit.count')),
            ],
            options={
                'indexes': [models.Index(fields=['tally', 'measure', 'span', 'first'], name='figure_of_a_measure'), models.Index(fields=['tally', 'span', 'first'], name='figure_of_a_period')],
                'constraints': [models.CheckConstraint(condition=models.Q(('met__lte', models.F('of'))), name='figure_part_of_its_whole'), models.CheckConstraint(condition=models.Q(('deff__gte', 1)), name='figure_widens'), models.CheckConstraint(condition=models.Q(('span__in', ['month', 'quarter', 'year'])), name='figure_of_a_known_span')],
            },
        ),
        migrations.CreateModel(
            name='Holiday',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('words', models.CharField(max_length=80)),
                ('added_at', models.DateTimeField()),
                ('added_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='holidays', to='access.clinic')),
            ],
            options={
                'ordering': ('day',),
                'constraints': [models.UniqueConstraint(fields=('clinic', 'day'), name='holiday_once_a_clinic')],
            },
        ),
        migrations.CreateModel(
            name='QuarterReport',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('quarter_first', models.DateField()),
                ('exact', models.BooleanField()),
                ('content', models.JSONField()),
                ('content_sha256', models.CharField(max_length=64)),
                ('made_at', models.DateTimeField()),
                ('pdf', models.FileField(blank=True, upload_to='')),
                ('pdf_sha256', models.CharField(blank=True, max_length=64)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='quarter_reports', to='access.clinic')),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.job')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('tally', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reports', to='audit.count')),
            ],
            options={
                'ordering': ('-made_at', '-pk'),
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('pdf', ''), ('pdf_sha256', '')), models.Q(models.Q(('pdf', ''), _negated=True), models.Q(('pdf_sha256', ''), _negated=True)), _connector='OR'), name='quarter_report_file_is_whole_or_absent')],
            },
        ),
        migrations.CreateModel(
            name='Rules',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('year_starts_in', models.PositiveSmallIntegerField(default=4, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(12)])),
                ('threshold', models.PositiveSmallIntegerField(default=7, validators=[django.core.validators.MinValueValidator(5), django.core.validators.MaxValueValidator(20)])),
                ('base', models.PositiveSmallIntegerField(default=5, validators=[django.core.validators.MinValueValidator(5), django.core.validators.MaxValueValidator(10)])),
                ('least_alike', models.PositiveSmallIntegerField(default=5, validators=[django.core.validators.MinValueValidator(3), django.core.validators.MaxValueValidator(50)])),
                ('because', models.CharField(max_length=200)),
                ('set_at', models.DateTimeField()),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'rules of the audit',
                'verbose_name_plural': 'rules of the audit',
                'constraints': [models.CheckConstraint(condition=models.Q(('base__range', (5, 10)), ('least_alike__range', (3, 50)), ('threshold__range', (5, 20)), ('year_starts_in__range', (1, 12)), models.Q(('because', ''), _negated=True)), name='audit_rules_protect')],
            },
        ),
    ]
