import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('access', '0001_initial'),
        ('access', '__first__'),
        ('followup', '0001_initial'),
        ('jobs', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='ReferralLetter',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('content', models.JSONField()),
                ('content_sha256', models.CharField(max_length=64)),
                ('created_at', models.DateTimeField()),
                ('pdf', models.FileField(blank=True, upload_to='')),
                ('pdf_sha256', models.CharField(blank=True, max_length=64)),
                ('pages', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('rendered_at', models.DateTimeField(blank=True, null=True)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='referral_letters', to='access.clinic')),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='jobs.job')),
                ('step', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='letter', to='followup.referralstep')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('pages', None), ('pdf', ''), ('pdf_sha256', ''), ('rendered_at', None)), models.Q(models.Q(('pdf', ''), _negated=True), models.Q(('pdf_sha256', ''), _negated=True), ('pages__gte', 1), ('rendered_at__gte', models.F('created_at'))), _connector='OR'), name='letter_file_is_whole_or_absent')],
            },
        ),
    ]
