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
            name='Document',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('status', models.CharField(choices=[('preliminary', 'PRELIMINARY: not yet reviewed by an interpreting clinician')], default='preliminary', max_length=20)),
                ('conclusion_drafted', models.TextField(blank=True)),
                ('conclusion', models.TextField(max_length=4000)),
                ('content', models.JSONField()),
                ('content_sha256', models.CharField(max_length=64)),
                ('created_at', models.DateTimeField()),
                ('created_as', models.CharField(max_length=24)),
                ('pdf', models.FileField(blank=True, upload_to='')),
                ('pdf_sha256', models.CharField(blank=True, max_length=64)),
                ('pages', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('rendered_at', models.DateTimeField(blank=True, null=True)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='documents', to='access.clinic')),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('exam', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='documents', to='visits.exam')),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.job')),
                ('supersedes', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='superseded_by', to='documents.document')),
            ],
            options={
                'ordering': ('-created_at', '-pk'),
                'indexes': [models.Index(fields=['clinic', '-created_at'], name='documents_of_a_clinic')],
                'constraints': [models.UniqueConstraint(fields=('exam', 'number'), name='document_number_once_per_exam'), models.CheckConstraint(condition=models.Q(('number__gte', 1), models.Q(('number', 1), ('supersedes__isnull', False), _connector='XOR')), name='document_after_the_first_replaces_one'), models.CheckConstraint(condition=models.Q(models.Q(('pages', None), ('pdf', ''), ('pdf_sha256', ''), ('rendered_at', None)), models.Q(models.Q(('pdf', ''), _negated=True), models.Q(('pdf_sha256', ''), _negated=True), ('pages__gte', 1), ('rendered_at__gte', models.F('created_at'))), _connector='OR'), name='document_file_is_whole_or_absent')],
            },
        ),
    ]
