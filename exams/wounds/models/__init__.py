"""What is stored of wounds, and what is always true of it.

An episode begins when somebody without an ulcer gets one and is over when all are healed (C:S46). Nothing
said is overwritten: a wound's entries and its assessments are corrected by a new row that names the old one.
"""

from exams.wounds.models.assessments import MOST_MM, MOST_MM2, Assessment, Grade, Photograph
from exams.wounds.models.episodes import (
    BeyondSalvage,
    Episode,
    Wound,
    WoundEntry,
    without_wound_of_amputation,
)
from exams.wounds.models.kept import KeptOutlook

__all__ = [
    "MOST_MM",
    "MOST_MM2",
    "Assessment",
    "BeyondSalvage",
    "Episode",
    "Grade",
    "KeptOutlook",
    "Photograph",
    "Wound",
    "WoundEntry",
    "without_wound_of_amputation",
]
