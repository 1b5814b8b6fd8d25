import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('access', '0001_initial'),
        ('access', '__first__'),
        ('jobs', '0001_initial'),
        ('visits', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='Trace',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('side', models.CharField(blank=True, choices=[('right', 'RIGHT'), ('left', 'LEFT')], max_length=5)),
                ('site', models.CharField(blank=True, choices=[('arm', 'arm'), ('posterior_tibial', 'posterior tibial'), ('dorsalis_pedis', 'dorsalis pedis'), ('peroneal', 'peroneal'), ('toe_1', 'hallux'), ('toe_2', 'second toe'), ('toe_3', 'third toe'), ('toe_4', 'fourth toe'), ('toe_5', 'fifth toe')], max_length=20)),
                ('attempt', models.PositiveSmallIntegerField(default=1)),
                ('technique', models.CharField(blank=True, choices=[('doppler', 'Doppler'), ('two_cuffs', 'light sensor, two cuffs'), ('one_cuff_hand', 'light sensor, one cuff, pulp pressed empty by hand'), ('oscillometric', 'oscillometric')], max_length=20)),
                ('cuff_width_mm', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('kind', models.CharField(choices=[('refill', 'the pulp refills'), ('pulsation', 'pulses come back')], default='refill', max_length=10)),
                ('state', models.CharField(choices=[('arrived', 'needs its site or columns confirmed'), ('growing', 'arriving'), ('waiting', 'waiting to be read'), ('read', 'read'), ('failed', 'could not be read')], default='arrived', max_length=10)),
                ('problem', models.CharField(blank=True, max_length=300)),
                ('original', models.FileField(blank=True, max_length=200, upload_to='')),
                ('original_name', models.CharField(blank=True, max_length=120)),
                ('original_sha256', models.CharField(blank=True, max_length=64)),
                ('original_size', models.PositiveIntegerField(default=0)),
                ('format', models.CharField(choices=[('csv', 'CSV'), ('edf', 'EDF'), ('wfdb', 'WFDB'), ('pieces', 'sent by a device')], max_length=10)),
                ('columns', models.JSONField(blank=True, null=True)),
                ('samples', models.BinaryField(blank=True, null=True)),
                ('samples_sha256', models.CharField(blank=True, max_length=64)),
                ('sample_count', models.PositiveIntegerField(blank=True, null=True)),
                ('duration_s', models.FloatField(blank=True, null=True)),
                ('sampling_hz', models.FloatField(blank=True, null=True)),
                ('source_key', models.CharField(blank=True, max_length=80)),
                ('recorded_at', models.DateTimeField(blank=True, null=True)),
                ('received_at', models.DateTimeField()),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_because', models.CharField(blank=True, max_length=200)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='traces', to='access.clinic')),
                ('exam', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='traces', to='visits.exam')),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.job')),
                ('received_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('withdrawn_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'indexes': [models.Index(fields=['exam', 'side', 'site', 'attempt'], name='trace_by_site'), models.Index(fields=['clinic', 'state', 'received_at'], name='trace_by_state')],
                'constraints': [models.CheckConstraint(condition=models.Q(('attempt__range', (1, 3)), ('format__in', ['csv', 'edf', 'wfdb', 'pieces']), ('kind__in', ['refill', 'pulsation']), ('state__in', ['arrived', 'growing', 'waiting', 'read', 'failed'])), name='trace_is_of_a_known_kind_and_state'), models.CheckConstraint(condition=models.Q(('state__in', ['arrived', 'failed']), models.Q(('side__in', ['right', 'left']), ('site__in', ['arm', 'posterior_tibial', 'dorsalis_pedis', 'peroneal', 'toe_1', 'toe_2', 'toe_3', 'toe_4', 'toe_5']), ('technique__in', ['doppler', 'two_cuffs', 'one_cuff_hand', 'oscillometric'])), _connector='OR'), name='trace_has_its_site_once_it_is_read'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'read'), _negated=True), models.Q(('duration_s__gte', 0), ('sample_count__gte', 0), ('samples__isnull', False), models.Q(('samples_sha256', ''), _negated=True)), _connector='OR'), name='trace_that_is_read_has_samples'), models.CheckConstraint(condition=models.Q(models.Q(('original', ''), ('original_sha256', '')), models.Q(models.Q(('original', ''), _negated=True), models.Q(('original_sha256', ''), _negated=True)), _connector='OR'), name='trace_file_has_its_checksum'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'failed'), _negated=True), models.Q(('problem', ''), _negated=True), _connector='OR'), name='trace_that_failed_says_why'), models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_because', ''), ('withdrawn_by', None)), models.Q(('withdrawn_at__isnull', False), ('withdrawn_by__isnull', False), models.Q(('withdrawn_because', ''), _negated=True)), _connector='OR'), name='trace_withdrawn_says_who_and_why'), models.UniqueConstraint(condition=models.Q(('source_key', ''), _negated=True), fields=('clinic', 'source_key'), name='trace_key_once_per_clinic')],
            },
        ),
        migrations.CreateModel(
            name='Analysis',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.CharField(max_length=20)),
                ('reading', models.JSONField()),
                ('pressure_mmhg', models.DecimalField(blank=True, decimal_places=1, max_digits=5, null=True)),
                ('low_mmhg', models.DecimalField(blank=True, decimal_places=1, max_digits=5, null=True)),
                ('high_mmhg', models.DecimalField(blank=True, decimal_places=1, max_digits=5, null=True)),
                ('usable', models.BooleanField()),
                ('confidence', models.CharField(max_length=10)),
                ('computed_at', models.DateTimeField()),
                ('trace', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='analyses', to='traces.trace')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('trace', 'version'), name='analysis_once_per_version'), models.CheckConstraint(condition=models.Q(models.Q(('high_mmhg', None), ('low_mmhg', None), ('pressure_mmhg', None), ('usable', False)), models.Q(('high_mmhg__isnull', False), ('low_mmhg__isnull', False), ('pressure_mmhg__isnull', False)), _connector='OR'), name='analysis_has_a_pressure_with_its_interval')],
            },
        ),
        migrations.CreateModel(
            name='ReaderMark',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('verdict', models.CharField(choices=[('good', 'good'), ('caution', 'usable with caution'), ('unreadable', 'unreadable'), ('repeat', 'repeat it')], max_length=12)),
                ('how', models.CharField(choices=[('accepted', 'suggestion accepted'), ('moved', 'placed by the reader'), ('none', 'no mark')], max_length=10)),
                ('pressure_mmhg', models.DecimalField(blank=True, decimal_places=1, max_digits=5, null=True)),
                ('time_s', models.FloatField(blank=True, null=True)),
                ('reason', models.CharField(blank=True, max_length=200)),
                ('blind', models.BooleanField(default=False)),
                ('had_seen', models.BooleanField(default=False)),
                ('program_version', models.CharField(max_length=20)),
                ('marked_at', models.DateTimeField()),
                ('analysis', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='marks', to='traces.analysis')),
                ('marked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('reading', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='trace_marks', to='visits.reading')),
                ('replaces', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='replaced_by', to='traces.readermark')),
                ('trace', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='marks', to='traces.trace')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('how__in', ['accepted', 'moved', 'none']), ('verdict__in', ['good', 'caution', 'unreadable', 'repeat'])), name='mark_of_a_known_verdict'), models.CheckConstraint(condition=models.Q(models.Q(('how__in', ['accepted', 'moved']), ('verdict__in', ['good', 'caution']), ('pressure_mmhg__gte', 1), ('pressure_mmhg__lte', 300)), models.Q(('how', 'none'), ('pressure_mmhg', None), ('verdict__in', ['unreadable', 'repeat']), models.Q(('reason', ''), _negated=True)), _connector='OR'), name='mark_has_a_pressure_where_one_is_read'), models.CheckConstraint(condition=models.Q(('blind', False), ('reading', None), _connector='OR'), name='mark_made_blind_writes_no_reading'), models.CheckConstraint(condition=models.Q(('blind', False), ('had_seen', False), _connector='OR'), name='mark_is_blind_or_had_seen')],
            },
        ),
        migrations.CreateModel(
            name='TracePiece',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField()),
                ('samples', models.BinaryField()),
                ('samples_sha256', models.CharField(max_length=64)),
                ('sample_count', models.PositiveIntegerField()),
                ('received_at', models.DateTimeField()),
                ('trace', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pieces', to='traces.trace')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('trace', 'number'), name='trace_piece_once'), models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='trace_piece_counts_from_one')],
            },
        ),
        migrations.CreateModel(
            name='TraceSeen',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('first_seen_at', models.DateTimeField()),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('trace', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='seen', to='traces.trace')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('trace', 'person'), name='trace_seen_once_a_person')],
            },
        ),
    ]
