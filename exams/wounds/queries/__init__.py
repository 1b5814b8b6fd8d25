"""What is read of wounds, and for whom. Every function costs a fixed number of queries.

Other rooms need from here: ``open_wounds`` (what is open of a person), ``open_courses`` (how it goes),
``episodes_of``, ``outlook_for`` (the outlook of one foot), ``foot_risks`` (the risk category of both) and
``counts_alike`` (how episodes like one came out in the clinic).
"""

from exams.wounds.queries.keeping import foot_risks, outlook_for
from exams.wounds.queries.open import (
    Look,
    OpenCourse,
    OpenWound,
    episodes_of,
    open_courses,
    open_wounds,
    open_wounds_of,
)
from exams.wounds.queries.outcomes import counts_alike
from exams.wounds.queries.outlook import outlook_criteria
from exams.wounds.queries.pages import patient_page, wound_page
from exams.wounds.queries.rows import (
    assessment_for,
    entry_for,
    open_episode_for,
    photograph_for,
    picture_of,
    wound_on_record_for,
)
from exams.wounds.queries.shown import OutlookAsked

__all__ = [
    "Look",
    "OpenCourse",
    "OpenWound",
    "OutlookAsked",
    "assessment_for",
    "counts_alike",
    "entry_for",
    "episodes_of",
    "foot_risks",
    "open_courses",
    "open_episode_for",
    "open_wounds",
    "open_wounds_of",
    "outlook_criteria",
    "outlook_for",
    "patient_page",
    "photograph_for",
    "picture_of",
    "wound_on_record_for",
    "wound_page",
]
