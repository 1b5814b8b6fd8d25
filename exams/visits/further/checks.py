"""Whether a value can stand beside the others of its test; the words at its field where it cannot."""

from collections.abc import Mapping

from django.core.exceptions import ValidationError

from exams.hemodynamics import InputError, Side, duration_words
from exams.visits.further.catalogue import CUFFS_OF, OXYGEN_PLACES, TIMES, WAVEFORM_ARTERIES, Ask
from exams.visits.further.findings import Values, exercise_of, oxygen_of, resting, waveform_of
from exams.visits.further.models import FurtherTest
from exams.visits.models import Site
from exams.visits.queries.chart import Chart
from exams.visits.typed import KEPT


def check_together(test: str, values: Values, entered: Mapping[str, Values]) -> None:
    """ValidationError where the values of a test, the new one among them, cannot all be true."""
    try:
        if test == FurtherTest.EXERCISE:
            exercise_of(values)
            _times_rise(values)
        elif test == FurtherTest.WAVEFORMS:
            for side in Side:
                for artery in WAVEFORM_ARTERIES:
                    waveform_of(values, side, artery)
        elif test == FurtherTest.OXYGEN:
            if values.get("reference") and not values.get("reference_site"):
                raise InputError("oxygen.reference_site_missing", "reference_site")
            for side in Side:
                for place in OXYGEN_PLACES:
                    oxygen_of(values, side, place)
    except InputError as wrong:
        raise ValidationError(f"{_words(wrong)} {KEPT}", code=wrong.code) from None
    for other, cuffs in CUFFS_OF.items():
        if test in CUFFS_OF and other != test and entered.get(other):
            raise ValidationError(
                f"This exam has pressures with {cuffs} cuffs: both sets cannot stand. "
                f"Empty those fields first. {KEPT}",
                code="segments.cuff_sets_differ",
            )


def lock_of(chart: Chart, ask: Ask, values: Values) -> str:
    """Why no cuff may be inflated for this value: "Do not inflate: …", or nothing."""
    if not ask.cuff:
        return ""
    if Site.ARM.value in {part.value for part in ask.parts}:
        # Without a choice it is the arm of the higher pressure, so a protected one is never meant.
        chosen = values.get("arm_side", "")
        sides = [chosen] if chosen else [side.value for side in Side]
        locks = [chart.lock_words(side, Site.ARM) for side in sides]
        return locks[0] if all(locks) else ""
    side = ask.side or ask.name.rpartition(".")[2]
    sites = [one.value for one in ask.parts if one.value in Site.values]
    if not sites:
        # A cuff along the leg: forbidden by what forbids the leg or, at the ankle, its arteries.
        sites = [Site.POSTERIOR_TIBIAL]
        if ask.parts[0].value != "ankle":
            return _leg_lock(chart, side)
    if ask.name.startswith(("after.", "rest.")):
        sites = [resting(values, chart, Side(side)).artery.value]
    return next((words for site in sites if (words := chart.lock_words(side, site))), "")


def _leg_lock(chart: Chart, side: str) -> str:
    """The caution that forbids any cuff of the leg: one of the whole leg forbids the toe and the ankle."""
    words = chart.lock_words(side, Site.TOE_1)
    return words if words and words == chart.lock_words(side, Site.POSTERIOR_TIBIAL) else ""


def _times_rise(values: Values) -> None:
    before, then = 0, -1
    for number in range(1, TIMES + 1):
        typed = values.get(f"after.{number}.time")
        if not typed:
            continue
        if int(typed) <= then:
            raise ValidationError(
                f"Reading {number} cannot be {duration_words(int(typed))} after the end: reading {before} "
                f"was at {duration_words(then)}, and the times must rise. {KEPT}",
                code="exercise.times_out_of_order",
            )
        before, then = number, int(typed)


def _words(wrong: InputError) -> str:
    if wrong.code == "exercise.symptom_after_end":
        return (
            f"The symptom cannot begin after {duration_words(int(str(wrong.value)))}: the walk ended after "
            f"{duration_words(int(str(wrong.limit)))}."
        )
    return WORDS[wrong.code]


WORDS = {
    "waveform.absent_has_a_shape": "“Absent” has no shape: empty phasicity, resistance and “what else” here, "
    "or choose another direction.",
    "waveform.two_upstrokes": "An upstroke is either rapid or prolonged: type one of the two numbers.",
    "oxygen.reference_site_missing": "Say first where the reference probe is, for example chest.",
}
