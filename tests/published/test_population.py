"""The open population data, recomputed: National Health and Nutrition Examination Survey 1999-2002.

Read by path and never copied. What must come out stands in the README of the data.
"""

import csv
import io
import math
import os
from pathlib import Path

import pytest
from django.core.management import call_command

NAME = "population_ankle_arm_1999_2002.csv"
ELSEWHERE = Path(__file__).resolve().parents[3] / "shared" / "data"
# (row, side, ours, published): the 13 limbs, all of 1999-2000, whose published index breaks the rule.
OTHERWISE_PUBLISHED = {
    (74, "right", "1.21", "1.22"),
    (246, "left", "0.94", "0.95"),
    (516, "left", "1.03", "1.02"),
    (787, "left", "1.26", "1.25"),
    (1351, "right", "1.35", "1.36"),
    (1803, "left", "1.13", "1.14"),
    (1853, "left", "1.28", "1.27"),
    (2049, "left", "1.09", "1.07"),
    (2169, "right", "1.20", "1.21"),
    (2343, "right", "1.09", "1.10"),
    (2511, "right", "1.15", "1.16"),
    (2609, "right", "1.28", "1.27"),
    (2859, "left", "1.14", "1.15"),
}


@pytest.fixture(scope="module")
def people():
    path = Path(os.environ.get("VASLAB_OPEN_DATA", ELSEWHERE)) / NAME
    if not path.exists():
        pytest.skip(f"{NAME} is not here (VASLAB_OPEN_DATA names its folder)")
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def indices(people, tmp_path_factory):
    """The survey's means sent through the command, one row a person."""
    return through_the_command([survey_means(person) for person in people], tmp_path_factory)


@pytest.fixture(scope="module")
def indices_of_readings(people, tmp_path_factory):
    """The survey's single readings sent through the command."""
    return through_the_command([survey_readings(person) for person in people], tmp_path_factory)


def through_the_command(rows, tmp_path_factory):
    folder = tmp_path_factory.mktemp("survey")
    with (folder / "in.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    source, target = folder / "in.csv", folder / "out.csv"
    call_command("index_table", str(source), criteria="population-survey", out=target, stdout=io.StringIO())
    with target.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def survey_means(person):
    """One person of the survey in the columns of the command: one arm's mean, each posterior tibial mean."""
    side = arm_used(person)
    return {
        "exam_id": f"{person['cycle']}/{person['row']}",
        "first_arm": side,
        "arm_right": person["arm_mean_mmhg"] if side == "right" else "",
        "arm_left": person["arm_mean_mmhg"] if side == "left" else "",
        "right_pt": person["right_pt_mean_mmhg"],
        "left_pt": person["left_pt_mean_mmhg"],
    }


def survey_readings(person):
    """The same from the single readings: one arm twice, each posterior tibial twice."""
    side = arm_used(person)
    arms = {"arm_right": "", "arm_right_repeat": "", "arm_left": "", "arm_left_repeat": ""}
    arms[f"arm_{side}"], arms[f"arm_{side}_repeat"] = person["arm_1_mmhg"], person["arm_2_mmhg"]
    return {
        "exam_id": f"{person['cycle']}/{person['row']}",
        "first_arm": side,
        **arms,
        "right_pt": person["right_pt_1_mmhg"],
        "right_pt_repeat": person["right_pt_2_mmhg"],
        "left_pt": person["left_pt_1_mmhg"],
        "left_pt_repeat": person["left_pt_2_mmhg"],
    }


def arm_used(person):
    return {"1": "right", "2": "left"}.get(person["arm_used_code"], "right")


def published_limbs(people, indices):
    """(cycle, row, side, ours, published) of every limb with a published index."""
    return [
        (person["cycle"], int(person["row"]), side, found[f"{side}_abi"], person[f"{side}_abi_published"])
        for person, found in zip(people, indices, strict=True)
        for side in ("right", "left")
        if person[f"{side}_abi_published"]
    ]


def test_all_but_the_13_named_limbs_agree_with_the_published_index(people, indices):
    limbs = published_limbs(people, indices)

    differing = {limb[1:] for limb in limbs if limb[3] != limb[4]}

    assert len(people) == 6059
    assert len(limbs) == 9705
    assert differing == OTHERWISE_PUBLISHED
    assert len([limb for limb in limbs if limb[3] == limb[4]]) == 9692


def test_the_single_readings_give_the_same_but_for_the_people_whose_mean_is_not_theirs(
    people, indices, indices_of_readings
):
    """Rows 803, 2049 and 2068 of 1999-2000: a mean column is empty or is not the mean of its readings."""
    differing = {
        (person["cycle"], person["row"])
        for person, means, readings in zip(people, indices, indices_of_readings, strict=True)
        if (means["right_abi"], means["left_abi"]) != (readings["right_abi"], readings["left_abi"])
    }

    assert differing == {("1999-2000", "803"), ("1999-2000", "2049"), ("1999-2000", "2068")}


def test_every_limb_of_2001_2002_agrees(people, indices):
    limbs = [limb for limb in published_limbs(people, indices) if limb[0] == "2001-2002"]

    assert len(limbs) == 5200
    assert all(ours == published for *_, ours, published in limbs)


def test_no_pressure_of_the_survey_is_refused(indices):
    assert [row["error"] for row in indices if row["error"]] == []


def test_a_limb_without_a_published_index_gets_none(people, indices):
    invented = [
        (person["cycle"], person["row"], side)
        for person, found in zip(people, indices, strict=True)
        for side in ("right", "left")
        if found[f"{side}_abi"] and not person[f"{side}_abi_published"]
    ]

    assert invented == []


def test_limbs_at_or_below_0_90_and_above_1_40(people, indices):
    published = [float(limb[4]) for limb in published_limbs(people, indices)]

    assert len([index for index in published if index <= 0.90]) == 544
    assert len([index for index in published if index > 1.40]) == 100


def test_our_own_bands_hold_the_same_numbers_of_limbs(people, indices):
    """None of the 13 differing limbs crosses a limit, so the bands of the command must count the same."""
    bands = [row[f"{side}_abi_band"] for row in indices for side in ("right", "left")]

    assert len([band for band in bands if band.startswith("ABNORMAL")]) == 544
    assert bands.count("NON_COMPRESSIBLE") == 100


@pytest.mark.parametrize(
    ("first", "second", "count", "mean", "sd", "within", "apart_percent"),
    [
        ("arm_1_mmhg", "arm_2_mmhg", 2412, 1.895, 6.332, 4.672, 11.07),
        ("left_pt_1_mmhg", "left_pt_2_mmhg", 2139, 0.185, 6.392, 4.521, 8.37),
        ("right_pt_1_mmhg", "right_pt_2_mmhg", 2167, 0.514, 5.984, 4.246, 7.52),
    ],
)
def test_repeats_of_one_visit_differ_as_the_readme_says(
    people, first, second, count, mean, sd, within, apart_percent
):
    """The pooled noise of the criteria (arm 4.7, ankle 4.4) rests on these."""
    pairs = [float(p[first]) - float(p[second]) for p in people if p[first] and p[second]]
    average = sum(pairs) / len(pairs)

    assert len(pairs) == count
    assert average == pytest.approx(mean, abs=5e-4)
    assert math.sqrt(sum((d - average) ** 2 for d in pairs) / (len(pairs) - 1)) == pytest.approx(sd, abs=6e-4)
    assert math.sqrt(sum(d * d for d in pairs) / (2 * len(pairs))) == pytest.approx(within, abs=6e-4)
    assert 100 * sum(abs(d) > 10 for d in pairs) / len(pairs) == pytest.approx(apart_percent, abs=6e-3)
