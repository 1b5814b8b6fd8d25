"""What may stand in a conclusion, given what was measured."""

import pytest

from exams.hemodynamics import (
    Context,
    Interpretation,
    LimbFacts,
    MeasuredExam,
    MeasuredLimb,
    Outcome,
    Side,
    Site,
    SiteReading,
    conclusion_draft,
    interpret,
    load_criteria,
    pressure,
)
from reports.documents.assemble import statements
from reports.documents.forms import ConclusionForm, remarks

UNKNOWN = Context()
SAFE = Context(diabetes="no", kidney_disease="no")
DIABETES = Context(diabetes="yes", kidney_disease="no")
KIDNEY_DISEASE = Context(diabetes="no", kidney_disease="yes")


def limb(
    side: Side, ankle: SiteReading | None, toe_mmhg: int | None = None, arm_mmhg: int = 140
) -> MeasuredLimb:
    return MeasuredLimb(
        side,
        arm=(pressure(arm_mmhg),),
        ankle={Site.POSTERIOR_TIBIAL: (ankle,), Site.DORSALIS_PEDIS: (ankle,)} if ankle else {},
        toes={Site.TOE_1: (pressure(toe_mmhg),)} if toe_mmhg else {},
    )


def found(ankle: SiteReading, toe_mmhg: int | None = None, context: Context = UNKNOWN) -> Interpretation:
    """Both limbs alike."""
    exam = MeasuredExam(limb(Side.RIGHT, ankle, toe_mmhg), limb(Side.LEFT, ankle, toe_mmhg))
    return interpret(exam, load_criteria("acc-aha-2024"), context)


def refusal(conclusion: str, interpretation: Interpretation) -> str:
    form = ConclusionForm({"conclusion": conclusion}, interpretation=interpretation)
    return " ".join(str(words) for words in form.errors.get("conclusion", []))


NORMAL_ANKLE = pressure(150)
LOW_ANKLE = pressure(70)
STIFF_ANKLE = SiteReading(Outcome.NOT_OCCLUDABLE, 500)
EXCLUDED = "RIGHT and LEFT: arterial disease excluded."


@pytest.mark.parametrize(
    ("ankle", "context"),
    [
        (NORMAL_ANKLE, DIABETES),
        (NORMAL_ANKLE, KIDNEY_DISEASE),
        (NORMAL_ANKLE, UNKNOWN),
        (STIFF_ANKLE, SAFE),
    ],
    ids=["diabetes", "kidney disease", "neither is known", "stiff ankle"],
)
def test_excluded_may_not_stand_where_only_a_normal_or_high_ankle_speaks_for_it(ankle, context):
    words = refusal(EXCLUDED, found(ankle, context=context))

    assert "“excluded” may not stand here: no toe-brachial index of RIGHT and LEFT" in words
    assert "Your text is kept" in words


@pytest.mark.parametrize("claim", ["Disease EXCLUDED, RIGHT and LEFT.", "RIGHT and LEFT: ruled out."])
def test_the_claim_is_refused_in_any_case_and_in_its_other_wording(claim):
    assert "may not stand here" in refusal(claim, found(NORMAL_ANKLE, context=DIABETES))


def test_the_wording_that_the_software_drafts_itself_is_never_refused():
    interpretation = found(NORMAL_ANKLE, context=DIABETES)

    assert "cannot be ruled out" in conclusion_draft(interpretation)
    assert refusal(conclusion_draft(interpretation), interpretation) == ""


@pytest.mark.parametrize(
    "interpretation",
    [
        found(NORMAL_ANKLE, toe_mmhg=120, context=DIABETES),
        found(NORMAL_ANKLE, context=SAFE),
        found(LOW_ANKLE, context=DIABETES),
    ],
    ids=["toe known", "neither diabetes nor kidney disease", "low ankle"],
)
def test_elsewhere_the_word_may_stand(interpretation):
    assert refusal(EXCLUDED, interpretation) == ""


def test_a_limb_spoken_of_without_a_value_and_a_measured_limb_left_out_are_remarked():
    exam = MeasuredExam(limb(Side.RIGHT, NORMAL_ANKLE, 120), MeasuredLimb(Side.LEFT))
    right_only = interpret(exam, load_criteria("acc-aha-2024"), Context())

    assert remarks("Left toe reduced.", right_only) == (
        "RIGHT was measured, but the conclusion does not speak of it.",
        "The conclusion speaks of LEFT, but no pressure of that limb has a value.",
    )
    assert remarks("RIGHT: no sign of disease.", right_only) == ()


def test_a_limb_without_any_signal_counts_as_measured():
    silent = found(SiteReading(Outcome.NO_SIGNAL))

    assert remarks("RIGHT and LEFT: no flow found, urgent.", silent) == ()


def test_a_conclusion_longer_than_is_kept_is_refused_with_its_length():
    assert "longer than 4000 characters" in refusal("RIGHT LEFT " * 400, found(NORMAL_ANKLE, 120))


def test_what_contradicts_the_findings_of_a_limb_is_remarked_and_the_draft_never_is():
    wound = Context(left=LimbFacts(open_wound=True))
    exam = MeasuredExam(limb(Side.RIGHT, NORMAL_ANKLE, 120), limb(Side.LEFT, LOW_ANKLE, 24))
    read = interpret(exam, load_criteria("acc-aha-2024"), wound)

    assert remarks("RIGHT: no sign of disease, toe 120 mmHg. LEFT: normal arteries, toe 99 mmHg.", read) == (
        "LEFT is urgent by the findings, but the conclusion does not say so.",
        "The conclusion calls LEFT normal; the findings say: arterial disease; ankle and toe agree.",
        "99 mmHg, written of LEFT, is no value of this exam.",
    )
    for one in (read, found(STIFF_ANKLE, 120), found(STIFF_ANKLE), found(NORMAL_ANKLE, 60), found(LOW_ANKLE)):
        assert remarks(conclusion_draft(one), one) == ()


def test_a_sentence_changed_under_the_name_of_its_limb_is_still_held_against_the_findings():
    """The draft names a limb once: what follows, up to the other limb, is of it."""
    read = found(LOW_ANKLE, 40)
    draft = conclusion_draft(read)

    changed = draft.replace(
        "Ankle-brachial index 0.50", "The arteries are normal, ankle-brachial index 0.50", 1
    )

    assert remarks(changed, read) == (
        "The conclusion calls RIGHT normal; the findings say: arterial disease; ankle and toe agree.",
    )


def test_a_sentence_kept_from_the_draft_is_not_printed_a_second_time_and_one_left_out_of_a_limb_is():
    read = found(STIFF_ANKLE, 60)
    cold = "Toe skin temperature not recorded: a cold toe reads low."
    right, left, _ = conclusion_draft(read).split("\n")

    assert f"RIGHT t{cold[1:]}" in [one.words for one in statements(read)]
    assert not [one for one in statements(read, f"{right}\n{left}") if "skin" in one.words]
    assert [
        one.words for one in statements(read, f"{right}\n{left.replace(cold, '')}") if "skin" in one.words
    ] == [f"LEFT t{cold[1:]}"]
