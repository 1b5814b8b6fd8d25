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
            name='Batch',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('state', models.CharField(choices=[('arrived', 'columns to be named'), ('checking', 'being checked'), ('checked', 'checked, nothing taken in yet'), ('importing', 'being taken in'), ('imported', 'taken in'), ('taking_back', 'being taken back'), ('taken_back', 'taken back')], default='arrived', max_length=12)),
                ('file_name', models.CharField(max_length=120)),
                ('sha256', models.CharField(max_length=64)),
                ('size', models.PositiveIntegerField()),
                ('profile', models.JSONField()),
                ('sheet', models.CharField(blank=True, max_length=60)),
                ('heading_row', models.PositiveIntegerField(default=1)),
                ('mapping', models.JSONField(blank=True, null=True)),
                ('counts', models.JSONField(blank=True, default=dict)),
                ('received_at', models.DateTimeField()),
                ('checked_at', models.DateTimeField(blank=True, null=True)),
                ('ready_for', models.CharField(blank=True, max_length=64)),
                ('new_people_agreed', models.BooleanField(default=False)),
                ('imported_at', models.DateTimeField(blank=True, null=True)),
                ('taken_back_at', models.DateTimeField(blank=True, null=True)),
                ('taken_back_because', models.CharField(blank=True, max_length=200)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='batches', to='access.clinic')),
                ('imported_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.job')),
                ('received_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('taken_back_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'table taken in',
                'verbose_name_plural': 'tables taken in',
                'indexes': [models.Index(fields=['clinic', '-received_at'], name='batch_by_day')],
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['arrived', 'checking', 'checked', 'importing', 'imported', 'taking_back', 'taken_back'])), name='batch_has_a_known_state'), models.CheckConstraint(condition=models.Q(models.Q(('state__in', ['imported', 'taking_back', 'taken_back']), _negated=True), models.Q(('imported_at__isnull', False), ('imported_by__isnull', False)), _connector='OR'), name='batch_taken_in_says_when_and_who'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'taken_back'), _negated=True), models.Q(('taken_back_at__isnull', False), ('taken_back_by__isnull', False), models.Q(('taken_back_because', ''), _negated=True)), _connector='OR'), name='batch_taken_back_says_when_who_and_why'), models.UniqueConstraint(condition=models.Q(('state__in', ['importing', 'imported', 'taking_back'])), fields=('clinic', 'sha256'), name='batch_of_one_file_taken_in_once')],
            },
        ),
        migrations.CreateModel(
            name='BatchFile',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('content', models.BinaryField()),
                ('batch', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='file', to='exchange.batch')),
            ],
        ),
        migrations.CreateModel(
            name='ImportedExam',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('row', models.PositiveIntegerField()),
                ('readings', models.PositiveSmallIntegerField()),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='exams', to='exchange.batch')),
                ('exam', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='came_with', to='visits.exam')),
            ],
        ),
        migrations.CreateModel(
            name='ImportedPatient',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('patient_number', models.BigIntegerField(unique=True)),
                ('row', models.PositiveIntegerField()),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='people', to='exchange.batch')),
            ],
        ),
        migrations.CreateModel(
            name='Issue',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('row', models.PositiveIntegerField()),
                ('column', models.CharField(blank=True, max_length=80)),
                ('value', models.CharField(blank=True, max_length=80)),
                ('reason', models.CharField(max_length=300)),
                ('suggestion', models.CharField(blank=True, max_length=300)),
                ('grave', models.BooleanField()),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='issues', to='exchange.batch')),
            ],
            options={
                'indexes': [models.Index(fields=['batch', 'grave', 'row'], name='issue_by_row')],
                'constraints': [models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='issue_says_why')],
            },
        ),
        migrations.CreateModel(
            name='MappingTemplate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80)),
                ('columns', models.JSONField()),
                ('options', models.JSONField()),
                ('saved_at', models.DateTimeField()),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='access.clinic')),
                ('saved_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('clinic', 'name'), name='template_named_once_a_clinic'), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='template_has_a_name')],
            },
        ),
        migrations.CreateModel(
            name='ReadyPiece',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField()),
                ('content', models.BinaryField()),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='ready', to='exchange.batch')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('batch', 'number'), name='ready_piece_stands_once_in_its_order')],
            },
        ),
    ]
