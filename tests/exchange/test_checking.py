"""The dry run: every doubtful row explained, nothing written."""

from datetime import date

import pytest
from django.apps import apps

from access.models import TrailRow
from exams.patients.models import Identifier, Patient
from tests.build import new_patient, whole_exam
from tests.exchange.make import (
    HEADINGS,
    OPEN_FIELDS,
    OPEN_OPTIONS,
    ROW,
    as_csv,
    as_xlsx,
    checked,
    open_table,
    row,
    said,
    taken_in,
)

RECORD = ("patients", "visits", "traces", "wounds", "followup", "identity", "documents", "timeline")


def rows_on_record() -> dict[str, int]:
    models = (model for model in apps.get_models() if model._meta.app_label in RECORD)
    return {model._meta.label: model._default_manager.count() for model in models}


def known(by, identifier="OLD-1", **more) -> Patient:
    person = {"family_name": "Quillfeather", "given_name": "Ada", "birth_date": date(1950, 3, 3), **more}
    return new_patient(by, identifiers=[("Old ward book", identifier)], **person)


def problems(measurer, *rows, **more) -> list[tuple[str, str, str]]:
    return [one[1:] for one in said(checked(measurer, as_csv(*rows), **more))]


def test_nothing_is_written_and_no_line_names_a_patient(measurer):
    known(measurer)
    before, lines = rows_on_record(), TrailRow.objects.filter(patient_id__isnull=False).count()

    batch = checked(
        measurer, as_csv(ROW, row(Hosp_No="OLD-2", Surname="Bramble", DOB="4 Apr 1961", R_toe="brisk"))
    )

    assert rows_on_record() == before
    assert TrailRow.objects.filter(patient_id__isnull=False).count() == lines
    assert (batch.counts["exam"], batch.counts["refused"], batch.counts["new_people"]) == (1, 1, 0)
    assert said(batch) == [(3, "R toe", "brisk", "“brisk” is neither a pressure nor a word known here")]


def test_a_person_is_matched_by_identifier_however_it_is_spelt_and_birth_date(measurer):
    known(measurer, "OLD 1")

    batch = checked(measurer, as_csv(row(Hosp_No="old-1")))

    assert (batch.counts["exam"], batch.counts["new_people"]) == (1, 0)


def test_an_identifier_with_another_birth_date_is_a_doubt(measurer):
    known(measurer, birth_date=date(1950, 3, 4))

    assert problems(measurer, ROW) == [
        ("DOB", "3 Mar 1950", "the record with this identifier was born on 4 Mar 1950")
    ]


@pytest.mark.parametrize(
    "more",
    [
        {"identifiers": [("Elsewhere", "E-1")]},
        {"identifiers": [("Elsewhere", "E-1")], "family_name": "Quillfaether"},
        {"identifiers": [("Elsewhere", "OLD-1")], "family_name": "Bramble", "birth_date": date(1961, 1, 1)},
    ],
)
def test_somebody_who_looks_like_a_known_person_is_never_registered_beside_them(measurer, more):
    new_patient(
        measurer,
        **{"family_name": "Quillfeather", "given_name": "Ada", "birth_date": date(1950, 3, 3), **more},
    )

    batch = checked(measurer, as_csv(ROW))

    assert (batch.counts["refused"], batch.counts["new_people"]) == (1, 0)


def test_a_known_person_of_another_clinic_is_not_seen(measurer, outsider):
    known(outsider)

    assert checked(measurer, as_csv(ROW)).counts["new_people"] == 1


def test_an_exam_on_record_is_told_apart_from_another_one_of_that_day(measurer):
    taken_in(measurer, as_csv(ROW))

    same, other = checked(measurer, as_csv(ROW, ROW[:0] or row(Date="15 May 2019"))), None
    other = problems(measurer, row(R_toe="90"))

    assert (same.counts["duplicate"], same.counts["exam"]) == (1, 1)
    assert other == [
        ("Date", "14 May 2019", "an exam of this person and day is on record, with other readings")
    ]


@pytest.mark.parametrize(
    ("changed", "column", "reason"),
    [
        ({"Date": "14 May 2199"}, "Date", "14 May 2199 is still to come"),
        ({"Date": "14 May 1940"}, "Date", "14 May 1940 is before the person was born (3 Mar 1950)"),
        ({"Date": ""}, "Date", "no date of the exam"),
        ({"DOB": ""}, "DOB", "no birth date"),
        ({"Hosp_No": ""}, "Hosp No", "no identifier"),
        ({"R_arm": "49"}, "R arm", "Arm pressure 49 is not possible."),
        ({"Surname": ""}, "Hosp No", "no record has this identifier, and the row does not name the person"),
    ],
)
def test_what_cannot_be_is_named_at_its_column(measurer, changed, column, reason):
    assert [(one[0], one[2]) for one in problems(measurer, row(**changed))] == [(column, reason)]


def test_an_exam_after_death_is_refused(measurer):
    patient = known(measurer)
    Patient.objects.filter(pk=patient.pk).update(died_on=date(2018, 1, 1))

    assert [one[2] for one in problems(measurer, ROW)] == ["this person died on 1 Jan 2018"]


def test_two_rows_of_one_person_and_day_and_one_number_of_two_people(measurer):
    found = problems(measurer, ROW, row(R_toe="90"), row(Date="1 Jun 2019", Surname="Bramble"))

    assert [one[2] for one in found] == [
        "row 2 is of the same person and day",
        "row 2 gives this identifier another name or birth date",
    ]


def test_an_index_that_its_own_pressures_do_not_give_is_a_remark(measurer):
    headings = (*HEADINGS, "R ABI", "L ABI")
    right = as_csv((*ROW, "1.07", "1.09"), headings=headings)
    wrong = as_csv((*ROW, "0.97", "1.09"), headings=headings)

    assert said(checked(measurer, right)) == []
    batch = checked(measurer, wrong)
    assert batch.counts["exam"] == 1
    assert [one[1:3] for one in said(batch)] == [("R ABI", "0.97")]
    assert "its own pressures give 1.07" in said(batch)[0][3]


def test_one_reading_a_row_makes_one_exam_of_neighbouring_rows(measurer):
    headings = ("Hosp No", "Surname", "Forename", "DOB", "Date", "Side", "Vessel", "Pressure", "Reason")
    person = ROW[:5]
    content = as_csv(
        (*person, "R", "brachial", "140", ""),
        (*person, "R", "DPA", "146", ""),
        (*person, "R", "DPA", "150", ""),
        (*person, "Lt", "great toe", "", "amputated"),
        (*person, "L", "ankle", "150", ""),
        headings=headings,
    )

    batch = checked(measurer, content)

    assert (batch.counts["drafts"], batch.counts["refused"]) == (1, 1)
    assert said(batch)[0][3] == (
        "“ankle” is not a site: which artery: posterior tibial (PT) or dorsalis pedis (DP)?"
    )


def test_merged_cells_and_uncalculated_formulas_keep_their_rows_out(measurer):
    content = as_xlsx(
        ROW,
        row(Hosp_No="OLD-2", Surname="Bramble", R_toe="=1+1"),
        touch=lambda book, sheet: sheet.merge_cells("M2:M3"),
    )

    batch = checked(measurer, content)

    assert batch.counts["refused"] == 1
    assert {one[1] for one in said(batch)} == {"R toe", "L toe"}
    assert "let it calculate" in batch.issues.get(reason="a formula without a stored result").suggestion


def test_words_of_the_table_are_read_as_its_owner_says(measurer):
    batch = checked(measurer, as_csv(row(R_toe="NP", L_toe="8")), words="NP = no signal\nL toe: 8 = blank")

    assert (batch.counts["exam"], batch.counts["readings"], said(batch)) == (1, 7, [])


def test_the_open_table_is_checked_and_its_odd_indices_are_named(measurer):
    batch = checked(measurer, open_table(600), fields=OPEN_FIELDS, **OPEN_OPTIONS.to_json())

    assert (batch.counts["drafts"], batch.counts["refused"], batch.counts["new_people"]) == (600, 0, 600)
    # Rows of the file stand one below their headings.
    assert [(one[0] - 1, one[1], one[2]) for one in said(batch)] == [
        (74, "right_abi_published", "1.22"),
        (246, "left_abi_published", "0.95"),
        (516, "left_abi_published", "1.02"),
    ]
    assert not Identifier.objects.exists()


def test_a_check_asks_the_database_no_more_for_more_people_of_a_block(
    measurer, django_assert_max_num_queries
):
    def people(many):
        return as_csv(
            *(
                row(Hosp_No=f"P-{n}", Surname=f"Name{chr(97 + n)}er", DOB=f"{n + 1} Mar 1950")
                for n in range(many)
            )
        )

    checked(measurer, people(2))
    with django_assert_max_num_queries(60):
        checked(measurer, people(20))


def test_an_exam_of_a_known_person_counts_what_is_on_record(measurer):
    patient = known(measurer)
    whole_exam(measurer, patient)

    assert checked(measurer, as_csv(ROW)).counts["exam"] == 1
