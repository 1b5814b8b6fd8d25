"""How feet like one came out in a clinic: one query over the outcome columns, answered from an index."""

from django.db.models import Count

from access.models import Clinic
from exams.hemodynamics import OutcomeCounts
from exams.wounds.models import Episode

_BAND_WORDS = {
    "WIFI_0": "toe 60 mmHg or more",
    "WIFI_1": "toe 40 to 59 mmHg",
    "WIFI_2": "toe 30 to 39 mmHg",
    "WIFI_3": "toe below 30 mmHg",
}


def counts_alike(clinic: Clinic, toe_band: str, wound_grade: int | None) -> tuple[OutcomeCounts, ...]:
    """Healed by 12 and by 24 weeks, and of how many whose time has come, of episodes that began alike.

    Nothing where the toe or the wound grade at the start is not known: then nothing is like it. One query.
    """
    if toe_band not in _BAND_WORDS or wound_grade is None:
        return ()
    alike = Episode.objects.filter(clinic=clinic, toe_band=toe_band, wound_grade=wound_grade)
    # Columns of the index only and in its order: no row of the table is fetched, and there are few groups.
    groups = list(alike.order_by().values_list("healed_12w", "healed_24w").annotate(Count("clinic")))
    words = f"{_BAND_WORDS[toe_band]}, wound grade W{wound_grade}"
    return tuple(
        OutcomeCounts(
            weeks,
            healed=sum(group[-1] for group in groups if group[place]),
            of=sum(group[-1] for group in groups if group[place] is not None),
            alike=words,
        )
        for place, weeks in enumerate((12, 24))
    )
