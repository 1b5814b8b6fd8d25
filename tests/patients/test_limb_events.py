"""Events in the life of a limb: dated as well as they are known, and refused where they cannot be."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError

from access import clock
from exams.hemodynamics import AmputationLevel, EventDate, Precision, Vessel
from exams.patients import queries, services
from exams.patients.models import Side
from tests.patients.make import correct, fact, register

DAY = date(2024, 5, 3)


@pytest.fixture(autouse=True)
def _today():
    with clock.at(datetime(2026, 11, 25, 12, tzinfo=UTC)):
        yield


@pytest.fixture
def iris(measurer):
    return register(measurer)


def lost(by, patient, level, on=DAY, toe=None, **said):
    return fact(by, patient, kind="amputation", level=level, toe=toe, started_on=on, **said)


def refusal(by, patient, **said):
    with pytest.raises(ValidationError) as refused:
        fact(by, patient, **said)
    return {field: messages[0] for field, messages in refused.value.message_dict.items()}


def test_a_treated_vessel_is_kept_with_how_and_with_what(measurer, iris):
    done = fact(
        measurer,
        iris,
        kind="revascularisation",
        approach="open",
        vessels="popliteal pedal",
        device="vein_graft",
    )

    assert done.words == "open revascularisation: popliteal, arteries of the foot (vein graft)"
    assert done.when == "5 Jan 2026"
    assert done.event.vessels == (Vessel.POPLITEAL, Vessel.PEDAL)


def test_a_date_is_kept_as_well_as_it_is_known(measurer, iris):
    gone = lost(measurer, iris, "midfoot", on=date(2019, 1, 1), started_precision="year")

    assert gone.when == "about 2019"
    assert gone.event.level is AmputationLevel.MIDFOOT
    assert gone.dated == EventDate(date(2019, 1, 1), Precision.YEAR)


def test_about_the_year_of_birth_and_about_this_year_may_be(measurer, iris):
    lost(measurer, iris, "toe", on=date(1950, 1, 1), toe=5, started_precision="year")
    lost(measurer, iris, "toe", on=date(2026, 1, 1), toe=1, started_precision="year")

    assert iris.limb_facts.count() == 2


def test_dialysis_is_of_the_whole_person_and_may_end(measurer, iris):
    dialysis = fact(measurer, iris, side="", kind="dialysis")
    services.end_limb_fact(fact=dialysis, ended_on=date(2026, 6, 1), reason="transplant", by=measurer)

    assert [one.whose for one in queries.person_fact_history(iris)] == ["whole person"]
    assert queries.limb_fact_history(iris)[Side.RIGHT] == ()


def test_a_toe_cannot_be_lost_after_the_leg(measurer, iris):
    lost(measurer, iris, "below_knee")

    said = refusal(measurer, iris, kind="amputation", level="toe", toe=1, started_on=date(2025, 1, 1))

    assert "already lost: RIGHT below-knee amputation, 3 May 2024" in said["kind"]
    assert lost(measurer, iris, "toe", on=date(2023, 1, 1), toe=1).pk
    assert lost(measurer, iris, "toe", on=date(2025, 1, 1), toe=1, side="left").pk


def test_a_leg_cannot_have_been_lost_before_its_toe(measurer, iris):
    lost(measurer, iris, "toe", toe=1)

    said = refusal(measurer, iris, kind="amputation", level="below_knee", started_on=date(2023, 1, 1))

    assert "hallux" in said["kind"]


def test_a_year_leaves_open_which_of_two_losses_came_first(measurer, iris):
    lost(measurer, iris, "below_knee")

    assert lost(measurer, iris, "toe", on=date(2024, 1, 1), toe=1, started_precision="year").pk


def test_a_foot_that_is_gone_is_not_infected_and_its_arteries_are_not_treated(measurer, iris):
    lost(measurer, iris, "below_knee")

    infected = refusal(measurer, iris, kind="foot_infection", started_on=date(2025, 1, 1))
    treated = refusal(
        measurer, iris, kind="revascularisation", vessels="popliteal pedal", started_on=date(2025, 1, 1)
    )

    assert "There was no foot for this" in infected["kind"]
    assert "Nothing was left to treat there (arteries of the foot, 1 Jan 2025)" in treated["kind"]
    assert fact(measurer, iris, kind="revascularisation", vessels="popliteal").pk


def test_a_loss_entered_late_is_held_against_what_came_after(measurer, iris):
    fact(measurer, iris, kind="charcot", started_on=date(2025, 1, 1))

    said = refusal(measurer, iris, kind="amputation", level="syme", started_on=DAY)

    assert "Charcot foot" in said["started_on"]


def test_nothing_happens_after_death_and_death_is_not_put_before_what_happened(measurer, iris):
    iris = services.change_patient(patient=iris, revision=1, died_on=date(2025, 6, 1), by=measurer)

    assert "died on 1 Jun 2025" in refusal(measurer, iris, started_on=date(2025, 6, 2))["started_on"]
    fact(measurer, iris, started_on=date(2025, 5, 1))
    with pytest.raises(ValidationError, match="after 1 Apr 2025: RIGHT open wound since 1 May 2025"):
        services.change_patient(patient=iris, revision=2, died_on=date(2025, 4, 1), by=measurer)


@pytest.mark.parametrize(
    ("died_on", "words"), [(date(1950, 2, 28), "before the birth date"), (date(2026, 11, 26), "is to come")]
)
def test_a_date_of_death_that_cannot_be_is_refused(measurer, iris, died_on, words):
    with pytest.raises(ValidationError, match=words):
        services.change_patient(patient=iris, revision=1, died_on=died_on, by=measurer)


def test_a_corrected_level_keeps_the_first_entry_and_what_was_not_said_again(measurer, iris):
    first = lost(measurer, iris, "transmetatarsal", note="by the ward")

    second = services.correct_limb_fact(fact=first, level="midfoot", reason="letter read again", by=measurer)

    assert queries.limb_fact_history(iris)[Side.RIGHT] == (second, first)
    assert (second.level, second.note, second.started_on) == ("midfoot", "by the ward", DAY)
    assert correct(measurer, second, level="syme", reason="again").replaces == second


def test_an_infection_of_the_bone_is_said_in_words_and_known_to_the_core(measurer, iris):
    infected = fact(measurer, iris, kind="foot_infection", grade="moderate", osteomyelitis=True)

    assert infected.words == "moderate foot infection with osteomyelitis"
    assert infected.event.osteomyelitis


@pytest.mark.parametrize("said", [{"kind": "foot_infection", "grade": "mild"}, {"kind": "oedema"}])
def test_bone_infection_is_refused_where_it_cannot_be(measurer, iris, said):
    assert set(refusal(measurer, iris, osteomyelitis=True, **said)) == {"osteomyelitis"}
