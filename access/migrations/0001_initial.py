import access.clock
import access.models.clinics
import django.db.models.deletion
import django.db.models.functions.text
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
    ]

    operations = [
        migrations.CreateModel(
            name='User',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('email', models.EmailField(error_messages={'unique': 'Somebody already signs in with this email address.'}, max_length=254, unique=True)),
                ('full_name', models.CharField(max_length=120)),
                ('signs_in', models.BooleanField(default=True)),
                ('is_active', models.BooleanField(default=True)),
                ('created_at', models.DateTimeField(default=access.clock.now)),
                ('disabled_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'verbose_name': 'account',
                'constraints': [models.CheckConstraint(condition=models.Q(('email', django.db.models.functions.text.Lower('email'))), name='emails_in_lower_case'), models.CheckConstraint(condition=models.Q(('full_name', ''), _negated=True), name='a_person_has_a_name'), models.CheckConstraint(condition=models.Q(('signs_in', True), ('password__startswith', '!'), _connector='OR'), name='a_device_has_no_password'), models.CheckConstraint(condition=models.Q(models.Q(('disabled_at', None), ('is_active', True)), models.Q(('disabled_at__isnull', False), ('is_active', False)), _connector='OR'), name='a_disabled_account_says_since_when')],
            },
        ),
        migrations.CreateModel(
            name='Clinic',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120, unique=True)),
                ('address', models.CharField(blank=True, max_length=300)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('time_zone', models.CharField(default='Europe/London', max_length=64, validators=[access.models.clinics.known_time_zone])),
                ('toes_first', models.BooleanField(default=False)),
            ],
            options={
                'ordering': ('name',),
            },
        ),
        migrations.CreateModel(
            name='AccessToken',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('token_hash', models.CharField(max_length=64, unique=True)),
                ('scopes', models.CharField(blank=True, max_length=400)),
                ('made_at', models.DateTimeField(default=access.clock.now)),
                ('expires_at', models.DateTimeField()),
                ('revoked_at', models.DateTimeField(blank=True, null=True)),
                ('last_used_at', models.DateTimeField(blank=True, null=True)),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('revoked_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='access_tokens', to=settings.AUTH_USER_MODEL)),
                ('clinic', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='access.clinic')),
            ],
            options={
                'constraints': [models.UniqueConstraint(condition=models.Q(('revoked_at', None)), fields=('user',), name='one_token_an_account'), models.CheckConstraint(condition=models.Q(models.Q(('revoked_at', None), ('revoked_by', None)), models.Q(('revoked_at__isnull', False), ('revoked_by__isnull', False)), _connector='OR'), name='a_revoked_token_says_by_whom'), models.CheckConstraint(condition=models.Q(('expires_at__gt', models.F('made_at'))), name='a_token_expires_later'), models.CheckConstraint(condition=models.Q(models.Q(('clinic', None), ('scopes', '')), models.Q(models.Q(('scopes', ''), _negated=True), ('clinic__isnull', False)), _connector='OR'), name='a_scoped_token_names_its_clinic')],
            },
        ),
        migrations.CreateModel(
            name='KeyUsed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(max_length=60)),
                ('content_hash', models.CharField(max_length=64)),
                ('made', models.PositiveBigIntegerField(null=True)),
                ('at', models.DateTimeField(default=access.clock.now)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('user', 'key'), name='a_key_is_used_once')],
            },
        ),
        migrations.CreateModel(
            name='Membership',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('role', models.CharField(choices=[('measurer', 'measurer'), ('reporter', 'reporter'), ('wound_team', 'wound team'), ('administrator', 'administrator'), ('educator', 'educator'), ('system_administrator', 'system administrator'), ('gateway', 'bedside gateway')], max_length=24)),
                ('granted_at', models.DateTimeField(default=access.clock.now)),
                ('approved_at', models.DateTimeField(blank=True, null=True)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('approved_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clinic', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='memberships', to='access.clinic')),
                ('ended_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('granted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='memberships', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'role',
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('clinic', None), ('role', 'system_administrator')), models.Q(models.Q(('role', 'system_administrator'), _negated=True), ('clinic__isnull', False)), _connector='OR'), name='only_the_system_administrator_has_no_clinic'), models.UniqueConstraint(condition=models.Q(('ended_at', None)), fields=('user', 'clinic', 'role'), name='a_role_is_held_once'), models.UniqueConstraint(condition=models.Q(('clinic', None), ('ended_at', None)), fields=('user', 'role'), name='a_service_role_is_held_once'), models.UniqueConstraint(condition=models.Q(('ended_at', None), ('role', 'gateway')), fields=('user',), name='a_gateway_serves_one_clinic'), models.CheckConstraint(condition=models.Q(models.Q(('role__in', ['measurer', 'reporter', 'system_administrator', 'wound_team']), _negated=True), ('approved_at', None), models.Q(('granted_by', None), ('role', 'system_administrator')), models.Q(('approved_by__isnull', False), ('granted_by__isnull', False), models.Q(('approved_by', models.F('granted_by')), _negated=True), models.Q(('approved_by', models.F('user')), _negated=True)), _connector='OR'), name='two_people_stand_behind_a_clinical_role')],
            },
        ),
        migrations.CreateModel(
            name='SetPasswordLink',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('token_hash', models.CharField(max_length=64, unique=True)),
                ('made_at', models.DateTimeField(default=access.clock.now)),
                ('expires_at', models.DateTimeField()),
                ('used_at', models.DateTimeField(blank=True, null=True)),
                ('made_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='set_password_links', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='TrailHead',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('sequence', models.PositiveBigIntegerField(default=0)),
                ('hash', models.CharField(default='0000000000000000000000000000000000000000000000000000000000000000', max_length=64)),
                ('clinic', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='trail_head', to='access.clinic')),
            ],
            options={
                'constraints': [models.UniqueConstraint(models.Value(1), condition=models.Q(('clinic', None)), name='one_trail_head_for_the_service')],
            },
        ),
        migrations.CreateModel(
            name='TrailRow',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('sequence', models.PositiveBigIntegerField()),
                ('at', models.DateTimeField()),
                ('role', models.CharField(blank=True, max_length=24)),
                ('action', models.CharField(max_length=100)),
                ('subject_type', models.CharField(blank=True, max_length=60)),
                ('subject_id', models.CharField(blank=True, max_length=40)),
                ('patient_id', models.PositiveBigIntegerField(blank=True, null=True)),
                ('details_json', models.TextField(default='{}')),
                ('request_id', models.CharField(blank=True, max_length=36)),
                ('came_from', models.CharField(blank=True, max_length=45)),
                ('previous_hash', models.CharField(max_length=64)),
                ('hash', models.CharField(max_length=64)),
                ('clinic', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='access.clinic')),
                ('user', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'indexes': [models.Index(fields=['clinic', 'at'], name='trail_by_day'), models.Index(fields=['clinic', 'patient_id'], name='trail_by_patient'), models.Index(fields=['clinic', 'user'], name='trail_by_person')],
                'constraints': [models.UniqueConstraint(fields=('clinic', 'sequence'), name='one_trail_row_a_place'), models.UniqueConstraint(condition=models.Q(('clinic', None)), fields=('sequence',), name='one_service_trail_row_a_place')],
            },
        ),
        migrations.CreateModel(
            name='QueueKey',
            fields=[
                ('user', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='queue_key', serialize=False, to=settings.AUTH_USER_MODEL)),
                ('key', models.BinaryField(max_length=32)),
                ('made_at', models.DateTimeField(default=access.clock.now)),
                ('expires_at', models.DateTimeField()),
            ],
        ),
    ]
