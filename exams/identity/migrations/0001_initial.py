import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('access', '0001_initial'),
        ('access', '__first__'),
        ('patients', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='DifferentPeople',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('because', models.CharField(max_length=200)),
                ('said_at', models.DateTimeField()),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='access.clinic')),
                ('one', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.patient')),
                ('other', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.patient')),
                ('said_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('one', 'other'), name='different_people_said_once'), models.CheckConstraint(condition=models.Q(('one__lt', models.F('other')), models.Q(('because', ''), _negated=True)), name='different_people_lower_number_first')],
            },
        ),
        migrations.CreateModel(
            name='Merge',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('decisions', models.JSONField(default=dict)),
                ('changes', models.JSONField(default=list)),
                ('stood', models.JSONField(default=list)),
                ('because', models.CharField(max_length=200)),
                ('merged_at', models.DateTimeField()),
                ('undone_at', models.DateTimeField(blank=True, null=True)),
                ('undone_because', models.CharField(blank=True, max_length=200)),
                ('placed', models.JSONField(default=dict)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='access.clinic')),
                ('merged', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='merged_away', to='patients.patient')),
                ('merged_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('survivor', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='merges', to='patients.patient')),
                ('undone_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(condition=models.Q(('undone_at', None)), fields=('merged',), name='record_merged_once_at_a_time'), models.CheckConstraint(condition=models.Q(models.Q(('survivor', models.F('merged')), _negated=True), models.Q(('because', ''), _negated=True)), name='merge_is_of_two_records'), models.CheckConstraint(condition=models.Q(models.Q(('undone_at', None), ('undone_because', ''), ('undone_by', None)), models.Q(('undone_at__isnull', False), ('undone_by__isnull', False), models.Q(('undone_because', ''), _negated=True)), _connector='OR'), name='merge_undone_says_who_and_why')],
            },
        ),
    ]
