"""What is stored of referrals, recalls and promises, and what is always true of it."""

from django.db import models
from django.db.models import F, Q

from exams.followup.course import (
    EVENT_KINDS,
    MOVES,
    ContactOutcome,
    ContactWay,
    PromiseKind,
    RecallEnd,
    RecallKind,
    State,
    Urgency,
)
from exams.patients.models import Side

# These states mean nothing without what was told with them.
_TELLING = (State.RETURNED, State.DECLINED, State.OUTCOME, State.CLOSED)


class Referral(models.Model):
    """A person sent to the surgeon's side. Its steps say what became of it; none is ever overwritten.

    ``state`` and ``urgency`` are those of the newest step, kept here to be searched.
    """

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="referrals")
    patient = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="referrals")
    # The exam whose findings it rests on, if any.
    exam = models.ForeignKey(
        "visits.Exam", on_delete=models.PROTECT, null=True, blank=True, related_name="referrals"
    )
    side = models.CharField(max_length=5, choices=Side, blank=True)
    sent_to = models.CharField(max_length=160)
    reasons = models.TextField(max_length=4000)
    # What the software proposed, so that it can be seen what a person made of it.
    urgency_proposed = models.CharField(max_length=20, choices=Urgency, blank=True)
    reasons_proposed = models.TextField(max_length=4000, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=10, choices=State, default=State.SENT)
    urgency = models.CharField(max_length=20, choices=Urgency)

    # Where two records are parted again, it stands with its exam (exams.identity.kept).
    goes_with = ("exam",)

    class Meta:
        indexes = [
            models.Index(fields=["clinic", "state"], name="referral_open", condition=~Q(state=State.CLOSED)),
        ]
        constraints = [
            models.CheckConstraint(
                name="referral_says_whom_and_why", condition=~Q(sent_to="") & ~Q(reasons="")
            ),
            models.CheckConstraint(
                name="referral_is_in_a_known_state",
                condition=Q(state__in=State.values, urgency__in=Urgency.values, side__in=["", *Side.values]),
            ),
        ]

    def __str__(self):
        return f"referral {self.pk}"


class ReferralStep(models.Model):
    """One step of a referral: who, when, in which role, in what words. Steps follow one another.

    One that was a slip is taken back by a further step, which names it in ``takes_back`` and stands where the
    step before it stood; its ``words`` say why. Neither is ever changed.
    """

    referral = models.ForeignKey(Referral, on_delete=models.PROTECT, related_name="steps")
    follows = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="followed_by"
    )
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="taken_back_by"
    )
    before = models.CharField(max_length=10, choices=State, blank=True)
    state = models.CharField(max_length=10, choices=State)
    urgency = models.CharField(max_length=20, choices=Urgency)
    words = models.TextField(max_length=2000, blank=True)
    # The day to be seen (accepted), or the day it happened (seen, treated).
    day = models.DateField(null=True, blank=True)
    # Who said so, where that is not the person who enters it.
    said_by = models.CharField(max_length=160, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    by_role = models.CharField(max_length=24)

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.CheckConstraint(
                name="referral_step_is_an_allowed_one",
                condition=(
                    Q(takes_back__isnull=False)
                    | Q(*(Q(before=move.before, state=move.after) for move in MOVES), _connector=Q.OR)
                )
                & Q(urgency__in=Urgency.values),
            ),
            models.CheckConstraint(
                name="referral_step_follows_one_unless_first",
                condition=Q(before="", follows=None) | (~Q(before="") & Q(follows__isnull=False)),
            ),
            models.CheckConstraint(
                name="referral_step_does_not_follow_itself", condition=Q(follows=None) | ~Q(follows=F("pk"))
            ),
            models.UniqueConstraint(
                fields=["referral"], condition=Q(follows=None), name="referral_begins_once"
            ),
            models.CheckConstraint(
                name="referral_step_tells_what_must_be_told",
                condition=~Q(words="") | (~Q(state__in=_TELLING) & ~Q(state=State.SENT, before__gt="")),
            ),
            models.CheckConstraint(
                name="referral_step_takes_back_another_and_says_why",
                condition=Q(takes_back=None)
                | (Q(before__gt="", follows__isnull=False) & ~Q(words="") & ~Q(takes_back=F("pk"))),
            ),
            models.CheckConstraint(
                name="referral_step_names_its_day",
                condition=Q(state__in=[State.SEEN, State.TREATED], day__isnull=False)
                | Q(state=State.ACCEPTED)
                | (~Q(state__in=[State.SEEN, State.TREATED, State.ACCEPTED]) & Q(day=None)),
            ),
        ]

    def __str__(self):
        return f"referral step {self.pk}"


class Recall(models.Model):
    """A person who is to come again: by the risk of their feet, or because of an event.

    It ends only by somebody's decision. A death on record stops it without a change here, so that taking the
    death back lets everything go on as it stood.
    """

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="recalls")
    patient = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="recalls")
    kind = models.CharField(max_length=20, choices=RecallKind)
    # Of a risk category: which, by which scheme, and why a person chose it where the record says otherwise.
    category = models.PositiveSmallIntegerField(null=True, blank=True)
    scheme = models.CharField(max_length=120)
    because = models.CharField(max_length=300, blank=True)
    # Of an event: the fact of the limb.
    fact = models.OneToOneField(
        "patients.LimbFact", on_delete=models.PROTECT, null=True, blank=True, related_name="recall"
    )
    counted_from = models.DateField()
    due_from = models.DateField()
    due_by = models.DateField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    follows = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="followed_by"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_as = models.CharField(max_length=12, choices=RecallEnd, blank=True)
    ended_because = models.CharField(max_length=300, blank=True)

    goes_with = ("fact", "follows")

    class Meta:
        indexes = [
            models.Index(fields=["clinic", "due_by"], name="recall_standing", condition=Q(ended_at=None)),
        ]
        constraints = [
            models.CheckConstraint(
                name="recall_is_by_category_or_by_event",
                condition=Q(kind=RecallKind.RISK, fact=None, category__isnull=False, category__lte=3)
                | Q(kind__in=EVENT_KINDS, fact__isnull=False, category=None),
            ),
            models.CheckConstraint(
                name="recall_dates_follow_one_another",
                condition=Q(due_from__gte=F("counted_from")) & Q(due_by__gte=F("due_from")),
            ),
            models.CheckConstraint(
                name="recall_ended_says_who_how_and_why",
                condition=Q(ended_at=None, ended_by=None, ended_as="", ended_because="")
                | (
                    Q(ended_at__isnull=False, ended_by__isnull=False, ended_as__in=RecallEnd.values)
                    & ~Q(ended_because="")
                ),
            ),
        ]

    def __str__(self):
        return f"recall {self.pk}"


class ContactAttempt(models.Model):
    """A try to reach somebody who is due. What came of it never changes; a further try is a further row."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="attempts")
    tried_on = models.DateField()
    way = models.CharField(max_length=16, choices=ContactWay)
    outcome = models.CharField(max_length=12, choices=ContactOutcome)
    words = models.CharField(max_length=300, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="contact_is_of_a_known_way_and_outcome",
                condition=Q(way__in=ContactWay.values, outcome__in=ContactOutcome.values),
            ),
        ]

    def __str__(self):
        return f"contact attempt {self.pk}"


class Promise(models.Model):
    """Something said to a person with a day by which it is done. Kept, or called off with a reason."""

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="promises")
    patient = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="promises")
    exam = models.ForeignKey(
        "visits.Exam", on_delete=models.PROTECT, null=True, blank=True, related_name="promises"
    )
    kind = models.CharField(max_length=8, choices=PromiseKind)
    side = models.CharField(max_length=5, choices=Side, blank=True)
    words = models.CharField(max_length=300)
    due_on = models.DateField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    kept_at = models.DateTimeField(null=True, blank=True)
    kept_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    kept_how = models.CharField(max_length=300, blank=True)
    kept_exam = models.ForeignKey(
        "visits.Exam", on_delete=models.PROTECT, null=True, blank=True, related_name="promises_kept"
    )
    called_off_at = models.DateTimeField(null=True, blank=True)
    called_off_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    called_off_because = models.CharField(max_length=300, blank=True)

    goes_with = ("exam",)

    class Meta:
        indexes = [
            models.Index(
                fields=["clinic", "due_on"],
                name="promise_standing",
                condition=Q(kept_at=None, called_off_at=None),
            ),
        ]
        constraints = [
            models.CheckConstraint(
                name="promise_says_what",
                condition=~Q(words="") & Q(kind__in=PromiseKind.values, side__in=["", *Side.values]),
            ),
            models.CheckConstraint(
                name="promise_kept_says_who_and_how",
                condition=Q(kept_at=None, kept_by=None, kept_how="", kept_exam=None)
                | (Q(kept_at__isnull=False, kept_by__isnull=False) & ~Q(kept_how="")),
            ),
            models.CheckConstraint(
                name="promise_called_off_says_who_and_why",
                condition=Q(called_off_at=None, called_off_by=None, called_off_because="")
                | (Q(called_off_at__isnull=False, called_off_by__isnull=False) & ~Q(called_off_because="")),
            ),
            models.CheckConstraint(
                name="promise_ends_once", condition=Q(kept_at=None) | Q(called_off_at=None)
            ),
        ]

    def __str__(self):
        return f"promise {self.pk}"


class TargetChange(models.Model):
    """A clinic's own figure in the place of a published one; the newest of a key stands.

    ``days`` None: nothing of this kind is called late here.
    """

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="follow_up_targets")
    key = models.CharField(max_length=40)
    days = models.PositiveSmallIntegerField(null=True, blank=True)
    because = models.CharField(max_length=200)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["clinic", "key", "-id"], name="target_newest")]
        constraints = [
            models.CheckConstraint(name="target_change_says_why", condition=~Q(because="") & ~Q(key="")),
        ]

    def __str__(self):
        return f"target {self.pk}"
