"""What the name of a dropped file says: proposed to a person, and nothing where it is not clear."""

import pytest

from exams.traces.matching import Match, match_name, next_attempt


@pytest.mark.parametrize(
    ("name", "match"),
    [
        ("right hallux.csv", Match("right", "toe_1")),
        ("R_toe1.edf", Match("right", "toe_1")),
        ("li_2nd-toe.csv", Match("left", "toe_2")),
        ("rechts Grosszehe.csv", Match("right", "toe_1")),
        ("links-Großzehe.csv", Match("left", "toe_1")),
        ("toe2 left.csv", Match("left", "toe_2")),
        ("ankle PT R.csv", Match("right", "posterior_tibial")),
        ("arm_left.csv", Match("left", "arm")),
        ("rightHallux.csv", Match("right", "toe_1")),
        ("LEFT BIG TOE.CSV", Match("left", "toe_1")),
        ("third toe, lt.csv", Match("left", "toe_3")),
        ("R toe IV.csv", Match("right", "toe_4")),
        ("rt_dorsalis_pedis.csv", Match("right", "dorsalis_pedis")),
        ("L dp.hea", Match("left", "dorsalis_pedis")),
        ("tibialis posterior re.csv", Match("right", "posterior_tibial")),
        ("left peroneal.csv", Match("left", "peroneal")),
        ("R_hallux_2.csv", Match("right", "toe_1", 2)),
        ("R_toe1_2.csv", Match("right", "toe_1", 2)),
        ("right toe 2 attempt 3.csv", Match("right", "toe_2", 3)),
        ("left hallux again.csv", Match("left", "toe_1", 2)),
        ("L hallux 2cuffs.csv", Match("left", "toe_1", technique="two_cuffs")),
        ("L hallux one cuff.csv", Match("left", "toe_1", technique="one_cuff_hand")),
        ("R PT doppler.csv", Match("right", "posterior_tibial", technique="doppler")),
    ],
)
def test_a_clear_name_is_proposed(name, match):
    assert match_name(name) == match


@pytest.mark.parametrize(
    "name",
    [
        "hallux.csv",  # which foot?
        "right_left_hallux.csv",
        "R-L comparison toe1.csv",
        "hallux re-test.csv",  # a test again, not a right foot
        "Lehmann hallux.csv",  # a name that begins with an L
        "trace0042 toe1.csv",
        "",
        "....",
    ],
)
def test_a_side_that_is_not_clear_is_never_guessed(name):
    assert match_name(name).side == ""


@pytest.mark.parametrize(
    "name", ["right ankle.csv", "right toe.csv", "R hallux and toe 2.csv", "right foot.csv", "R toe 7.csv"]
)
def test_a_site_that_is_not_clear_is_not_guessed_either(name):
    assert match_name(name) == Match("right")


@pytest.mark.parametrize("name", ["R hallux 2026-03-02.csv", "R hallux 0042.csv", "R hallux 10 3.csv"])
def test_a_date_or_a_running_number_is_no_attempt(name):
    assert match_name(name) == Match("right", "toe_1")


def test_the_next_attempt_is_the_first_one_free():
    assert [next_attempt(taken) for taken in ([], [1], [2], [1, 2], [1, 2, 3])] == [1, 2, 1, 3, 3]
