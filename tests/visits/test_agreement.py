"""Exams repeated for an agreement study: what makes a pair, and the clinic's own noise that comes of them."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from access import clock
from access.models import TrailRow
from exams.patients.services import record_limb_fact, withdraw_limb_fact
from exams.visits.agreement.models import AgreementRepeat, ClinicNoise
from exams.visits.agreement.queries import gathered, may_repeat, noise_page, own_noise_of, repeat_of
from exams.visits.agreement.services import record_repeat
from exams.visits.models import Exam, Result
from exams.visits.queries.sheet import sheet_for
from exams.visits.services import correct_reading, reopen
from exams.visits.typed import read_reading
from tests.build import exam_with, new_patient, reading_at, ready_exam, whole_exam

STUDY = "agreement, autumn 2026"
TOE = ("toe_pressure", "two_cuffs")


def days_ago(days):
    return clock.now() - timedelta(days=days)


def measured_twice(by, patient=None, *, apart=7, first=52, again=58):
    """Two measured exams of one person, so many days apart."""
    patient = patient or new_patient(by)
    return toes_of(by, patient, 20 + apart, first), toes_of(by, patient, 20, again)


def toes_of(by, patient, days, right_hallux=52):
    """Both toes of a person and one arm, measured so many days ago."""
    with clock.at(days_ago(days)):
        return exam_with(
            by,
            patient,
            finish=True,
            exam_type="toe_only",
            arm_right=140,
            arm_left="-16",
            right_hallux=right_hallux,
            left_hallux=108,
        )


def paired(by, earlier, later, **said):
    said = {"study": STUDY, "recuffed_by": by.user, "recuffed": True, "by": by, **said}
    return record_repeat(exam=later, first=earlier, **said)


def refusal(*exams, **said):
    with pytest.raises(ValidationError) as refused:
        paired(*exams, **said)
    return {name: words[0] for name, words in refused.value.message_dict.items()}


def fifteen_people(by):
    """As many repeats as make thirty pairs: one person measured twice, fourteen with the same findings.

    RIGHT hallux 6 apart, LEFT equal.
    """
    exams = measured_twice(by)
    for patient in [new_patient(by) for _ in range(14)]:
        paired(by, *(_with_findings_of(one, patient) for one in exams))
    paired(by, *exams)
    return exams


def _with_findings_of(exam, patient):
    results = list(exam.results.order_by("pk"))
    copy = Exam.objects.get(pk=exam.pk)
    copy.pk, copy.patient = None, patient
    copy.save()
    for result in results:
        result.pk, result.exam = None, copy
    Result.objects.bulk_create(results)
    return copy


def test_an_exam_repeats_another_of_the_same_person_on_another_day(measurer):
    earlier, later = measured_twice(measurer)

    pair = paired(measurer, earlier, later)

    assert (repeat_of(earlier), repeat_of(later)) == (pair, pair)
    assert gathered(earlier.clinic).pairs[TOE][0].second == 58
    assert TrailRow.objects.get(action="agreement repeat recorded").details["repeats exam"] == earlier.pk


def test_what_makes_no_pair_is_refused_at_its_field(measurer, patient):
    earlier, later = measured_twice(measurer, patient)
    same_day = toes_of(measurer, patient, 19.9)
    long_ago = toes_of(measurer, patient, 200)
    strangers = toes_of(measurer, None, 30)
    open_one = ready_exam(measurer, patient)

    assert "same visit" in refusal(measurer, later, same_day)["first"]
    assert "at most eight weeks" in refusal(measurer, long_ago, later)["first"]
    assert "another person" in refusal(measurer, strangers, later)["first"]
    assert "not finished" in refusal(measurer, earlier, open_one)["first"]
    assert "cuff left on" in refusal(measurer, earlier, later, recuffed=False)["recuffed"]
    assert "Name the study" in refusal(measurer, earlier, later, study=" ")["study"]
    assert not AgreementRepeat.objects.exists()


def test_an_event_in_between_is_refused_and_one_recorded_later_takes_the_pair_out(measurer, patient):
    earlier, later = measured_twice(measurer, patient)
    treated = {
        "patient": patient,
        "side": "right",
        "kind": "revascularisation",
        "started_on": days_ago(24).date(),
        "source": "letter",
        "by": measurer,
    }
    fact = record_limb_fact(**treated)
    assert "In between: RIGHT revascularisation" in refusal(measurer, earlier, later)["first"]
    withdraw_limb_fact(fact=fact, reason="wrong person", by=measurer)

    paired(measurer, earlier, later)
    assert len(gathered(patient.clinic).pairs[TOE]) == 2

    record_limb_fact(**treated)
    assert gathered(patient.clinic).pairs == {}
    assert ("both limbs, every measure", "something happened to the person in between") in gathered(
        patient.clinic
    ).left_out


def test_an_exam_stands_in_one_pair_only_and_is_offered_for_no_other(measurer, patient):
    earlier, later = measured_twice(measurer, patient)
    third = toes_of(measurer, patient, 10)
    paired(measurer, earlier, later)

    assert may_repeat(third) == []
    assert "in a pair already" in refusal(measurer, later, third)["first"]


def test_another_technique_makes_no_pair_of_the_toe(measurer, patient):
    earlier = whole_exam(measurer, patient, at=days_ago(27))
    later = whole_exam(measurer, patient, at=days_ago(20), toe_technique="oscillometric")
    paired(measurer, earlier, later)

    found = gathered(patient.clinic)

    assert {measure for measure, _ in found.pairs} == {"ankle_pressure", "ankle_brachial_index"}
    assert any("another technique" in why for _, why in found.left_out)


def test_thirty_pairs_put_the_clinics_own_noise_in_force_and_each_change_is_kept(measurer):
    # 15 pairs 6 apart and 15 equal: the SD is the root of 15 times 36 over 2 times 30, 3.
    _, later = fifteen_people(measurer)

    toe = next(one for one in own_noise_of(measurer.clinic) if (one.measure, one.technique) == TOE)
    assert (toe.sd_within, toe.pairs, toe.study) == (3, 30, STUDY)
    card = sheet_for(measurer, ready_exam(measurer, later.patient).pk).last_time["right"]
    assert f"noise: this clinic: {STUDY}, 30 pairs, 95 % interval 6.6 to 11.1" in card.sentence

    # A corrected reading changes it, an exam opened again ends it; what was in force stays on record.
    correct_reading(
        reading=reading_at(later, "right_hallux"),
        value=read_reading("52", "toe_1"),
        technique="two_cuffs",
        reason="digits",
        by=measurer,
    )
    assert ClinicNoise.objects.filter(measure="toe_pressure").latest("pk").sd_within == Decimal("2.898275")
    before = clock.now()
    reopen(exam=later, because="a value was forgotten", by=measurer)
    assert own_noise_of(measurer.clinic) == ()
    assert TOE in {(one.measure, one.technique) for one in own_noise_of(measurer.clinic, before)}


def test_gathering_costs_the_same_for_many_pairs(measurer, django_assert_num_queries):
    exams = measured_twice(measurer)
    paired(measurer, *exams)
    with django_assert_num_queries(3):
        gathered(measurer.clinic)
    other = new_patient(measurer)
    paired(measurer, *(_with_findings_of(one, other) for one in exams))
    with django_assert_num_queries(3):
        gathered(measurer.clinic)


def test_only_a_measurer_records_a_pair(measurer, reporter):
    exams = measured_twice(measurer)

    with pytest.raises(PermissionDenied):
        paired(reporter, *exams)


def test_the_page_of_an_exam_records_and_takes_back(client_as, measurer):
    earlier, later = measured_twice(measurer)
    client, url = client_as(measurer), reverse("visits:agreement", args=[later.pk])
    typed = {"first": earlier.pk, "study": STUDY, "recuffed_by": measurer.user.pk}

    refused = client.post(url, typed)
    assert refused.status_code == 422
    assert "Tick this only if every cuff was laid again" in refused.content.decode()
    assert STUDY in refused.content.decode()

    assert client.post(url, {**typed, "recuffed": "on"}).status_code == 302
    assert "one of a pair" in client.get(url).content.decode()
    back = reverse("visits:agreement_withdraw", args=[earlier.pk])
    assert client.post(back, {"because": ""}).status_code == 422
    assert client.post(back, {"because": "cuff stayed on"}).status_code == 302
    assert repeat_of(later) is None


def test_the_noise_page_says_which_noise_is_in_force_and_names_nobody(client_as, measurer, administrator):
    earlier, later = measured_twice(measurer)
    paired(measurer, earlier, later)

    page = " ".join(client_as(administrator).get(reverse("visits:noise")).content.decode().split())
    toe = next(line for line in noise_page(administrator).lines if line.pairs)

    assert "The published noise is in force" in page
    assert (toe.measure, toe.pairs, toe.sd, toe.in_force) == ("toe pressure", 2, "", "published, ROMANOS10")
    assert "ROMANOS10: Romanos MT" in page
    assert page.count('aria-current="page"') == 1
    assert earlier.patient.family_name not in page
