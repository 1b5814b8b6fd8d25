"""The WIfI ischaemia grade by the published precedence, with the method that decided and what others say.

Source: WIFI14 (clinical reference 3.1): toe, then transcutaneous oxygen, then a flat forefoot pulse volume,
then the worse of ankle pressure and ankle-brachial index. Bands of toe and ankle are those of the criteria.
"""

from __future__ import annotations

from collections.abc import Sequence

from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.words import sentence
from exams.hemodynamics.wounds.graded import Fact, Grade, IschaemiaGrade, MethodGrade
from exams.hemodynamics.wounds.possible import grade
from exams.hemodynamics.wounds.sources import MEMORY, SECONDARY

METHOD_WORDS = {
    "toe": "toe pressure",
    "oxygen": "transcutaneous oxygen",
    "pulse_volume": "forefoot pulse volume",
    "ankle": "ankle pressure and ankle-brachial index",
}
PRECEDENCE = tuple(METHOD_WORDS)
ISCHAEMIA_WORDS = {
    0: "WIfI ischaemia 0",
    1: "WIfI ischaemia 1",
    2: "WIfI ischaemia 2",
    3: "WIfI ischaemia 3",
}
# Below so many hundredths of the ankle-brachial index the grade holds, the gravest first; else grade 0.
INDEX_BELOW = ((40, 3), (60, 2), (80, 1))
UNRELIABLE_ABOVE_HUNDREDTHS = 130
ASK = "toe pressure, or transcutaneous oxygen where no toe can be measured"
BOUNDARY_NOTE = "An ankle pressure of 70 mmHg stands in two published rows; it is read as grade 1."
SET_ASIDE_NOTE = "WIfI sets an ankle-brachial index above 1.30 aside, also where the criteria call it normal."
IN_DOUBT = "an ankle does not reassure unless there is neither diabetes nor kidney disease"
WORST_REASSURING = 1


def index_grade(hundredths: int) -> int:
    """WIfI grade of an ankle-brachial index in hundredths; not for one above 1.30."""
    return next((found for below, found in INDEX_BELOW if hundredths < below), 0)


def ankle_method(
    ankle_grade: int | None,
    index_hundredths: int | None,
    shown: str,
    *,
    stiff: bool,
    mixed: bool,
    may_mislead: bool,
) -> MethodGrade:
    """What the ankle grades: the worse of pressure and index, set aside if stiff, never reassuring in doubt.

    Parameters
    ----------
    ankle_grade, index_hundredths : int or None
        By the bands of the criteria; None where there is none.
    stiff : bool
        It could not be occluded, or the criteria call its index non-compressible.
    mixed : bool
        One of two arteries could not be occluded: it may raise the grade, not reassure.
    may_mislead : bool
        Diabetes or kidney disease is yes or unknown.
    """
    words = METHOD_WORDS["ankle"]

    def not_graded(why: str) -> MethodGrade:
        return MethodGrade("ankle", words, NotStated(why), shown)

    if stiff or (index_hundredths is not None and index_hundredths > UNRELIABLE_ABOVE_HUNDREDTHS):
        return not_graded("ankle arteries too stiff: set aside")
    grades = [] if ankle_grade is None else [ankle_grade]
    grades += [] if index_hundredths is None else [index_grade(index_hundredths)]
    if not grades:
        return not_graded("one ankle artery could not be occluded" if mixed else "not measured")
    found = max(grades)
    if found <= WORST_REASSURING and mixed:
        return not_graded("one ankle artery could not be occluded: the other does not reassure")
    if found <= WORST_REASSURING and may_mislead:
        return not_graded(
            "with diabetes or kidney disease, or not known to be without, an ankle does not reassure"
        )
    return MethodGrade("ankle", words, found, shown)


def ischaemia_grade(
    methods: Sequence[MethodGrade], *, boundary: bool = False, set_aside: bool = False, cold: bool = False
) -> IschaemiaGrade:
    """The grade by the first method of the precedence that has one.

    Parameters
    ----------
    methods : sequence of MethodGrade
        In any order; a method that is absent was not measured.
    boundary : bool
        The ankle pressure is exactly the one that two published rows name.
    set_aside : bool
        The index is above 1.30.
    cold : bool
        The toe was cold: a warm repeat may settle the grade.

    Returns
    -------
    IschaemiaGrade
        NotStated, and any of 0 to 3 possible, where no method may be used.
    """
    ordered = sorted(methods, key=lambda one: PRECEDENCE.index(one.method))
    graded = [one for one in ordered if not isinstance(one.grade, NotStated)]
    chosen = graded[0] if graded else None
    by_ankle = chosen is not None and chosen.method == "ankle"
    possible = (0, 1, 2, 3) if chosen is None or isinstance(chosen.grade, NotStated) else (chosen.grade,)
    flags = (["BOUNDARY"] if boundary and by_ankle else []) + (["SET_ASIDE"] if set_aside else [])
    notes = ([BOUNDARY_NOTE] if boundary else []) + ([SET_ASIDE_NOTE] if set_aside else [])
    if cold and chosen is not None and chosen.method == "toe":
        flags.append("COLD_TOE")
        notes.append("The toe was cold: a warm repeat may settle the grade.")
    made: Grade = grade(
        "wifi_ischaemia", possible, letter="I", words=ISCHAEMIA_WORDS,
        facts=[Fact(one.words, _told(one)) for one in ordered], missing=[ASK], flags=flags, notes=notes,
        rule=f"{chosen.words} decides" if chosen else "toe, oxygen, forefoot pulse volume, then ankle",
        source="WIFI14", status=SECONDARY if chosen and chosen.method == "toe" else MEMORY,
    )  # fmt: skip
    return IschaemiaGrade(made, chosen.method if chosen else "", tuple(ordered), _disagreement(graded))


def _told(method: MethodGrade) -> str:
    if isinstance(method.grade, NotStated):
        return f"{method.shown}: {method.grade.reason}" if method.shown else method.grade.reason
    return f"{method.shown}: grade {method.grade}"


def _disagreement(graded: Sequence[MethodGrade]) -> str:
    if not graded:
        return ""
    first, *others = graded
    apart = [one for one in others if one.grade != first.grade]
    if not apart:
        return ""
    told = "; ".join(f"{one.words} ({one.shown}) would grade {one.grade}" for one in apart)
    return sentence(f"{first.words} ({first.shown}) decides with grade {first.grade}; {told}")
