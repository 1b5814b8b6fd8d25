"""A figure as a file, SVG and PNG: whose it is, its caption, nothing over a mark, and a line in the trail."""

import io
from dataclasses import replace
from datetime import UTC, datetime
from xml.etree import ElementTree

import pytest
from PIL import Image

from access.models import TrailRow
from exams.identity.services import enter_under_right_person
from reports.timeline.figure import drawn
from reports.timeline.places import Taken, free_height, names_beside
from reports.timeline.png import lacks_letters, png_of
from reports.timeline.series import day
from reports.timeline.svg import picture_of
from reports.timeline.years import InError
from tests.build import new_patient, whole_exam
from tests.timeline.made_up import ANKLE, both_feet, limb, point

SAID = {"right": "Toe pressure: 3 values.", "left": "Toe pressure: no value in 1 exam."}
STRANGER = InError(9, datetime(2023, 3, 1, 9, tzinfo=UTC), "the exam of another Ivy (Tess Tern, 2 Mar 2023)")


def words_of(years, key="pressures", head=()) -> list[str]:
    return [text.words for text in picture_of(drawn(years), key, head, SAID).texts]


def text_of(svg: bytes) -> str:
    return " ".join(" ".join(ElementTree.fromstring(svg).itertext()).split())  # noqa: S314


def image(svg: str) -> Image.Image:
    return Image.open(io.BytesIO(png_of(svg))).convert("L")


def test_it_says_whose_it_is_and_what_it_shows_of_each_limb():
    words = words_of(both_feet(), head=["Ivy Sampleton, born 1 Jan 1950"])

    assert "Ivy Sampleton, born 1 Jan 1950" in words
    assert [one for one in words if one in ("RIGHT", "LEFT")] == ["RIGHT", "LEFT"]
    assert [one for one in words if one in SAID.values()] == list(SAID.values())


def test_every_number_of_a_scale_has_as_many_decimals_as_the_next():
    assert {"0.8", "1.0", "1.2"} <= set(words_of(both_feet(), "indices"))
    assert {"0", "20", "100"} <= set(words_of(both_feet()))


def test_a_break_an_open_top_and_an_event_are_told_in_it():
    words = " ".join(words_of(both_feet()))

    assert "//1" in words
    assert "could not be occluded" in words
    assert "hallux amputation, 3 Feb 2025" in words


def test_an_exam_entered_in_error_is_a_stub_with_words_and_changes_no_line():
    true = both_feet()
    data = drawn(replace(true, in_error=(STRANGER,)))

    panels = [one for figure in data["figures"] for one in figure["panels"]]
    assert [one["in_error"][0]["at"] for one in panels] == ["2023-03-01T09:00"] * 4
    assert [{**one, "in_error": []} for one in panels] == [
        one for figure in drawn(true)["figures"] for one in figure["panels"]
    ]
    told = "Exam of 1 Mar 2023 entered in error, counted nowhere: the exam of another Ivy (Tess"
    assert any(
        told.startswith(one) for one in words_of(replace(true, in_error=(STRANGER,))) if "error," in one
    )


def test_the_number_of_a_break_between_two_exams_a_week_apart_stands_clear_of_both():
    near = [
        point(3, "80", "6")._replace(exam_id=8),
        point(3, "70", "6", how="second toe")._replace(exam_id=9),
    ]
    near[1] = near[1]._replace(at=near[1].at.replace(day=19))
    data = drawn(replace(both_feet(), limbs=(limb("RIGHT", (ANKLE, near)), limb("LEFT"))))

    (gap,) = data["figures"][0]["panels"][0]["series"][0]["breaks"]
    assert not 62 <= gap["height"] <= 88


def test_a_number_stays_where_it_belongs_while_nothing_is_in_its_way():
    assert free_height(0.5, 0.4, [Taken(0.7, 0.3, 0.5)]) == 0.4
    assert free_height(0.5, 0.4, [Taken(0.51, 0.0, 1.0)]) == 0.4


def test_names_of_two_near_limits_stand_one_under_the_other_and_apart():
    upper, lower = names_beside([(104, "lower"), (100, "upper limit")], top=20, line=14, letters=18)

    assert lower.lines[0][0] - upper.lines[0][0] == 14 + 7


def test_a_png_is_the_same_picture_at_twice_the_size_written_in_the_packaged_font():
    paper = "<rect width='90' height='50' fill='#fff'/>"
    text = "<text x='5' y='40' font-family=\"'Source Sans 3', sans-serif\" font-size='30'>toe</text>"
    svg = "<svg xmlns='http://www.w3.org/2000/svg' width='90' height='50'>{}</svg>"

    written, empty = image(svg.format(paper + text)), image(svg.format(paper))

    assert written.size == (180, 100)
    assert written.getextrema() == (0, 255)
    assert empty.getextrema() == (255, 255)


def test_a_name_in_letters_that_the_font_lacks_is_told_of():
    assert not lacks_letters(["Źdźbło", "Ωμέγα", "Жук"])
    assert lacks_letters(["Ivy 漢"])


@pytest.mark.django_db
class TestFiles:
    @pytest.fixture
    def ivy(self, measurer):
        return new_patient(measurer, given_name="Ivy", family_name="Sampleton")

    def test_the_figure_is_a_well_formed_picture_with_the_name_on_it(self, client_as, measurer, ivy):
        whole_exam(measurer, ivy)

        answer = client_as(measurer).get(f"/patients/{ivy.pk}/timeline-indices.svg")

        assert answer["Content-Type"] == "image/svg+xml"
        text = text_of(answer.content)
        assert "Ivy Sampleton" in text
        assert "Ankle-brachial index: 1 value, newest" in text
        assert "Invented people" in text

    def test_the_png_is_a_picture_of_the_same_and_leaves_its_line_in_the_trail(
        self, client_as, measurer, ivy
    ):
        whole_exam(measurer, ivy)

        answer = client_as(measurer).get(f"/patients/{ivy.pk}/timeline-pressures.png")

        assert answer["Content-Type"] == "image/png"
        assert "limb-timeline-" in answer["Content-Disposition"]
        assert Image.open(io.BytesIO(answer.content)).size[0] == 2 * 1300
        row = TrailRow.objects.order_by("pk").last()
        assert (row.action, "pressures" in row.details_json) == ("limb timeline figure taken as PNG", True)

    def test_an_exam_of_somebody_else_stays_as_a_stub_in_figure_table_and_csv(
        self, client_as, measurer, reporter, ivy
    ):
        whole_exam(measurer, ivy, right_hallux=70)
        wrong = whole_exam(measurer, ivy, right_hallux=21)
        enter_under_right_person(
            exam=wrong, patient=new_patient(measurer), because="the exam of another Ivy", by=reporter
        )
        client = client_as(measurer)

        page = client.get(f"/patients/{ivy.pk}/timeline/").content.decode()
        table = client.get(f"/patients/{ivy.pk}/timeline.csv").content.decode()
        figure = client.get(f"/patients/{ivy.pk}/timeline-pressures.svg").content

        told = "entered in error, counted nowhere: the exam of another Ivy"
        assert page.count(f'colspan="4">Exam of {day(wrong.first_inflation_at)} {told}') == 2
        assert "21 mmHg" not in page
        assert table.count(told) == 2 * 4
        assert "Toe pressure: 1 value, newest 70 mmHg" in text_of(figure)

    @pytest.mark.parametrize("kind", ["svg", "png"])
    def test_an_unknown_figure_is_not_found(self, client_as, measurer, ivy, kind):
        assert client_as(measurer).get(f"/patients/{ivy.pk}/timeline-waves.{kind}").status_code == 404
