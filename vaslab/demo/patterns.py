"""The plain courses of which the further people of the demonstration are made. Each is a function of chance.

A course gives what a story says beside who it is of. All pressures are invented; what they mean is left to
the service.
"""

from collections.abc import Callable, Mapping
from random import Random
from typing import Any

from vaslab.demo.feet import STIFF, YEARS_8, ankles, arms, falling, foot, recall, toes, visit, well, well_toe
from vaslab.demo.story import Corrected, Exercised, Fact, Looked, Visit, WoundTold

Course = dict[str, Any]


def normal_feet(chance: Random) -> Course:
    systolic = chance.randint(116, 134)
    visits = tuple(
        visit(
            chance,
            weeks,
            arms=arms(chance, systolic),
            right=well(chance, systolic),
            left=well(chance, systolic),
            indication="surveillance",
        )
        for weeks in recall(chance, YEARS_8 - chance.randint(0, 40), 52)
    )
    return {"about": "normal feet, yearly recall", "visits": visits}


def slow_decline(chance: Random) -> Course:
    side, systolic = _side(chance), chance.randint(134, 150)
    weeks = recall(chance, chance.randint(360, YEARS_8), 44)
    worse = zip(falling(136, 68, len(weeks)), falling(94, 46, len(weeks)), strict=True)
    visits = tuple(
        visit(
            chance,
            week,
            arms=arms(chance, systolic),
            **_two(side, foot(chance, ankle, toe), well(chance, systolic)),
            indication="claudication" if number < 2 else "surveillance",
        )
        for number, (week, (ankle, toe)) in enumerate(zip(weeks, worse, strict=True))
    )
    return {
        "about": f"slow decline of the {side.upper()} leg",
        "tobacco": "current",
        "diabetes": "no",
        "visits": visits,
    }


def stiff_ankles(chance: Random) -> Course:
    systolic, end = chance.randint(138, 152), chance.randint(56, 74)
    weeks = recall(chance, chance.randint(350, YEARS_8), 44)
    ankle, toe = falling(176, 268, len(weeks)), falling(94, end, len(weeks))
    visits = tuple(
        visit(
            chance,
            week,
            arms=arms(chance, systolic),
            right=foot(chance, ankle[number], toe[number]),
            left=foot(chance, ankle[number] + 8, toe[number] - 4),
        )
        for number, week in enumerate(weeks)
    )
    return {
        "about": "diabetes with stiff ankles: the toe is followed",
        "neuropathy": "yes",
        "visits": visits,
    }


def hallux_amputated(chance: Random) -> Course:
    return _amputated(chance, "toe", "hallux amputated, second toe from then on")


def forefoot_amputated(chance: Random) -> Course:
    return _amputated(chance, "transmetatarsal", "forefoot amputated: ankles only from then on")


def _amputated(chance: Random, level: str, about: str) -> Course:
    side, systolic = _side(chance), chance.randint(130, 146)
    before = [*recall(chance, chance.randint(370, YEARS_8), 50, last=200), 190]
    after = recall(chance, 158, 31)
    toe = falling(82, 52, len(before))
    visits: list[Visit] = []
    for number, week in enumerate([*before, *after]):
        worse = ankles(chance, systolic + 14)
        if week >= before[-1]:
            worse += f" {toes(chance, toe[number])}"
        elif level == "toe":
            worse += f" {toes(chance, 54, 't2')}"
        ulcer = week == before[-1]
        visits.append(
            visit(
                chance,
                week,
                arms=arms(chance, systolic),
                **_two(side, worse, well(chance, systolic)),
                indication="foot_ulcer" if ulcer else "high_risk_recall",
                indication_text=f"{side.upper()} hallux ulcer" if ulcer else "",
            )
        )
    facts = (
        Fact(
            side, "amputation", 176, level=level, toe=1 if level == "toe" else None, source="hospital letter"
        ),
    )
    wounds = (
        WoundTold(
            side,
            "toe_1_sole",
            192,
            looked=(
                Looked(191, "15x12", tissue="slough"),
                Looked(186, "18x14", depth="bone", tissue="slough", signs="swelling pus", redness_mm=30),
            ),
            until=176,
            how="amputated",
        ),
        WoundTold(side, "stump", 176, cause="after_surgery", looked=(Looked(175, "32x14"),), until=168),
    )
    return {"about": about, "neuropathy": "yes", "facts": facts, "wounds": wounds, "visits": tuple(visits)}


def dialysis(chance: Random) -> Course:
    systolic, fistula = chance.randint(146, 160), chance.randint(180, 260)
    weeks = recall(chance, chance.randint(350, YEARS_8), 46)
    ankle, toe = falling(170, 262, len(weeks)), falling(80, chance.randint(48, 56), len(weeks))
    visits = tuple(
        visit(
            chance,
            week,
            # The arm with the fistula is locked; in the week of the operation nobody is measured.
            arms=arms(chance, systolic, left="-arm_protected" if week < fistula else ""),
            right=foot(chance, ankle[number], toe[number]),
            left=foot(chance, ankle[number], toe[number] + 3),
            indication="surveillance",
        )
        for number, week in enumerate(weeks)
        if abs(week - fistula) > 2
    )
    facts = (
        Fact("left", "fistula", fistula, note="at the elbow", source="renal unit's letter"),
        Fact("", "dialysis", fistula - 9, source="renal unit's letter"),
    )
    return {
        "about": "dialysis: the LEFT arm with its fistula may not be used",
        "kidney_disease": "yes",
        "neuropathy": "yes",
        "referrer": "Renal unit, Fenmarsh",
        "facts": facts,
        "visits": visits,
    }


def angioplasty(chance: Random) -> Course:
    return _opened(
        chance,
        "angioplasty, and the toe recovers",
        approach="endovascular",
        vessels=chance.choice(("anterior_tibial", "superficial_femoral popliteal", "posterior_tibial pedal")),
        device=chance.choice(("none", "stent")),
    )


def bypass(chance: Random) -> Course:
    return _opened(
        chance,
        "bypass with a vein, and the toe recovers",
        approach="open",
        vessels="common_femoral popliteal",
        device="vein_graft",
    )


def _opened(chance: Random, about: str, **treated: Any) -> Course:
    side, systolic = _side(chance), chance.randint(136, 150)
    week = chance.randint(120, 200)
    before = [*recall(chance, chance.randint(360, YEARS_8), 54, last=week + 30), week + 3]
    after = [week - 6, week - 26, *recall(chance, week - 52, 40)]
    ankle = falling(124, 76, len(before)) + falling(118, 108, len(after))
    toe = falling(78, 36, len(before)) + falling(62, 55, len(after))
    visits: list[Visit] = []
    for number, weeks in enumerate([*before, *after]):
        ulcer, since = weeks == week + 3, weeks < week
        visits.append(
            visit(
                chance,
                weeks,
                arms=arms(chance, systolic),
                **_two(side, foot(chance, ankle[number], toe[number]), well(chance, systolic)),
                indication="foot_ulcer" if ulcer else "after_revascularisation" if since else "claudication",
                indication_text=f"{side.upper()} ulcer between the toes" if ulcer else "",
            )
        )
    facts = (Fact(side, "revascularisation", week, source="hospital letter", **treated),)
    wounds = (
        WoundTold(
            side,
            "toe_2_top",
            week + 5,
            cause="ischaemic",
            looked=(Looked(week + 3, "9x7", tissue="slough"), Looked(week - 6, "5x4")),
            until=week - 20,
            note="between the toes",
        ),
    )
    return {
        "about": about,
        "tobacco": "stopped",
        "facts": facts,
        "wounds": wounds,
        "visits": tuple(visits),
    }


def falls_after_exercise(chance: Random) -> Course:
    side, systolic = _side(chance), chance.randint(126, 138)
    weeks = recall(chance, chance.randint(330, 380), 60)
    visits = tuple(
        visit(
            chance,
            week,
            arms=arms(chance, systolic),
            **_two(side, foot(chance, systolic + 9, well_toe(systolic)), well(chance, systolic)),
            indication="claudication",
            exercise=walked(chance, side, systolic) if number in (1, len(weeks) - 1) else None,
        )
        for number, week in enumerate(weeks)
    )
    return {
        "about": "ankle pressure normal at rest, falls after exercise",
        "diabetes": "no",
        "tobacco": "stopped",
        "visits": visits,
    }


def walked(chance: Random, side: str, systolic: int) -> Exercised:
    """The side's ankle falls by half and is back after ten minutes."""
    after = []
    for minutes, left in ((1, 0.5), (3, 0.68), (10, 0.96)):
        arm = systolic + 18 - minutes
        fallen, other = round(systolic * left) + chance.randint(-3, 3), arm + 6
        feet = (fallen, other) if side == "right" else (other, fallen)
        after.append(f"{minutes} {arm} {feet[0]} {feet[1]}")
    return Exercised(
        after=tuple(after), walked="5", symptom=f"{side.upper()} calf pain", symptom_at=chance.choice("23")
    )


def swollen(chance: Random) -> Course:
    side, systolic = _side(chance), chance.randint(124, 140)
    weeks = recall(chance, chance.randint(290, 350), 44)
    visits = tuple(
        visit(
            chance,
            week,
            arms=arms(chance, systolic),
            **_two(side, toes(chance, well_toe(systolic)), toes(chance, well_toe(systolic))),
            exam_type="toe_only",
            indication="before_compression",
        )
        for week in weeks
    )
    facts = (Fact(side, "oedema", weeks[0] + 1, note="to the knee, worse in the evening"),)
    return {
        "about": "swollen leg: toes only, before compression",
        "diabetes": "no",
        "facts": facts,
        "visits": visits,
    }


REASONS = (
    "toe_too_short",
    "dressing_not_removed",
    "pain",
    "signal_unreadable",
    "refused",
    "unable_to_keep_still",
    "equipment_fault",
)


def readings_missing(chance: Random) -> Course:
    side, systolic = _side(chance), chance.randint(126, 144)
    weeks = recall(chance, chance.randint(300, 390), 52)
    first = chance.randrange(len(REASONS))
    visits = tuple(
        visit(
            chance,
            week,
            arms=arms(chance, systolic),
            **_two(
                side,
                f"{ankles(chance, systolic - 4)} "
                + (f"t1 -{REASONS[(first + number) % len(REASONS)]}" if number % 2 else toes(chance, 84)),
                well(chance, systolic),
            ),
        )
        for number, week in enumerate(weeks)
    )
    return {"about": "toes not always obtained, each with its reason", "neuropathy": "yes", "visits": visits}


def value_corrected(chance: Random) -> Course:
    systolic = chance.randint(122, 136)
    weeks = recall(chance, chance.randint(260, 390), 52)
    slip = len(weeks) - 2
    corrected = Corrected(
        "left t1 1",
        "105",
        "the monitor showed kPa: 14 kPa are 105 mmHg",
        in_error="14 was kPa, typed as mmHg; the foot is well supplied",
    )
    visits = tuple(
        visit(
            chance,
            week,
            arms=arms(chance, systolic),
            right=well(chance, systolic),
            left=f"pt {systolic + 9} dp {systolic + 12} t1 14 106"
            if number == slip
            else well(chance, systolic),
            corrected=corrected if number == slip else None,
            told=None,
        )
        for number, week in enumerate(weeks)
    )
    return {"about": "a value in kPa typed as mmHg, and corrected", "visits": visits}


def hardly_bleeding_toes(chance: Random) -> Course:
    """Stiff at the ankle and low at the toe from the first day, under watch without a wound."""
    systolic = chance.randint(134, 148)
    weeks = recall(chance, chance.randint(200, 300), 30)
    toe = falling(56, 48, len(weeks))
    visits = tuple(
        visit(
            chance,
            week,
            arms=arms(chance, systolic),
            right=f"pt {STIFF} dp {STIFF} {toes(chance, toe[number])}",
            left=f"pt {STIFF} dp {STIFF} {toes(chance, toe[number] + 4)}",
            indication="surveillance",
        )
        for number, week in enumerate(weeks)
    )
    return {
        "about": "stiff ankles and low toes, watched without a wound",
        "kidney_disease": "yes",
        "visits": visits,
    }


# How many people are told of each course.
COURSES: Mapping[Callable[[Random], Course], int] = {
    normal_feet: 8,
    slow_decline: 5,
    stiff_ankles: 6,
    hallux_amputated: 3,
    forefoot_amputated: 1,
    dialysis: 4,
    angioplasty: 4,
    bypass: 1,
    falls_after_exercise: 2,
    swollen: 3,
    readings_missing: 3,
    value_corrected: 1,
    hardly_bleeding_toes: 1,
}


def _side(chance: Random) -> str:
    return chance.choice(("right", "left"))


def _two(side: str, worse: str, other: str) -> dict[str, str]:
    return {"right": worse, "left": other} if side == "right" else {"right": other, "left": worse}
