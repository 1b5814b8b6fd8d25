"""What is stored of an exam: preparation, readings, results, hand-over; and what is always true of it."""

from django.db import models
from django.db.models import F, Q

from exams.patients.models import Side


class ExamType(models.TextChoices):
    TOE_ONLY = "toe_only", "toes only"
    ANKLE_AND_TOE = "ankle_and_toe", "ankles and toes"
    FULL = "full", "full"


class ExamState(models.TextChoices):
    BOOKED = "booked", "booked"
    IDENTIFIED = "identified", "identity confirmed"
    RESTING = "resting", "resting"
    MEASURING = "measuring", "measuring"
    MEASURED = "measured", "measured"
    REPORTED = "reported", "reported"
    NOT_ATTENDED = "not_attended", "not attended"
    STOPPED = "stopped", "stopped"
    IN_ERROR = "in_error", "entered in error"


class Indication(models.TextChoices):
    """Why the test was asked for (workflow.md 2.1)."""

    FOOT_ULCER = "foot_ulcer", "foot ulcer"
    REST_PAIN = "rest_pain", "rest pain"
    CLAUDICATION = "claudication", "pain on walking"
    ABSENT_PULSES = "absent_pulses", "absent pulses"
    BEFORE_COMPRESSION = "before_compression", "before compression"
    BEFORE_FOOT_SURGERY = "before_foot_surgery", "before foot surgery"
    AFTER_REVASCULARISATION = "after_revascularisation", "after revascularisation"
    SURVEILLANCE = "surveillance", "surveillance"
    HIGH_RISK_RECALL = "high_risk_recall", "recall of a foot at risk"
    GANGRENE = "gangrene", "gangrene"
    INFECTION = "infection", "infection with suspected ischaemia"
    COLD_OR_BLUE_TOE = "cold_or_blue_toe", "cold or blue toe"
    OTHER = "other", "other (say what)"


class Site(models.TextChoices):
    ARM = "arm", "arm"
    POSTERIOR_TIBIAL = "posterior_tibial", "posterior tibial"
    DORSALIS_PEDIS = "dorsalis_pedis", "dorsalis pedis"
    PERONEAL = "peroneal", "peroneal"
    TOE_1 = "toe_1", "hallux"
    TOE_2 = "toe_2", "second toe"
    TOE_3 = "toe_3", "third toe"
    TOE_4 = "toe_4", "fourth toe"
    TOE_5 = "toe_5", "fifth toe"


class Outcome(models.TextChoices):
    PRESSURE = "pressure", "pressure"
    NOT_OCCLUDABLE = "not_occludable", "cannot be occluded"
    NO_SIGNAL = "no_signal", "no signal"
    NOT_OBTAINED = "not_obtained", "not obtained"


class NotObtained(models.TextChoices):
    """Why a planned site has no reading (workflow.md 2.6)."""

    AMPUTATED = "amputated", "amputated"
    TOE_TOO_SHORT = "toe_too_short", "toe too short"
    TOE_DEFORMED = "toe_deformed_or_overlapping", "toe deformed or overlapping"
    WOUND_UNDER_CUFF = "wound_under_cuff", "wound under the cuff"
    WOUND_AT_SENSOR = "wound_at_sensor", "wound at the sensor"
    DRESSING = "dressing_not_removed", "dressing not removed"
    CAST = "cast_or_brace", "cast or brace"
    PAIN = "pain", "pain"
    REFUSED = "refused", "refused"
    NOT_STILL = "unable_to_keep_still", "could not keep still"
    NOT_FLAT = "unable_to_lie_flat", "could not lie flat"
    UNREADABLE = "signal_unreadable", "signal unreadable"
    CUFF_SIZE = "cuff_size_unavailable", "no cuff of the right size"
    EQUIPMENT = "equipment_fault", "equipment fault"
    ARM_PROTECTED = "arm_protected", "arm protected"
    CLOT = "suspected_clot", "suspected clot"
    GRAFT = "graft_protected", "graft protected"
    ISOLATION = "isolation", "isolation"
    TIME = "time", "no time"
    NOT_INDICATED = "not_indicated", "not indicated"
    UNWELL = "stopped_unwell", "stopped: unwell"
    OTHER = "other", "other (say what)"


class Technique(models.TextChoices):
    """How flow was seen. A technique is part of what makes two readings comparable."""

    DOPPLER = "doppler", "Doppler"
    TWO_CUFFS = "two_cuffs", "light sensor, two cuffs"
    ONE_CUFF_HAND = "one_cuff_hand", "light sensor, one cuff, pulp pressed empty by hand"
    OSCILLOMETRIC = "oscillometric", "oscillometric"


class Exam(models.Model):
    """One visit's measurements of one person, right and left."""

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="exams")
    patient = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="exams")
    exam_type = models.CharField(max_length=20, choices=ExamType)
    state = models.CharField(max_length=20, choices=ExamState, default=ExamState.BOOKED)
    limited = models.BooleanField(default=False)
    booked_for = models.DateTimeField()
    indication = models.CharField(max_length=30, choices=Indication, blank=True)
    indication_text = models.CharField(max_length=300, blank=True)
    referrer = models.CharField(max_length=160, blank=True)

    identity_confirmed_at = models.DateTimeField(null=True, blank=True)
    identity_confirmed_how = models.CharField(max_length=120, blank=True)
    identity_confirmed_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    cautions_confirmed_at = models.DateTimeField(null=True, blank=True)
    lying_flat_at = models.DateTimeField(null=True, blank=True)
    first_inflation_at = models.DateTimeField(null=True, blank=True)
    measured_at = models.DateTimeField(null=True, blank=True)
    closed_because = models.CharField(max_length=200, blank=True)
    entered_later = models.BooleanField(default=False)
    # Of an exam that came in with a table: file and row; empty for one measured or typed here. Such an exam
    # says nothing of how this clinic measures, nor of how long it takes.
    imported_from = models.CharField(max_length=160, blank=True, default="", db_default="")
    # Of an exam recorded under the wrong person: never moved, but entered again under the right one.
    in_error_at = models.DateTimeField(null=True, blank=True)
    in_error_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    entered_again_from = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="entered_again_as"
    )

    measured_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField()
    created_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    # Which diagnostic criteria read this exam. Follows the clinic's choice until the exam is measured.
    criteria = models.CharField(max_length=60, blank=True)
    criteria_version = models.CharField(max_length=20, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["clinic", "state", "booked_for"], name="exam_by_state"),
            models.Index(fields=["patient", "-booked_for"], name="exam_by_patient"),
        ]
        constraints = [
            models.CheckConstraint(
                name="exam_is_of_a_known_type_and_state",
                condition=Q(exam_type__in=ExamType.values, state__in=ExamState.values),
            ),
            models.CheckConstraint(
                name="exam_has_an_indication_before_measuring",
                condition=Q(
                    state__in=["booked", "identified", "resting", "not_attended", "stopped", "in_error"]
                )
                | ~Q(indication=""),
            ),
            models.CheckConstraint(
                name="exam_measured_has_a_time",
                condition=~Q(state__in=["measured", "reported"]) | Q(measured_at__isnull=False),
            ),
            models.CheckConstraint(
                name="exam_closed_early_says_why",
                condition=~Q(state__in=["not_attended", "stopped"]) | ~Q(closed_because=""),
            ),
            models.CheckConstraint(
                name="exam_in_error_says_who_when_and_why",
                condition=(
                    Q(state="in_error", in_error_at__isnull=False, in_error_by__isnull=False)
                    & ~Q(closed_because="")
                )
                | (~Q(state="in_error") & Q(in_error_at=None, in_error_by=None)),
            ),
        ]

    def __str__(self):
        return f"exam {self.pk}"


class PreparationItem(models.TextChoices):
    """What is recorded of the conditions; each has its unit in its name."""

    POSITION = "position", "position"
    HEART_TO_FOOT_CM = "heart_to_foot_cm", "foot above the heart, cm"
    RIGHT_TOE_CELSIUS = "right_toe_celsius", "RIGHT toe skin, °C"
    LEFT_TOE_CELSIUS = "left_toe_celsius", "LEFT toe skin, °C"
    ROOM_CELSIUS = "room_celsius", "room, °C"
    WARMING = "warming", "warming"
    TOBACCO_HOURS = "tobacco_hours", "hours since tobacco"
    CAFFEINE_HOURS = "caffeine_hours", "hours since caffeine"
    FIRST_ARM = "first_arm", "arm measured first"
    REST_MINUTES_TYPED = "rest_minutes_typed", "rest, minutes, as typed"
    CUFFS_CLEANED = "cuffs_cleaned", "cuffs and sensor cleaned"
    COMMENT = "comment", "comment"


class Preparation(models.Model):
    """One entered condition. Retyping adds a row; the newest stands, the older ones stay."""

    exam = models.ForeignKey(Exam, on_delete=models.PROTECT, related_name="preparations")
    item = models.CharField(max_length=30, choices=PreparationItem)
    value = models.CharField(max_length=300)
    client_id = models.UUIDField(unique=True)
    typed_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    replaced_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="condition_is_a_known_one", condition=Q(item__in=PreparationItem.values)
            ),
            models.UniqueConstraint(
                fields=["exam", "item"], condition=Q(replaces=None), name="condition_one_first_entry"
            ),
        ]

    def __str__(self):
        return f"condition {self.pk}"


class Reading(models.Model):
    """One attempt at one site. Never overwritten: a correction is a new row naming what it replaces."""

    exam = models.ForeignKey(Exam, on_delete=models.PROTECT, related_name="readings")
    side = models.CharField(max_length=5, choices=Side)
    site = models.CharField(max_length=20, choices=Site)
    attempt = models.PositiveSmallIntegerField(default=1)
    outcome = models.CharField(max_length=20, choices=Outcome)
    # Whole or half mmHg; for "cannot be occluded" the cuff pressure reached.
    pressure_mmhg = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    reason = models.CharField(max_length=30, choices=NotObtained, blank=True)
    reason_text = models.CharField(max_length=200, blank=True)
    technique = models.CharField(max_length=20, choices=Technique)
    cuff_width_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    # Who permitted a cuff where "do not inflate" stands, and why.
    override_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    override_because = models.CharField(max_length=200, blank=True)
    client_id = models.UUIDField(unique=True)
    typed_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    # An emptied field is a row too: withdrawn says that nothing stands at this attempt any more.
    withdrawn = models.BooleanField(default=False)
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    replaced_because = models.CharField(max_length=200, blank=True)

    class Meta:
        # Statistics of one site look into the index alone; an exam's own readings are found by its key.
        indexes = [
            models.Index(
                fields=["site", "side", "exam", "outcome", "withdrawn", "id"], name="reading_by_site"
            )
        ]
        constraints = [
            models.CheckConstraint(
                name="reading_stands_at_a_known_place",
                condition=Q(
                    side__in=Side.values,
                    site__in=Site.values,
                    technique__in=Technique.values,
                    attempt__gte=1,
                    attempt__lte=3,
                ),
            ),
            models.CheckConstraint(
                name="reading_pressure_only_where_one_was_measured",
                condition=(Q(outcome="pressure") & Q(pressure_mmhg__gte=1, pressure_mmhg__lte=300))
                | (
                    Q(outcome="not_occludable")
                    & (Q(pressure_mmhg=None) | Q(pressure_mmhg__gte=1, pressure_mmhg__lte=300))
                )
                | (Q(outcome__in=["no_signal", "not_obtained"]) & Q(pressure_mmhg=None)),
            ),
            models.CheckConstraint(
                name="reading_of_an_arm_is_at_least_50",
                condition=~Q(site="arm", outcome="pressure") | Q(pressure_mmhg__gte=50),
            ),
            models.CheckConstraint(
                name="reading_withdrawn_names_what_it_withdraws",
                condition=Q(withdrawn=False) | Q(replaces__isnull=False),
            ),
            models.CheckConstraint(
                name="reading_not_obtained_says_why",
                condition=(Q(outcome="not_obtained") & ~Q(reason=""))
                | (~Q(outcome="not_obtained") & Q(reason="")),
            ),
            models.CheckConstraint(
                name="reading_override_names_person_and_reason",
                condition=(Q(override_by=None) & Q(override_because=""))
                | (Q(override_by__isnull=False) & ~Q(override_because="")),
            ),
            models.UniqueConstraint(
                fields=["exam", "side", "site", "attempt"],
                condition=Q(replaces=None),
                name="reading_one_first_entry_per_attempt",
            ),
        ]

    def __str__(self):
        return f"reading {self.pk}"


class RemarkAnswer(models.Model):
    """What was answered to one soft remark ("repeat?"), so that it is never asked again."""

    exam = models.ForeignKey(Exam, on_delete=models.PROTECT, related_name="remark_answers")
    # The remark's code with its limb, such as "toe_above_ankle.right".
    remark = models.CharField(max_length=60)
    words = models.CharField(max_length=300)
    answer = models.CharField(max_length=200)
    answered_at = models.DateTimeField()
    answered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["exam", "remark"], name="remark_answered_once"),
            models.CheckConstraint(name="remark_answer_says_something", condition=~Q(answer="")),
        ]

    def __str__(self):
        return f"answer {self.pk}"


class Result(models.Model):
    """One finding of one exam under one criteria version, as the core gave it."""

    exam = models.ForeignKey(Exam, on_delete=models.PROTECT, related_name="results")
    limb = models.CharField(max_length=5, blank=True)  # right, left, or empty for the whole exam
    measure = models.CharField(max_length=60)
    criteria = models.CharField(max_length=60)
    criteria_version = models.CharField(max_length=20)
    criteria_hash = models.CharField(max_length=64)
    # For sorting and drawing; the finding is the truth.
    value = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    band = models.CharField(max_length=60, blank=True)
    finding = models.JSONField()
    computed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["exam", "limb", "measure", "criteria"], name="result_once"),
        ]

    def __str__(self):
        return f"result {self.pk}"


class HandOver(models.Model):
    """A critical result that a person must be told of. Recording it here tells no one."""

    exam = models.ForeignKey(Exam, on_delete=models.PROTECT, related_name="hand_overs")
    limb = models.CharField(max_length=5, choices=Side)
    flag = models.CharField(max_length=60)
    sentence = models.TextField()
    raised_at = models.DateTimeField()
    raised_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    due_at = models.DateTimeField(null=True, blank=True)
    told_name = models.CharField(max_length=120, blank=True)
    told_role = models.CharField(max_length=120, blank=True)
    told_number = models.CharField(max_length=60, blank=True)
    told_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    told_at = models.DateTimeField(null=True, blank=True)
    read_back = models.CharField(max_length=300, blank=True)
    agreed = models.TextField(blank=True)
    patient_told = models.CharField(max_length=10, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    raised_in_error_because = models.CharField(max_length=300, blank=True)
    # The graver slip of the same limb that somebody is told of instead.
    taken_over_by = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="took_over"
    )
    # What the same limb reads now, where the value behind the slip was changed later; empty while it stands.
    reads_now = models.TextField(blank=True)

    class Meta:
        constraints = [
            # A closed slip does not keep a later urgent value from opening another.
            models.UniqueConstraint(
                fields=["exam", "limb", "flag"], condition=Q(closed_at=None), name="hand_over_open_once"
            ),
            models.CheckConstraint(
                name="hand_over_closes_only_complete_or_in_error",
                condition=Q(closed_at=None)
                | ~Q(raised_in_error_because="")
                | Q(taken_over_by__isnull=False)
                | (
                    ~Q(told_name="")
                    & ~Q(told_role="")
                    & ~Q(told_number="")
                    & Q(told_by__isnull=False)
                    & Q(told_at__isnull=False)
                    & ~Q(read_back="")
                    & ~Q(agreed="")
                    & ~Q(patient_told="")
                ),
            ),
            models.CheckConstraint(
                name="hand_over_of_a_known_side_and_answer",
                condition=Q(limb__in=Side.values, patient_told__in=["", "yes", "no"]),
            ),
            models.CheckConstraint(
                name="hand_over_told_after_raised",
                condition=Q(told_at=None) | Q(told_at__gte=F("raised_at")),
            ),
        ]

    def __str__(self):
        return f"hand-over {self.pk}"


class HandOverAttempt(models.Model):
    """A try to reach someone that failed: a row too."""

    hand_over = models.ForeignKey(HandOver, on_delete=models.PROTECT, related_name="attempts")
    whom = models.CharField(max_length=120)
    number = models.CharField(max_length=60, blank=True)
    outcome = models.CharField(max_length=200)
    tried_at = models.DateTimeField()
    tried_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    def __str__(self):
        return f"try {self.pk}"


class AdoptedCriteria(models.Model):
    """Which diagnostic criteria a clinic uses, since when, adopted by whom. The newest row stands."""

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="adopted_criteria")
    name = models.CharField(max_length=60)
    version = models.CharField(max_length=20)
    content_hash = models.CharField(max_length=64)
    adopted_at = models.DateTimeField()
    adopted_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    def __str__(self):
        return f"adopted criteria {self.pk}"


# Their rows point to an exam, so they are read last.
from exams.visits.agreement.models import AgreementRepeat as AgreementRepeat  # noqa: E402
from exams.visits.agreement.models import ClinicNoise as ClinicNoise  # noqa: E402
from exams.visits.further.models import FurtherEntry as FurtherEntry  # noqa: E402
