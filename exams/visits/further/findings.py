"""From the entered values of further tests to what the core makes of them. Nothing is read or stored here."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from exams.hemodynamics import (
    CUFFS,
    CategoryEvidence,
    Criteria,
    Direction,
    EnteredCategory,
    Exercise,
    ExercisedLimb,
    Finding,
    Fontaine,
    FurtherTests,
    Interpretation,
    Modifier,
    NotStated,
    Outcome,
    Oxygen,
    Phasicity,
    Pressures,
    Protocol,
    Resistance,
    SegmentalLimb,
    Side,
    Site,
    SiteReading,
    Waveform,
    interpret_further,
    waveform_of_word,
)
from exams.visits.further.catalogue import (
    ASKS,
    CUFFS_OF,
    OXYGEN_PLACES,
    PULSE_VOLUME_PLACES,
    TIMES,
    WAVEFORM_ARTERIES,
)
from exams.visits.further.models import FurtherTest
from exams.visits.further.typed import site_reading
from exams.visits.plan import ANKLE_SITES
from exams.visits.queries.chart import Chart

Values = Mapping[str, str]
NO_ARM = "no arm pressure beside it"
NOT_TAKEN = SiteReading(Outcome.NOT_OBTAINED, reason="not measured")


@dataclass(frozen=True)
class Resting:
    """What the exam's own pressures say at rest: of the artery and the arm that the exercise test uses."""

    artery: Site
    ankle: SiteReading
    arm_side: Side
    arm: SiteReading


def further_findings(
    entered: Mapping[str, Values], chart: Chart, found: Interpretation, criteria: Criteria
) -> tuple[Finding, ...]:
    """The findings of every further test that was done, in the order of the tests.

    Parameters
    ----------
    entered : by test, what stands in its fields
    found : the findings of the resting pressures of the same exam
    """
    return interpret_further(further_tests_of(entered, chart, found), criteria).findings


def further_tests_of(entered: Mapping[str, Values], chart: Chart, found: Interpretation) -> FurtherTests:
    """The further tests as the core takes them."""
    return FurtherTests(
        exercised=_exercised(entered.get(FurtherTest.EXERCISE, {}), chart, found),
        segments=_segments(entered, chart, found),
        waveforms=_waveforms(entered.get(FurtherTest.WAVEFORMS, {})),
        pulse_volumes=_pulse_volumes(entered.get(FurtherTest.PULSE_VOLUME, {})),
        oxygen=_oxygen(entered.get(FurtherTest.OXYGEN, {})),
        categories=_categories(entered, chart, found),
    )


def resting(values: Values, chart: Chart, side: Side) -> Resting:
    """The latest pressures of this exam; a value typed as "at rest, if taken again" goes before them.

    Where nobody chose, the artery and the arm with the highest latest pressure are taken.
    """
    asks = ASKS[FurtherTest.EXERCISE]
    arm_side = Side(values.get("arm_side") or _highest({one: _latest(chart, one, Site.ARM) for one in Side}))
    arteries = {Site(one.value): _latest(chart, side, Site(one.value)) for one in ANKLE_SITES}
    artery = Site(values.get(f"{side}.artery") or _highest(arteries))
    ankle, arm = arteries[artery], _latest(chart, arm_side, Site.ARM)
    if values.get(f"rest.{side}"):
        ankle = site_reading(values[f"rest.{side}"], asks[f"rest.{side}"], "")
    if values.get("rest.arm"):
        arm = site_reading(values["rest.arm"], asks["rest.arm"], "")
    return Resting(artery, ankle, arm_side, arm)


def exercise_of(values: Values) -> Exercise | None:
    """What the patient did; InputError where its times cannot be. None until it was said what was done."""
    if not values.get("protocol"):
        return None
    return Exercise(
        Protocol(values["protocol"]),
        duration_s=_whole(values.get("duration")),
        speed_kmh=_decimal(values.get("speed_kmh")),
        grade_percent=_decimal(values.get("grade_percent")),
        completed=_answer(values.get("completed")),
        symptom=values.get("symptom", ""),
        symptom_at_s=_whole(values.get("symptom_at")),
    )


def series_of(values: Values, chart: Chart, side: Side) -> tuple[Pressures, ...]:
    """The timed readings of one ankle; InputError nowhere, the order is checked where the limb is made."""
    asks, rest = ASKS[FurtherTest.EXERCISE], resting(values, chart, side)
    return tuple(
        Pressures(
            ankle=site_reading(values[f"after.{number}.{side}"], asks[f"after.{number}.{side}"], ""),
            arm=site_reading(
                values.get(f"after.{number}.arm", ""),
                asks[f"after.{number}.arm"],
                "no arm pressure beside it",
            ),
            artery=rest.artery,
            arm_side=rest.arm_side,
            seconds=int(values[f"after.{number}.time"]),
        )
        for number in range(1, TIMES + 1)
        if values.get(f"after.{number}.{side}") and values.get(f"after.{number}.time")
    )


def waveform_of(values: Values, side: Side, artery: str) -> Waveform | NotStated | None:
    """The terms chosen; where none is, those of the measurer's own word, or what is to be asked about it."""
    said = {name: values.get(f"{side}.{artery}.{name}", "") for name in _TERMS}
    word = values.get(f"{side}.{artery}.word", "")
    if not any(said.values()):
        return waveform_of_word(word) if word else None
    return Waveform(
        Direction(said["direction"]) if said["direction"] else None,
        Phasicity(said["phasicity"]) if said["phasicity"] else None,
        Resistance(said["resistance"]) if said["resistance"] else None,
        frozenset(Modifier(one) for one in said["modifiers"].split()),
        word,
    )


def oxygen_of(values: Values, side: Side, place: str) -> Oxygen | None:
    value = values.get(f"{side}.{place}")
    if not value:
        return None
    reference = values.get("reference")
    return Oxygen(
        side,
        place.replace("_", " "),
        int(Decimal(value) * 2),
        reference_half_mmhg=int(Decimal(reference) * 2) if reference else None,
        reference_site=values.get("reference_site", ""),
        probe_celsius=_decimal(values.get("probe_celsius")),
        oedema=bool(values.get(f"{side}.oedema")),
        cellulitis=bool(values.get(f"{side}.cellulitis")),
    )


def is_stiff(found: Interpretation, chart: Chart, side: Side) -> bool:
    """Whether the ankle of a limb is known to be too stiff to measure: by its index or by a cuff."""
    index = found.of("ankle_brachial_index", side)
    by_cuff = any(
        row.outcome == Outcome.NOT_OCCLUDABLE for site in ANKLE_SITES for row in chart.attempts(side, site)
    )
    return by_cuff or (index is not None and index.band == "NON_COMPRESSIBLE")


_TERMS = ("direction", "phasicity", "resistance", "modifiers")


def _exercised(values: Values, chart: Chart, found: Interpretation) -> tuple[ExercisedLimb, ...]:
    limbs = []
    for side in Side:
        after = series_of(values, chart, side)
        if after:
            rest = resting(values, chart, side)
            at_rest = Pressures(rest.ankle, rest.arm, rest.artery, rest.arm_side)
            limbs.append(ExercisedLimb(side, at_rest, after, stiff_ankle=is_stiff(found, chart, side)))
    return tuple(limbs)


def _segments(
    entered: Mapping[str, Values], chart: Chart, found: Interpretation
) -> tuple[SegmentalLimb, SegmentalLimb, SiteReading] | None:
    """One set of cuffs an exam, the four before the three (``check_together`` lets no second one in)."""
    test = next((one for one in CUFFS_OF if entered.get(one)), None)
    if test is None:
        return None
    values, asks, cuffs = entered[test], ASKS[test], CUFFS_OF[test]
    right, left = (
        SegmentalLimb(
            side,
            cuffs,
            {
                cuff: site_reading(values[f"{side}.{cuff}"], asks[f"{side}.{cuff}"], "")
                for cuff in CUFFS[cuffs]
                if values.get(f"{side}.{cuff}")
            },
            calcified=is_stiff(found, chart, side),
        )
        for side in Side
    )
    arm = _latest(chart, _highest({one: _latest(chart, one, Site.ARM) for one in Side}), Site.ARM)
    if values.get("arm"):
        arm = site_reading(values["arm"], asks["arm"], "")
    return right, left, arm


def _waveforms(values: Values) -> tuple[tuple[Side, str, Waveform], ...]:
    done = []
    for artery in WAVEFORM_ARTERIES:
        for side in Side:
            waveform = waveform_of(values, side, artery)
            if isinstance(waveform, NotStated):
                # Kept as the measurer said it; the core says that it is not fully described.
                waveform = Waveform(own_word=values[f"{side}.{artery}.word"])
            if waveform is not None:
                done.append((side, artery, waveform))
    return tuple(done)


def _pulse_volumes(values: Values) -> tuple[tuple[Side, str, int], ...]:
    return tuple(
        (side, place, int(values[f"{side}.{place}"]))
        for side in Side
        for place in PULSE_VOLUME_PLACES
        if values.get(f"{side}.{place}")
    )


def _oxygen(values: Values) -> tuple[tuple[str, Oxygen], ...]:
    return tuple(
        (place, oxygen)
        for side in Side
        for place in OXYGEN_PLACES
        if (oxygen := oxygen_of(values, side, place)) is not None
    )


def _categories(
    entered: Mapping[str, Values], chart: Chart, found: Interpretation
) -> tuple[EnteredCategory, ...]:
    values, exercise = entered.get(FurtherTest.CATEGORY, {}), entered.get(FurtherTest.EXERCISE, {})
    categories = []
    for side in Side:
        if not values.get(f"{side}.rutherford"):
            continue
        index = found.of("ankle_brachial_index", side)
        stiff = index is not None and index.band == "NON_COMPRESSIBLE"
        after = series_of(exercise, chart, side)
        evidence = CategoryEvidence(
            ankle_mmhg=None if stiff else _value(found.of("ankle_pressure", side)),
            toe_mmhg=_value(found.of("toe_pressure", side)),
            post_exercise_ankle_mmhg=_mmhg(after[0].ankle) if after else None,
            completed=_answer(exercise.get("completed")),
            pain_free_m=_whole(values.get(f"{side}.pain_free_m")),
        )
        stage = values.get(f"{side}.fontaine")
        category = int(values[f"{side}.rutherford"])
        categories.append(EnteredCategory(side, category, evidence, Fontaine(stage) if stage else None))
    return tuple(categories)


def _latest(chart: Chart, side: Side | Site | str, site: Site) -> SiteReading:
    """The latest pressure at a site, else its latest answer, else that nothing was measured."""
    rows = chart.attempts(side, site)
    pressures = tuple(
        row for row in rows if row.pressure_mmhg is not None and row.outcome == Outcome.PRESSURE
    )
    if not rows:
        return NOT_TAKEN
    row = (pressures or rows)[-1]
    half = None if row.pressure_mmhg is None else int(row.pressure_mmhg * 2)
    return SiteReading(Outcome(row.outcome), half, technique=row.technique)


def _highest(readings: Mapping[Side, SiteReading] | Mapping[Site, SiteReading]) -> str:
    """The name of the highest pressure, the first of equals; the first where there is none."""
    return max(readings, key=lambda one: _mmhg(readings[one]) or Fraction(0))


def _mmhg(reading: SiteReading) -> Fraction | None:
    if reading.outcome is not Outcome.PRESSURE or reading.half_mmhg is None:
        return None
    return Fraction(reading.half_mmhg, 2)


def _value(finding: Finding | None) -> Fraction | None:
    return None if finding is None or isinstance(finding.value, NotStated) else Fraction(finding.value)


def _whole(value: str | None) -> int | None:
    return int(value) if value else None


def _decimal(value: str | None) -> Decimal | None:
    return Decimal(value) if value else None


def _answer(value: str | None) -> bool | None:
    return None if not value else value == "yes"
