"""The pressure ladder: what stands at a site is drawn as it is, and never as something else."""

from datetime import date
from decimal import Decimal

import pytest
from django.template.loader import render_to_string
from hypothesis import given
from hypothesis import strategies as st

from exams.hemodynamics import Outcome, Site
from exams.patients.services import record_limb_fact
from exams.visits.ladder import Standing, ladders
from exams.visits.queries.chart import chart_of
from exams.visits.queries.ladder import ladders_of
from exams.visits.queries.results import stored_interpretation
from tests.build import exam_with, new_patient


def pressure(site: Site, mmhg: str | int, low: int | None = None, high: int | None = None) -> Standing:
    lowest, highest = (None if end is None else Decimal(end) for end in (low, high))
    return Standing(site, Outcome.PRESSURE, Decimal(mmhg), lowest, highest)


def right(*standings: Standing):
    return ladders(standings, ())[0]


def kinds(ladder) -> list[str]:
    return [place.kind for place in ladder.places]


def test_a_higher_pressure_stands_higher_on_one_scale_for_both_limbs():
    high, low = ladders([pressure(Site.ARM, 180)], [pressure(Site.ARM, 90)])

    assert high.places[0].y < low.places[0].y
    assert [tick.y for tick in high.ticks] == [tick.y for tick in low.ticks]


def test_half_a_mmhg_is_shown_as_the_finding_shows_it():
    (place,) = ladders([], [Standing(Site.TOE_1, Outcome.PRESSURE, Decimal("27.5"))])[1].places

    assert (place.value.words, place.standing.shown) == ("27.5", "27.5 mmHg")


def test_halfway_up_the_scale_is_halfway_up_the_paper():
    ladder = right(pressure(Site.ARM, 100))

    assert ladder.ticks[-1].mmhg == 200
    assert ladder.places[0].y == (ladder.plot_top + ladder.base) / 2


def test_the_whisker_spans_the_interval():
    ladder = right(pressure(Site.TOE_1, 50, low=42, high=58))
    upright = ladder.places[0].whisker[0]
    at_42, at_58 = (right(pressure(Site.TOE_1, mmhg)).places[0].y for mmhg in (42, 58))

    assert (upright.y1, upright.y2) == (at_58, at_42)


def test_an_artery_that_cannot_be_occluded_is_open_at_the_top_and_says_at_which_pressure():
    ladder = right(Standing(Site.POSTERIOR_TIBIAL, Outcome.NOT_OCCLUDABLE, Decimal(250)))
    place = ladder.places[0]

    assert place.kind == "open"
    assert min(line.y1 for line in place.stiles) < place.y
    assert " ".join(line.words for line in place.reason) == "cannot be occluded at 250"


def test_no_signal_not_obtained_and_amputated_are_three_different_things():
    ladder = right(
        Standing(Site.DORSALIS_PEDIS, Outcome.NO_SIGNAL),
        Standing(Site.TOE_1, Outcome.NOT_OBTAINED, reason="pain"),
        Standing(Site.TOE_2, Outcome.NOT_OBTAINED, reason="amputated", absent=True),
    )

    assert kinds(ladder) == ["no_signal", "empty", "absent"]
    assert [" ".join(line.words for line in place.reason) for place in ladder.places] == [
        "no signal",
        "not obtained: pain",
        "",
    ]
    assert len(ladder.places[2].crosses) == 2


def test_a_place_that_is_not_a_pressure_has_no_rung_and_no_number():
    ladder = right(Standing(Site.TOE_1, Outcome.NO_SIGNAL), Standing(Site.TOE_2, Outcome.NOT_OBTAINED))

    assert [place.value for place in ladder.places] == [None, None]


def test_the_steps_join_neighbours_and_break_where_a_pressure_is_missing():
    ladder = right(
        pressure(Site.ARM, 130),
        pressure(Site.POSTERIOR_TIBIAL, 120),
        Standing(Site.DORSALIS_PEDIS, Outcome.NO_SIGNAL),
        pressure(Site.TOE_1, 80),
    )

    assert len(ladder.steps) == 1


def test_a_reason_too_long_for_its_place_sends_to_the_table_which_holds_all_of_it():
    reason = "a word that goes on " * 12
    ladder = right(Standing(Site.TOE_1, Outcome.NOT_OBTAINED, reason=reason))
    drawn = " ".join(line.words for line in ladder.places[0].reason)

    assert drawn.endswith("… (see table)")
    assert ladder.standings[0].shown == f"not obtained: {reason}"


def test_a_reason_in_wide_letters_stays_within_its_place():
    """Of five sites a column is 53 units inside; "wound under" is set in 56."""
    ladder = right(
        *(pressure(site, 120) for site in (Site.ARM, Site.DORSALIS_PEDIS, Site.TOE_1, Site.TOE_2)),
        Standing(Site.POSTERIOR_TIBIAL, Outcome.NOT_OBTAINED, reason="wound under the cuff"),
    )

    lines = next(place for place in ladder.places if place.kind == "empty").reason
    assert [line.words for line in lines] == ["not", "obtained:", "wound", "under the", "cuff"]


def test_the_figure_tells_in_words_what_it_draws():
    ladder = right(pressure(Site.ARM, 132, 124, 140), Standing(Site.TOE_1, Outcome.NO_SIGNAL))

    assert ladder.title == "RIGHT pressure ladder: arm 132 mmHg (124 to 140 mmHg); hallux no signal."


def test_typed_words_stay_words_in_the_figure():
    ladder = right(Standing(Site.TOE_1, Outcome.NOT_OBTAINED, reason="</text><script>"))
    drawn = render_to_string("parts/ladder.html", {"ladder": ladder})

    assert "<script>" not in drawn
    assert "&lt;script&gt;" in drawn


def test_figures_of_two_limbs_share_no_id():
    both = ladders([pressure(Site.ARM, 130)], [pressure(Site.ARM, 120)], key="exam-1")

    assert [ladder.key for ladder in both] == ["exam-1-right", "exam-1-left"]


def drawn(exam) -> dict[str, Standing]:
    """The RIGHT limb of a stored exam, by site."""
    ladder, _ = ladders_of(chart_of(exam), stored_interpretation(exam))
    return {one.site.value: one for one in ladder.standings}


@pytest.mark.django_db
class TestOfAStoredExam:
    def test_repeats_stand_at_their_mean_with_the_interval_of_the_finding(self, measurer):
        exam = exam_with(measurer, right_hallux=60, right_hallux_2=50)
        toe = drawn(exam)["toe_1"]

        assert (toe.outcome, toe.mmhg) == (Outcome.PRESSURE, 55)
        assert toe.low is not None
        assert toe.low < 55 < toe.high

    def test_the_latest_attempt_that_gave_an_answer_stands(self, measurer):
        exam = exam_with(measurer, right_dorsalis_pedis="140", right_dorsalis_pedis_2="*250")

        assert drawn(exam)["dorsalis_pedis"] == Standing(
            Site.DORSALIS_PEDIS, Outcome.NOT_OCCLUDABLE, Decimal("250.0")
        )

    def test_a_planned_site_not_measured_yet_is_an_empty_place(self, measurer):
        exam = exam_with(measurer, right_hallux=60)

        assert drawn(exam)["arm"].shown == "not obtained: no reading yet"

    def test_a_lost_hallux_is_crossed_and_the_next_toe_stands_beside_it(self, measurer):
        patient = new_patient(measurer)
        record_limb_fact(
            patient=patient,
            side="right",
            kind="amputation",
            level="toe",
            toe=1,
            started_on=date(2020, 5, 1),
            source="seen",
            by=measurer,
        )
        exam = exam_with(measurer, patient, right_second_toe=71)

        assert drawn(exam)["toe_1"].absent
        assert drawn(exam)["toe_2"].mmhg == 71


@given(st.lists(st.integers(1, 300), min_size=1, max_size=9))
def test_every_rung_stands_inside_the_plot_and_in_the_order_of_the_pressures(pressures):
    sites = list(Site)
    ladder = right(*(pressure(site, mmhg) for site, mmhg in zip(sites, pressures, strict=False)))
    heights = [ladder.base - place.y for place in ladder.places]

    assert all(0 < height <= ladder.base - ladder.plot_top for height in heights)
    assert all(0 <= place.left < place.right <= ladder.width for place in ladder.places)
    order = sorted(range(len(pressures)), key=pressures.__getitem__)
    assert [heights[place] for place in order] == sorted(heights)
