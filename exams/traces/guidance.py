"""Short steps for recording a toe, by technique. Common practice in the trade; no source."""

from dataclasses import dataclass

from exams.visits.models import Technique


@dataclass(frozen=True)
class Guidance:
    technique: str
    title: str
    steps: tuple[str, ...]


GUIDANCE: tuple[Guidance, ...] = (
    Guidance(
        Technique.TWO_CUFFS,
        "Two cuffs",
        (
            "Occlusion cuff at the toe's base, sensor on the pulp, second cuff around the sensor.",
            "Pulses at rest? Inflate the second cuff and hold it a few seconds: it empties the pulp.",
            "Inflate the occlusion cuff well above the arm pressure, then release the second cuff.",
            "The signal is flat or slowly falls. Deflate slowly and steadily, 2 to 3 mmHg a second.",
            "Stop when the rise is large.",
        ),
    ),
    Guidance(
        Technique.ONE_CUFF_HAND,
        "One cuff, pulp pressed empty by hand",
        (
            "Cuff at the toe's base, sensor on the pulp. For a toe too short for two cuffs.",
            "Pulses at rest? Press the pulp firmly between two fingers and keep pressing.",
            "Inflate the cuff well above the arm pressure, then let go of the pulp: hands off the cable.",
            "Wait until the signal is flat; a hand that lets go leaves a step. Deflate 2 to 3 mmHg a second.",
            "Stop when the rise is large.",
        ),
    ),
)
