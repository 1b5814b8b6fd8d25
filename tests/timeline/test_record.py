"""From exams to series: the core decides what may be compared, the readings say why there is no value."""

from datetime import UTC, date, timedelta
from decimal import Decimal

from exams.hemodynamics import (
    EventDate,
    EventKind,
    LimbEvent,
    OwnNoise,
    Side,
    Site,
    Verdict,
    Vessel,
)
from reports.timeline.record import limits_of, years_of
from reports.timeline.series import Absence, Measure, NoValue
from reports.timeline.words import lead_of
from reports.timeline.years import Event
from tests.timeline.records import CRITERIA, NO_SIGNAL, UNOCCLUDED, foot, glance_at, record

FIRST, SECOND, THIRD = date(2023, 5, 4), date(2024, 6, 1), date(2026, 11, 20)
TODAY = date(2026, 11, 25)
RIGHT = Side.RIGHT


def right_over(*records):
    return years_of(records, {}, CRITERIA, UTC, TODAY).limbs[0]


def stretches(limb, measure):
    return [[int(point.value) for point in run] for run in limb.series[measure].stretches]


def reasons(limb, measure):
    return [gap.reasons for gap in limb.series[measure].breaks]


def test_feet_measured_alike_make_one_line_of_each_measure():
    limb = right_over(
        record(1, FIRST, foot(RIGHT, ankle=126, toe=80)),
        record(2, SECOND, foot(RIGHT, ankle=112, toe=70)),
    )

    assert stretches(limb, Measure.ANKLE_PRESSURE) == [[126, 112]]
    assert stretches(limb, Measure.TOE_PRESSURE) == [[80, 70]]
    assert [str(point.value) for point in limb.series[Measure.ANKLE_BRACHIAL_INDEX].points] == [
        "0.90",
        "0.80",
    ]


def test_another_toe_breaks_toe_pressure_and_toe_index_but_not_the_ankle():
    limb = right_over(
        record(1, FIRST, foot(RIGHT)), record(2, SECOND, foot(RIGHT, toe=70, toe_site=Site.TOE_2))
    )

    words = ("measured at the hallux before and at the second toe now",)
    assert reasons(limb, Measure.TOE_PRESSURE) == [words]
    assert reasons(limb, Measure.TOE_BRACHIAL_INDEX) == [words]
    assert reasons(limb, Measure.ANKLE_PRESSURE) == []
    assert reasons(limb, Measure.ANKLE_BRACHIAL_INDEX) == []


def test_another_technique_at_the_toe_breaks_the_line():
    limb = right_over(
        record(1, FIRST, foot(RIGHT)), record(2, SECOND, foot(RIGHT, toe_technique="one_cuff_hand"))
    )

    assert reasons(limb, Measure.TOE_PRESSURE)[0][0].startswith("another technique")


def test_one_arm_only_breaks_the_indices_and_leaves_the_pressures_joined():
    limb = right_over(
        record(1, FIRST, foot(RIGHT)),
        record(2, SECOND, foot(RIGHT, arm=None)),
    )

    assert reasons(limb, Measure.ANKLE_BRACHIAL_INDEX) == [("both arms before, LEFT arm only now",)]
    assert reasons(limb, Measure.TOE_BRACHIAL_INDEX) == [("both arms before, LEFT arm only now",)]
    assert stretches(limb, Measure.ANKLE_PRESSURE) == [[150, 150]]
    assert stretches(limb, Measure.TOE_PRESSURE) == [[90, 90]]


def test_an_ankle_that_could_not_be_occluded_is_no_point_and_breaks_pressure_and_index():
    limb = right_over(
        record(1, FIRST, foot(RIGHT, ankle=126)),
        record(2, SECOND, foot(RIGHT, ankle=UNOCCLUDED)),
        record(3, THIRD, foot(RIGHT, ankle=118)),
    )

    assert stretches(limb, Measure.ANKLE_PRESSURE) == [[126], [118]]
    (absence,) = limb.series[Measure.ANKLE_PRESSURE].absences
    assert (absence.absence, absence.cuff_mmhg) == (Absence.NOT_OCCLUDABLE, 250)
    assert reasons(limb, Measure.ANKLE_PRESSURE) == [
        ("ankle artery could not be occluded at 250 mmHg on 1 Jun 2024",)
    ]
    assert reasons(limb, Measure.ANKLE_BRACHIAL_INDEX) == [
        ("ankle artery could not be occluded on 1 Jun 2024",)
    ]


def test_a_stiff_ankle_that_gave_a_number_is_shown_but_not_joined():
    limb = right_over(record(1, FIRST, foot(RIGHT, ankle=126)), record(2, SECOND, foot(RIGHT, ankle=212)))

    assert stretches(limb, Measure.ANKLE_PRESSURE) == [[126], [212]]
    assert len(limb.series[Measure.ANKLE_BRACHIAL_INDEX].stretches) == 2


def test_no_signal_at_the_toe_is_below_detection_and_not_a_missing_measure():
    limb = right_over(record(1, FIRST, foot(RIGHT, toe=NO_SIGNAL)))

    (seen,) = limb.series[Measure.TOE_PRESSURE].seen
    assert isinstance(seen, NoValue)
    assert seen.absence is Absence.NO_SIGNAL


def test_an_index_without_any_arm_pressure_was_not_made_although_the_ankle_was_measured():
    limb = right_over(record(1, FIRST, foot(RIGHT, arm=None), foot(Side.LEFT, arm=None)))

    (seen,) = limb.series[Measure.ANKLE_BRACHIAL_INDEX].seen
    assert (seen.absence, seen.because) == (Absence.NOT_MADE, "no arm pressure")


def test_a_toe_that_was_never_tried_is_listed_with_the_reason():
    limb = right_over(record(1, FIRST, foot(RIGHT, toe=None)))

    (seen,) = limb.series[Measure.TOE_PRESSURE].seen
    assert (seen.absence, seen.because) == (Absence.NOT_MADE, "toe pressure not measured")


def toes_over(*pressures, ends=THIRD):
    """RIGHT toes half a year apart, the last at `ends`, and what has become of them."""
    days = [ends - timedelta(days=183) * back for back in reversed(range(len(pressures)))]
    exams = zip(days, pressures, strict=True)
    return right_over(*(record(n, on, foot(RIGHT, toe=mmhg)) for n, (on, mmhg) in enumerate(exams, start=1)))


def toe_change(limb):
    return limb.changes[Measure.TOE_PRESSURE]


def test_a_fall_inside_what_repeats_differ_by_is_called_noise_and_names_its_study():
    # 26 mmHg by hand: Romanos 2010, half the width of the limits of agreement.
    limb = right_over(record(1, FIRST, foot(RIGHT, toe=80)), record(2, SECOND, foot(RIGHT, toe=60)))

    assert toe_change(limb).words == (
        "Within noise: −20 mmHg (interval −46 to +6) from 80 mmHg on 4 May 2023; repeats differ by 26 mmHg "
        "(published, ROMANOS10)."
    )


def test_one_low_value_asks_for_a_repeat_and_is_no_trend():
    # Workflow 6: one low reading asks for a repeat before a trend word is printed.
    change = toe_change(toes_over(80, 50))

    assert change.verdict is Verdict.SEEN_ONCE
    assert change.words.startswith("More than noise, seen once: repeat at another visit. −30 mmHg")
    assert "likely" not in change.words


def test_a_fall_that_a_second_visit_confirms_is_a_likely_fall():
    assert toe_change(toes_over(80, 50, 48)).words.startswith("Likely fall: −32 mmHg (interval −58 to −6)")


def test_a_rise_that_a_second_visit_confirms_is_a_likely_rise():
    assert toe_change(toes_over(40, 70, 71)).verdict is Verdict.LIKELY_RISE


def test_the_clinics_own_noise_takes_the_place_of_the_published_one_and_is_named():
    exams = [record(1, FIRST, foot(RIGHT, toe=80)), record(2, SECOND, foot(RIGHT, toe=60))]
    own = [OwnNoise("toe_pressure", "two_cuffs", 4.0, 31, "autumn agreement")]

    right, _ = years_of(exams, {}, CRITERIA, UTC, TODAY, own=own).limbs

    assert toe_change(right).verdict is Verdict.SEEN_ONCE
    assert (
        "repeats differ by 11.1 mmHg (this clinic: autumn agreement, 31 pairs, 95 % interval 8.9 to 14.7)"
        in toe_change(right).words
    )


def test_a_slope_needs_four_values_and_says_so_until_then():
    assert toe_change(toes_over(80, 70, 60)).slope == (
        "No slope: a slope needs 4 comparable values on different days."
    )


def test_a_steady_fall_has_a_slope_with_its_interval_and_a_date_for_the_limit_with_its_own():
    change = toe_change(toes_over(98, 90, 81, 73, 65, 56, 48))

    assert change.slope.startswith("Slope −16.6 mmHg a year (95 % interval −")
    (crossing,) = change.crossings
    assert crossing.startswith("If it goes on like this, the limit “toe below 30: urgent” is crossed about ")
    assert ", from " in crossing


def test_a_slope_that_may_be_noise_says_so_and_gives_no_date():
    change = toe_change(toes_over(60, 70, 58, 69, 57, 66))

    assert change.slope.endswith("it may be nothing but noise.")
    assert change.crossings == ()


def test_a_limit_that_would_have_been_reached_by_today_asks_for_a_measurement():
    (crossing,) = toe_change(toes_over(98, 90, 81, 73, 65, 56, 48, ends=SECOND)).crossings

    assert crossing.startswith("The limit “toe below 30: urgent” would be reached by now (about ")


def test_each_value_says_how_likely_it_lies_beneath_the_limit_of_the_criteria():
    limb = toes_over(90, 31)

    first, last = limb.series[Measure.TOE_PRESSURE].points
    assert (first.chances, last.chances) == (("below 30: under 1 %",), ("below 30: 40 %",))


class TestEvents:
    TREATED = LimbEvent(
        EventKind.REVASCULARISATION,
        EventDate(date(2025, 3, 4)),
        side=RIGHT,
        vessels=(Vessel.POPLITEAL,),
    )

    def limb(self, *records):
        event = Event("revascularisation", "revascularisation", self.TREATED.on.on, None, core=self.TREATED)
        return years_of(records, {RIGHT: (event,)}, CRITERIA, UTC, TODAY).limbs[0]

    def test_a_treated_vessel_breaks_every_series_and_starts_a_new_baseline(self):
        limb = self.limb(
            record(1, FIRST, foot(RIGHT, toe=40)),
            record(2, SECOND, foot(RIGHT, toe=42)),
            record(3, THIRD, foot(RIGHT, toe=80)),
        )

        assert stretches(limb, Measure.TOE_PRESSURE) == [[40, 42], [80]]
        assert len(limb.series[Measure.ANKLE_BRACHIAL_INDEX].breaks) == 1
        assert toe_change(limb).words == (
            "Cannot be compared with 1 Jun 2024 because: RIGHT revascularisation: popliteal, 4 Mar 2025 in "
            "between: a new baseline."
        )
        assert limb.baseline == (
            "New baseline: RIGHT revascularisation: popliteal, 4 Mar 2025, 631 days ago. Older values are "
            "from before it."
        )

    def test_values_from_before_it_are_not_averaged_into_what_comes_after(self):
        limb = self.limb(
            record(1, SECOND, foot(RIGHT, toe=40)),
            record(2, date(2026, 1, 8), foot(RIGHT, toe=80)),
            record(3, THIRD, foot(RIGHT, toe=76)),
        )

        change = toe_change(limb)
        assert (change.verdict, change.since) == (Verdict.WITHIN_NOISE, date(2026, 1, 8))


def test_the_noise_band_is_drawn_about_the_value_compared_with():
    limb = right_over(record(1, FIRST, foot(RIGHT, toe=80)), record(2, SECOND, foot(RIGHT, toe=60)))

    noise = limb.changes[Measure.TOE_PRESSURE].noise
    assert (noise.start, noise.end, noise.low, noise.high) == (FIRST, SECOND, Decimal(54), Decimal(106))


def test_a_change_is_told_against_the_last_comparable_exam_and_says_which_was_passed_over():
    limb = right_over(
        record(1, FIRST, foot(RIGHT, toe=80)),
        record(2, SECOND, foot(RIGHT, toe=70, toe_site=Site.TOE_2)),
        record(3, THIRD, foot(RIGHT, toe=76)),
    )

    change = limb.changes[Measure.TOE_PRESSURE]
    assert change.since == FIRST
    assert change.skipped == (
        "1 Jun 2024 was passed over: measured at the second toe before and at the hallux now."
    )


def test_two_exams_that_may_not_be_compared_get_the_reason_instead_of_a_verdict():
    limb = right_over(
        record(1, FIRST, foot(RIGHT, toe=80)),
        record(2, SECOND, foot(RIGHT, toe=40, toe_site=Site.TOE_2)),
    )

    assert limb.changes[Measure.TOE_PRESSURE].words == (
        "Cannot be compared with 4 May 2023 because: measured at the hallux before and at the second toe now."
    )


def test_an_ankle_pressure_gets_no_verdict_because_its_noise_is_not_published():
    limb = right_over(record(1, FIRST, foot(RIGHT, ankle=140)), record(2, SECOND, foot(RIGHT, ankle=90)))

    assert limb.changes[Measure.ANKLE_PRESSURE].words == (
        "Cannot be compared because there is no published repeatability of an ankle pressure alone, "
        "go by the index."
    )


def test_one_exam_alone_has_no_change():
    limb = right_over(record(1, FIRST, foot(RIGHT)))

    assert limb.changes == {}


def test_pressures_show_their_interval_in_whole_mmhg_and_indices_in_hundredths():
    limb = right_over(record(1, FIRST, foot(RIGHT, ankle=126, toe=80)))

    (toe,) = limb.series[Measure.TOE_PRESSURE].points
    (index,) = limb.series[Measure.TOE_BRACHIAL_INDEX].points
    assert toe.interval_shown == "72 to 88"
    assert index.interval_shown.count(".") == 2


def test_the_limits_drawn_are_those_of_the_criteria():
    # ACC/AHA 2024: ankle index up to 0.90 reduced, above 1.40 not compressible; toe index up to 0.70.
    assert [(limit.measure, str(limit.value)) for limit in limits_of(CRITERIA)] == [
        (Measure.ANKLE_BRACHIAL_INDEX, "0.9"),
        (Measure.TOE_BRACHIAL_INDEX, "0.7"),
        (Measure.ANKLE_BRACHIAL_INDEX, "1.4"),
        (Measure.ANKLE_PRESSURE, "50"),
        (Measure.TOE_PRESSURE, "30"),
    ]


def test_a_glance_takes_its_sentence_from_the_newest_exam_that_measured_the_foot():
    records = [
        record(1, FIRST, foot(RIGHT, toe=80)),
        record(2, SECOND, foot(RIGHT, ankle=None, toe=None)),
    ]

    glance = glance_at(records, RIGHT, TODAY)

    assert (glance.record.exam_id, glance.age, glance.old) == (1, "3 years ago", True)
    assert glance.sentence.startswith("Toe reduced although the ankle is not")


def test_a_measure_missing_from_the_newest_exam_shows_the_older_value_and_says_so():
    records = [record(1, FIRST, foot(RIGHT, toe=80)), record(2, SECOND, foot(RIGHT, toe=None))]

    lines = glance_at(records, RIGHT, TODAY).lines

    toe = {line.name: line for line in lines}["toe pressure"]
    assert (toe.seen.at.date(), toe.missing) == (FIRST, "1 Jun 2024: toe pressure not measured")


def test_a_foot_never_measured_has_no_sentence_and_no_record():
    records = [record(1, FIRST, foot(RIGHT), foot(Side.LEFT, ankle=None, toe=None))]

    glance = glance_at(records, Side.LEFT, TODAY)

    assert (glance.sentence, glance.record) == ("", None)


def test_a_slow_fall_is_seen_against_the_first_of_its_line_once_two_visits_show_it():
    limb = toes_over(90, 76, 62, 60)

    change = toe_change(limb)
    assert (change.verdict, change.since) == (
        Verdict.LIKELY_FALL,
        limb.series[Measure.TOE_PRESSURE].points[0].at.date(),
    )


def test_an_exam_in_between_that_could_not_be_measured_ends_the_line():
    limb = right_over(
        record(1, FIRST, foot(RIGHT, ankle=126)),
        record(2, SECOND, foot(RIGHT, ankle=UNOCCLUDED)),
        record(3, THIRD, foot(RIGHT, ankle=118)),
    )

    change = limb.changes[Measure.ANKLE_BRACHIAL_INDEX]
    assert change.since is None
    assert "ankle artery could not be occluded on 1 Jun 2024" in change.words


def test_the_timeline_opens_with_where_each_foot_stands_and_what_a_slow_fall_adds_up_to():
    records = [
        record(1, FIRST, foot(RIGHT, toe=90)),
        record(2, SECOND, foot(RIGHT, toe=60)),
        record(3, THIRD, foot(RIGHT, toe=50)),
    ]

    right, left = years_of(records, {}, CRITERIA, UTC, TODAY).limbs
    assert lead_of(right) == (
        "Toe pressure 50 mmHg (WIfI ischaemia 1) on 20 Nov 2026; toe pressure likely fall since 4 May 2023."
    )
    assert lead_of(left) == (
        "Toe pressure 90 mmHg (WIfI ischaemia 0) on 20 Nov 2026; no change beyond noise since 1 Jun 2024."
    )


def test_a_toe_that_lost_its_signal_is_said_before_the_pressure_it_had():
    records = [record(1, FIRST, foot(RIGHT, toe=71)), record(2, SECOND, foot(RIGHT, toe=NO_SIGNAL))]

    right = years_of(records, {}, CRITERIA, UTC, TODAY).limbs[0]

    assert lead_of(right) == (
        "Toe pressure below detection (no signal) on 1 Jun 2024; before that 71 mmHg on 4 May 2023."
    )


def test_one_exam_opens_with_the_word_that_nothing_earlier_may_be_compared():
    years = years_of([record(1, FIRST, foot(RIGHT))], {}, CRITERIA, UTC, TODAY)

    assert lead_of(years.limbs[0]).endswith("on 4 May 2023; nothing earlier that may be compared.")


def test_a_provisional_value_says_so_wherever_it_stands():
    sitting = record(1, FIRST, foot(RIGHT), position="sitting")

    (point,) = right_over(sitting).series[Measure.TOE_PRESSURE].points

    assert point.how == "hallux, light sensor, two cuffs, provisional"


def test_one_arm_is_told_with_the_index_and_not_with_the_pressure():
    limb = right_over(record(1, FIRST, foot(RIGHT, arm=None)))

    assert limb.series[Measure.TOE_BRACHIAL_INDEX].points[0].how == (
        "hallux, light sensor, two cuffs, LEFT arm only"
    )
    assert limb.series[Measure.TOE_PRESSURE].points[0].how == "hallux, light sensor, two cuffs"
