"""Where a cuff must not lie, or only with care: kept until a person ends it."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access import clock
from access.models import TrailRow
from access.permissions import NotHere
from exams.patients import queries, services
from exams.patients.models import Region, Side
from tests.patients.make import caution, register

TODAY = date(2026, 11, 25)


@pytest.fixture(autouse=True)
def _today():
    with clock.at(datetime(2026, 11, 25, 12, tzinfo=UTC)):
        yield


@pytest.fixture
def iris(measurer):
    return register(measurer)


def refusal(by, patient, **said):
    with pytest.raises(ValidationError) as refused:
        caution(by, patient, **said)
    return {field: messages[0] for field, messages in refused.value.message_dict.items()}


def test_a_fistula_protects_that_arm_and_no_other_site(measurer, iris):
    caution(measurer, iris, side="right", region="arm", kind="fistula")

    in_force = queries.cautions_in_force(iris, TODAY)

    assert in_force.protected_sites == {(Side.RIGHT, Region.ARM)}
    assert in_force.sentence == "Do not inflate: RIGHT arm."


def test_a_clot_in_the_leg_protects_ankle_and_toes(measurer, iris):
    caution(measurer, iris, side="left", region="leg", kind="clot")

    in_force = queries.cautions_in_force(iris, TODAY)

    assert in_force.protected_sites == {(Side.LEFT, Region.ANKLE), (Side.LEFT, Region.TOES)}
    assert in_force.forbidding("right", "ankle") == ()


def test_a_caution_asks_for_care_and_protects_nothing(measurer, iris):
    fragile = caution(measurer, iris, side="left", region="ankle", kind="fragile_skin", do_not_inflate=False)

    in_force = queries.cautions_in_force(iris, TODAY)

    assert in_force.protected_sites == frozenset()
    assert in_force.over("left", "ankle") == (fragile,)
    assert in_force.sentence == "1 caution asks for care."


def test_isolation_is_of_the_whole_person(measurer, iris):
    caution(measurer, iris, side="", region="person", kind="isolation", do_not_inflate=False)

    assert [one.words for one in queries.cautions_in_force(iris, TODAY).whole_person] == [
        "Caution whole person: isolation: cuffs for this person only"
    ]


def test_no_caution_is_said_in_words(iris):
    sentence = queries.cautions_in_force(iris, TODAY).sentence

    assert sentence == "No caution is recorded. Ask before every exam."


def test_a_caution_holds_from_its_start_until_the_day_it_ended(measurer, iris):
    fistula = caution(measurer, iris, started_on=date(2026, 3, 2))
    services.end_caution(caution=fistula, reason="fistula closed", by=measurer)

    assert queries.cautions_in_force(iris, date(2026, 3, 1)).all == ()
    assert queries.cautions_in_force(iris, date(2026, 3, 2)).all == (fistula,)
    assert queries.cautions_in_force(iris, date(2026, 11, 24)).all == (fistula,)
    assert queries.cautions_in_force(iris, TODAY).all == ()


def test_a_review_date_that_passed_ends_nothing(measurer, iris):
    with clock.at(datetime(2025, 1, 1, tzinfo=UTC)):
        fistula = caution(measurer, iris, review_on=date(2025, 6, 1))

    assert queries.cautions_in_force(iris, TODAY).all == (fistula,)


def test_still_true_sets_the_next_review_and_says_who_said_so(measurer, wound_nurse, iris):
    fistula = caution(measurer, iris, review_on=date(2026, 12, 1))

    kept = services.review_caution(caution=fistula, review_on=date(2027, 6, 1), by=wound_nurse)

    assert (kept.review_on, kept.confirmed_by) == (date(2027, 6, 1), wound_nurse.user)
    assert TrailRow.objects.get(action="caution still true").details == {
        "review_on": ["2026-12-01", "2027-06-01"]
    }


def test_ending_needs_a_reason_and_keeps_who_and_why(measurer, iris):
    fistula = caution(measurer, iris)

    with pytest.raises(ValidationError):
        services.end_caution(caution=fistula, reason=" ", by=measurer)
    ended = services.end_caution(caution=fistula, reason="fistula closed", by=measurer)

    assert (ended.ended_on, ended.ended_reason, ended.ended_by) == (TODAY, "fistula closed", measurer.user)
    assert queries.ended_cautions(iris) == (fistula,)


def test_an_ended_caution_cannot_be_ended_or_confirmed_again(measurer, iris):
    fistula = caution(measurer, iris)
    services.end_caution(caution=fistula, reason="fistula closed", by=measurer)

    with pytest.raises(ValidationError, match="was ended on 25 Nov 2026 already"):
        services.end_caution(caution=fistula, reason="again", by=measurer)
    with pytest.raises(ValidationError, match="was ended on 25 Nov 2026 already"):
        services.review_caution(caution=fistula, review_on=None, by=measurer)


@pytest.mark.parametrize(
    ("said", "field", "words"),
    [
        ({"kind": "isolation"}, "place", "Isolation is for the whole person"),
        ({"side": "", "region": "person"}, "place", "Isolation is for the whole person"),
        ({"side": "", "region": "person", "kind": "isolation"}, "do_not_inflate", "it forbids no cuff"),
        ({"kind": "arm_line", "region": "ankle"}, "place", "a caution of an arm"),
        ({"kind": "other"}, "note", "Say what the caution is"),
        ({"started_on": date(2026, 11, 26)}, "started_on", "is still to come"),
        ({"started_on": date(1950, 2, 28)}, "started_on", "before this person was born"),
        ({"review_on": date(2026, 11, 25)}, "review_on", "a day to come"),
    ],
)
def test_what_cannot_be_so_is_refused_at_its_field(measurer, iris, said, field, words):
    assert words in refusal(measurer, iris, **said)[field]


def test_the_same_caution_sent_twice_stands_once(measurer, iris):
    caution(measurer, iris)

    assert "is in force already" in refusal(measurer, iris)["kind"]


def test_cautions_are_read_in_one_query(measurer, iris, django_assert_num_queries):
    caution(measurer, iris)
    caution(measurer, iris, side="left")

    with django_assert_num_queries(1):
        assert len(queries.cautions_in_force(iris, TODAY).protected_sites) == 2


def test_whoever_has_no_care_role_records_no_caution(administrator, iris):
    with pytest.raises(PermissionDenied):
        caution(administrator, iris)


def test_the_other_clinic_can_neither_add_nor_end_nor_see(measurer, outsider, iris):
    fistula = caution(measurer, iris)

    with pytest.raises(NotHere):
        caution(outsider, iris, side="left")
    with pytest.raises(NotHere):
        services.end_caution(caution=fistula, reason="not ours", by=outsider)
    with pytest.raises(NotHere):
        queries.caution_for(outsider, iris.pk, fistula.pk)
