from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
    ]

    operations = [
        migrations.CreateModel(
            name='KeptExam',
            fields=[
                ('exam_number', models.BigIntegerField(primary_key=True, serialize=False)),
                ('patient_number', models.BigIntegerField(db_index=True)),
                ('made_of', models.CharField(max_length=40)),
                ('made_by', models.CharField(max_length=200)),
                ('gist', models.TextField()),
                ('whole', models.TextField()),
            ],
        ),
        migrations.CreateModel(
            name='KeptRecord',
            fields=[
                ('patient_number', models.BigIntegerField(primary_key=True, serialize=False)),
                ('mark', models.CharField(max_length=32)),
                ('made_of', models.CharField(blank=True, max_length=32)),
                ('made_by', models.CharField(blank=True, max_length=200)),
                ('glance', models.JSONField(blank=True, null=True)),
                ('years', models.JSONField(blank=True, null=True)),
                ('page', models.TextField(blank=True, db_default='', default='')),
                ('page_of', models.DateField(blank=True, null=True)),
            ],
        ),
    ]
