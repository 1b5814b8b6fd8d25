"""The trail: one act, its changes and its lines, or none of them."""

import pytest

from access.models import TrailRow
from access.trail import record, record_view


def test_a_view_is_one_row_that_says_who_in_which_role_and_where(measurer, clinic):
    record_view(measurer, "patient page viewed", patient=17)

    row = TrailRow.objects.get()
    assert (row.user, row.role, row.clinic) == (measurer.user, "measurer", clinic)
    assert (row.action, row.patient_id, row.sequence) == ("patient page viewed", 17, 1)


def test_a_line_outside_an_act_is_refused(measurer):
    with pytest.raises(RuntimeError, match="inside one_act"):
        record(measurer, "reading recorded")
