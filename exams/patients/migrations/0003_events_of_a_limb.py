from django.conf import settings
from django.db import migrations, models


def lost_toes_become_amputations(apps, schema_editor):
    facts = apps.get_model("patients", "LimbFact").objects
    facts.filter(kind="toe_absent").update(kind="amputation", level="toe")


def amputated_toes_become_lost_ones(apps, schema_editor):
    facts = apps.get_model("patients", "LimbFact").objects
    facts.filter(kind="amputation", level="toe").update(kind="toe_absent", level="")


class Migration(migrations.Migration):

    dependencies = [
        ('access', '0003_gateways'),
        ('patients', '0002_search_by_trigram'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='limbfact',
            name='fact_is_of_a_known_kind_and_side',
        ),
        migrations.RemoveConstraint(
            model_name='limbfact',
            name='fact_names_a_toe_only_when_a_toe_is_absent',
        ),
        migrations.RemoveConstraint(
            model_name='limbfact',
            name='fact_of_an_absent_toe_has_no_end',
        ),
        migrations.AddField(
            model_name='limbfact',
            name='approach',
            field=models.CharField(blank=True, choices=[('open', 'open'), ('endovascular', 'endovascular'), ('both', 'open and endovascular')], max_length=20),
        ),
        migrations.AddField(
            model_name='limbfact',
            name='device',
            field=models.CharField(blank=True, choices=[('none', 'none'), ('stent', 'stent'), ('vein_graft', 'vein graft'), ('prosthetic_graft', 'prosthetic graft'), ('patch', 'patch')], max_length=20),
        ),
        migrations.AddField(
            model_name='limbfact',
            name='grade',
            field=models.CharField(blank=True, choices=[('mild', 'mild'), ('moderate', 'moderate'), ('severe', 'severe')], max_length=10),
        ),
        migrations.AddField(
            model_name='limbfact',
            name='level',
            field=models.CharField(blank=True, choices=[('toe', 'toe amputation'), ('ray', 'ray amputation'), ('transmetatarsal', 'transmetatarsal amputation'), ('midfoot', 'midfoot amputation'), ('syme', 'amputation through the ankle (Syme)'), ('below_knee', 'below-knee amputation'), ('through_knee', 'through-knee amputation'), ('above_knee', 'above-knee amputation'), ('hip', 'amputation at the hip')], max_length=20),
        ),
        migrations.AddField(
            model_name='limbfact',
            name='started_precision',
            field=models.CharField(choices=[('day', 'day'), ('month', 'month'), ('year', 'year')], default='day', max_length=5),
        ),
        migrations.AddField(
            model_name='limbfact',
            name='vessels',
            field=models.CharField(blank=True, max_length=200),
        ),
        migrations.AddField(
            model_name='patient',
            name='died_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name='limbfact',
            name='kind',
            field=models.CharField(choices=[('open_wound', 'open wound'), ('rest_pain', 'rest pain'), ('foot_infection', 'foot infection'), ('charcot', 'Charcot foot'), ('oedema', 'swelling (oedema)'), ('revascularisation', 'revascularisation'), ('amputation', 'amputation'), ('fistula', 'dialysis fistula or graft in the arm'), ('dialysis', 'dialysis'), ('arrhythmia', 'irregular heartbeat')], max_length=20),
        ),
        migrations.AlterField(
            model_name='limbfact',
            name='side',
            field=models.CharField(blank=True, choices=[('right', 'RIGHT'), ('left', 'LEFT')], max_length=5),
        ),
        migrations.RunPython(lost_toes_become_amputations, amputated_toes_become_lost_ones),
        migrations.AddConstraint(
            model_name='limbfact',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ('dialysis', 'arrhythmia')), ('side', '')), models.Q(('kind__in', ['open_wound', 'rest_pain', 'foot_infection', 'charcot', 'oedema', 'revascularisation', 'amputation', 'fistula', 'dialysis', 'arrhythmia']), ('side__in', ['right', 'left']), models.Q(('kind__in', ('dialysis', 'arrhythmia')), _negated=True)), _connector='OR'), name='fact_is_of_a_known_kind_and_side'),
        ),
        migrations.AddConstraint(
            model_name='limbfact',
            constraint=models.CheckConstraint(condition=models.Q(('started_precision__in', ['day', 'month', 'year'])), name='fact_is_dated_in_a_known_way'),
        ),
        migrations.AddConstraint(
            model_name='limbfact',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'amputation'), ('level__in', ['toe', 'ray', 'transmetatarsal', 'midfoot', 'syme', 'below_knee', 'through_knee', 'above_knee', 'hip'])), models.Q(models.Q(('kind', 'amputation'), _negated=True), ('level', '')), _connector='OR'), name='fact_names_a_level_only_of_an_amputation'),
        ),
        migrations.AddConstraint(
            model_name='limbfact',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('level__in', ('toe', 'ray')), ('toe__gte', 1), ('toe__isnull', False), ('toe__lte', 5)), models.Q(models.Q(('level__in', ('toe', 'ray')), _negated=True), ('toe', None)), _connector='OR'), name='fact_names_a_toe_only_where_one_was_taken_off'),
        ),
        migrations.AddConstraint(
            model_name='limbfact',
            constraint=models.CheckConstraint(condition=models.Q(('kind', 'revascularisation'), models.Q(('approach', ''), ('device', ''), ('vessels', '')), _connector='OR'), name='fact_names_vessels_only_of_a_revascularisation'),
        ),
        migrations.AddConstraint(
            model_name='limbfact',
            constraint=models.CheckConstraint(condition=models.Q(('kind', 'foot_infection'), ('grade', ''), _connector='OR'), name='fact_names_a_grade_only_of_an_infection'),
        ),
        migrations.AddConstraint(
            model_name='limbfact',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ('revascularisation', 'amputation')), _negated=True), ('ended_on', None), _connector='OR'), name='fact_done_once_has_no_end'),
        ),
        migrations.AddConstraint(
            model_name='patient',
            constraint=models.CheckConstraint(condition=models.Q(('died_on', None), ('died_on__gte', models.F('birth_date')), _connector='OR'), name='patient_died_after_birth'),
        ),
    ]
