import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('access', '0001_initial'),
        ('access', '__first__'),
        ('patients', '0001_initial'),
        ('visits', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='Recall',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('risk', 'foot-risk category'), ('revascularisation', 'new baseline after a procedure'), ('open_wound', 'new baseline: new ulcer'), ('amputation', 'new baseline after an amputation'), ('foot_infection', 'new baseline: foot infection')], max_length=20)),
                ('category', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('scheme', models.CharField(max_length=120)),
                ('because', models.CharField(blank=True, max_length=300)),
                ('counted_from', models.DateField()),
                ('due_from', models.DateField()),
                ('due_by', models.DateField()),
                ('made_at', models.DateTimeField()),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('ended_as', models.CharField(blank=True, choices=[('seen', 'seen, with the next date set if there is one'), ('discharged', 'discharged'), ('transferred', 'transferred to another service'), ('moved', 'moved away'), ('refused', 'does not want to come'), ('never_was', 'the event was withdrawn or corrected')], max_length=12)),
                ('ended_because', models.CharField(blank=True, max_length=300)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='recalls', to='access.clinic')),
                ('ended_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('fact', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='recall', to='patients.limbfact')),
                ('follows', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='followed_by', to='followup.recall')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='recalls', to='patients.patient')),
            ],
            options={
                'indexes': [models.Index(condition=models.Q(('ended_at', None)), fields=['clinic', 'due_by'], name='recall_standing')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('category__isnull', False), ('category__lte', 3), ('fact', None), ('kind', 'risk')), models.Q(('category', None), ('fact__isnull', False), ('kind__in', ('revascularisation', 'open_wound', 'amputation', 'foot_infection'))), _connector='OR'), name='recall_is_by_category_or_by_event'), models.CheckConstraint(condition=models.Q(('due_from__gte', models.F('counted_from')), ('due_by__gte', models.F('due_from'))), name='recall_dates_follow_one_another'), models.CheckConstraint(condition=models.Q(models.Q(('ended_as', ''), ('ended_at', None), ('ended_because', ''), ('ended_by', None)), models.Q(('ended_as__in', ['seen', 'discharged', 'transferred', 'moved', 'refused', 'never_was']), ('ended_at__isnull', False), ('ended_by__isnull', False), models.Q(('ended_because', ''), _negated=True)), _connector='OR'), name='recall_ended_says_who_how_and_why')],
            },
        ),
        migrations.CreateModel(
            name='ContactAttempt',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('tried_on', models.DateField()),
                ('way', models.CharField(choices=[('telephone', 'telephone'), ('letter', 'letter'), ('message', 'message'), ('in_person', 'in person'), ('through_another', 'through somebody else')], max_length=16)),
                ('outcome', models.CharField(choices=[('comes', 'reached: will come'), ('undecided', 'reached: not decided'), ('refuses', 'reached: does not want to come'), ('left_word', 'left word'), ('not_reached', 'not reached'), ('wrong_number', 'wrong number or address')], max_length=12)),
                ('words', models.CharField(blank=True, max_length=300)),
                ('entered_at', models.DateTimeField()),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('recall', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='attempts', to='followup.recall')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('outcome__in', ['comes', 'undecided', 'refuses', 'left_word', 'not_reached', 'wrong_number']), ('way__in', ['telephone', 'letter', 'message', 'in_person', 'through_another'])), name='contact_is_of_a_known_way_and_outcome')],
            },
        ),
        migrations.CreateModel(
            name='Referral',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('side', models.CharField(blank=True, choices=[('right', 'RIGHT'), ('left', 'LEFT')], max_length=5)),
                ('sent_to', models.CharField(max_length=160)),
                ('reasons', models.TextField(max_length=4000)),
                ('urgency_proposed', models.CharField(blank=True, choices=[('at_once', 'at once'), ('one_working_day', 'within one working day'), ('two_to_four_weeks', 'within 2 to 4 weeks'), ('six_to_eight_weeks', 'within 6 to 8 weeks')], max_length=20)),
                ('reasons_proposed', models.TextField(blank=True, max_length=4000)),
                ('made_at', models.DateTimeField()),
                ('state', models.CharField(choices=[('sent', 'sent'), ('received', 'received'), ('accepted', 'accepted'), ('returned', 'returned with a question'), ('declined', 'declined'), ('seen', 'seen'), ('treated', 'treated'), ('outcome', 'outcome told'), ('closed', 'closed')], default='sent', max_length=10)),
                ('urgency', models.CharField(choices=[('at_once', 'at once'), ('one_working_day', 'within one working day'), ('two_to_four_weeks', 'within 2 to 4 weeks'), ('six_to_eight_weeks', 'within 6 to 8 weeks')], max_length=20)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='referrals', to='access.clinic')),
                ('exam', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='referrals', to='visits.exam')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='referrals', to='patients.patient')),
            ],
            options={
                'indexes': [models.Index(condition=models.Q(('state', 'closed'), _negated=True), fields=['clinic', 'state'], name='referral_open')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('sent_to', ''), _negated=True), models.Q(('reasons', ''), _negated=True)), name='referral_says_whom_and_why'), models.CheckConstraint(condition=models.Q(('side__in', ['', 'right', 'left']), ('state__in', ['sent', 'received', 'accepted', 'returned', 'declined', 'seen', 'treated', 'outcome', 'closed']), ('urgency__in', ['at_once', 'one_working_day', 'two_to_four_weeks', 'six_to_eight_weeks'])), name='referral_is_in_a_known_state')],
            },
        ),
        migrations.CreateModel(
            name='ReferralStep',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('before', models.CharField(blank=True, choices=[('sent', 'sent'), ('received', 'received'), ('accepted', 'accepted'), ('returned', 'returned with a question'), ('declined', 'declined'), ('seen', 'seen'), ('treated', 'treated'), ('outcome', 'outcome told'), ('closed', 'closed')], max_length=10)),
                ('state', models.CharField(choices=[('sent', 'sent'), ('received', 'received'), ('accepted', 'accepted'), ('returned', 'returned with a question'), ('declined', 'declined'), ('seen', 'seen'), ('treated', 'treated'), ('outcome', 'outcome told'), ('closed', 'closed')], max_length=10)),
                ('urgency', models.CharField(choices=[('at_once', 'at once'), ('one_working_day', 'within one working day'), ('two_to_four_weeks', 'within 2 to 4 weeks'), ('six_to_eight_weeks', 'within 6 to 8 weeks')], max_length=20)),
                ('words', models.TextField(blank=True, max_length=2000)),
                ('day', models.DateField(blank=True, null=True)),
                ('said_by', models.CharField(blank=True, max_length=160)),
                ('at', models.DateTimeField()),
                ('by_role', models.CharField(max_length=24)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('follows', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='followed_by', to='followup.referralstep')),
                ('referral', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='steps', to='followup.referral')),
                ('takes_back', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='taken_back_by', to='followup.referralstep')),
            ],
            options={
                'ordering': ('pk',),
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('takes_back__isnull', False), models.Q(('before', ''), ('state', 'sent')), models.Q(('before', 'sent'), ('state', 'received')), models.Q(('before', 'sent'), ('state', 'accepted')), models.Q(('before', 'sent'), ('state', 'returned')), models.Q(('before', 'sent'), ('state', 'declined')), models.Q(('before', 'received'), ('state', 'accepted')), models.Q(('before', 'received'), ('state', 'returned')), models.Q(('before', 'received'), ('state', 'declined')), models.Q(('before', 'returned'), ('state', 'sent')), models.Q(('before', 'declined'), ('state', 'accepted')), models.Q(('before', 'declined'), ('state', 'sent')), models.Q(('before', 'accepted'), ('state', 'seen')), models.Q(('before', 'accepted'), ('state', 'accepted')), models.Q(('before', 'accepted'), ('state', 'declined')), models.Q(('before', 'seen'), ('state', 'treated')), models.Q(('before', 'seen'), ('state', 'outcome')), models.Q(('before', 'treated'), ('state', 'outcome')), models.Q(('before', 'outcome'), ('state', 'closed')), models.Q(('before', 'sent'), ('state', 'closed')), models.Q(('before', 'received'), ('state', 'closed')), models.Q(('before', 'accepted'), ('state', 'closed')), models.Q(('before', 'returned'), ('state', 'closed')), models.Q(('before', 'declined'), ('state', 'closed')), models.Q(('before', 'seen'), ('state', 'closed')), models.Q(('before', 'treated'), ('state', 'closed')), _connector='OR'), ('urgency__in', ['at_once', 'one_working_day', 'two_to_four_weeks', 'six_to_eight_weeks'])), name='referral_step_is_an_allowed_one'), models.CheckConstraint(condition=models.Q(models.Q(('before', ''), ('follows', None)), models.Q(models.Q(('before', ''), _negated=True), ('follows__isnull', False)), _connector='OR'), name='referral_step_follows_one_unless_first'), models.CheckConstraint(condition=models.Q(('follows', None), models.Q(('follows', models.F('pk')), _negated=True), _connector='OR'), name='referral_step_does_not_follow_itself'), models.UniqueConstraint(condition=models.Q(('follows', None)), fields=('referral',), name='referral_begins_once'), models.CheckConstraint(condition=models.Q(models.Q(('words', ''), _negated=True), models.Q(models.Q(('state__in', ('returned', 'declined', 'outcome', 'closed')), _negated=True), models.Q(('before__gt', ''), ('state', 'sent'), _negated=True)), _connector='OR'), name='referral_step_tells_what_must_be_told'), models.CheckConstraint(condition=models.Q(('takes_back', None), models.Q(('before__gt', ''), ('follows__isnull', False), models.Q(('words', ''), _negated=True), models.Q(('takes_back', models.F('pk')), _negated=True)), _connector='OR'), name='referral_step_takes_back_another_and_says_why'), models.CheckConstraint(condition=models.Q(models.Q(('day__isnull', False), ('state__in', ['seen', 'treated'])), ('state', 'accepted'), models.Q(models.Q(('state__in', ['seen', 'treated', 'accepted']), _negated=True), ('day', None)), _connector='OR'), name='referral_step_names_its_day')],
            },
        ),
        migrations.CreateModel(
            name='TargetChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(max_length=40)),
                ('days', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('because', models.CharField(max_length=200)),
                ('set_at', models.DateTimeField()),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='follow_up_targets', to='access.clinic')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'indexes': [models.Index(fields=['clinic', 'key', '-id'], name='target_newest')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('because', ''), _negated=True), models.Q(('key', ''), _negated=True)), name='target_change_says_why')],
            },
        ),
        migrations.CreateModel(
            name='Promise',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('see', 'see again'), ('measure', 'measure again'), ('warm', 'repeat with warm feet'), ('call', 'telephone'), ('other', 'other')], max_length=8)),
                ('side', models.CharField(blank=True, choices=[('right', 'RIGHT'), ('left', 'LEFT')], max_length=5)),
                ('words', models.CharField(max_length=300)),
                ('due_on', models.DateField()),
                ('made_at', models.DateTimeField()),
                ('kept_at', models.DateTimeField(blank=True, null=True)),
                ('kept_how', models.CharField(blank=True, max_length=300)),
                ('called_off_at', models.DateTimeField(blank=True, null=True)),
                ('called_off_because', models.CharField(blank=True, max_length=300)),
                ('called_off_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clinic', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='promises', to='access.clinic')),
                ('exam', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='promises', to='visits.exam')),
                ('kept_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('kept_exam', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='promises_kept', to='visits.exam')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='promises', to='patients.patient')),
            ],
            options={
                'indexes': [models.Index(condition=models.Q(('called_off_at', None), ('kept_at', None)), fields=['clinic', 'due_on'], name='promise_standing')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('words', ''), _negated=True), ('kind__in', ['see', 'measure', 'warm', 'call', 'other']), ('side__in', ['', 'right', 'left'])), name='promise_says_what'), models.CheckConstraint(condition=models.Q(models.Q(('kept_at', None), ('kept_by', None), ('kept_exam', None), ('kept_how', '')), models.Q(('kept_at__isnull', False), ('kept_by__isnull', False), models.Q(('kept_how', ''), _negated=True)), _connector='OR'), name='promise_kept_says_who_and_how'), models.CheckConstraint(condition=models.Q(models.Q(('called_off_at', None), ('called_off_because', ''), ('called_off_by', None)), models.Q(('called_off_at__isnull', False), ('called_off_by__isnull', False), models.Q(('called_off_because', ''), _negated=True)), _connector='OR'), name='promise_called_off_says_who_and_why'), models.CheckConstraint(condition=models.Q(('kept_at', None), ('called_off_at', None), _connector='OR'), name='promise_ends_once')],
            },
        ),
    ]
