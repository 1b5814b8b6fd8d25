"""Dated facts of a limb: what holds on a day, and how a mistake is mended without losing it."""

from datetime import UTC, date, datetime
from types import SimpleNamespace

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access import clock
from access.models import TrailRow
from access.permissions import NotHere
from exams.patients import queries, services
from exams.patients.models import LimbFact, Side
from exams.patients.services.common import LISTENERS
from tests.patients.make import caution, correct, fact, register


@pytest.fixture(autouse=True)
def _today():
    with clock.at(datetime(2026, 11, 25, 12, tzinfo=UTC)):
        yield


@pytest.fixture
def iris(measurer):
    return register(measurer)


@pytest.fixture
def listen():
    """``listen(do)`` has ``do`` hear of changed limbs until the test ends, as a room above would."""
    entered = []

    def enter(do):
        services.on_limb_changed(do)
        entered.append(do)

    yield enter
    for do in entered:
        LISTENERS.remove(do)


def on(patient, day, side=Side.RIGHT):
    """What is so of one limb on a day."""
    facts = [one for one in queries.limb_fact_history(patient)[side] if one.stands and one.holds_on(day)]
    kinds = {one.kind for one in facts}
    return SimpleNamespace(
        open_wound="open_wound" in kinds,
        rest_pain="rest_pain" in kinds,
        foot_infection="foot_infection" in kinds,
        absent_toes={one.toe for one in facts if one.toe},
        facts=sorted(facts, key=lambda one: (one.started_on, one.pk)),
    )


def refusal(by, patient, **said):
    with pytest.raises(ValidationError) as refused:
        fact(by, patient, **said)
    return {field: messages[0] for field, messages in refused.value.message_dict.items()}


def test_a_wound_holds_on_its_limb_from_its_first_day_until_it_healed(measurer, iris):
    wound = fact(measurer, iris, side="right", kind="open_wound", started_on=date(2026, 1, 5))
    services.end_limb_fact(fact=wound, ended_on=date(2026, 3, 1), reason="healed", by=measurer)

    assert not on(iris, date(2026, 1, 4)).open_wound
    assert on(iris, date(2026, 1, 5)).open_wound
    assert on(iris, date(2026, 2, 28)).open_wound
    assert not on(iris, date(2026, 3, 1)).open_wound
    assert not on(iris, date(2026, 1, 5), Side.LEFT).open_wound


def test_each_kind_is_told_apart(measurer, iris):
    fact(measurer, iris, side="left", kind="rest_pain")
    fact(measurer, iris, side="left", kind="foot_infection")
    fact(measurer, iris, side="left", kind="amputation", level="toe", toe=1)

    left = on(iris, date(2026, 2, 1), Side.LEFT)

    assert (left.rest_pain, left.foot_infection, left.open_wound) == (True, True, False)
    assert left.absent_toes == {1}
    assert [one.words for one in left.facts] == ["rest pain", "foot infection", "hallux amputated or absent"]


def test_a_correction_stands_in_place_of_the_first_entry_and_both_are_kept(measurer, wound_nurse, iris):
    first = fact(measurer, iris, started_on=date(2026, 1, 5))

    second = correct(wound_nurse, first, started_on=date(2026, 1, 15), reason="a figure left out")

    assert not on(iris, date(2026, 1, 10)).open_wound
    assert on(iris, date(2026, 1, 15)).facts == [second]
    assert queries.limb_fact_history(iris)[Side.RIGHT] == (second, first)
    assert (second.replaces, second.replaced_because) == (first, "a figure left out")
    assert TrailRow.objects.get(action="limb fact corrected").details == {
        "replaces": first.pk,
        "changed": {"started_on": ["2026-01-05", "2026-01-15"]},
        "because": "a figure left out",
    }


def test_a_wrong_side_is_corrected_and_shown_struck_through_where_it_was(measurer, iris):
    wrong = fact(measurer, iris, side="right")

    right = correct(measurer, wrong, side="left", reason="sides mixed up")

    history = queries.limb_fact_history(iris)
    assert (history[Side.RIGHT], history[Side.LEFT]) == ((wrong,), (right,))
    assert not on(iris, date(2026, 2, 1)).open_wound
    assert on(iris, date(2026, 2, 1), Side.LEFT).open_wound


def test_an_end_entered_by_mistake_is_corrected_away(measurer, iris):
    wound = fact(measurer, iris)
    ended = services.end_limb_fact(fact=wound, ended_on=date(2026, 3, 1), reason="healed", by=measurer)

    correct(measurer, ended, ended_on=None, reason="the other wound healed")

    assert on(iris, date(2026, 11, 25)).open_wound


def test_a_corrected_end_keeps_why_and_by_whom_it_was_ended(measurer, wound_nurse, iris):
    wound = fact(measurer, iris)
    ended = services.end_limb_fact(fact=wound, ended_on=date(2026, 3, 1), reason="healed", by=measurer)

    mended = correct(wound_nurse, ended, ended_on=date(2026, 3, 2))

    assert (mended.ended_reason, mended.ended_by) == ("healed", measurer.user)


def test_a_fact_of_another_person_is_withdrawn_and_stays_in_the_record(measurer, iris):
    wound = fact(measurer, iris)

    services.withdraw_limb_fact(fact=wound, reason="entered for the wrong person", by=measurer)

    assert not on(iris, date(2026, 2, 1)).open_wound
    (kept,) = queries.limb_fact_history(iris)[Side.RIGHT]
    assert (kept.withdrawn_by, kept.withdrawn_because) == (measurer.user, "entered for the wrong person")


def test_an_overtaken_row_can_no_longer_be_worked_on(measurer, iris):
    first = fact(measurer, iris)
    correct(measurer, first, note="heel")

    with pytest.raises(ValidationError, match="corrected or withdrew this"):
        correct(measurer, first, note="toe")
    with pytest.raises(ValidationError, match="corrected or withdrew this"):
        services.end_limb_fact(fact=first, ended_on=date(2026, 3, 1), reason="healed", by=measurer)
    with pytest.raises(NotHere):
        queries.limb_fact_for(measurer, iris.pk, first.pk)


def test_a_correction_that_corrects_nothing_is_refused(measurer, iris):
    first = fact(measurer, iris)

    with pytest.raises(ValidationError, match="Nothing differs"):
        correct(measurer, first)

    assert LimbFact.objects.count() == 1


def test_a_correction_needs_a_reason(measurer, iris):
    first = fact(measurer, iris)

    with pytest.raises(ValidationError, match="Say why"):
        correct(measurer, first, note="heel", reason="  ")


@pytest.mark.parametrize(
    ("said", "field", "words"),
    [
        ({"started_on": date(2026, 11, 26)}, "started_on", "is still to come"),
        ({"started_on": date(1950, 2, 28)}, "started_on", "before this person was born"),
        ({"kind": "amputation", "level": "toe"}, "toe", "Say which toe"),
        ({"kind": "amputation"}, "level", "Say where"),
        ({"kind": "dialysis"}, "side", "whole person"),
        ({"side": ""}, "side", "of one limb"),
        ({"vessels": "popliteal"}, "vessels", "belongs to a revascularisation"),
        ({"toe": 2}, "toe", "only where one is amputated"),
        ({"side": "middle"}, "side", "not a valid choice"),
        ({"kind": "bad_mood"}, "kind", "not a valid choice"),
    ],
)
def test_what_cannot_be_so_is_refused_at_its_field(measurer, iris, said, field, words):
    assert words in refusal(measurer, iris, **said)[field]


def test_an_end_before_the_start_is_refused(measurer, iris):
    wound = fact(measurer, iris, started_on=date(2026, 1, 5))

    with pytest.raises(ValidationError, match="It started on 5 Jan 2026"):
        services.end_limb_fact(fact=wound, ended_on=date(2026, 1, 4), reason="healed", by=measurer)


def test_an_end_is_filled_in_once(measurer, iris):
    wound = fact(measurer, iris)
    services.end_limb_fact(fact=wound, ended_on=date(2026, 3, 1), reason="healed", by=measurer)

    with pytest.raises(ValidationError, match="ended on 1 Mar 2026 already"):
        services.end_limb_fact(fact=wound, ended_on=date(2026, 3, 2), reason="healed", by=measurer)


def test_an_absent_toe_has_no_end(measurer, iris):
    gone = fact(measurer, iris, kind="amputation", level="toe", toe=1)

    with pytest.raises(ValidationError, match="has no end"):
        services.end_limb_fact(fact=gone, ended_on=date(2026, 3, 1), reason="grown", by=measurer)


def test_the_same_toe_is_lost_once_and_two_wounds_may_be_open(measurer, iris):
    fact(measurer, iris, kind="amputation", level="toe", toe=1)
    fact(measurer, iris, note="heel")

    assert "RIGHT hallux amputated or absent is recorded already" in refusal(
        measurer, iris, kind="amputation", level="toe", toe=1, started_on=date(2026, 5, 1)
    )["kind"]  # fmt: skip
    assert fact(measurer, iris, note="second toe").pk


def test_facts_of_both_limbs_are_read_in_one_query_and_their_history_too(
    measurer, iris, django_assert_num_queries
):
    first = fact(measurer, iris)
    correct(measurer, first, note="heel")
    fact(measurer, iris, side="left")

    with django_assert_num_queries(1):
        assert on(iris, date(2026, 2, 1)).open_wound
    with django_assert_num_queries(1):
        (newest, oldest) = queries.limb_fact_history(iris)[Side.RIGHT]
        assert oldest.replaced_by == newest
        assert oldest.replaced_by.entered_by.full_name


def test_rooms_above_hear_of_every_change_of_meaning_inside_the_act(measurer, iris, listen):
    heard = []
    listen(lambda *, patient, by: heard.append((patient.pk, by)))

    wound = fact(measurer, iris)
    mended = correct(measurer, wound, note="heel")
    services.end_limb_fact(fact=mended, ended_on=date(2026, 3, 1), reason="healed", by=measurer)
    services.withdraw_limb_fact(fact=mended, reason="wrong person", by=measurer)
    services.end_caution(caution=caution(measurer, iris), reason="closed", by=measurer)
    services.change_patient(patient=iris, revision=1, diabetes="yes", by=measurer)
    services.change_patient(patient=iris, revision=2, telephone="00000 1", by=measurer)

    assert heard == [(iris.pk, measurer)] * 7


def test_nothing_is_kept_of_a_fact_whose_listener_fails(measurer, iris, listen):
    def fails(**_):
        raise RuntimeError("the exam could not be interpreted")

    listen(fails)

    with pytest.raises(RuntimeError):
        fact(measurer, iris)

    assert not LimbFact.objects.exists()
    assert not TrailRow.objects.filter(action="limb fact recorded").exists()


def test_whoever_has_no_care_role_records_no_fact(administrator, iris):
    with pytest.raises(PermissionDenied):
        fact(administrator, iris)


def test_the_other_clinic_can_neither_record_nor_correct_nor_see(measurer, outsider, iris):
    wound = fact(measurer, iris)

    with pytest.raises(NotHere):
        fact(outsider, iris)
    with pytest.raises(NotHere):
        correct(outsider, wound, note="heel")
    with pytest.raises(NotHere):
        queries.limb_fact_for(outsider, iris.pk, wound.pk)
