"""How episodes came out, kept in columns and asked of many with one query."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from access import clock
from exams.patients.models import Patient
from exams.patients.services import change_patient
from exams.wounds.models import Episode
from exams.wounds.queries import counts_alike, outlook_for
from exams.wounds.services import close_wound
from tests.build import whole_exam
from tests.wounds.make import assess, days_ago, wound

pytestmark = pytest.mark.django_db


def came_out(patient) -> tuple[bool | None, bool | None]:
    episode = Episode.objects.get(patient=patient)
    return episode.healed_12w, episode.healed_24w


@pytest.mark.parametrize(
    ("seen", "healed", "expected"),
    [
        ([200], 150, (True, True)),
        ([200, 90], 60, (False, True)),
        ([200, 90, 20], 10, (False, False)),
        ([200, 90], None, (False, None)),
        ([60], None, (None, None)),
        ([200], None, (None, None)),
    ],
)
def test_healed_within_12_and_24_weeks_is_known_only_where_it_was_followed(
    wound_nurse, patient, seen, healed, expected
):
    first = wound(wound_nurse, patient, began=210)
    for ago in seen:
        assess(wound_nurse, first, ago=ago)
    if healed is not None:
        close_wound(wound=first, status="healed", closed_on=days_ago(healed), by=wound_nurse)

    assert came_out(patient) == expected


def test_a_death_decides_and_its_undoing_opens_the_question_again(wound_nurse, patient):
    first = wound(wound_nurse, patient, began=210)
    assess(wound_nurse, first, ago=200)
    died = change_patient(patient=patient, revision=patient.revision, died_on=days_ago(150), by=wound_nurse)
    assert came_out(patient) == (False, False)

    change_patient(patient=died, revision=died.revision, died_on=None, by=wound_nurse)

    assert came_out(patient) == (None, None)


def test_the_toe_and_the_wound_at_the_start_are_kept(wound_nurse, measurer, patient):
    whole_exam(measurer, patient, right_hallux=35, at=clock.now() - timedelta(days=32))
    first = wound(wound_nurse, patient, "right:toe_1_sole", began=40)
    assess(wound_nurse, first, ago=30, depth="tendon")
    whole_exam(measurer, patient, right_hallux=62, at=clock.now() - timedelta(days=10))
    assess(wound_nurse, first, ago=2, depth="skin")

    episode = Episode.objects.get()
    assert (episode.index_side, episode.toe_band, episode.wound_grade) == ("right", "WIFI_2", 2)


def test_a_toe_measured_because_of_the_wound_is_the_toe_at_its_start(wound_nurse, measurer, patient):
    first = wound(wound_nurse, patient, "right:toe_1_sole", began=12)
    assess(wound_nurse, first, ago=10)
    assert Episode.objects.get().toe_band == ""

    whole_exam(measurer, patient, right_hallux=35, at=clock.now() - timedelta(days=8))

    assert Episode.objects.get().toe_band == "WIFI_2"


def many_episodes(patient: Patient, by, count: int) -> None:
    """Episodes of one invented person, every fourth alike; of those three in five had healed by 12 weeks."""
    Episode.objects.bulk_create(
        [
            Episode(
                clinic=patient.clinic,
                patient=patient,
                began_on=days_ago(400),
                presented_on=days_ago(400),
                entered_at=clock.now(),
                entered_by=by.user,
                index_side="right",
                toe_band=f"WIFI_{number % 4}",
                wound_grade=1,
                healed_12w=number // 4 % 5 < 3,
                healed_24w=number // 4 % 5 < 4,
            )
            for number in range(count)
        ],
        batch_size=2000,
    )


def test_feet_alike_are_counted_by_one_query_from_one_index(wound_nurse, patient):
    many_episodes(patient, wound_nurse, 80)

    with CaptureQueriesContext(
        connection,
    ) as asked:
        twelve, twentyfour = counts_alike(patient.clinic, "WIFI_2", 1)

    assert (twelve.weeks, twelve.healed, twelve.of) == (12, 12, 20)
    assert (twentyfour.weeks, twentyfour.healed, twentyfour.of) == (24, 16, 20)
    assert len(asked) == 1


@pytest.mark.sqlite
def test_the_count_reads_the_index_alone(wound_nurse, patient):
    with CaptureQueriesContext(connection) as asked:
        counts_alike(patient.clinic, "WIFI_2", 1)
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {asked[0]['sql']}")
        plan = " ".join(str(row) for row in cursor.fetchall())

    assert "USING COVERING INDEX episode_by_outcome" in plan


def test_few_episodes_alike_are_not_shown_and_many_are(wound_nurse, measurer, patient):
    whole_exam(measurer, patient, right_hallux=35)
    assess(wound_nurse, wound(wound_nurse, patient, "right:toe_1_sole"))
    many_episodes(patient, wound_nurse, 20)  # five of them alike
    few = outlook_for(wound_nurse, patient, "right").answer.own_outcomes
    many_episodes(patient, wound_nurse, 60)

    enough = outlook_for(wound_nurse, patient, "right").answer.own_outcomes

    assert [one.healed for one in few] == [None, None]
    assert [(one.healed, one.of) for one in enough] == [(12, 20), (16, 20)]
