"""What each further test asks for, in the order in which it is typed. Data and pure functions."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from exams.hemodynamics import (
    ANKLE_SITES,
    CATEGORY_WORDS,
    CONTOURS,
    CUFFS,
    HIGHEST_OXYGEN_MMHG,
    PROBE_CELSIUS,
    TOE_SITES,
    Direction,
    Fontaine,
    Modifier,
    Phasicity,
    Protocol,
    Resistance,
    Segment,
    Side,
    Site,
)
from exams.visits.further.models import FurtherTest

Kind = Literal["pressure", "number", "duration", "choice", "codes", "text", "yes"]
# Common practice is every one to two minutes until ten; no source.
TIMES = 10
TIMES_SHOWN = 5


@dataclass(frozen=True)
class Limits:
    """Lowest and highest of a number, and its decimals."""

    low: Decimal
    high: Decimal
    decimals: int = 0


@dataclass(frozen=True)
class Ask:
    """One value that a test asks for.

    `group` is the heading it stands under. `parts` are those of the limb it is taken at: it is not offered
    once all of them are gone. `cuff`: a cuff is inflated there, so "do not inflate" forbids it. `optional`:
    Enter goes past it, for something else stands in where it is empty. `told`: how it is called where it is
    read out, if the label speaks to whoever types.
    """

    name: str
    label: str
    kind: Kind
    group: str
    side: str = ""
    unit: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    limits: Limits | None = None
    parts: tuple[Site | Segment, ...] = ()
    cuff: bool = False
    optional: bool = False
    told: str = ""

    @property
    def spoken(self) -> str:
        """The label with its heading, for whoever hears the page or reads one line alone."""
        return f"{self.group}: {self.label}"


# The limits of numbers only keep out slips of the hand; common sense, no source.
SPEED = Limits(Decimal(0), Decimal(25), 1)
GRADE = Limits(Decimal(0), Decimal(30), 1)
PAIN_FREE_M = Limits(Decimal(0), Decimal(9999))
OXYGEN_MMHG = Limits(Decimal(0), Decimal(HIGHEST_OXYGEN_MMHG), 1)
PROBE = Limits(*PROBE_CELSIUS, 1)

PROTOCOLS = {
    Protocol.TREADMILL.value: "treadmill",
    Protocol.PLANTAR_FLEXION.value: "rising on the toes",
    Protocol.WALK.value: "walking along the corridor",
}
YES_NO = {"yes": "yes", "no": "no"}
ARTERIES = {
    Site.POSTERIOR_TIBIAL.value: "posterior tibial",
    Site.DORSALIS_PEDIS.value: "dorsalis pedis",
    Site.PERONEAL.value: "peroneal",
}
SIDE_CHOICES = {Side.RIGHT.value: "RIGHT", Side.LEFT.value: "LEFT"}
WAVEFORM_ARTERIES: Mapping[str, tuple[Site | Segment, ...]] = {
    "common_femoral": (Segment.HIGH_THIGH,),
    "popliteal": (Segment.LOW_THIGH,),
    "posterior_tibial": (Site.POSTERIOR_TIBIAL,),
    "dorsalis_pedis": (Site.DORSALIS_PEDIS,),
}
PULSE_VOLUME_PLACES: Mapping[str, tuple[Site | Segment, ...]] = {
    "thigh": (Segment.HIGH_THIGH,),
    "calf": (Segment.CALF,),
    "ankle": (Segment.ANKLE,),
    "forefoot": TOE_SITES,
}
OXYGEN_PLACES: Mapping[str, tuple[Site | Segment, ...]] = {
    "back_of_foot": ANKLE_SITES,
    "below_knee": (Segment.CALF,),
    "above_knee": (Segment.LOW_THIGH,),
}
CUFFS_OF = {FurtherTest.SEGMENTS_4: 4, FurtherTest.SEGMENTS_3: 3}
DIRECTIONS = {one.value: one.value for one in Direction}
PHASICITIES = {
    Phasicity.MULTIPHASIC.value: "multiphasic: crosses the zero line",
    Phasicity.MONOPHASIC.value: "monophasic: stays on one side of it",
}
RESISTANCES = {one.value: one.value for one in Resistance}
MODIFIERS = {one.value: one.value.replace("_", " ") for one in Modifier}
CATEGORIES = {str(number): words for number, words in CATEGORY_WORDS.items()}
STAGES = {one.value: one.value for one in Fontaine}
GRADES = {str(number): f"{grade}: {contour}" for number, (grade, contour) in CONTOURS.items()}


def _exercise() -> tuple[Ask, ...]:
    head = "The exercise"
    asks = [
        Ask("protocol", "what was done", "choice", head, choices=PROTOCOLS),
        Ask("speed_kmh", "speed", "number", head, unit="km/h", limits=SPEED),
        Ask("grade_percent", "slope", "number", head, unit="%", limits=GRADE),
        Ask("duration", "time walked", "duration", head, unit="min"),
        Ask("completed", "to its planned end", "choice", head, choices=YES_NO),
        Ask("symptom", "symptom", "text", head),
        Ask("symptom_at", "first felt after", "duration", head, unit="min"),
        Ask("arm_side", "arm, if not the higher", "choice", head, choices=SIDE_CHOICES, optional=True),
        *(
            Ask(
                f"{side}.artery", f"{side.word} artery, if not the higher", "choice", head,
                choices=ARTERIES, parts=ANKLE_SITES, optional=True,
            )
            for side in Side
        ),
        *_moment("rest", "At rest, if taken again", optional=True),
    ]  # fmt: skip
    for number in range(1, TIMES + 1):
        group = f"After exercise, reading {number}"
        asks.append(Ask(f"after.{number}.time", "time since the end", "duration", group, unit="min"))
        asks += _moment(f"after.{number}", group)
    return tuple(asks)


def _moment(name: str, group: str, *, optional: bool = False) -> tuple[Ask, ...]:
    return (
        Ask(
            f"{name}.arm", "arm", "pressure", group,
            unit="mmHg", parts=(Site.ARM,), cuff=True, optional=optional,
        ),
        *(
            Ask(
                f"{name}.{side}", f"{side.word} ankle", "pressure", group,
                unit="mmHg", parts=ANKLE_SITES, cuff=True, optional=optional,
            )
            for side in Side
        ),
    )  # fmt: skip


def _segments(cuffs: int) -> tuple[Ask, ...]:
    arm = Ask(
        "arm", "arm, if taken again", "pressure", "Arm",
        unit="mmHg", parts=(Site.ARM,), cuff=True, optional=True,
    )  # fmt: skip
    return (
        arm,
        *(
            Ask(
                f"{side}.{cuff}", cuff.words, "pressure", f"{side.word} leg",
                side=side, unit="mmHg", parts=(cuff,), cuff=True,
            )
            for side in Side
            for cuff in CUFFS[cuffs]
        ),
    )  # fmt: skip


def _waveforms() -> tuple[Ask, ...]:
    asks: list[Ask] = []
    for artery, parts in WAVEFORM_ARTERIES.items():
        for side in Side:
            group = f"{side.word} {artery.replace('_', ' ')}"
            for name, label, kind, choices in (
                ("word", "your own word", "text", {}),
                ("direction", "direction", "choice", DIRECTIONS),
                ("phasicity", "phasicity", "choice", PHASICITIES),
                ("resistance", "resistance", "choice", RESISTANCES),
                ("modifiers", "what else", "codes", MODIFIERS),
            ):
                asks.append(
                    Ask(
                        f"{side}.{artery}.{name}",
                        label,
                        kind,  # type: ignore[arg-type]
                        group,
                        side,
                        choices=choices,
                        parts=parts,
                        told="measurer's word" if name == "word" else "",
                    )
                )
    return tuple(asks)


def _pulse_volume() -> tuple[Ask, ...]:
    return tuple(
        Ask(
            f"{side}.{place}", place, "choice", f"{side.word} leg",
            side=side, choices=GRADES, parts=parts, cuff=True,
        )
        for side in Side
        for place, parts in PULSE_VOLUME_PLACES.items()
    )  # fmt: skip


def _oxygen() -> tuple[Ask, ...]:
    head = "Reference and probe"
    asks = [
        Ask("reference_site", "where the reference probe is", "text", head, told="reference probe"),
        Ask("reference", "reference", "number", head, unit="mmHg", limits=OXYGEN_MMHG),
        Ask("probe_celsius", "probe", "number", head, unit="°C", limits=PROBE),
    ]
    for side in Side:
        group = f"{side.word} leg"
        asks += [
            Ask(
                f"{side}.{place}", place.replace("_", " "), "number", group,
                side=side, unit="mmHg", limits=OXYGEN_MMHG, parts=parts,
            )
            for place, parts in OXYGEN_PLACES.items()
        ]  # fmt: skip
        asks += [
            Ask(f"{side}.oedema", "swollen at the probe", "yes", group, side=side),
            Ask(f"{side}.cellulitis", "infected at the probe", "yes", group, side=side),
        ]
    return tuple(asks)


def _category() -> tuple[Ask, ...]:
    return tuple(
        ask
        for side in Side
        for ask in (
            Ask(f"{side}.rutherford", "Rutherford category", "choice", f"{side.word} leg", side,
                choices=CATEGORIES),
            Ask(f"{side}.fontaine", "Fontaine stage", "choice", f"{side.word} leg", side, choices=STAGES),
            Ask(f"{side}.pain_free_m", "walks free of pain", "number", f"{side.word} leg", side, unit="m",
                limits=PAIN_FREE_M),
        )
    )  # fmt: skip


ASKS: Mapping[str, Mapping[str, Ask]] = {
    test: {ask.name: ask for ask in asks}
    for test, asks in {
        FurtherTest.EXERCISE.value: _exercise(),
        FurtherTest.SEGMENTS_4.value: _segments(4),
        FurtherTest.SEGMENTS_3.value: _segments(3),
        FurtherTest.WAVEFORMS.value: _waveforms(),
        FurtherTest.PULSE_VOLUME.value: _pulse_volume(),
        FurtherTest.OXYGEN.value: _oxygen(),
        FurtherTest.CATEGORY.value: _category(),
    }.items()
}


def further_test(name: str) -> FurtherTest | None:
    return FurtherTest(name) if name in FurtherTest.values else None


def tests_behind(measure: str) -> tuple[FurtherTest, ...]:
    """The tests a finding comes from, () for a finding of the resting pressures; either set of cuffs."""
    for mark, tests in _MEASURES.items():
        if measure == mark or (mark.startswith("_") and measure.endswith(mark)):
            return tests
        if mark.endswith("_") and measure.startswith(mark):
            return tests
    return ()


_SEGMENTAL = (FurtherTest.SEGMENTS_4, FurtherTest.SEGMENTS_3)
_MEASURES: Mapping[str, tuple[FurtherTest, ...]] = {
    "post_exercise_index": (FurtherTest.EXERCISE,),
    "exercise_drop": (FurtherTest.EXERCISE,),
    "exercise_ankle_fall": (FurtherTest.EXERCISE,),
    "exercise_test": (FurtherTest.EXERCISE,),
    "recovery_time": (FurtherTest.EXERCISE,),
    "thigh_index": _SEGMENTAL,
    "gradient_": _SEGMENTAL,
    "side_difference_": _SEGMENTAL,
    "inflow_pattern": _SEGMENTAL,
    "_waveform": (FurtherTest.WAVEFORMS,),
    "_pulse_volume": (FurtherTest.PULSE_VOLUME,),
    "_oxygen_pressure": (FurtherTest.OXYGEN,),
    "_regional_perfusion_index": (FurtherTest.OXYGEN,),
    "rutherford_category": (FurtherTest.CATEGORY,),
}
