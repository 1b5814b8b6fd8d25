"""What the patient page says first of a limb."""

from datetime import date

import pytest

from reports.timeline.glance import how_long_ago


@pytest.mark.parametrize(
    ("on", "words"),
    [
        (date(2026, 11, 25), "today"),
        (date(2026, 11, 24), "yesterday"),
        (date(2026, 11, 13), "12 days ago"),
        (date(2026, 9, 26), "60 days ago"),
        (date(2026, 9, 25), "2 months ago"),
        (date(2025, 11, 26), "11 months ago"),
        (date(2024, 11, 26), "23 months ago"),
        (date(2024, 11, 25), "2 years ago"),
        (date(2018, 3, 1), "8 years ago"),
    ],
)
def test_an_age_is_told_in_words_rounded_down(on, words):
    assert how_long_ago(on, date(2026, 11, 25)) == words
