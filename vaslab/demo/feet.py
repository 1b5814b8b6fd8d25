"""How a reading is invented: what is typed at arms and feet of given pressures, scattered as by hands."""

from collections.abc import Iterable
from dataclasses import replace
from random import Random

from vaslab.demo.staff import ON_CALL
from vaslab.demo.story import ToldTo, Visit

STIFF = "*250"
YEARS_8 = 404  # weeks: the first visit of the oldest stories
# From here on a foot may raise a slip of urgency; where none was raised nobody is told.
LOW_TOE, LOW_ANKLE = 45, 75
# By how much a place differs from one day to another, in mmHg (invented).
ARM_SD, ANKLE_SD, TOE_SD = 5, 7, 8
BY_TELEPHONE = ToldTo(
    ON_CALL,
    "vascular surgeon on call",
    "01555 010 900",
    8,
    "side, toe and ankle pressures of today, and what is open",
    "Seen within the day at the hospital",
)


def arms(chance: Random, systolic: int, *, left: str = "") -> str:
    """First arm, other arm, first arm again; ``left`` is what is typed there where it is no pressure."""
    right = systolic + chance.randint(-4, 4)
    other = left or str(right + chance.randint(-5, 5))
    return f"{right} {other} {right + chance.randint(-3, 3)}"


def ankles(chance: Random, pressure: float) -> str:
    """Both arteries at about the pressure; above 246 mmHg neither can be occluded."""
    pt, dp = (round(pressure) + chance.randint(-5, 1), round(pressure) + chance.randint(-1, 5))
    return f"pt {pt if pt < 246 else STIFF} dp {dp if dp < 246 else STIFF}"


def toes(chance: Random, pressure: float, site: str = "t1") -> str:
    """Two readings one after the other."""
    first = round(pressure) + chance.randint(-3, 3)
    return f"{site} {first} {first + chance.choice((-2, -1, 1, 2))}"


def foot(chance: Random, ankle: float, toe: float, site: str = "t1") -> str:
    return f"{ankles(chance, ankle)} {toes(chance, toe, site)}"


def well(chance: Random, systolic: int) -> str:
    """A foot without arterial disease: both indices well within the normal range."""
    return foot(chance, systolic + 14, well_toe(systolic))


def well_toe(systolic: int) -> int:
    return round(systolic * 0.82)


def recall(chance: Random, first: int, every: int, last: int = 3) -> list[int]:
    """Weeks before today, the oldest first, about ``every`` weeks apart."""
    return [weeks + chance.randint(-2, 2) for weeks in range(first, last + 2, -every)]


def falling(start: float, end: float, steps: int) -> list[float]:
    """From start to end in even steps."""
    return [start + (end - start) * step / max(1, steps - 1) for step in range(steps)]


def warm(chance: Random) -> str:
    """Both toes in °C, warm enough to be compared."""
    return f"{chance.randint(302, 326) / 10} {chance.randint(302, 326) / 10}"


def lowest(text: str) -> tuple[int, int]:
    """The lowest ankle and toe pressure of what is typed at a foot; 300 where there is none."""
    found = {"ankle": 300, "toe": 300}
    site = ""
    for word in text.split():
        if word.isdecimal():
            found[site] = min(found[site], int(word))
        elif word[0].isalpha():
            site = "toe" if word[1:].isdecimal() else "ankle"
    return found["ankle"], found["toe"]


def urgent(feet: Iterable[str]) -> bool:
    """Whether somebody may have to be told of these feet on the day."""
    return any(ankle < LOW_ANKLE or toe < LOW_TOE for ankle, toe in map(lowest, feet))


def again(chance: Random, told: Visit, weeks: int, study: str) -> Visit:
    """The same feet some days later, every cuff laid again: as far apart as two such measurements are."""
    return replace(
        told,
        weeks=weeks,
        arms=_scattered(chance, told.arms, ARM_SD),
        right=_foot_again(chance, told.right),
        left=_foot_again(chance, told.left),
        toes_celsius=warm(chance),
        ends="reported",
        exercise=None,
        corrected=None,
        repeats=study,
    )


def _foot_again(chance: Random, typed: str) -> str:
    """Each artery and toe with a scatter of its own, which its repeats share."""
    words: list[str] = []
    moved = 0
    for word in typed.split():
        if word[0].isalpha():
            moved = round(chance.gauss(0, TOE_SD if word[1:].isdecimal() else ANKLE_SD))
        words.append(str(int(word) + moved) if word.isdecimal() else word)
    return " ".join(words)


def _scattered(chance: Random, typed: str, sd: float) -> str:
    moved = round(chance.gauss(0, sd))
    return " ".join(str(int(word) + moved) if word.isdecimal() else word for word in typed.split())


def visit(chance: Random, weeks: int, *, arms: str, right: str, left: str, **more: object) -> Visit:
    """A visit long reported; somebody was told on the day where it was urgent."""
    said: dict[str, object] = {
        "toes_celsius": warm(chance),
        "rest_minutes": chance.randint(10, 13),
        "ends": "reported",
        "told": BY_TELEPHONE if urgent((right, left)) else None,
        **more,
    }
    return Visit(weeks=weeks, arms=arms, right=right, left=left, **said)  # type: ignore[arg-type]
