import access.clock
import django.core.serializers.json
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('access', '0001_initial'),
        ('access', '__first__'),
    ]

    operations = [
        migrations.CreateModel(
            name='Job',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(max_length=60)),
                ('numbers', models.JSONField(default=dict)),
                ('role', models.CharField(blank=True, max_length=24)),
                ('state', models.CharField(choices=[('waiting', 'waiting'), ('running', 'running'), ('done', 'done'), ('failed', 'failed')], default='waiting', max_length=8)),
                ('percent', models.PositiveSmallIntegerField(default=0)),
                ('words', models.CharField(blank=True, max_length=120)),
                ('reason', models.CharField(blank=True, max_length=400)),
                ('result', models.JSONField(default=dict, encoder=django.core.serializers.json.DjangoJSONEncoder)),
                ('attempt', models.PositiveSmallIntegerField(default=0)),
                ('claim', models.CharField(blank=True, max_length=32)),
                ('asked_at', models.DateTimeField(default=access.clock.now)),
                ('sent_at', models.DateTimeField(default=access.clock.now)),
                ('started_at', models.DateTimeField(null=True)),
                ('beat_at', models.DateTimeField(null=True)),
                ('ended_at', models.DateTimeField(null=True)),
                ('clinic', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='access.clinic')),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('-asked_at', '-pk'),
                'indexes': [models.Index(fields=['state', 'beat_at'], name='jobs_by_state_and_beat'), models.Index(fields=['clinic', '-asked_at'], name='jobs_of_a_clinic')],
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['waiting', 'running', 'done', 'failed'])), name='a_job_has_a_known_state'), models.CheckConstraint(condition=models.Q(('percent__lte', 100)), name='a_job_is_at_most_whole'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'running'), _negated=True), models.Q(models.Q(('claim', ''), _negated=True), ('beat_at__isnull', False)), _connector='OR'), name='a_running_job_has_a_worker'), models.CheckConstraint(condition=models.Q(('state', 'failed'), ('reason', ''), _connector='XOR'), name='a_failed_job_says_why'), models.CheckConstraint(condition=models.Q(('state__in', ('done', 'failed')), ('ended_at', None), _connector='XOR'), name='an_ended_job_says_when')],
            },
        ),
    ]
