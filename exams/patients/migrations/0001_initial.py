import datetime
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
            name='Patient',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('family_name', models.CharField(max_length=80)),
                ('given_name', models.CharField(max_length=80)),
                ('birth_date', models.DateField()),
                ('sex', models.CharField(choices=[('female', 'female'), ('male', 'male'), ('other', 'other'), ('unknown', 'unknown')], max_length=10)),
                ('telephone', models.CharField(blank=True, max_length=40)),
                ('address', models.TextField(blank=True, max_length=400)),
                ('referrer', models.CharField(blank=True, max_length=160)),
                ('died_on', models.DateField(blank=True, null=True)),
                ('diabetes', models.CharField(choices=[('yes', 'yes'), ('no', 'no'), ('unknown', 'unknown')], default='unknown', max_length=10)),
                ('kidney_disease', models.CharField(choices=[('yes', 'yes'), ('no', 'no'), ('unknown', 'unknown')], default='unknown', max_length=10)),
                ('neuropathy', models.CharField(choices=[('yes', 'yes'), ('no', 'no'), ('unknown', 'unknown')], default='unknown', max_length=10)),
                ('tobacco', models.CharField(choices=[('never', 'never'), ('stopped', 'stopped'), ('current', 'current'), ('unknown', 'unknown')], default='unknown', max_length=10)),
                ('revision', models.PositiveIntegerField(default=1)),
                ('created_at', models.DateTimeField()),
                ('search_text', models.TextField(editable=False)),
                ('name_key', models.CharField(editable=False, max_length=200)),
                ('telephone_key', models.CharField(blank=True, editable=False, max_length=9)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='patients', to='access.clinic')),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('merged_into', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='merged_here', to='patients.patient')),
            ],
            options={
                'indexes': [models.Index(fields=['clinic', 'family_name', 'given_name'], name='patient_by_name'), models.Index(fields=['clinic', 'birth_date'], name='patient_by_birth'), models.Index(fields=['clinic', 'name_key'], name='patient_by_name_key'), models.Index(fields=['clinic', 'telephone_key'], name='patient_by_telephone')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('family_name', ''), _negated=True), models.Q(('given_name', ''), _negated=True)), name='patient_has_a_name'), models.CheckConstraint(condition=models.Q(('merged_into', None), models.Q(('merged_into', models.F('pk')), _negated=True), _connector='OR'), name='patient_is_not_merged_into_itself'), models.CheckConstraint(condition=models.Q(('birth_date__gte', datetime.date(1900, 1, 1))), name='patient_born_since_1900'), models.CheckConstraint(condition=models.Q(('died_on', None), ('died_on__gte', models.F('birth_date')), _connector='OR'), name='patient_died_after_birth'), models.CheckConstraint(condition=models.Q(('diabetes__in', ['yes', 'no', 'unknown']), ('kidney_disease__in', ['yes', 'no', 'unknown']), ('neuropathy__in', ['yes', 'no', 'unknown']), ('sex__in', ['female', 'male', 'other', 'unknown']), ('tobacco__in', ['never', 'stopped', 'current', 'unknown'])), name='patient_answers_are_known_words')],
            },
        ),
        migrations.CreateModel(
            name='LimbFact',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('side', models.CharField(blank=True, choices=[('right', 'RIGHT'), ('left', 'LEFT')], max_length=5)),
                ('kind', models.CharField(choices=[('open_wound', 'open wound'), ('gangrene', 'gangrene (dead tissue)'), ('rest_pain', 'rest pain'), ('foot_infection', 'foot infection'), ('charcot', 'Charcot foot'), ('oedema', 'swelling (oedema)'), ('revascularisation', 'revascularisation'), ('amputation', 'amputation'), ('fistula', 'dialysis fistula or graft in the arm'), ('dialysis', 'dialysis'), ('arrhythmia', 'irregular heartbeat')], max_length=20)),
                ('level', models.CharField(blank=True, choices=[('toe', 'toe amputation'), ('ray', 'ray amputation'), ('transmetatarsal', 'transmetatarsal amputation'), ('midfoot', 'midfoot amputation'), ('syme', 'amputation through the ankle (Syme)'), ('below_knee', 'below-knee amputation'), ('through_knee', 'through-knee amputation'), ('above_knee', 'above-knee amputation'), ('hip', 'amputation at the hip')], max_length=20)),
                ('toe', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('approach', models.CharField(blank=True, choices=[('open', 'open'), ('endovascular', 'endovascular'), ('both', 'open and endovascular')], max_length=20)),
                ('vessels', models.CharField(blank=True, max_length=200)),
                ('device', models.CharField(blank=True, choices=[('none', 'none'), ('stent', 'stent'), ('vein_graft', 'vein graft'), ('prosthetic_graft', 'prosthetic graft'), ('patch', 'patch')], max_length=20)),
                ('grade', models.CharField(blank=True, choices=[('mild', 'mild'), ('moderate', 'moderate'), ('severe', 'severe')], max_length=10)),
                ('osteomyelitis', models.BooleanField(default=False)),
                ('started_on', models.DateField()),
                ('started_precision', models.CharField(choices=[('day', 'day'), ('month', 'month'), ('year', 'year')], default='day', max_length=5)),
                ('ended_on', models.DateField(blank=True, null=True)),
                ('ended_reason', models.CharField(blank=True, max_length=200)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('source', models.CharField(max_length=120)),
                ('entered_at', models.DateTimeField()),
                ('replaced_because', models.CharField(blank=True, max_length=200)),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_because', models.CharField(blank=True, max_length=200)),
                ('ended_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('replaces', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='replaced_by', to='patients.limbfact')),
                ('withdrawn_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='limb_facts', to='patients.patient')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ('dialysis', 'arrhythmia')), ('side', '')), models.Q(('kind__in', ['open_wound', 'gangrene', 'rest_pain', 'foot_infection', 'charcot', 'oedema', 'revascularisation', 'amputation', 'fistula', 'dialysis', 'arrhythmia']), ('side__in', ['right', 'left']), models.Q(('kind__in', ('dialysis', 'arrhythmia')), _negated=True)), _connector='OR'), name='fact_is_of_a_known_kind_and_side'), models.CheckConstraint(condition=models.Q(('started_precision__in', ['day', 'month', 'year'])), name='fact_is_dated_in_a_known_way'), models.CheckConstraint(condition=models.Q(('ended_on', None), ('ended_on__gte', models.F('started_on')), _connector='OR'), name='fact_ends_after_it_starts'), models.CheckConstraint(condition=models.Q(models.Q(('ended_by', None), ('ended_on', None), ('ended_reason', '')), models.Q(('ended_by__isnull', False), ('ended_on__isnull', False), models.Q(('ended_reason', ''), _negated=True)), _connector='OR'), name='fact_ended_says_who_and_why'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'amputation'), ('level__in', ['toe', 'ray', 'transmetatarsal', 'midfoot', 'syme', 'below_knee', 'through_knee', 'above_knee', 'hip'])), models.Q(models.Q(('kind', 'amputation'), _negated=True), ('level', '')), _connector='OR'), name='fact_names_a_level_only_of_an_amputation'), models.CheckConstraint(condition=models.Q(models.Q(('level__in', ('toe', 'ray')), ('toe__gte', 1), ('toe__isnull', False), ('toe__lte', 5)), models.Q(models.Q(('level__in', ('toe', 'ray')), _negated=True), ('toe', None)), _connector='OR'), name='fact_names_a_toe_only_where_one_was_taken_off'), models.CheckConstraint(condition=models.Q(('kind', 'revascularisation'), models.Q(('approach', ''), ('device', ''), ('vessels', '')), _connector='OR'), name='fact_names_vessels_only_of_a_revascularisation'), models.CheckConstraint(condition=models.Q(('kind', 'foot_infection'), ('grade', ''), _connector='OR'), name='fact_names_a_grade_only_of_an_infection'), models.CheckConstraint(condition=models.Q(('osteomyelitis', False), models.Q(('kind', 'foot_infection'), models.Q(('grade', 'mild'), _negated=True)), _connector='OR'), name='fact_of_bone_is_an_infection_beyond_mild'), models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ('revascularisation', 'amputation')), _negated=True), ('ended_on', None), _connector='OR'), name='fact_done_once_has_no_end'), models.CheckConstraint(condition=models.Q(('source', ''), _negated=True), name='fact_names_its_source'), models.CheckConstraint(condition=models.Q(models.Q(('replaced_because', ''), ('replaces', None)), models.Q(('replaces__isnull', False), models.Q(('replaced_because', ''), _negated=True)), _connector='OR'), name='fact_replacement_says_why'), models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_because', ''), ('withdrawn_by', None)), models.Q(('withdrawn_at__isnull', False), ('withdrawn_by__isnull', False), models.Q(('withdrawn_because', ''), _negated=True)), _connector='OR'), name='fact_withdrawn_says_who_and_why')],
            },
        ),
        migrations.CreateModel(
            name='Identifier',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('issuer', models.CharField(max_length=80)),
                ('value', models.CharField(max_length=60)),
                ('issuer_key', models.CharField(editable=False, max_length=200)),
                ('value_key', models.CharField(editable=False, max_length=200)),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_because', models.CharField(blank=True, max_length=200)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='access.clinic')),
                ('withdrawn_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='identifiers', to='patients.patient')),
            ],
            options={
                'indexes': [models.Index(fields=['clinic', 'value_key'], name='identifier_by_value')],
                'constraints': [models.UniqueConstraint(condition=models.Q(('withdrawn_at', None)), fields=('clinic', 'issuer_key', 'value_key'), name='identifier_once_per_issuer'), models.CheckConstraint(condition=models.Q(models.Q(('issuer_key', ''), _negated=True), models.Q(('value_key', ''), _negated=True)), name='identifier_can_be_compared'), models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_because', ''), ('withdrawn_by', None)), models.Q(('withdrawn_at__isnull', False), ('withdrawn_by__isnull', False), models.Q(('withdrawn_because', ''), _negated=True)), _connector='OR'), name='identifier_withdrawn_says_who_and_why')],
            },
        ),
        migrations.CreateModel(
            name='Caution',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('side', models.CharField(blank=True, choices=[('right', 'RIGHT'), ('left', 'LEFT')], max_length=5)),
                ('region', models.CharField(choices=[('arm', 'arm'), ('ankle', 'ankle and calf'), ('toes', 'toes'), ('leg', 'whole leg'), ('person', 'whole person')], max_length=10)),
                ('kind', models.CharField(choices=[('fistula', 'dialysis fistula or graft'), ('node_clearance', 'breast surgery or lymph-node clearance'), ('lymphoedema', 'lymphoedema'), ('arm_line', 'line in the arm'), ('clot', 'suspected or recent clot in a vein'), ('bypass_graft', 'bypass graft under or near the cuff'), ('stent', 'recent stent under the cuff'), ('wound', 'open wound under the cuff'), ('fracture', 'fracture, cast or brace'), ('fragile_skin', 'fragile skin'), ('pain', 'severe pain under a cuff'), ('isolation', 'isolation: cuffs for this person only'), ('other', 'other (say what)')], max_length=20)),
                ('do_not_inflate', models.BooleanField()),
                ('note', models.CharField(blank=True, max_length=200)),
                ('source', models.CharField(max_length=120)),
                ('started_on', models.DateField(blank=True, null=True)),
                ('review_on', models.DateField(blank=True, null=True)),
                ('confirmed_at', models.DateTimeField(blank=True, null=True)),
                ('ended_on', models.DateField(blank=True, null=True)),
                ('ended_reason', models.CharField(blank=True, max_length=200)),
                ('entered_at', models.DateTimeField()),
                ('confirmed_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('ended_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='cautions', to='patients.patient')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('side__in', ['right', 'left']), ('region__in', ['arm', 'ankle', 'toes', 'leg']), models.Q(('kind', 'isolation'), _negated=True)), models.Q(('do_not_inflate', False), ('kind', 'isolation'), ('region', 'person'), ('side', '')), _connector='OR'), name='caution_stands_at_a_place'), models.CheckConstraint(condition=models.Q(('ended_on', None), ('started_on', None), ('ended_on__gte', models.F('started_on')), _connector='OR'), name='caution_ends_after_it_starts'), models.CheckConstraint(condition=models.Q(models.Q(('ended_by', None), ('ended_on', None), ('ended_reason', '')), models.Q(('ended_by__isnull', False), ('ended_on__isnull', False), models.Q(('ended_reason', ''), _negated=True)), _connector='OR'), name='caution_ended_says_who_and_why'), models.CheckConstraint(condition=models.Q(('source', ''), _negated=True), name='caution_names_its_source'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'other'), _negated=True), models.Q(('note', ''), _negated=True), _connector='OR'), name='caution_of_another_kind_says_what')],
            },
        ),
    ]
