"""What is kept of a record never says anything else than the record, whatever was done to it."""

import json
import re
from datetime import UTC, date, timedelta
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from access import clock
from access.models import Clinic
from exams.followup.services import call_off_promise
from exams.hemodynamics import Side
from exams.identity.services import enter_under_right_person
from exams.patients.models import Patient
from exams.patients.services import add_caution, end_limb_fact, record_limb_fact, withdraw_limb_fact
from exams.visits.agreement.models import ClinicNoise
from exams.visits.models import Exam, HandOver
from exams.visits.queries.criteria import adopted_by
from exams.visits.services import (
    adopt_criteria,
    close_as_raised_in_error,
    correct_reading,
    not_attended,
    reopen,
    store_again,
)
from exams.visits.typed import read_reading
from reports.timeline import figure
from reports.timeline.few import DRAWN_WHOLE, NEWEST
from reports.timeline.figure import drawn
from reports.timeline.gist import gist_json, gist_of, gists_from, whole_from, whole_json
from reports.timeline.glance import seen_on
from reports.timeline.keeping import differing, kept_of, made_now
from reports.timeline.kept import glance_from, glance_json, years_from, years_json
from reports.timeline.models import KeptExam, KeptRecord
from reports.timeline.plain import SIDES
from reports.timeline.record import limits_of, years_from_gists, years_of
from reports.timeline.summary import changed_of, unreported_of
from reports.timeline.words import limbs_of
from tests.build import booked_exam, enter, new_patient, reading_at, ready_exam, whole_exam
from tests.followup.make import die, promise, recall, referral
from tests.identity.make import merge, report_of, undo
from tests.timeline.many import copies_of
from tests.timeline.records import CRITERIA, NO_SIGNAL, UNOCCLUDED, foot, glance_at, record, stands
from tests.traces.made import read_recording
from tests.traces.test_marks import mark
from tests.visits.test_further import type_in

TODAY = date(2026, 11, 25)
LONG_AGO = timedelta(days=700)


def keep_all():
    """As if somebody had just looked at every record; the number of rows that are kept and count."""
    for patient in Patient.objects.all():
        kept_of(patient, adopted_by(patient.clinic), "glance")


def correct_meanwhile(exam, by):
    """A correction, as somebody else makes it meanwhile."""
    correct_reading(
        reading=reading_at(exam, "right_hallux"),
        value=read_reading("33", "toe_1"),
        technique="two_cuffs",
        reason="digits swapped",
        by=by,
    )


OWN_NOISE = {
    "measure": "ankle_brachial_index",
    "technique": "doppler",
    "pairs": 31,
    "sd_within": 0.02,
    "study": "autumn",
    "computed_at": clock.now(),
}


def nothing_differs() -> bool:
    return list(differing(Patient.objects.iterator())) == []


@pytest.mark.django_db
class TestNeverDisagrees:
    """After each act: every row that still counts says what is computed afresh."""

    @pytest.fixture
    def act(self):
        """``act(what)`` does it to records that were all kept before, and looks at what counts after it."""

        def done(what):
            keep_all()
            result = what()
            assert nothing_differs()
            return result

        return done

    def test_through_the_course_of_an_exam(self, act, measurer, reporter):
        ivy = new_patient(measurer)
        first = act(lambda: whole_exam(measurer, ivy, at=clock.now() - LONG_AGO, right_hallux=60))
        exam = act(lambda: ready_exam(measurer, ivy))
        act(lambda: enter(exam, "right.arm.1", "140", measurer))
        act(lambda: enter(exam, "right.toe_1.1", "24", measurer))
        act(lambda: enter(exam, "right.toe_1.1", "", measurer))
        act(lambda: enter(exam, "right.toe_1.1", "28", measurer))
        act(lambda: enter(exam, "right_toe_celsius", "22", measurer))
        act(lambda: close_as_raised_in_error(slip=HandOver.objects.first(), because="wrong toe", by=measurer))
        act(lambda: type_in(first, "exercise", measurer, reason="left out", protocol="treadmill"))
        act(lambda: reopen(exam=first, because="a value is missing", by=measurer))
        act(lambda: not_attended(exam=booked_exam(measurer, ivy), because="did not come", by=measurer))
        last = act(lambda: whole_exam(measurer, ivy, right_hallux=31, left_hallux="*250"))
        act(lambda: report_of(last, reporter))
        act(
            lambda: correct_reading(
                reading=reading_at(last, "right_hallux"),
                value=read_reading("71", "toe_1"),
                technique="two_cuffs",
                reason="digits swapped",
                by=measurer,
            )
        )
        act(lambda: store_again(exam=last, by=measurer))

    def test_through_facts_cautions_and_another_criteria(self, act, measurer, reporter, administrator):
        ivy = new_patient(measurer)
        whole_exam(measurer, ivy, at=clock.now() - LONG_AGO)
        whole_exam(measurer, ivy)
        said = {"patient": ivy, "side": "right", "source": "letter", "by": measurer}
        year_ago = (clock.now() - timedelta(days=365)).date()
        act(lambda: record_limb_fact(kind="revascularisation", started_on=year_ago, **said))
        wound = act(lambda: record_limb_fact(kind="open_wound", started_on=year_ago, **said))
        act(lambda: end_limb_fact(fact=wound, ended_on=clock.now().date(), reason="healed", by=measurer))
        act(lambda: withdraw_limb_fact(fact=wound, reason="another foot", by=measurer))
        act(
            lambda: add_caution(region="arm", kind="fistula", do_not_inflate=True, **{**said, "side": "left"})
        )
        act(lambda: adopt_criteria(name="iwgdf-2023", version="1", by=administrator))
        act(lambda: ClinicNoise.objects.create(**OWN_NOISE, clinic=ivy.clinic, computed_by=measurer.user))
        assert "this clinic: autumn" in str(kept_of(ivy, adopted_by(ivy.clinic), "glance"))

    def test_through_corrections_of_identity(self, act, measurer, reporter):
        ivy, twin = new_patient(measurer), new_patient(measurer)
        wrong = whole_exam(measurer, ivy, right_hallux=24)
        whole_exam(measurer, twin, at=clock.now() - LONG_AGO)
        act(lambda: enter_under_right_person(exam=wrong, patient=twin, because="two sheets", by=reporter))
        done = act(lambda: merge(ivy, twin, reporter))
        act(lambda: undo(done, reporter))

    def test_through_a_recording(self, act, measurer):
        exam = ready_exam(measurer)
        trace = act(lambda: read_recording(measurer, exam))
        act(lambda: mark(trace, measurer))
        act(lambda: mark(trace, measurer, pressure_mmhg=Decimal(80), how="moved", reason="again"))

    def test_through_what_is_referred_and_promised(self, act, measurer):
        ivy = new_patient(measurer)
        act(lambda: referral(measurer, ivy))
        promised = act(lambda: promise(measurer, ivy))
        act(lambda: call_off_promise(promise=promised, because="moved away", by=measurer))
        act(lambda: recall(measurer, ivy))
        act(lambda: die(measurer, ivy, clock.now().date()))

    def test_a_change_of_the_clinics_zone_counts(self, act, measurer):
        whole_exam(measurer)
        act(lambda: Clinic.objects.update(time_zone="Pacific/Auckland"))


@pytest.mark.django_db
class TestWhatIsShown:
    """The pages show what is kept while it counts, and never anything else."""

    def test_what_is_kept_is_shown_without_reading_the_exams(self, client_as, measurer):
        ivy = whole_exam(measurer, right_hallux=52).patient
        client = client_as(measurer)
        client.get(f"/patients/{ivy.pk}/")

        with CaptureQueriesContext(connection) as asked:
            page = client.get(f"/patients/{ivy.pk}/").content.decode()

        assert "toe pressure 52 mmHg" in page
        assert not any("visits_result" in one["sql"] or "visits_reading" in one["sql"] for one in asked)

    def test_looking_leaves_it_in_force(self, client_as, measurer):
        exam = whole_exam(measurer)
        pages = [
            f"/patients/{exam.patient_id}/{page}" for page in ("", "limbs/", "timeline/", "timeline.csv")
        ]
        client = client_as(measurer)
        client.get(pages[0])
        before = KeptRecord.objects.get()

        for page in (*pages, f"/exams/{exam.pk}/", f"/exams/{exam.pk}/traces/"):
            client.get(page)

        after = KeptRecord.objects.get()
        assert (after.mark, after.made_of) == (before.mark, before.mark)

    def test_a_failed_act_leaves_it_in_force(self, measurer):
        exam = whole_exam(measurer)
        keep_all()
        before = KeptRecord.objects.get()

        with pytest.raises(Exception, match="Say why it is corrected"):
            correct_reading(
                reading=reading_at(exam, "right_hallux"),
                value=read_reading("71", "toe_1"),
                technique="two_cuffs",
                reason="",
                by=measurer,
            )

        assert KeptRecord.objects.get().mark == before.mark

    def test_what_was_made_of_an_older_record_is_not_kept(self, measurer, monkeypatch):
        """Somebody saves a value between the reading of the record and the keeping of what was made of it."""
        ivy = whole_exam(measurer).patient

        def and_meanwhile(patient, *rules):
            made = made_now(patient, *rules)
            whole_exam(measurer, ivy, right_hallux=31)
            return made

        monkeypatch.setattr("reports.timeline.keeping.made_now", and_meanwhile)
        kept_of(ivy, adopted_by(ivy.clinic), "glance")
        monkeypatch.undo()

        assert nothing_differs()
        assert (
            kept_of(ivy, adopted_by(ivy.clinic), "glance")
            == made_now(ivy, adopted_by(ivy.clinic), ())["glance"]
        )

    def test_the_timeline_of_very_many_draws_few_says_so_and_gives_all_or_a_year_when_asked(
        self, client_as, measurer
    ):
        exam = whole_exam(measurer)
        copies_of(exam, 79)
        client, address = client_as(measurer), f"/patients/{exam.patient_id}/timeline/"
        last_year = (clock.now() - timedelta(days=365)).year
        of_last_year = Exam.objects.filter(first_inflation_at__year=last_year).count()

        few, again, every, year = (
            client.get(address + asked).content.decode()
            for asked in ("", "", "?exams=all", f"?year={last_year}")
        )

        assert re.search(r"The figures draw \d\d of the 80 exams", few)
        assert "Draw and list all 80" in few
        assert "Ankle pressure: 80 values" in few
        assert few.count('<tr><th scope="row">') == 2 * 20
        assert again.partition("<main")[2] == few.partition("<main")[2]
        assert "The figures draw" not in every
        assert every.count('<tr><th scope="row">') == 2 * 80
        assert f'href="?year={last_year}#table">{last_year}: {of_last_year} exams' in few
        assert year.count('<tr><th scope="row">') == 2 * of_last_year
        assert re.search(r"The figures draw \d\d of the 80 exams", year)

    def test_a_changed_exam_is_read_again_alone(self, client_as, measurer):
        exam = whole_exam(measurer)
        copies_of(exam, 30)
        client_as(measurer).get(f"/patients/{exam.patient_id}/")
        before = dict(KeptExam.objects.values_list("exam_number", "made_of"))
        correct_reading(
            reading=reading_at(exam, "right_hallux"),
            value=read_reading("71", "toe_1"),
            technique="two_cuffs",
            reason="digits swapped",
            by=measurer,
        )

        with CaptureQueriesContext(connection) as asked:
            page = client_as(measurer).get(f"/patients/{exam.patient_id}/").content.decode()

        after = dict(KeptExam.objects.values_list("exam_number", "made_of"))
        assert "toe pressure 71 mmHg" in page
        assert {number for number, stamp in after.items() if stamp != before[number]} == {exam.pk}
        (read,) = [
            one["sql"] for one in asked if 'FROM "visits_result"' in one["sql"] and "finding" in one["sql"]
        ]
        assert f"IN ({exam.pk})" in read

    def test_an_exam_that_moved_to_another_record_is_forgotten_under_the_first(self, measurer, reporter):
        ivy, twin = new_patient(measurer), new_patient(measurer)
        moved = whole_exam(measurer, twin)
        whole_exam(measurer, ivy, at=clock.now() - LONG_AGO)
        keep_all()
        done = merge(ivy, twin, reporter)
        keep_all()
        assert KeptExam.objects.get(pk=moved.pk).patient_number == ivy.pk

        undo(done, reporter)
        keep_all()

        assert KeptExam.objects.get(pk=moved.pk).patient_number == twin.pk
        assert nothing_differs()

    def test_a_page_drawn_yesterday_or_by_other_code_is_drawn_again(self, client_as, measurer, monkeypatch):
        ivy = whole_exam(measurer).patient
        client = client_as(measurer)
        client.get(f"/patients/{ivy.pk}/timeline/")
        KeptRecord.objects.update(page="<p>as kept</p>")

        def shown():
            return "as kept" in client.get(f"/patients/{ivy.pk}/timeline/").content.decode()

        assert shown()
        with monkeypatch.context() as other:
            other.setattr("reports.timeline.made_by.code", lambda: "another")
            assert not shown()
        client.get(f"/patients/{ivy.pk}/timeline/")
        KeptRecord.objects.update(page="<p>as kept</p>")
        KeptRecord.objects.update(page_of=clock.now().date() - timedelta(days=1))
        assert not shown()

    def test_a_page_is_not_kept_where_an_act_changed_the_record_while_it_was_drawn(
        self, client_as, measurer, monkeypatch
    ):
        exam = whole_exam(measurer)
        real = figure.drawn

        def and_meanwhile(years):
            correct_meanwhile(exam, measurer)
            return real(years)

        monkeypatch.setattr("reports.timeline.views.drawn", and_meanwhile)
        client_as(measurer).get(f"/patients/{exam.patient_id}/timeline/")
        monkeypatch.undo()

        assert KeptRecord.objects.get().page == ""
        assert (
            "toe pressure 33 mmHg"
            in client_as(measurer).get(f"/patients/{exam.patient_id}/").content.decode()
        )

    @pytest.mark.parametrize("page", ["", "limbs/", "timeline/"])
    def test_the_first_look_after_a_change_costs_as_many_queries_however_many_changed(
        self, client_as, measurer, page
    ):
        exam = whole_exam(measurer)
        client = client_as(measurer)
        client.get(f"/patients/{exam.patient_id}/{page}")
        counts = []
        for more in (1, 150):
            copies_of(exam, more)
            with CaptureQueriesContext(connection) as asked:
                client.get(f"/patients/{exam.patient_id}/{page}")
            counts.append(len(asked))

        assert counts[0] == counts[1]

    def test_the_check_names_a_record_of_which_something_else_is_kept(self, measurer):
        exam = whole_exam(measurer)
        keep_all()
        exam.results.all().delete()  # behind the back of every service

        with pytest.raises(CommandError, match="Nothing was changed"):
            call_command("recompute_kept", "--check")
        call_command("recompute_kept", "--store")

        call_command("recompute_kept", "--check")
        assert KeptRecord.objects.get().made_of


class TestThereAndBack:
    """Kept and read again, both limbs are the same values; no database."""

    TOES = (62, 58, NO_SIGNAL, 98, 90, 81, 73, 65, 56, 48)

    def records(self, times=1):
        """Exams two months apart: values, breaks, an artery that gave none, a slope and its forecast."""
        toes = [toe for toe in self.TOES for _ in range(times)]
        first = TODAY - timedelta(days=60 * len(toes))
        return [
            record(
                number,
                first + timedelta(days=60 * number),
                foot(Side.RIGHT, toe=toe),
                foot(Side.LEFT, ankle=UNOCCLUDED if number % 3 else 150, toe=90 + number % 7),
            )
            for number, toe in enumerate(toes)
        ]

    def years(self, records):
        return years_of(records, {}, CRITERIA, UTC, TODAY)

    def wholes(self, records):
        """The whole of each exam, written and read again."""
        read = (gist_of(one, limits_of(CRITERIA), UTC)[1] for one in records)
        return {one.record.exam_id: whole_from(whole_json(one), UTC) for one in read}

    def back(self, records, on=TODAY):
        kept = json.loads(json.dumps(years_json(self.years(records))))
        return years_from(kept, self.wholes(records), {}, CRITERIA, on)

    def test_gists_read_again_make_the_same_years(self):
        records = self.records(times=3)
        gists = [gist_of(one, limits_of(CRITERIA), UTC)[0] for one in records]

        back = gists_from([gist_json(one) for one in reversed(gists)], UTC)

        assert [one.limbs[Side.LEFT].found for one in back] == [one.limbs[Side.LEFT].found for one in gists]
        assert years_json(years_from_gists(back, {}, CRITERIA, TODAY)) == years_json(self.years(records))

    def test_the_years_of_some_exams_are_whole(self):
        years = self.years(self.records())

        back = self.back(self.records())

        assert drawn(back) == drawn(years)
        assert limbs_of(back) == limbs_of(years)
        assert [limb.changes for limb in back.limbs] == [limb.changes for limb in years.limbs]
        assert any(change.crossings for limb in back.limbs for change in limb.changes.values())

    def test_the_glance_is_the_same(self):
        records = self.records()
        years, said = self.years(records), stands(records, TODAY)
        unreported = unreported_of((one.exam_id, one.on) for one in records)

        made = json.loads(json.dumps(glance_json(said, years, unreported)))
        back = glance_from(made, UTC)

        assert glance_json(back.stands, years, unreported) == made
        for side, stand in zip(SIDES, back.stands, strict=True):
            fresh = glance_at(records, side, TODAY, to_be_told=True)
            kept = seen_on(stand, TODAY, recordings={}, to_be_told=True)
            assert (kept.sentence, kept.age, kept.conditions) == (fresh.sentence, fresh.age, fresh.conditions)
            assert [(one.seen, one.missing, one.change and one.change.whole) for one in kept.lines] == [
                (one.seen, one.missing, one.change and one.change.whole) for one in fresh.lines
            ]
        assert back.changed == tuple(changed_of(limb) for limb in years.limbs)
        assert (back.unreported.count, back.unreported.on) == (len(records), records[0].on)

    def test_what_hangs_on_the_day_is_said_anew(self):
        said = [
            line
            for limb in self.back(self.records(), on=TODAY + timedelta(days=9000)).limbs
            for change in limb.changes.values()
            for line in change.crossings
        ]

        assert said
        assert all("would be reached by now" in line for line in said)

    def test_of_very_many_exams_few_are_drawn_and_all_are_counted(self):
        records = self.records(times=30)
        whole = self.years(records)

        few = self.back(records)

        for limb, of in zip(few.limbs, whole.limbs, strict=True):
            assert limb.changes == of.changes
            for measure, series in of.series.items():
                kept = limb.series[measure]
                assert len(kept.seen) <= DRAWN_WHOLE < len(series.seen)
                assert kept.counted == series.counted
                assert kept.seen[-NEWEST:] == series.seen[-NEWEST:]
                assert kept.points[-1:] == series.points[-1:]
                values = [one.value for one in series.points]
                shown = [one.value for one in kept.points]
                assert (min(shown), max(shown)) == (min(values), max(values))

    def test_a_line_joins_nothing_that_the_whole_record_parts(self):
        whole = self.years(self.records(times=30))
        run_of = {
            (limb.word, measure, one.exam_id): number
            for limb in whole.limbs
            for measure, series in limb.series.items()
            for number, run in enumerate(series.stretches)
            for one in run
        }

        for limb in self.back(self.records(times=30)).limbs:
            for measure, series in limb.series.items():
                for run in series.stretches:
                    assert len({run_of[limb.word, measure, one.exam_id] for one in run}) == 1
