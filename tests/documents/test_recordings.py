"""The recordings behind the readings, in a report."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from exams.hemodynamics import READER_VERSION
from exams.traces.services.marks import ForSheet
from exams.visits.services import finish_measuring, reopen
from reports.documents import queries
from tests.build import exam_with
from tests.documents.make import correct, make
from tests.traces.made import read_recording
from tests.traces.test_marks import mark, moved

pytestmark = pytest.mark.django_db


class TestRecordings:
    """What a report shows of the recordings behind its readings."""

    @pytest.fixture
    def exam(self, measurer):
        """The toes of both feet read from recordings, RIGHT at 90 mmHg, LEFT put at 84."""
        exam = exam_with(measurer, exam_type="toe_only", arm_right=140, arm_left=138)
        mark(read_recording(measurer, exam), measurer)
        moved(read_recording(measurer, exam, side="left"), measurer, 84)
        finish_measuring(exam=exam, by=measurer)
        return exam

    def test_each_stands_with_its_mark_who_put_it_and_what_was_suggested(self, exam, measurer):
        right, left = make(exam, measurer).content["recordings"]

        assert (right["place"], right["shown"]) == ("RIGHT hallux", "90 mmHg")
        assert (left["place"], left["shown"]) == ("LEFT hallux", "84 mmHg")
        said = {fact["label"]: fact["words"] for fact in left["facts"]}
        assert said["Mark"] == "84 mmHg, good"
        assert said["Read by"].startswith("Mina Measurer, ")
        assert said["Read by"].endswith("; placed by the reader")
        assert said["Suggested"] == f"90 mmHg (86 to 95), by reader version {READER_VERSION}"
        assert left["sketch"]["sentence"].startswith(
            "Recording of LEFT hallux, light sensor, two cuffs: 84 mmHg, good, by Mina Measurer (placed by"
        )

    def test_a_later_mark_leaves_the_report_as_it_was_and_stands_in_the_next(self, exam, measurer):
        first = make(exam, measurer)
        left = exam.traces.get(side="left")

        moved(left, measurer, 80, sheet=ForSheet.CORRECT, reason="one beat late")
        second = make(exam, measurer)

        first.refresh_from_db()
        assert [one["shown"] for one in first.content["recordings"]] == ["90 mmHg", "84 mmHg"]
        assert [one["shown"] for one in second.content["recordings"]] == ["90 mmHg", "80 mmHg"]

    def test_a_value_corrected_by_hand_keeps_the_recording_and_is_not_said_to_be_read_from_it(
        self, exam, measurer
    ):
        correct(exam, "left_hallux", "45", measurer)

        assert [(one["place"], one["shown"]) for one in make(exam, measurer).content["recordings"]] == [
            ("RIGHT hallux", "90 mmHg"),
            ("LEFT hallux", "45 mmHg, corrected by hand; read from the recording as 84 mmHg"),
        ]

    def test_any_number_of_them_costs_the_same_queries(self, exam, measurer):
        def asked() -> tuple[int, int]:
            with CaptureQueriesContext(connection) as made:
                content = queries.report_content(
                    exam=exam, conclusion="", number=1, supersedes=None, role="measurer", by=measurer
                )
            return len(content.recordings), len(made)

        asked()
        two, of_two = asked()
        reopen(exam=exam, because="two toes more", by=measurer)
        for site in ("toe_2", "toe_3"):
            mark(read_recording(measurer, exam, site=site), measurer)
        four, of_four = asked()

        assert (two, four) == (2, 4)
        assert of_two == of_four
