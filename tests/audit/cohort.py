"""A small cohort of Alder House, counted by hand in `test_measures.py`, in the audit year from April 2026.

Exams go through the services; wounds, referrals, recalls and marks are rows, so that each says only what its
measure asks.
"""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

from access import clock
from exams.followup.models import Recall, Referral, ReferralStep
from exams.identity.models import Merge
from exams.patients.models import LimbFact, Patient
from exams.patients.services import record_limb_fact
from exams.traces.models import Analysis, ReaderMark, Trace
from exams.visits.models import AgreementRepeat, Exam, HandOver, Preparation, RemarkAnswer
from exams.visits.plan import TECHNIQUES, kind_of_site
from exams.visits.services import Filled, Noted, finish_measuring, not_attended, record_sheet
from exams.visits.typed import read_reading
from exams.wounds.models import Assessment, Episode, Wound
from reports.documents.models import Document
from tests.build import WHOLE, booked_exam, new_patient, place_of, ready_exam

NOW = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)
WARM = {"right_toe_celsius": "31", "left_toe_celsius": "31"}


def whole_sheet(by, patient, rest=10, conditions=None, **pressures):
    """A measured exam of these readings, healthy where none is given; stored at once, for it is quicker."""
    exam = ready_exam(by, patient, rest_minutes=rest)
    noted = [Noted(item, typed, uuid4()) for item, typed in (conditions or {}).items()]
    filled = []
    for name, typed in {**WHOLE, **pressures}.items():
        place = place_of(name)
        technique = TECHNIQUES[kind_of_site(place.site)][0]
        filled.append(Filled(place, read_reading(str(typed), place.site), technique, uuid4(), clock.now()))
    record_sheet(exam=exam, noted=noted, filled=filled, by=by)
    finish_measuring(exam=exam, by=by)
    exam.refresh_from_db()
    return exam


def noon(month: int, day: int) -> datetime:
    return datetime(2026, month, day, 12, 0, tzinfo=UTC)


class Cohort:
    """Everybody and everything, told in the order of time."""

    def __init__(self, cast):
        self.by, self.nurse, self.user = cast.measurer, cast.wound_nurse, cast.measurer.user
        self.reporter = cast.reporter.user
        with clock.at(noon(4, 1)):
            self.ada, self.bea, self.cal, self.dot, self.eli = (
                new_patient(self.by, diabetes=diabetes) for diabetes in ("yes", "unknown", "yes", "no", "yes")
            )
        self._exams()
        with clock.at(NOW):
            self._ulcers()
            self._vascular()
            self._follow_up()
            self._recordings()
            self._double()
        self._cold_toes()
        self._reports()
        self._on_paper()
        self._study()

    # ---- six measured exams: Ada twice, and Bea, Cal, Dot and Eli once

    def _exams(self):
        warm_and_clean = {**WARM, "cuffs_cleaned": "yes"}
        self.ada_1 = self._exam(4, 10, self.ada, 12, warm_and_clean, right_hallux_2=118)
        self.bea_1 = self._exam(
            4, 20, self.bea, 8, {}, left_posterior_tibial="*250", left_dorsalis_pedis="*250"
        )
        # One temperature of two, arms 20 apart and the first one measured again.
        self.ada_2 = self._exam(
            5,
            5,
            self.ada,
            10,
            {"right_toe_celsius": "31", "first_arm": "right"},
            arm_left=120,
            arm_right_2=138,
        )
        # A wound on the LEFT, whose toe was not measured; arms 18 apart, and nothing said of it.
        with clock.at(noon(5, 6)):
            self.cal_wound = self._fact(self.cal, "left", "open_wound", date(2026, 5, 1))
        self.cal_1 = self._exam(5, 6, self.cal, 15, warm_and_clean, arm_left=122, left_hallux="-4")
        # A stiff RIGHT ankle whose toe was not measured either.
        self.dot_1 = self._exam(
            7,
            1,
            self.dot,
            11,
            WARM,
            right_posterior_tibial="*250",
            right_dorsalis_pedis="*250",
            right_hallux="-6",
        )
        with clock.at(noon(8, 7)):
            self.eli_wound = self._fact(self.eli, "right", "open_wound", date(2026, 8, 3))
        self.eli_1 = self._exam(8, 7, self.eli, 10, WARM, right_hallux=24, right_hallux_2=28)
        Exam.objects.filter(pk=self.eli_1.pk).update(lying_flat_at=None)  # so its rest is not known
        self.slip = HandOver.objects.get(exam=self.eli_1, limb="right")
        HandOver.objects.filter(pk=self.slip.pk).update(
            due_at=self.slip.raised_at + timedelta(hours=4),
            told_at=self.slip.raised_at + timedelta(hours=1),
            told_by=self.user,
            told_name="Dr Rowan Staithe",
            told_role="surgeon on call",
            told_number="01555 000 000",
            read_back="RIGHT hallux 24",
            agreed="seen tonight",
            patient_told="yes",
            closed_at=self.slip.raised_at + timedelta(hours=1),
            closed_by=self.user,
        )
        with clock.at(noon(7, 2)):
            missed, silent = booked_exam(self.by, self.dot), booked_exam(self.by, self.dot)
            not_attended(exam=missed, because="did not answer", by=self.by)
        self.silent = silent
        with clock.at(noon(7, 3)):
            booked_exam(self.by, self.dot, booked_for=NOW + timedelta(days=7))

    def _exam(self, month, day, patient, rest, conditions, **pressures):
        with clock.at(noon(month, day)):
            return whole_sheet(self.by, patient, rest, conditions, **pressures)

    # ---- ulcers: Ada's healed, Cal's open and amputated, Eli's young, Dot has no diabetes

    def _ulcers(self):
        self.ada_ulcer = self._episode(
            self.ada, "right", date(2026, 4, 8), date(2026, 4, 20), healed_12w=True, healed_24w=True
        )
        self.cal_ulcer = self._episode(
            self.cal, "left", date(2026, 5, 1), date(2026, 5, 3), healed_12w=False, healed_24w=False
        )
        self.eli_ulcer = self._episode(self.eli, "right", date(2026, 11, 10), date(2026, 11, 20), toe_band="")
        self._episode(self.dot, "left", date(2026, 5, 1), date(2026, 5, 2))
        self._fact(self.cal, "left", "amputation", date(2026, 8, 1), level="below_knee")
        self._fact(self.ada, "right", "amputation", date(2026, 6, 1), level="toe", toe=3)
        Patient.objects.filter(pk=self.cal.pk).update(died_on=date(2026, 10, 1))

    def _episode(self, patient, side, presented, assessed, toe_band="WIFI_1", **more):
        episode = Episode.objects.create(
            clinic=patient.clinic,
            patient=patient,
            began_on=presented,
            presented_on=presented,
            index_side=side,
            toe_band=toe_band,
            entered_at=NOW,
            entered_by=self.user,
            **more,
        )
        fact = LimbFact.objects.create(
            patient=patient,
            side=side,
            kind="open_wound",
            started_on=presented,
            ended_on=presented,
            ended_reason="told elsewhere",
            ended_by=self.user,
            source="episode",
            entered_at=NOW,
            entered_by=self.user,
        )
        wound = Wound.objects.create(episode=episode, number=1, fact=fact)
        Assessment.objects.create(
            wound=wound,
            assessed_on=assessed,
            depth="skin",
            gangrene="none",
            infection_looked="none",
            offloading="none",
            entered_at=NOW,
            entered_by=self.user,
        )
        return episode

    def _fact(self, patient, side, kind, day, **more):
        with clock.at(clock.now()):
            return record_limb_fact(
                patient=patient, side=side, kind=kind, started_on=day, source="seen", by=self.nurse, **more
            )

    # ---- vessels treated: Ada measured after 25 days, Dot never, Eli two weeks ago, Bea in some month

    def _vascular(self):
        self._fact(self.ada, "right", "revascularisation", date(2026, 4, 10), approach="endovascular")
        self._fact(self.dot, "left", "revascularisation", date(2026, 9, 1), approach="endovascular")
        self._fact(self.eli, "right", "revascularisation", date(2026, 9, 15), approach="endovascular")
        self._fact(self.eli, "left", "revascularisation", date(2026, 11, 11), approach="endovascular")
        self._fact(
            self.bea,
            "left",
            "revascularisation",
            date(2026, 6, 1),
            approach="endovascular",
            started_precision="month",
        )

    # ---- two referrals, one accepted after three working days; three recalls, one forgotten

    def _follow_up(self):
        # Friday to Wednesday over a bank holiday on Monday.
        accepted = self._referral(self.eli, datetime(2026, 8, 28, 9, 0, tzinfo=UTC))
        self._accepted(accepted, datetime(2026, 9, 2, 9, 0, tzinfo=UTC))
        self._referral(self.cal, datetime(2026, 8, 3, 9, 0, tzinfo=UTC))
        Recall.objects.all().delete()  # those that wounds and procedures made by themselves
        self._recall(self.ada, date(2026, 6, 30), ended=datetime(2026, 6, 20, 9, 0, tzinfo=UTC))
        self._recall(self.bea, date(2026, 7, 31), ended=datetime(2026, 8, 20, 9, 0, tzinfo=UTC))
        self._recall(self.dot, date(2026, 9, 30))
        self._recall(self.cal, date(2026, 10, 31))
        self._recall(self.eli, date(2027, 1, 31))

    def _referral(self, patient, at):
        referral = Referral.objects.create(
            clinic=patient.clinic,
            patient=patient,
            sent_to="vascular",
            reasons="toe 24",
            made_at=at,
            made_by=self.user,
            urgency="one_working_day",
        )
        self._first = ReferralStep.objects.create(
            referral=referral,
            state="sent",
            urgency="one_working_day",
            at=at,
            by=self.user,
            by_role="wound_team",
        )
        return referral

    def _accepted(self, referral, at):
        ReferralStep.objects.create(
            referral=referral,
            follows=self._first,
            before="sent",
            state="accepted",
            urgency="one_working_day",
            at=at,
            by=self.user,
            by_role="reporter",
        )

    def _recall(self, patient, due, ended=None):
        closed = {"ended_at": ended, "ended_by": self.user, "ended_as": "seen", "ended_because": "came"}
        Recall.objects.create(
            clinic=patient.clinic,
            patient=patient,
            kind="risk",
            category=2,
            scheme="IWGDF",
            counted_from=due - timedelta(days=90),
            due_from=due - timedelta(days=14),
            due_by=due,
            made_at=noon(4, 1),
            made_by=self.user,
            **(closed if ended else {}),
        )

    # ---- five recordings: two marked near, one far, one refused, one not read

    def _recordings(self):
        self._recorded(80.0, mark=80.5)
        self._recorded(80.0, mark=79.0)
        self._recorded(60.0, mark=66.0, flags=["low_amplitude"])
        self._recorded(None, refused="leak", flags=["occlusion_doubtful"])
        self._trace()

    def _recorded(self, suggested, mark=None, refused="", flags=()):
        trace = self._trace()
        analysis = Analysis.objects.create(
            trace=trace,
            version="1",
            reading={
                "beat_mmhg": 2.5 if suggested else {"not_stated": "no return"},
                "flags": [{"code": one, "words": ""} for one in flags],
            },
            pressure_mmhg=suggested,
            low_mmhg=suggested and suggested - 4,
            high_mmhg=suggested and suggested + 4,
            usable=suggested is not None,
            confidence="high",
            computed_at=NOW,
        )
        ReaderMark.objects.create(
            trace=trace,
            analysis=analysis,
            verdict="unreadable" if refused else "good",
            how="none" if refused else "moved",
            pressure_mmhg=mark,
            reason=refused,
            program_version="1",
            marked_at=noon(8, 7),
            marked_by=self.user,
        )

    def _trace(self):
        return Trace.objects.create(
            clinic=self.eli_1.clinic,
            exam=self.eli_1,
            side="right",
            site="toe_1",
            technique="two_cuffs",
            format="csv",
            received_at=noon(8, 7),
            received_by=self.user,
        )

    # ---- Bea's second record

    def _double(self):
        second = new_patient(self.by)
        Merge.objects.create(
            clinic=second.clinic,
            survivor=self.bea,
            merged=second,
            because="same person",
            merged_at=NOW,
            merged_by=self.user,
        )

    # ---- cold toes: Ada's LEFT was left so, Eli's RIGHT was warmed and read again

    def _cold_toes(self):
        celsius = Preparation.objects.filter(exam=self.ada_1, item="left_toe_celsius")
        celsius.update(value="29.5")
        first = Preparation.objects.get(exam=self.eli_1, item="right_toe_celsius")
        Preparation.objects.filter(pk=first.pk).update(value="24")
        warmed = first.typed_at + timedelta(minutes=10)
        Preparation.objects.create(
            exam=self.eli_1,
            item="right_toe_celsius",
            value="31",
            replaces=first,
            client_id=uuid4(),
            typed_at=warmed,
            entered_at=warmed,
            entered_by=self.user,
        )
        again = self.eli_1.readings.filter(side="right", site="toe_1", attempt=2)
        again.update(typed_at=warmed + timedelta(minutes=2))

    # ---- reports: Friday to Tuesday, Monday to Thursday, the measurer's own only, Wednesday to Friday

    def _reports(self):
        self._report(self.ada_1, noon(4, 14), "reporter")
        self._report(self.bea_1, noon(4, 23), "reporter")
        self._report(self.ada_2, noon(5, 5), "measurer")
        self._report(self.cal_1, noon(5, 8), "reporter")

    def _report(self, exam, at, role):
        Document.objects.create(
            exam=exam,
            clinic=exam.clinic,
            number=1,
            conclusion="healthy",
            content={},
            content_sha256="0" * 64,
            created_at=at,
            created_by=self.reporter if role == "reporter" else self.user,
            created_as=role,
        )

    # ---- two exams kept on paper: one entered the same day, one from Wednesday to Monday

    def _on_paper(self):
        Exam.objects.filter(pk__in=[self.dot_1.pk, self.cal_1.pk]).update(entered_later=True)
        self.cal_1.readings.update(entered_at=noon(5, 11))

    # ---- a pair of exams by one measurer; Dot's was measured by another, who is in no study

    def _study(self):
        Exam.objects.filter(pk=self.dot_1.pk).update(measured_by=self.reporter)
        self.pair = AgreementRepeat.objects.create(
            exam=self.ada_2,
            first=self.ada_1,
            study="spring",
            recuffed_by=self.user,
            recorded_at=noon(5, 5),
            recorded_by=self.user,
        )


def answer_to_arms(exam, user):
    RemarkAnswer.objects.create(
        exam=exam, remark="arms_apart", words="apart", answer="known", answered_at=NOW, answered_by=user
    )
